"""Steps: from a programme to the cheapest one that a single step leads to, and on until no step helps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field, fields

import numpy as np

from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import otherwise_started, single_steps
from optimizer.planner.structure import Programme, Settings, Structure
from optimizer.planner.trim import Trimmed
from optimizer.planner.trim_space import Space
from optimizer.planner.trims_ahead import Ask, in_order

STEPS = 24
"""Most steps in a row [1]."""
WORTH_A_PHASE = 0.001
"""Share of the cost that a step must save which makes a programme longer by a number [1]: our choice."""
WORTH_A_TRIM = 0.0005
"""Share of the cost that other numbers of the same structure must save to be taken [1]."""

Tried = dict[Structure, float]
"""What each structure tried came to at the least, inf where it did not hold [currency]. Under stricter rules
it costs no less, so that it is not tried again where something as cheap is known."""


@dataclass(frozen=True)
class Stepping:
    """Steps from a programme: whether any (``near``), and what structures ``tried`` came to.

    ``foresee`` hears of a programme that will probably be the choice, before steps from it are tried.
    """

    near: bool = True
    tried: Tried = field(default_factory=dict)
    foresee: Callable[[Programme], None] = lambda _: None


def stepped(assessor: Assessor, start: Trimmed, tried: Tried) -> Trimmed:
    """Trim what is one step away, move to the first that is cheaper, and again until none is.

    Where it starts and where it ends the structure is trimmed anew, so that no step is taken from, or left
    out because of, poor numbers.
    """
    best = anew = trimmed_anew(assessor, start)
    for _ in range(STEPS):
        tried[best.programme.structure] = best.objective
        found = first_cheaper(assessor, best, tried)
        if found is best and best is not anew:
            found = anew = trimmed_anew(assessor, best)
        if found is best:
            break
        best = found
    return best


def trimmed_anew(assessor: Assessor, best: Trimmed) -> Trimmed:
    """Trim from other numbers of the same structure; the cheapest."""
    structure, left = best.programme.structure, [*otherwise_started(best.programme)]
    while left:
        most = best.objective - WORTH_A_TRIM * abs(best.objective)
        found, reached = _first(assessor, [Ask(structure, start, most) for start in left])
        best, left = found or best, left[len(reached) :]
    return best


def first_cheaper(assessor: Assessor, best: Trimmed, tried: Tried) -> Trimmed:
    """Trim structures one step away that may still be cheaper; the first that is, else the best.

    The candidates of a step are starts, one tried after the other.
    """
    longer = best.objective - WORTH_A_PHASE * abs(best.objective)
    numbers = len(Space(assessor, best.programme.structure).slots)
    asks: dict[Structure, list[Ask]] = {}
    for structure, starts in single_steps(best.programme, assessor):
        most = longer if len(Space(assessor, structure).slots) > numbers else best.objective
        if structure not in asks and tried.get(structure, -np.inf) < most:
            every = range(len(starts.spray_s))
            asks[structure] = [Ask(structure, _one(starts, number), most) for number in every]
    in_a_row = [ask for some in asks.values() for ask in some]
    found, reached = _first(assessor, in_a_row)
    now: Tried = {}
    for ask, least in zip(in_a_row, reached, strict=False):
        now[ask.structure] = min(least, now.get(ask.structure, np.inf))
    tried |= now
    return found or best


def _first(assessor: Assessor, asks: Sequence[Ask]) -> tuple[Trimmed | None, list[float]]:
    """The first trim that is as cheap as asked, and what each up to it came to at the least."""
    reached = []
    with closing(in_order(assessor, asks)) as trims:
        for ask, one in zip(asks, trims, strict=True):
            found = one.trimmed
            reached.append(one.least if found is None else found.objective)
            if found is not None and found.objective < ask.worse_than:
                return found, reached
    return None, reached


def _one(settings: Settings, number: int) -> Settings:
    """One candidate of many."""
    return Settings(**{field.name: getattr(settings, field.name)[[number]] for field in fields(Settings)})
