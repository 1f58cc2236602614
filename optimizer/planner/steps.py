"""Steps: from a programme to the cheapest one that a single step leads to, and on until no step helps."""

from __future__ import annotations

import numpy as np

from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import otherwise_split, single_steps
from optimizer.planner.structure import Settings, Structure
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import Space

STEPS = 24
"""Most steps in a row [1]."""
WORTH_A_PHASE = 0.001
"""Share of the cost that a step must save which makes a programme longer by a number [1]: our choice."""

Tried = dict[Structure, float]
"""What each structure tried came to at the least, inf where it did not hold [currency]. Under stricter rules
it costs no less, so that it is not tried again where something as cheap is known."""


def stepped(assessor: Assessor, start: Trimmed, tried: Tried) -> Trimmed:
    """Trim what is one step away, move to the first that is cheaper, and again until none is."""
    best = start
    tried[best.programme.structure] = best.objective
    for _ in range(STEPS):
        found = best
        for structure, settings in single_steps(best.programme, assessor):
            found = cheaper(assessor, structure, settings, best, tried)
            if found is not best:
                break
        if found is best:
            break
        best = found
    for settings in otherwise_split(best.programme):
        space, most = Space(assessor, best.programme.structure), best.objective
        split = trim(space, settings, worse_than=most - WORTH_A_PHASE * abs(most))
        if split is not None and split.objective < most:
            best = split
    tried[best.programme.structure] = best.objective
    return best


def cheaper(
    assessor: Assessor, structure: Structure, start: Settings, best: Trimmed, tried: Tried
) -> Trimmed:
    """Trim a structure where it may still be cheaper than the best; the cheaper of the two."""
    space, most = Space(assessor, structure), best.objective
    if len(space.slots) > len(Space(assessor, best.programme.structure).slots):
        most -= WORTH_A_PHASE * abs(most)
    if tried.get(structure, -np.inf) >= most:
        return best
    found = trim(space, start, worse_than=most)
    tried[structure] = space.least if found is None else found.objective
    return best if found is None or found.objective >= most else found
