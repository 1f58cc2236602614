"""What the rinses after a warm first one cost at the least, whatever that one thins: for the lower bound."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.priced_patches import Prices

SLOPES = 60
"""Prices of a decade that are tried for a number of rinses [1]."""


@dataclass(frozen=True)
class RinseGrid:
    """Unheated rinses of the shortest spray, a fill a row, rising by a second.

    Attributes
    ----------
    cost, minutes : ndarray
        Least cost [currency] and length [min].
    decades : ndarray
        Decades that one brings at the most [1].
    counts : range
        Numbers of rinses that a programme may have [1].
    asked : float
        Decades that all rinses have to bring [1].
    """

    cost: Array
    minutes: Array
    decades: Array
    counts: range
    asked: float

    def equal(self) -> tuple[float, float, int]:
        """Least cost [currency], least time [min] and number of all rinses where none is heated.

        For a number of them, equal fills cost least: a logarithm gains most where all are alike.
        """
        found = []
        for count in self.counts:
            enough = np.flatnonzero(count * self.decades >= self.asked)
            if enough.size:
                # Not in whole seconds: the mean of the fills may lie between two.
                first = max(int(enough[0]) - 1, 0)
                found.append((count * float(self.cost[first]), count * float(self.minutes[first]), count))
        if not found:
            return math.inf, 0.0, 0
        cost, _, count = min(found)
        return cost, min(minutes for _, minutes, _ in found), count

    def after_a_first(self, minute: float) -> list[Prices]:
        """Prices for the first rinse, with what the rest costs added, for each number of these.

        With ``n`` more rinses that bring ``d_i`` decades, and ``d`` of the first, ``d + sum d_i >= asked``.
        For any price ``p >= 0`` of a decade they cost ``n min(cost - p d_i) + p (asked - d)`` at the least,
        which is linear in ``d``: a price of the first rinse's decades and a sum. Which ``p`` is taken only
        makes it closer: the one that is best where all rinses are alike.
        """
        found: list[Prices] = []
        net = self.cost + minute * self.minutes
        # Between two whole seconds a logarithm is above its chord by its bend over eight, at the most.
        bend = float(np.abs(np.diff(self.decades, 2)).max(initial=0.0)) / 8.0 * 1.1
        steepest = 10.0 * float(net[-1]) / max(float(self.decades[-1]), 1e-9)
        slopes = np.array([0.0, *np.geomspace(1e-4 * steepest, steepest, SLOPES)])
        each = (net - slopes[:, None] * (self.decades + bend)).min(axis=1)
        for count in self.counts:
            rest = count - 1
            sums = rest * each + slopes * self.asked
            like = min(max(self.asked / count, float(self.decades[0])), float(self.decades[-1]))
            best = int(np.argmax(sums - slopes * like))
            slope, added = float(slopes[best]), float(sums[best])
            # Where fewer of them do at no price of a decade, more only cost more.
            if slope == 0.0 and any(one.decade == 0.0 and one.added <= added for one in found):
                continue
            found.append(Prices(np.zeros(0), minute, slope, added=added))
        return found
