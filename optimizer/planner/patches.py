"""Patches: boxes of round settings that together hold every round there may be, for the lower bound.

A patch has one kind, one heat mode, and an interval for each number of a round, the temperatures handed on to
it included. Splitting a patch makes the lower bound that is worked out over it closer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise, product

import numpy as np

from optimizer.physics import Array
from optimizer.planner.structure import Mode

NAMES = (
    "handed_c",
    "nominal_c",
    "fill_s",
    "alone_s",
    "together_s",
    "setpoint_c",
    "after_s",
    "soak_s",
)
"""Numbers of a round: the temperature handed on in the cold corner and in the nominal one [°C], inlet open,
element alone, element while spraying [s], set point [°C], spray with the element off, soak [s]."""

KEEP_OFF = 0.15
"""A split stays so far from both ends of the interval, a share of it [1]."""


@dataclass(frozen=True)
class Patch:
    """A box of round settings; ``low`` and ``high`` are the ends of its intervals in the order of `NAMES`."""

    kind: int
    mode: Mode
    soaks: bool
    low: tuple[float, ...]
    high: tuple[float, ...]

    @property
    def free(self) -> list[int]:
        """Numbers that are an interval, not one value."""
        return [n for n, (low, high) in enumerate(zip(self.low, self.high, strict=True)) if high > low]

    def shares(self, middle: int | None = None) -> Array:
        """Corners of the unit box, ``[corner, number]``, or the middles of its edges along one number.

        The first free number changes slowest, and a middle stands where the two ends that it joins stood.
        """
        sides = [(0.0, 1.0) if n in self.free else (0.0,) for n in range(len(NAMES))]
        if middle is not None:
            sides[middle] = (0.5,)
        return np.array(list(product(*sides)))

    def vertices(self) -> Array:
        """Every corner of the box, ``[vertex, number]``."""
        width = np.array([b - a if b > a else 0.0 for a, b in zip(self.low, self.high, strict=True)])
        return np.asarray(np.array(self.low) + self.shares() * width)

    def split(self, number: int, at: float) -> tuple[Patch, Patch]:
        """Cut the box in two across one number."""
        low, high = self.low[number], self.high[number]
        cut = min(max(at, low + KEEP_OFF * (high - low)), high - KEEP_OFF * (high - low))
        below, above = list(self.high), list(self.low)
        below[number] = above[number] = cut
        return replace(self, high=tuple(below)), replace(self, low=tuple(above))


def pieces(edges: dict[str, list[float]], kind: int, mode: Mode, *, soaks: bool) -> list[Patch]:
    """Patches between the edges of each number; one edge alone fixes a number, and none makes it 0."""
    spans = []
    for name in NAMES:
        ends = edges.get(name, [0.0])
        spans.append(list(pairwise(ends)) if len(ends) > 1 else [(ends[0], ends[0])])
    return [
        Patch(kind, mode, soaks, tuple(low for low, _ in box), tuple(high for _, high in box))
        for box in product(*spans)
    ]
