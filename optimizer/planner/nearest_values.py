"""Searches for the nearest value where there is no plan: how far a requirement goes.

A requirement (a dose, hygiene, residue, duration, water, drying) is brought as far as it goes by a model that
aims at it, and then taken back until a plan holds it. What is named, to the digits that are named, is what
was planned and proven. Where the check refuses such a plan, what it found short is counted with from then
on, and the requirement is brought as far as it goes once more: most values that it would refuse are never
planned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.corners import NOTHING_KEPT, KeptBack
from optimizer.planner.eased_goals import eased, printed_value, without
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.reasons import reason_of
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.structure import Programme
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space
from optimizer.planner.value_proofs import BY_CORNERS, FAR_SHORT, Proof, Proofs
from optimizer.profile.goal import Goal

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

STEPS_BACK = (0.0, 0.004, 0.01, 0.02, 0.04, 0.08, 0.16)
"""How far a nearest value is taken back for which no programme is found, one after the other, as margins
[1]; every other one from the second on where a check taught what to count with."""

LESSONS_MOST = 2
"""Times that a requirement is brought as far as it goes anew by what a check taught [1]."""

NONE: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Furthest:
    """How far a requirement was brought [1], and the programme that does it."""

    margin: float
    programme: Programme


class Feasibility:
    """Questions about one machine and goal, each solve cut off at a budget; ``work`` is what they took.

    A solve that is cut off before it knows ends a question with a `SolverError`; ``gave_up`` remembers it.
    """

    def __init__(
        self,
        assessor: Assessor,
        solver: SolverName = "auto",
        budget: Budget = FULL,
        proof: Proof = BY_CORNERS,
    ) -> None:
        self.assessor, self.solver, self.budget, self.proof = assessor, solver, budget, proof
        self.work, self.gave_up = 0, False
        self.proofs, self.was_taught = Proofs(), False

    def with_budget(self, budget: Budget) -> Feasibility:
        """The same questions with another budget; whole plans are counted together."""
        other = Feasibility(self.assessor, self.solver, budget, self.proof)
        other.proofs, other.was_taught = self.proofs, self.was_taught
        return other

    def taught(self, lesson: KeptBack) -> Feasibility:
        """The same questions, with what a check found short counted with."""
        old, asked = self.assessor.kept, self.assessor
        backoff = {
            key: max(old.backoff.get(key, 0.0), lesson.backoff.get(key, 0.0))
            for key in (*old.backoff, *lesson.backoff)
        }
        kept = KeptBack(backoff, (*old.points, *(one for one in lesson.points if one not in old.points)))
        other = self.with_budget(self.budget)
        other.was_taught = True
        other.assessor = Assessor(asked.inputs, kept, asked.unblock, rounds_most=asked.rounds_most)
        return other

    def possible(self, drop: frozenset[str] = NONE) -> bool:
        """Whether the model that may fall a little short finds a programme."""
        model = model_for(self.assessor, Objective(drop=drop), safe=False)
        return self._solve(model, ANY_GAP).status != "infeasible"

    def fits(self, drop: frozenset[str] = NONE, start: Programme | None = None) -> Programme | None:
        """Find a programme that holds with the requirements ``drop`` left out; None where none was found.

        With a ``start`` that can be trimmed to hold no model is asked.
        """
        found = None if start is None else self.trimmed(start, drop)
        return found or self._fits_by_model(drop)

    def _fits_by_model(self, drop: frozenset[str]) -> Programme | None:
        for safe in (False, True):
            model = model_for(self.assessor, Objective(drop=drop), safe=safe)
            if self._solve(model, ANY_GAP).status == "infeasible":
                # What the model cannot do that may fall a little short, the safe one cannot either.
                return None
            found = self.trimmed(model.chosen(), drop, patient=safe)
            if found is not None:
                return found
        return None

    def trimmed(self, start: Programme, drop: frozenset[str], *, patient: bool = False) -> Programme | None:
        """Trim a programme until it holds; None where it does not."""
        # What safe lines point at is worth some repairs; of what may fall short most cannot be repaired.
        space = Space(self.assessor, start.structure, drop=drop)
        trimmed = trim(space, start.settings, patient=patient)
        return None if trimmed is None else trimmed.programme

    def furthest(
        self, key: str, drop: frozenset[str] = NONE, start: Programme | None = None
    ) -> Furthest | None:
        """Bring one requirement as far as it goes under the others; None where they can't be met even so.

        A ``start`` is gone on from where the models point at nothing that can be trimmed.
        """
        found = self._furthest_by_model(key, drop)
        if found is None and start is not None:
            found = self._further(key, start, drop, patient=True)
        return found

    def _furthest_by_model(self, key: str, drop: frozenset[str]) -> Furthest | None:
        for safe in (False, True):
            model = model_for(self.assessor, Objective(aim=key, drop=drop), safe=safe)
            if self._solve(model, CLOSE_GAP).status == "infeasible":
                return None
            found = self._further(key, model.chosen(), drop, patient=safe)
            if found is not None:
                return found
        return None

    def _further(self, key: str, start: Programme, drop: frozenset[str], *, patient: bool) -> Furthest | None:
        space = Space(self.assessor, start.structure, aim=key, drop=drop)
        found = furthest(space, start.settings, patient=patient)
        return None if found is None else Furthest(-found.objective, found.programme)

    def _solve(self, model: Model, gap: float) -> Outcome:
        try:
            outcome = run_solver(model.rows.problem, self.solver, gap, self.budget)
        except SolverError:
            self.gave_up = True
            raise
        self.work += outcome.work
        return outcome


def asked_keys(assessor: Assessor) -> list[str]:
    """Keys of the requirements that a question may leave out."""
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.targets.keys, "rinse.residue", "limits.duration_min"]
    keys += ["rinse.soil"] if goal.rinse.soil_max is not None else []
    keys += ["rinse.film_mg_per_l"] if goal.rinse.film_mg_per_l is not None and goal.detergent else []
    keys += ["detergent.bath_c"] if goal.spray_least_c > 0.0 else []
    keys += ["first_wash.bath_c"] if goal.limits.first_wash_most_c > 0.0 else []
    keys += ["first_rinse.bath_c"] if goal.rinse.first_least_c > 0.0 else []
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    keys += list(assessor.step_limits_k)
    return [*keys, "drying.ware_heat"] if goal.drying.method == "hot_rinse" else keys


def alone(asked: Feasibility) -> list[Reason]:
    """Requirements each of which, eased alone, makes a plan possible; one that is given up is left out."""
    found = []
    for key in asked_keys(asked.assessor):
        asked.proof.tell("looking for how far one requirement goes")
        found.append(_nearest_found(asked, key))
    return [reason for reason in found if reason is not None]


def together(asked: Feasibility) -> tuple[list[Reason], bool]:
    """Requirements that make a plan possible only when all are eased, and whether these are all.

    For a goal that no single requirement rules out. Each is as far as it goes with the others left out, and
    then taken back until a plan holds all of them. Where none does, it is asked again with what the checks of
    those plans taught; what a check refused already, with one requirement eased, counts from the first.
    """
    for _, _, lesson in asked.proofs.known:
        asked = asked.taught(lesson)
    for _ in range(LESSONS_MOST):
        series = _eased_together(asked)
        if series.reasons or series.lesson == asked.assessor.kept:
            break
        asked = asked.taught(series.lesson)
    if not series.complete:
        return series.reasons, False
    return _needed(asked, series.reasons) if asked.proof.makes_plans else (series.reasons, True)


def _needed(asked: Feasibility, reasons: list[Reason]) -> tuple[list[Reason], bool]:
    """Strike what need not give way after all, and say whether each of the rest was asked about.

    Each is asked for as the goal has it, with the others at their nearest values, and a whole plan is made:
    the models and trims by which these were found miss some programmes that such a search finds.
    """
    some = reasons if len(reasons) > 1 else []
    without_one = [[one for one in reasons if one is not reason] for reason in some]
    goals = [_eased_goal(asked.assessor.inputs.goal, others)[0] for others in without_one]
    every = [replace(asked.assessor.inputs, goal=goal) for goal in goals]
    for number, (others, inputs) in enumerate(zip(without_one, every, strict=True), start=1):
        for next_inputs in every[number : number + 1]:
            asked.proofs.begin(asked.proof, next_inputs)
        try:
            if asked.proofs.planned(asked.proof, inputs):
                return _needed(asked, others)
        except SolverError:
            asked.gave_up = True
            return reasons, False
    return reasons, True


@dataclass(frozen=True)
class _Series:
    """What a search for nearest values came to: reasons, whether these are all, what checks taught."""

    reasons: list[Reason]
    complete: bool
    lesson: KeptBack


def _eased_together(asked: Feasibility) -> _Series:
    far = [key for key, share in asked.assessor.kept.backoff.items() if share >= FAR_SHORT]
    # What a check found far short is the first to be eased: it is looked at last.
    keys = sorted(asked_keys(asked.assessor), key=lambda key: key in far)
    dropped = frozenset(keys)
    start: Programme | None = None
    for key in keys:
        asked.proof.tell("looking for what can be held together")
        with suppress(SolverError):
            found = asked.fits(dropped - {key}, start)
            if found is not None:
                dropped, start = dropped - {key}, found
    eased_keys = [key for key in keys if key in dropped]
    reached = _reached(asked, dict.fromkeys(eased_keys, start), dropped)
    complete = not asked.gave_up and len(reached) == len(eased_keys)
    reasons, lesson = _verified(asked, reached, NONE if complete else dropped - reached.keys())
    return _Series(reasons, complete, lesson)


def _reached(
    asked: Feasibility, starts: Mapping[str, Programme | None], dropped: frozenset[str]
) -> dict[str, Furthest]:
    """How far each of some requirements goes with all that is dropped but itself left out."""
    reached: dict[str, Furthest] = {}
    for key, start in starts.items():
        with suppress(SolverError):
            found = asked.furthest(key, dropped - {key}, start)
            if found is not None and found.margin < 0.0:
                reached[key] = found
    return reached


def nearest(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """How far a requirement goes under the others, to a value for which a programme was found.

    None where it can be met, or the others cannot be met even without it.
    """
    found = asked.furthest(key, drop)
    if found is None or found.margin >= 0.0:
        return None
    reasons, _ = _verified(asked, {key: found}, drop)
    return reasons[0] if reasons else None


def _nearest_found(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """The same; None as well where the search is given up."""
    with suppress(SolverError):
        return nearest(asked, key, drop)
    return None


def _verified(
    asked: Feasibility, reached: Mapping[str, Furthest], drop: frozenset[str]
) -> tuple[list[Reason], KeptBack]:
    """Put margins into words, each value as far back as a plan is found and proven that holds all of them.

    The values are those that are printed. None where there is no plan however far back. What a check finds
    short is counted with from then on.
    """
    tried, lessons = set[tuple[str, ...]](), 0
    backs = list(STEPS_BACK)
    while backs:
        reasons = [reason_of(asked.assessor, key, found.margin - backs[0]) for key, found in reached.items()]
        texts = tuple(reason.nearest for reason in reasons)
        if texts in tried:
            backs.pop(0)
            continue
        tried.add(texts)
        held, lesson = _all_proven(asked, reasons, reached, drop)
        if held:
            return reasons, asked.assessor.kept
        backs.pop(0)
        taught = asked.taught(lesson)
        if taught.assessor.kept == asked.assessor.kept or lessons == LESSONS_MOST:
            continue
        lessons += 1
        starts = {key: found.programme for key, found in reached.items()}
        asked, again = taught, _reached(taught, starts, drop | reached.keys())
        if again.keys() != reached.keys():
            # What the check found short is not to be had however far these are eased.
            break
        reached, backs = again, list(STEPS_BACK[1::2])
    return [], asked.assessor.kept


def _all_proven(
    asked: Feasibility, reasons: list[Reason], reached: Mapping[str, Furthest], drop: frozenset[str]
) -> tuple[bool, KeptBack]:
    """Whether one plan holds all the values that these reasons print, and what its check taught if not."""
    goal, held, nothing = _eased_goal(asked.assessor.inputs.goal, reasons)
    eased_inputs = replace(asked.assessor.inputs, goal=goal)
    judge = asked.assessor.again(eased_inputs)
    left_out = drop | (nothing & set(asked_keys(judge)))
    # What brought a value that is left to ask furthest comes nearest to holding all of them.
    start = next((reached[key].programme for key in (*held, *reached)), None)
    return _proof(asked, judge, left_out, start)


def _eased_goal(goal: Goal, reasons: Sequence[Reason]) -> tuple[Goal, Mapping[str, float], Set[str]]:
    """The goal with the values that are printed, those values, and the keys of what is nothing at the most.

    That is left out of the goal.
    """
    values = {reason.key: printed_value(reason) for reason in reasons}
    held = {key: value for key, value in values.items() if value > 0.0}
    nothing = values.keys() - held.keys()
    return eased(without(goal, nothing), held), held, nothing


def proven(
    asked: Feasibility, assessor: Assessor, drop: frozenset[str], start: Programme | None = None
) -> bool:
    """Whether a programme is found at the corners and, with nothing left out, a whole plan is proven."""
    return _proof(asked, assessor, drop, start)[0]


def _proof(
    asked: Feasibility, assessor: Assessor, drop: frozenset[str], start: Programme | None
) -> tuple[bool, KeptBack]:
    """The same, and what the check of the plan taught where it is refused."""
    if asked.was_taught and start is not None:
        # The models know nothing of what a check taught: what they would point at it would refuse again.
        found = Feasibility(assessor, asked.solver, asked.budget).trimmed(start, drop, patient=True)
    else:
        found = fits(asked, assessor, drop, start)
    if found is None or drop:
        return found is not None, NOTHING_KEPT
    try:
        return asked.proofs.proven(asked.proof, assessor, found)
    except SolverError:
        asked.gave_up = True
        return False, NOTHING_KEPT


def fits(
    asked: Feasibility, assessor: Assessor, drop: frozenset[str], start: Programme | None = None
) -> Programme | None:
    """Find a programme; a search that ends at its budget has found none."""
    with suppress(SolverError):
        return Feasibility(assessor, asked.solver, asked.budget).fits(drop, start)
    return None
