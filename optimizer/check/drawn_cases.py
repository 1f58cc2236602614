"""Cases drawn from the whole box of tolerances, the same at every run: what the few corners may miss."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.box import Box, box_of
from optimizer.check.worst_cases import (
    FAULT_CORNERS,
    QUANTITIES,
    Array,
    Cases,
    cases_at,
    fault_table,
    tolerances,
)
from optimizer.profile.machine import Machine

DRAWN = 32
"""So many points are drawn [1]: they cost a run of all faults about 0.2 s; *no source*, our choice."""
DRAWN_FOR_CUTS = 8
"""So many are drawn where one programme is cut off at the ends of all its phases [1]; our choice."""
SEED = 5
Points = Mapping[str, Mapping[str, float]]


@dataclass(frozen=True)
class Spread:
    """The points at which faults are run.

    Attributes
    ----------
    box : Box
        What the points are taken from.
    points : ndarray
        One a row, by the quantities of the box [units of the quantities].
    names : tuple of str
        What each is called.
    """

    box: Box
    points: Array
    names: tuple[str, ...]

    @classmethod
    def of(cls, box: Box, points: Array) -> Spread:
        """Take points that need no names."""
        return cls(box, points, ("",) * len(points))

    def cases(self) -> Cases:
        """Make cases of the points."""
        return cases_at(self.box.machine, self.names, len(FAULT_CORNERS), self.box.tables(self.points))

    def wider(self, points: Array) -> Spread:
        """Take in points that a search has found."""
        names = tuple(f"found {number + 1}" for number in range(len(points)))
        return replace(self, points=np.vstack([self.points, points]), names=(*self.names, *names))


def spread(machine: Machine, worst_points: Points | None = None, drawn: int = DRAWN) -> Spread:
    """Lay out the points of `fault_cases`, worst points of a check with them, and points that are drawn.

    Each drawn point has every quantity at one of its ends, by a coin: hottest drains are met at such ends,
    in mixtures that no corner has. One quantity in eight is taken between them.
    """
    ends = tolerances(machine)
    coins = np.random.default_rng(SEED)
    points: dict[str, Mapping[str, float]] = dict(worst_points or {})
    for number in range(drawn):
        share = np.where(
            coins.random(len(QUANTITIES)) < 1.0 / 8.0,
            coins.random(len(QUANTITIES)),
            coins.integers(0, 2, len(QUANTITIES)),
        )
        spans = [(getattr(ends, name).low, getattr(ends, name).high) for name in QUANTITIES]
        values = [low + float(at) * (high - low) for (low, high), at in zip(spans, share, strict=True)]
        points[f"drawn {number + 1}"] = dict(zip(QUANTITIES, values, strict=True))
    table, names = fault_table(machine, points)
    box = box_of(machine)
    at = np.array([table[name] for name in box.names]).reshape(box.size, len(names)).T
    return Spread(box, at, names)
