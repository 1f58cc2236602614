"""Why there is no plan: requirements that rule it out, and an irreducible infeasible subset (IIS) of them.

No programme was found with which the members of an IIS hold together, even with all other requirements left
out, and one was found as soon as any single member is left out. It is found by a deletion filter over
requirements (Chinneck, Feasibility and Infeasibility in Optimization, 2008), each step of it a solve that
stops at the first programme. A requirement that rules out a plan alone belongs to every IIS, and is never
asked about. Where HiGHS can name rows of the relaxed model that conflict, the filter begins with the
requirements among them; with CBC, or where the relaxed model is feasible (as often as not), there are no such
rows and it begins with all.

A step is asked first of the model in which every requirement may fall a little short: where that has no
programme, none is looked for. Members that are left are then asked about as the planner does it, with both
models and a trim.

Machine and circuit stand as they are: their limits join an IIS only where they rule out a plan alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.errors import Easing, Reason, SolverError
from optimizer.planner.eased_goals import left_out
from optimizer.planner.feasibility import Feasibility, asked_keys
from optimizer.planner.machine_limits import machine_limits
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import alone, together
from optimizer.planner.objective import Objective
from optimizer.planner.obstacle_values import with_a_plan
from optimizer.planner.obstacles import obstacles
from optimizer.planner.reasons import all_at_once, unmet
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, SolverName, relaxed_conflict
from optimizer.planner.trims_ahead import assessor_by, rules_of
from optimizer.planner.value_proofs import BY_CORNERS, Proof, Proofs
from optimizer.second_process import ahead


@dataclass(frozen=True)
class Effort:
    """How much work may go into the search for reasons: that there is no plan is known without.

    ``full`` is the budget of a solve about one requirement, ``quick`` of one about a limit of machine or
    circuit or in the filter. ``filter_work`` is the work after which the filter is given up, a solve or a
    step of HiGHS counting one; the reasons are known by then.
    """

    full: Budget
    quick: Budget
    filter_work: int


USUAL = Effort(
    full=FULL,
    quick=Budget(steps=60, nodes=20),
    filter_work=150,
)


@dataclass(frozen=True)
class Diagnosis:
    """Why there is no plan.

    ``reasons`` are what rules out every programme; else the requirements that do so alone; else those that do
    so together. ``easing`` says whether any one of them must be eased, or all. ``iis`` has two members or
    more, and is empty where none was found.
    """

    reasons: tuple[Reason, ...]
    easing: Easing = ""
    iis: tuple[Reason, ...] = ()


def diagnose(
    assessor: Assessor, solver: SolverName = "auto", effort: Effort = USUAL, proof: Proof = BY_CORNERS
) -> Diagnosis:
    """Say why a goal that is known to have no plan can't be met."""
    asked = Feasibility(assessor, solver, effort.full, proof)
    if found := obstacles(assessor):
        return Diagnosis(tuple(with_a_plan(asked.with_budget(effort.quick), reason) for reason in found))
    # Mostly no requirement rules a plan out alone: which do together may be asked meanwhile.
    begun = ahead(_iis_there, rules_of(assessor), solver, effort)
    if found := [*alone(asked), *machine_limits(asked.with_budget(effort.quick))]:
        members = iis(assessor, solver, found, effort)
        return Diagnosis(tuple(found), "any", stand_in_plans(asked, members, found))
    found, complete = together(asked)
    # Where one alone is left, easing it is enough.
    enough: Easing = "all" if len(found) > 1 else "any"
    easing: Easing = enough if found and complete else ""
    reasons = tuple(found or [all_at_once(assessor, gave_up=asked.gave_up)])
    if easing == "any":
        members = iis(assessor, solver, found, effort)
    else:
        members = iis(assessor, solver, (), effort) if begun is None else begun.result()
    # A plan is proven with these eased, so what holds none of them conflicts with nothing: a search failed.
    if easing and not {one.key for one in members} & {one.key for one in found}:
        members = ()
    return Diagnosis(reasons, easing, stand_in_plans(asked, members, found if easing == "any" else ()))


def _iis_there(rules: bytes, solver: SolverName, effort: Effort) -> tuple[Reason, ...]:
    return iis(assessor_by(rules), solver, (), effort)


def stand_in_plans(
    asked: Feasibility, members: Sequence[Reason], enough: Sequence[Reason]
) -> tuple[Reason, ...]:
    """Members that no plan was found to hold, struck until one is proven without any one of those left.

    The filter is held to what checks of refused plans taught, its models and trims miss some programmes, and
    no check has passed those that it finds. Without one of those that are ``enough`` to ease a plan is known.
    Empty where a plan holds them all, and where no further plan may be made: then it is not known.
    """
    if not asked.proof.makes_plans or not members:
        return tuple(members)
    asked = asked.with_budget(asked.budget)
    asked.proofs = Proofs()  # Nearest values may have taken all plans that they may.
    known, asked_for = {one.key for one in enough}, {*asked_keys(asked.assessor)}
    kept = frozenset(one.key for one in members)
    try:
        if holds_in_a_plan(asked, kept):
            return ()
        for one in members:
            if one.key in asked_for - known and not holds_in_a_plan(asked, kept - {one.key}):
                kept -= {one.key}
    except SolverError:
        return ()
    return tuple(one for one in members if one.key in kept) if len(kept) > 1 else ()


def holds_in_a_plan(asked: Feasibility, members: frozenset[str]) -> bool:
    """Whether a plan is proven to hold these requirements, all others left out; `SolverError` after too many.

    Machine, circuit, and what the goal asks beside its requirements, stand as they are.
    """
    inputs = asked.assessor.inputs
    goal = left_out(inputs.goal, {*asked_keys(asked.assessor)} - members)
    # All that is asked has no plan: that is why there are reasons to look for.
    return goal != inputs.goal and asked.proofs.planned(asked.proof, replace(inputs, goal=goal))


def iis(
    assessor: Assessor,
    solver: SolverName = "auto",
    single: Sequence[Reason] = (),
    effort: Effort = USUAL,
) -> tuple[Reason, ...]:
    """Find an irreducible infeasible subset of the requirements, given all that rule out a plan alone.

    Two members or more, without nearest values: to ease one member would not do for all that is asked. Empty
    where one requirement alone cannot be met, or the search was given up.
    """
    search = _Filter(assessor, solver, frozenset(reason.key for reason in single), effort)
    try:
        kept = search.filtered()
    except SolverError:
        return ()
    if len(kept) + len(single) < 2:
        return ()
    others = search.every - search.certain - kept
    limits = () if single else machine_limits(Feasibility(assessor, solver, effort.quick), others)
    members = [replace(member, nearest="") for member in (*single, *limits)]
    return (*members, *(unmet(assessor, key) for key in asked_keys(assessor) if key in kept))


class _Filter:
    """The deletion filter of one IIS."""

    def __init__(
        self, assessor: Assessor, solver: SolverName, certain: frozenset[str], effort: Effort
    ) -> None:
        self.certain, self.effort = certain, effort
        self.keys = asked_keys(assessor)
        self.every = frozenset(self.keys)
        self.asked = Feasibility(assessor, solver, effort.quick)

    def filtered(self) -> frozenset[str]:
        """Members besides those that are certain."""
        asked = [key for key in self.keys if key not in self.certain]
        kept = frozenset(asked)
        if self.certain and not self._possible(frozenset()):
            return frozenset()
        first = self._conflict()
        if first is not None and not self._possible(kept & first):
            kept &= first
        for holds in (self._possible, self._found):
            for key in asked:
                if key in kept and not holds(kept - {key}):
                    kept -= {key}
        return kept

    def _possible(self, kept: frozenset[str]) -> bool:
        """Whether the certain ones and these can all hold, give or take a little, whatever the others."""
        return self._within_effort().possible(self.every - self.certain - kept)

    def _found(self, kept: frozenset[str]) -> bool:
        """Whether a programme is found with which they all hold."""
        return self._within_effort().fits(self.every - self.certain - kept) is not None

    def _within_effort(self) -> Feasibility:
        if self.asked.work > self.effort.filter_work:
            raise SolverError("the search for an irreducible infeasible subset was given up")
        return self.asked

    def _conflict(self) -> frozenset[str] | None:
        """Requirements among HiGHS's conflicting rows of the relaxed model."""
        model = model_for(self.asked.assessor, Objective(), safe=False)
        rows = relaxed_conflict(model.rows.problem, self.asked.solver)
        if rows is None:
            return None
        return frozenset(model.rows.keys[row] for row in rows if row in model.rows.keys)
