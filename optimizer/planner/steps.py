"""Steps: from a programme to the cheapest one that a single step leads to, and on until no step helps."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import otherwise_started, single_steps
from optimizer.planner.structure import Programme, Settings, Structure
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import Space

STEPS = 24
"""Most steps in a row [1]."""
WORTH_A_PHASE = 0.001
"""Share of the cost that a step must save which makes a programme longer by a number [1]: our choice."""
WORTH_A_TRIM = 0.0005
"""Share of the cost that other numbers of the same structure must save to be taken [1]."""

Tried = dict[Structure, float]
"""What each structure tried came to at the least, inf where it did not hold [currency]. Under stricter rules
it costs no less, so that it is not tried again where something as cheap is known."""


def stepped(assessor: Assessor, start: Trimmed, tried: Tried) -> Trimmed:
    """Trim what is one step away, move to the first that is cheaper, and again until none is.

    Where it starts and where it ends the structure is trimmed anew, so that no step is taken from, or left
    out because of, poor numbers.
    """
    best = anew = trimmed_anew(assessor, start)
    for _ in range(STEPS):
        tried[best.programme.structure] = best.objective
        found = best
        for programme in single_steps(best.programme, assessor):
            found = cheaper(assessor, programme, best, tried)
            if found is not best:
                break
        if found is best and best is not anew:
            found = anew = trimmed_anew(assessor, best)
        if found is best:
            break
        best = found
    return best


def trimmed_anew(assessor: Assessor, best: Trimmed) -> Trimmed:
    """Trim from other numbers of the same structure; the cheapest."""
    structure, before = best.programme.structure, best
    for settings in otherwise_started(before.programme):
        most = best.objective - WORTH_A_TRIM * abs(best.objective)
        found = trim(Space(assessor, structure), settings, worse_than=most)
        if found is not None and found.objective < most:
            best = found
    return best


def cheaper(assessor: Assessor, programme: Programme, best: Trimmed, tried: Tried) -> Trimmed:
    """Trim a structure where it may still be cheaper than the best; the cheaper of the two.

    The candidates of ``programme`` are starts, one tried after the other.
    """
    structure, starts = programme
    most, reached = best.objective, np.inf
    if len(Space(assessor, structure).slots) > len(Space(assessor, best.programme.structure).slots):
        most -= WORTH_A_PHASE * abs(most)
    if tried.get(structure, -np.inf) >= most:
        return best
    for number in range(len(starts.spray_s)):
        space = Space(assessor, structure)
        found = trim(space, _one(starts, number), worse_than=most)
        reached = min(reached, space.least if found is None else found.objective)
        if found is not None and found.objective < most:
            tried[structure] = found.objective
            return found
    tried[structure] = reached
    return best


def _one(settings: Settings, number: int) -> Settings:
    """One candidate of many."""
    return Settings(**{field.name: getattr(settings, field.name)[[number]] for field in fields(Settings)})
