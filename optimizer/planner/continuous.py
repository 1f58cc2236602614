"""Numbers between whole seconds: the cheapest that hold, or those that fall least short.

SLSQP of scipy on the planner's own simulation, with slopes from one batch of candidates.
"""

from __future__ import annotations

from contextlib import suppress

import numpy as np

from optimizer.physics import Array
from optimizer.planner.trim_space import Space

STEP = 1e-4
"""Step of the slopes, in scaled variables [1]."""
HOLDS = 1e-5
"""Shortfall that counts as none before the whole-second step [1]."""
STALL_LOOKS, STALL_GAIN = 25, 1e-5
"""Points without a gain of that share of the cost after which the search ends [1]."""


def continuous(space: Space, start: Array, ends: tuple[Array, Array] | None = None) -> Array:
    """SLSQP in scaled variables; the best point it saw that holds, else its last one.

    The numbers stay between their ``ends``, those of the space if they are not given.
    """
    from scipy.optimize import NonlinearConstraint, minimize

    scale = space.scale
    low, high = (end / scale for end in ends or (space.low, space.high))
    points = _Points(space, start)
    with suppress(_Stalled):
        minimize(
            points.cost,
            start / scale,
            jac=points.cost_slopes,
            bounds=[(float(a), float(b)) for a, b in zip(low, high, strict=True)],
            constraints=NonlinearConstraint(points.margins, 0.0, np.inf, jac=points.margin_slopes),
            method="SLSQP",
            options={"maxiter": 60, "ftol": 1e-6},
        )
    return np.asarray(np.clip(points.best, low, high) * scale)


class _Stalled(Exception):  # noqa: N818
    """Raised through the solver to end a search that no longer improves."""


class _Points:
    """Points of the search, with slopes from one batch where they are asked for; remembers the best point.

    Best is the cheapest that holds; as long as none holds, the one that is least short. Thermostats put kinks
    into the margins, at which SLSQP would go on for hundreds of points. Half of its points are steps too far,
    of which it asks no slopes.
    """

    def __init__(self, space: Space, start: Array) -> None:
        self._space = space
        self._unit = max(abs(float(space.run(start[None])[1][0])), 1e-3)
        self._at: Array = np.full(len(start), np.nan)
        self.best = start / space.scale
        self._best_rank = (np.inf, np.inf)
        self._looks = self._best_look = 0
        self._cost, self._margins = np.inf, np.zeros(0)
        self._slopes: tuple[Array, Array] | None = None

    def _run(self, points: Array) -> tuple[Array, Array]:
        """Margins of points, and their costs over that of the start."""
        margins, cost = self._space.run(points * self._space.scale, backed_off=True)
        return margins, cost / self._unit

    def _move_to(self, x: Array) -> None:
        if np.array_equal(x, self._at):
            return
        margins, cost = self._run(x[None])
        self._at, self._cost, self._margins, self._slopes = x.copy(), float(cost[0]), margins[0], None
        short = max(-float(margins[0].min()) - HOLDS, 0.0)
        self._looks += 1
        if (short, self._cost) < self._best_rank:
            if self._cost < self._best_rank[1] - STALL_GAIN or short < 0.9 * self._best_rank[0]:
                self._best_look = self._looks
            self.best, self._best_rank = x.copy(), (short, self._cost)
        if self._looks - self._best_look > STALL_LOOKS:
            raise _Stalled

    def _slopes_at(self, x: Array) -> tuple[Array, Array]:
        """Slopes of the cost, and of the margins, margins × numbers."""
        self._move_to(x)
        if self._slopes is None:
            # The point itself comes first: what all begin with is simulated once.
            margins, cost = self._run(np.vstack([x, x + STEP * np.eye(len(x))]))
            self._slopes = (cost[1:] - cost[0]) / STEP, (margins[1:] - margins[0]).T / STEP
        return self._slopes

    def cost(self, x: Array) -> float:
        self._move_to(x)
        return self._cost

    def cost_slopes(self, x: Array) -> Array:
        return self._slopes_at(x)[0]

    def margins(self, x: Array) -> Array:
        self._move_to(x)
        return self._margins

    def margin_slopes(self, x: Array) -> Array:
        return self._slopes_at(x)[1]
