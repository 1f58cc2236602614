"""Coarse numbers first: fills and set points made whole, and the times searched for anew.

A second of water is a hundredth of a bath and a tenth of a degree may be all the room there is under a limit:
what they take from the rest is many seconds of other phases, which no few moves of whole seconds mend.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array
from optimizer.planner.continuous import HOLDS, continuous
from optimizer.planner.trim_space import Space
from optimizer.planner.water_margins import BY_LITRES
from optimizer.planner.whole_seconds import whole_seconds

Picked = NDArray[np.bool_]
"""Which numbers."""
WATER = ("fill_s", "top_up_s")
"""Numbers of which a second is much."""
LONGER = 3.0
"""By how much longer one phase is where the search for its times begins anew [1]: our choice."""
LITRES_COUNT = 1e3
"""What a shortfall in litres counts beside that of another [1]."""
SET_POINTS = 3
"""Most set points that are made whole either way [1]: eight combinations."""


def with_whole_fills(space: Space, values: Array) -> Array | None:
    """Whole seconds that hold, with the rest searched for anew at fills that are whole already."""
    filled = _named(space, *WATER)
    up = _whole(space, values, up=True)
    return whole_seconds(space, continuous(space, np.where(filled, up, values), _kept(space, up, filled)))


def from_either_side(space: Space, values: Array) -> Array | None:
    """The cheapest whole seconds that hold, with each coarse number made whole upwards or downwards.

    Where a bath of a second less holds at all, it may be by a prerinse three times as long, and a search
    that follows slopes from the short one does not get there: it starts from each phase made longer as well.
    """
    best, least = None, np.inf
    coarse = _named(space, *WATER, "setpoint_c")
    # Of one that lasts no time three times as long is the same.
    phases = np.flatnonzero(~coarse & ~_named(space, "element_s") & (values > 0.0))
    for base in _rounded_both_ways(space, values):
        ends = _kept(space, base, coarse)
        for longer in (None, *phases):
            start = np.where(coarse, base, values)
            if longer is not None:
                start[longer] = min(LONGER * start[longer], space.high[longer])
            found = continuous(space, start, ends)
            margins, cost = space.run(found[None])
            if margins.min() < -HOLDS or cost[0] >= least:
                continue
            whole = whole_seconds(space, found)
            if whole is not None and (cost := space.run(whole[None])[1])[0] < least:
                best, least = whole, float(cost[0])
    return best


def _rounded_both_ways(space: Space, values: Array) -> Iterator[Array]:
    """Candidates with whole coarse numbers, one for each way to make the set points whole.

    Fills are rounded up, then those down again, one by one, that leave less short by it.
    """
    up, down = (_whole(space, values, up=way) for way in (True, False))
    water = _named(space, *WATER)
    points = np.flatnonzero(_named(space, "setpoint_c") & (up > down))[:SET_POINTS]
    for ways in product((False, True), repeat=len(points)):
        now = np.where(water, up, values)
        settled = _named(space, "setpoint_c")
        now[settled] = up[settled]
        now[points] = np.where(ways, up[points], down[points])
        lowered = np.flatnonzero(water & (up > down))
        short = _short(space, now[None])[0]
        while len(lowered):
            tries = np.repeat(now[None], len(lowered), axis=0)
            tries[np.arange(len(lowered)), lowered] = down[lowered]
            shorts = _short(space, tries)
            pick = int(shorts.argmin())
            if shorts[pick] >= short:
                break
            now, short = tries[pick], shorts[pick]
            lowered = np.delete(lowered, pick)
        yield now


def _short(space: Space, tries: Array) -> Array:
    """Sum of all shortfalls of each candidate [1]; those in litres, which no time mends, count before all."""
    margins, _ = space.assessor.run(space.programme(tries), space.corner_numbers)
    short = np.zeros(len(tries))
    for key, margin in margins.items():
        if key not in (space.aim, *space.drop):
            weight = LITRES_COUNT if key.startswith(BY_LITRES) else 1.0
            short -= weight * np.minimum(margin, 0.0).sum(axis=1)
    return short


def _whole(space: Space, values: Array, *, up: bool) -> Array:
    """All numbers in whole steps, rounded up or down."""
    steps = values / space.unit
    whole = np.ceil(steps - 1e-6) if up else np.floor(steps + 1e-6)
    return np.asarray(np.clip(whole, *space.whole_ends) * space.unit)


def _named(space: Space, *names: str) -> Picked:
    """Which numbers have one of these names."""
    return np.array([name in names for name, _ in space.slots])


def _kept(space: Space, values: Array, kept: Picked) -> tuple[Array, Array]:
    """Least and most of each number, where some are kept as they are."""
    return np.where(kept, values, space.low), np.where(kept, values, space.high)
