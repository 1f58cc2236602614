"""What a bound is looked for: how good it need be, and how many batches of boxes it may cost."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.certificate import Sense
from optimizer.check.worst_cases import Array

PASSES, PASSES_NEARER, FINE_PASSES, FINE_LEAST = 19, 26, 60, 16
"""Batches of boxes after the first: for a bound that does not hold its limit yet, for that of a dose that
holds it and is to be nearer, and for one that is not near by then: it is looked at finely, with so many
batches at the least [1]."""

NEAR = 0.02
"""A dose that holds is bounded at least this closely to the worst value found, a share of it [1]."""

CLOSE = 0.005
"""The same for a requirement that some point was found to break [1]."""

STEPS_SHARE = 2e-3
"""How far the steps of the courses may put a bound off [1]: at random points without tolerance it differed
from the check's own integration by 0.16 % of a dose at the most, one of less than three minutes. Machines
drawn far out were off by up to 0.9 %: `bound_finer_steps` measures it on each machine."""

IMPOSSIBLE = 0.02
"""A bound that is better than the worst found by more than this is the fault of a course that ran away: a
share of the worst found, or of one where that is less [1]."""


@dataclass(frozen=True)
class Aim:
    """What a bound is looked for: its requirement's sense, limit and worst value found so far.

    An ``exact`` bound is not put off by the steps of a course, or has that counted already, but for ``off``
    more of its unit; others are by ``steps_share`` of them. The worst of a ``warmer`` one may be that of a
    second run, of which this is no bound. A ``rough`` one need not be nearer than its limit, and has no more
    than so many batches of boxes where it does not hold it; 0 is as any other. One is looked at ``finely``
    where all other batches did not bring it near enough.
    """

    sense: Sense
    limit: float
    worst: float
    exact: bool = False
    warmer: bool = False
    rough: int = 0
    finely: bool = False
    steps_share: float = STEPS_SHARE
    off: float = 0.0

    @property
    def sign(self) -> float:
        """1 where more is better, else -1."""
        return 1.0 if self.sense == "at least" else -1.0

    def worse(self, one: float, other: float) -> float:
        """The worse of two values."""
        return self.sign * min(self.sign * one, self.sign * other)

    def better(self, one: float, other: float) -> float:
        """The better of two values."""
        return self.sign * max(self.sign * one, self.sign * other)

    def less_steps(self, values: Array) -> Array:
        """Take off what the steps of a course may have put a bound off."""
        off = self.off if self.exact else self.steps_share * np.abs(values)
        return np.asarray(values - self.sign * off)

    def final(self, values: Array) -> float:
        """The bound of the worst box, never better than what was found; a limit met exactly is met.

        One that is better than what was found has been put off by steps more than was taken off: what was
        found counts then, with as much taken off again, for there may be points that were not found.
        A bound that is far better than what was found bounds nothing: there is none then, and none holds.
        What was found may be of a second run: a bound of one run is left as it is, see `of_both`.
        """
        bound = self.sign * float((self.sign * values).min())
        if self.warmer:
            return self.limit if _met(bound, self.limit) else bound
        if not self.sign * (bound - self.worst) <= IMPOSSIBLE * max(abs(self.worst), 1.0):
            return self.sign * -math.inf
        if _met(bound, self.limit):
            bound = self.limit
        if self.exact or self.sign * bound <= self.sign * self.worst or _met(bound, self.worst):
            return self.worse(bound, self.worst)
        return float(self.less_steps(np.array(self.worst)))

    def of_both(self, one: float, other: float) -> float:
        """The bound of two runs by those of each: here what was found is of one of them."""
        return replace(self, warmer=False).final(np.array([self.worse(one, other)]))

    def kept(self) -> Aim:
        """The same that need not be nearer than its limit."""
        return replace(self, rough=self.rough or PASSES)

    def nearer(self) -> Aim:
        """The same that holds its limit, and is to be nearer."""
        return replace(self, limit=self.sign * -math.inf)

    def wanted(self, key: str) -> float:
        """How good a bound need be: it holds the limit; that of a dose is close to the worst found as well.

        Where some point was found to break the limit, close to the worst found is all that can be had.
        """
        worst, limit = self.sign * self.worst, self.sign * self.limit
        if worst < limit:
            return self.sign * (worst - CLOSE * abs(worst))
        near = key.startswith("dose.") and not self.rough
        return self.sign * max(limit, worst - NEAR * abs(worst)) if near else self.limit

    def passes(self, bound: float) -> int:
        """Batches of boxes that are made for a bound."""
        if self.finely:
            return FINE_PASSES
        if self.rough:
            return min(self.rough, PASSES)
        return PASSES_NEARER if self.sign * bound >= self.sign * self.limit else PASSES

    def misses(self, bound: float) -> bool:
        """Whether a bound does not hold the limit."""
        return self.sign * bound < self.sign * self.limit and not _met(bound, self.limit)

    def enough(self, key: str, bound: float) -> bool:
        """Whether a bound need not be closer."""
        return self.sign * bound >= self.sign * self.wanted(key)


def _met(bound: float, limit: float) -> bool:
    """Whether a limit is met exactly, but for rounding."""
    return math.isclose(bound, limit, rel_tol=1e-12)
