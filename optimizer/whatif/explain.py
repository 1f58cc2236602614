"""Why a plan is what it is: what binds it, what that costs, and what other programmes would cost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from optimizer.batch.in_parallel import side_by_side
from optimizer.check.certificate import Certificate, Row
from optimizer.errors import CheckFailedError, NoPlanError, SolverError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.alternatives import Alternative
from optimizer.planner.corners import KeptBack
from optimizer.planner.make_plan import NOTHING_TAUGHT, Taught
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs, Plan
from optimizer.whatif.binding import binding, relaxed
from optimizer.whatif.others import OtherProgramme, OtherProgrammes, RoundsTried, StepTried
from optimizer.whatif.possible_changes import Change
from optimizer.whatif.upgrades import NOISE


@dataclass(frozen=True)
class BindingRequirement:
    """A requirement that binds, and the plan with it relaxed by a step.

    Attributes
    ----------
    row : Row
        The requirement with its margin.
    change : Change or None
        The step; None where there is none to make.
    proven : Proven or None
        The plan anew with the step; None where the step cannot be made, or none was proven in the time.
    saving : float or None
        What a run saves by it [currency]; 0 where that is within the noise of two searches. None where
        there is no such plan.
    """

    row: Row
    change: Change | None
    proven: Proven | None
    saving: float | None


@dataclass(frozen=True)
class Explanation:
    """Why a plan is what it is.

    Attributes
    ----------
    plan : Plan
        The plan.
    chosen : Alternative
        Its programme, as the planner judges it.
    cheaper : Proven or None
        A cheaper plan for the same profiles, where planning anew found one.
    binding : tuple of BindingRequirement
        What binds it, what saves most first.
    rounds : tuple of RoundsTried
        One fewer and one more of each kind.
    moved : tuple of StepTried
        Levels and heat a step lower and higher.
    next_best : OtherProgramme or None
        The cheapest programme of other rounds; None where none was found.
    nominal : int
        Number of the nominal corner, for what programmes do there [1].
    """

    plan: Plan
    chosen: Alternative
    cheaper: Proven | None
    binding: tuple[BindingRequirement, ...]
    rounds: tuple[RoundsTried, ...]
    moved: tuple[StepTried, ...]
    next_best: OtherProgramme | None
    nominal: int

    @property
    def cost(self) -> float:
        """What the planner counts for a run of the plan, by its constants [currency]."""
        return self.chosen.cost

    @property
    def base_cost(self) -> float:
        """What savings are counted from: the plan, or the cheaper one that was found [currency]."""
        return self.cost if self.cheaper is None else self.cheaper.plan.costs.with_waiting


def explain(
    plan: Plan,
    certificate: Certificate,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
    jobs: int = 0,
) -> Explanation:
    """Explain a plan: relax what binds it, step by step, and try other programmes.

    Up to `jobs` processes plan side by side.
    """
    report("planning anew, to see whether this plan is the cheapest")
    search = replace(search, known=(plan.constants,), why=False)
    anew = _planned(plan.inputs, solver, search)
    # A plan does not say what was kept back to make it provable; planning anew has learnt it again.
    proven = Proven(plan, certificate, {} if anew is None else anew.backoff)
    others = OtherProgrammes(proven, solver, search.rounds_most)
    cost, cheaper = others.chosen.cost, None
    if anew is not None and anew.plan.costs.with_waiting < cost - NOISE * abs(cost):
        cheaper, cost = anew, anew.plan.costs.with_waiting
        search = replace(search, known=(cheaper.plan.constants,))
    with side_by_side(_answered, jobs) as workers:
        rows = binding(proven)
        beside = [_OtherRounds(proven, solver, search.rounds_most)]
        moves = [_Moved(proven, solver, search.rounds_most, group) for group in others.equal_rounds()]
        steps = [_step(row, proven, solver, search) for row in rows]
        tasks: list[_Task] = [*beside, *steps, *moves]
        answers = []
        for number, answer in enumerate(workers.answers(tasks), start=1):
            report(f"{number} of {len(tasks)} parts: other rounds, levels and heat, what binds")
            answers.append(answer)
        rounds, next_best = answers[0]
        planned = answers[1 : 1 + len(steps)]
        moved = tuple(step for answer in answers[1 + len(steps) :] for step in answer)
        # What keeps the plan from having a round fewer or more is relaxed as well.
        keeps = _keeps(rounds, {row.key for row in rows})
        more = [row for row in certificate.rows if row.key in keeps]
        further = [_step(row, proven, solver, search) for row in more]
        planned += workers.answers(further)
    eased = [_eased(step, answer, cost) for step, answer in zip([*steps, *further], planned, strict=True)]
    eased.sort(key=lambda one: -1.0 if one.saving is None else one.saving, reverse=True)
    return Explanation(plan, others.chosen, cheaper, tuple(eased), rounds, moved, next_best, others.nominal)


@dataclass(frozen=True)
class _OtherRounds:
    """Other numbers of rounds, and the next-best ones."""

    proven: Proven
    solver: SolverName
    rounds_most: Mapping[str, int]

    def answer(self) -> tuple[tuple[RoundsTried, ...], OtherProgramme | None]:
        others = OtherProgrammes(self.proven, self.solver, self.rounds_most)
        return tuple(others.rounds()), others.next_best()


@dataclass(frozen=True)
class _Moved:
    """Level and heat of a group of equal rounds a step lower and higher."""

    proven: Proven
    solver: SolverName
    rounds_most: Mapping[str, int]
    group: tuple[int, ...]

    def answer(self) -> tuple[StepTried, ...]:
        return tuple(OtherProgrammes(self.proven, self.solver, self.rounds_most).moved(self.group))


@dataclass(frozen=True)
class _Step:
    """A requirement relaxed by a step."""

    row: Row
    change: Change | None
    solver: SolverName
    search: Search
    kept: KeptBack

    def answer(self) -> Proven | None:
        if self.change is None or self.change.inputs is None:
            return None
        # What the plan's own checks taught need not be learnt again; what it stands in the way of is.
        inputs, taught = self.change.inputs, Taught(self.kept)
        return _planned(inputs, self.solver, self.search, taught) or _planned(
            inputs, self.solver, self.search
        )


def _step(row: Row, proven: Proven, solver: SolverName, search: Search) -> _Step:
    """A requirement of a plan relaxed by a step."""
    inputs, kept = proven.plan.inputs, proven.kept
    change = relaxed(inputs, row.key, row.requirement)
    if change is not None and change.inputs is not None and change.inputs.machine != inputs.machine:
        # Points lie in the tolerances of one machine.
        kept = replace(kept, points=())
    return _Step(row, change, solver, search, kept)


_Task = _OtherRounds | _Moved | _Step


def _answered(task: _Task) -> Any:
    return task.answer()


def _keeps(rounds: Iterable[RoundsTried], bind: Set[str]) -> set[str]:
    """Find what keeps the plan from having a round fewer or more, beyond what binds it."""
    return {short.row.key for one in rounds if one.other is not None for short in one.other.short} - bind


def _eased(step: _Step, proven: Proven | None, cost: float) -> BindingRequirement:
    if proven is None:
        # An eased requirement rules nothing out, so the search or the check must have ended this one.
        return BindingRequirement(step.row, step.change, None, None)
    saving = cost - proven.plan.costs.with_waiting
    return BindingRequirement(step.row, step.change, proven, saving if saving > NOISE * abs(cost) else 0.0)


def _planned(
    inputs: Inputs, solver: SolverName, search: Search, taught: Taught = NOTHING_TAUGHT
) -> Proven | None:
    with suppress(NoPlanError, CheckFailedError, SolverError):
        return plan_and_prove(inputs, solver=solver, search=search, taught=taught)
    return None
