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
from optimizer.planner.eased_goals import eased, may_be_asked, printed_value, without
from optimizer.planner.feasibility import NONE, Feasibility, Furthest, HowFar, asked_keys, how_far
from optimizer.planner.margins import Assessor
from optimizer.planner.reasons import reason_of
from optimizer.planner.structure import Programme
from optimizer.planner.value_proofs import FAR_SHORT
from optimizer.profile.goal import Goal

STEPS_BACK = (0.0, 0.004, 0.01, 0.02, 0.04, 0.08, 0.16)
"""How far a nearest value is taken back for which no programme is found, one after the other, as margins
[1]; every other one from the second on where a check taught what to count with."""

RAISED = ("ware.", "limits.", "first_wash.")
"""Beginnings of the keys of limits that are raised, not lowered."""
RAISED_BY = (0.04, 0.45, 1.0)
"""How far a raised limit is let go beyond what the corners ask, where no programme from there was proven: a
share of the limit as it is then [1]."""

LESSONS_MOST = 2
"""Times that a requirement is brought as far as it goes anew by what a check taught [1]."""


def alone(asked: Feasibility) -> list[Reason]:
    """Requirements each of which, eased alone, makes a plan possible; one that is given up is left out."""
    keys, found = asked_keys(asked.assessor), []
    for key, reached in zip(keys, how_far(asked, [HowFar(key) for key in keys]), strict=True):
        asked.proof.tell("looking for how far one requirement goes")
        with suppress(SolverError):
            found.append(_in_words(asked, key, reached, NONE))
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
    reached, dropped = _none_met(asked, eased_keys, dropped, start)
    missing = dropped - reached.keys()
    complete = not asked.gave_up and not missing
    reasons, lesson = _verified(asked, reached, missing)
    if missing:
        # No plan was made for values that hold only with something left out: such are told by name alone.
        reasons = [replace(reason, nearest="") for reason in reasons]
    return _Series(reasons, complete, lesson)


def _none_met(
    asked: Feasibility, keys: Sequence[str], dropped: frozenset[str], start: Programme | None
) -> tuple[dict[str, Furthest], frozenset[str]]:
    """How far each of those that give way goes, and which these are: what is met after all counts as asked.

    It was given up because no search from a programme without it found one with it.
    """
    while True:
        asks = [HowFar(key, dropped - {key}, start) for key in keys if key in dropped]
        every = zip(asks, how_far(asked, asks), strict=True)
        found = {ask.key: one for ask, one in every if one is not None}
        met = next((key for key, one in found.items() if one.margin >= 0.0), None)
        if met is None or len(asks) == 1:
            return {key: one for key, one in found.items() if one.margin < 0.0}, dropped
        dropped, start = dropped - {met}, found[met].programme


def _reached(
    asked: Feasibility, starts: Mapping[str, Programme | None], dropped: frozenset[str]
) -> dict[str, Furthest]:
    """How far each of some requirements goes with all that is dropped but itself left out."""
    asks = [HowFar(key, dropped - {key}, start) for key, start in starts.items()]
    found = zip(starts, how_far(asked, asks), strict=True)
    return {key: one for key, one in found if one is not None and one.margin < 0.0}


def nearest(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """How far a requirement goes under the others, to a value for which a programme was found.

    None where it can be met, or the others cannot be met even without it.
    """
    return _in_words(asked, key, asked.furthest(key, drop), drop)


def _in_words(asked: Feasibility, key: str, found: Furthest | None, drop: frozenset[str]) -> Reason | None:
    if found is None or found.margin >= 0.0:
        return None
    reasons, _ = _verified(asked, {key: found}, drop)
    if reasons:
        return reasons[0]
    return _raised_further(asked, key, found.margin) if key.startswith(RAISED) and not drop else None


def _raised_further(asked: Feasibility, key: str, margin: float) -> Reason | None:
    """A limit at a value for which a whole plan is proven, whatever programme the corners pointed at.

    That one uses all that the limit lets it, and may be far from what a check passes where others are not.
    """
    if not asked.proof.makes_plans:
        return None
    for further in RAISED_BY:
        reason = reason_of(asked.assessor, key, margin - further * (1.0 - margin))
        goal, _, _ = _eased_goal(asked.assessor.inputs.goal, [reason])
        if not may_be_asked(goal):
            return None
        with suppress(SolverError):
            if asked.proofs.planned(asked.proof, replace(asked.assessor.inputs, goal=goal)):
                return reason
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
    if not may_be_asked(assessor.inputs.goal):
        return False, NOTHING_KEPT
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
