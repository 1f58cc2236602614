"""Trim: with kinds and heat modes fixed, find the cheapest durations that hold, then whole seconds.

`continuous.py` finds numbers between whole seconds, `whole_seconds.py` whole ones near them; where there are
none, `coarse_numbers.py` makes fills and set points whole first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.coarse_numbers import from_either_side, with_whole_fills
from optimizer.planner.continuous import HOLDS, continuous
from optimizer.planner.structure import Programme, Settings
from optimizer.planner.trim_space import Space
from optimizer.planner.whole_seconds import by_straight_lines, whole_seconds

CORNER_TRIES = 4
"""Times the search starts again with the corners that it broke [1]."""
OTHERS_SHORT = 2e-4
"""Shortfall of the other requirements that an aim may end at: less than is left for whole seconds [1]."""
WHOLE_SHARE = 0.002
"""Share that whole seconds may cost over what holds between them, before other ones are looked for [1]."""
GIVEN_UP = 0.1
"""Shortfall of one requirement at which the search gives up a structure that is not the only one [1]."""

NEARLY = 1.03
"""Share of what it must be cheaper than at which a trim goes on once more from where it came to [1]: corners
that bind there and were not looked at, as those of the start alone were, show the way past a kink."""


@dataclass(frozen=True)
class Trimmed:
    """One candidate in whole seconds and tenths of a degree, with what the planner makes least."""

    programme: Programme
    objective: float


def trim(
    space: Space,
    start: Settings,
    *,
    worse_than: float = np.inf,
    patient: bool = True,
    thorough: bool = False,
) -> Trimmed | None:
    """Find the cheapest numbers of a structure; the start need not hold.

    None where none was found that holds, or the continuous optimum is not below ``worse_than``. With such a
    programme in hand, or not ``patient``, one that is far short between whole seconds is not repaired. If
    ``thorough``, whole seconds are looked for from many starts before a structure that holds between them is
    given up.
    """
    patient = patient and worse_than == np.inf
    if space.short_when_full():
        return None
    values = space.pack(start)
    for number in range(CORNER_TRIES):
        space.look_at_binding_corners(values)
        values = continuous(space, values)
        margins, objective = space.run(values[None])
        if not number and worse_than <= objective[0] < NEARLY * worse_than:
            looked_at = space.corner_numbers
            space.look_at_binding_corners(values)
            if space.corner_numbers != looked_at:
                continue
        if not patient and margins.min() < -GIVEN_UP:
            return None
        if objective[0] >= worse_than:
            space.least = float(objective[0])
            return None
        whole = whole_seconds(space, values)
        if margins.min() >= -HOLDS:
            whole = _better_whole(space, values, whole)
            if whole is None and thorough:
                whole = from_either_side(space, values)
        if whole is None:
            return None
        if space.holds(whole):
            _, objective = space.run(whole[None])
            return Trimmed(space.programme(whole[None]), float(objective[0]))
        values = whole
    return None


def _better_whole(space: Space, values: Array, whole: Array | None) -> Array | None:
    """Whole seconds for numbers that hold, where those near them do not or are dear; else those given."""
    if whole is None and not space.aim:
        whole = by_straight_lines(space, values)
    # What an aim makes least is no cost.
    dearest = np.inf if space.aim else (1.0 + WHOLE_SHARE) * _cost(space, values)
    if whole is None or _cost(space, whole) > dearest:
        whole = _cheaper(space, whole, with_whole_fills(space, values))
    if whole is None:
        # No whole seconds near it hold: search again with a backoff for rounding up.
        space.back_off_for_rounding(values)
        whole = whole_seconds(space, continuous(space, values))
    return whole


def furthest(space: Space, start: Settings, *, patient: bool = True) -> Trimmed | None:
    """Bring the requirement that a space aims at as far as it goes; None where the others can't be held.

    Its objective is minus the margin reached.
    """
    trimmed = trim(space, start, patient=patient)
    if trimmed is not None:
        return trimmed
    # Between whole seconds only: the value that is named must be one that whole seconds can reach.
    values = continuous(space, space.pack(start))[None]
    margins, objective = space.run(values)
    if margins.min() < -OTHERS_SHORT:
        return None
    return Trimmed(space.programme(values), float(objective[0]))


def nearest_point(space: Space, start: Settings) -> Settings:
    """Numbers, between whole seconds, that hold at the least cost; else those that fall least short."""
    return space.settings(continuous(space, space.pack(start))[None])


def _cost(space: Space, values: Array) -> float:
    """What is made least, of one candidate."""
    return float(space.run(values[None])[1][0])


def _cheaper(space: Space, one: Array | None, other: Array | None) -> Array | None:
    """The cheaper one of two that hold; the one that there is."""
    if one is None or other is None:
        return one if other is None else other
    return other if _cost(space, other) < _cost(space, one) else one
