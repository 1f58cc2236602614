"""The cheapest way through the places of a programme, from step to step of the temperature handed on."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.priced_patches import Family, Ints, Prices


@dataclass(frozen=True)
class Place:
    """A place for one round; ``held`` where it cannot be empty, ``last`` of its kind.

    ``warm`` is the first rinse where that has to end warm.
    """

    kind: int
    number: int
    held: bool
    last: bool
    fine: bool
    warm: bool = False


@dataclass(frozen=True)
class Walk:
    """Rounds at each place and step, and the least to there and from there."""

    arcs: list[dict[int, tuple[Ints, Ints, Array, Ints]]]
    before: Array
    after: Array
    least: float


def walk(
    places: Sequence[Place],
    families: Callable[[Place, int], Family],
    paid: Sequence[Prices],
    steps: Sequence[Sequence[int]],
    *,
    rungs: int,
    known: bool,
) -> Walk:
    """Least cost from each place and step to the end, and to it from the start."""
    count = len(places)
    arcs: list[dict[int, tuple[Ints, Ints, Array, Ints]]] = []
    for at, place in enumerate(places):
        mine = {}
        for step in steps[at]:
            family = families(place, step)
            if known:
                mine[step] = family.known(paid[at])
            else:
                index, out, value = family.bounds(paid[at])
                mine[step] = (index, out, value, np.zeros(0, dtype=int))
        arcs.append(mine)
    after = np.full((count + 1, rungs), math.inf)
    after[count] = 0.0
    for at in range(count - 1, -1, -1):
        for step in steps[at]:
            _, out, value, _ = arcs[at][step]
            least = float((value + after[at + 1][out]).min()) if len(value) else math.inf
            if not places[at].held:
                least = min(least, after[at + 1][step])
            after[at][step] = least
    before = np.full((count + 1, rungs), math.inf)
    before[0][steps[0][0]] = 0.0
    for at in range(count):
        for step in steps[at]:
            _, out, value, _ = arcs[at][step]
            if len(value):
                np.minimum.at(before[at + 1], out, before[at][step] + value)
            if not places[at].held:
                before[at + 1][step] = min(before[at + 1][step], before[at][step])
    return Walk(arcs, before, after, float(after[0][steps[0][0]]))
