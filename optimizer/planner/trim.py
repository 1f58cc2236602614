"""Trim: with kinds and heat modes fixed, find the cheapest durations that hold, then whole seconds.

The continuous step is scipy's SLSQP on the planner's own simulation, with slopes from one batch of
candidates; `whole_seconds.py` does the rest.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.structure import Programme, Settings
from optimizer.planner.trim_space import Space
from optimizer.planner.whole_seconds import by_straight_lines, whole_seconds

STEP = 1e-4
"""Step of the slopes, in scaled variables [1]."""
CORNER_TRIES = 4
"""Times the search starts again with the corners that it broke [1]."""
OTHERS_SHORT = 2e-4
"""Shortfall of the other requirements that an aim may end at: less than is left for whole seconds [1]."""
HOLDS = 1e-5
"""Shortfall that counts as none before the whole-second step [1]."""
STALL_LOOKS, STALL_GAIN = 25, 1e-5
"""Points without a gain of that share of the cost after which the search ends [1]."""
WATER = ("fill_s", "top_up_s")
"""Numbers of which a second is much."""
WHOLE_SHARE = 0.002
"""Share that whole seconds may cost over what holds between them, before other ones are looked for [1]."""
GIVEN_UP = 0.1
"""Shortfall of one requirement at which the search gives up a structure that is not the only one [1]."""


@dataclass(frozen=True)
class Trimmed:
    """One candidate in whole seconds and tenths of a degree, with what the planner makes least."""

    programme: Programme
    objective: float


def trim(
    space: Space, start: Settings, *, worse_than: float = np.inf, patient: bool = True
) -> Trimmed | None:
    """Find the cheapest numbers of a structure; the start need not hold.

    None where none was found that holds, or the continuous optimum is not below ``worse_than``. With such a
    programme in hand, or not ``patient``, one that is far short between whole seconds is not repaired.
    """
    patient = patient and worse_than == np.inf
    if space.short_when_full():
        return None
    values = space.pack(start)
    for _ in range(CORNER_TRIES):
        space.look_at_binding_corners(values)
        values = _continuous(space, values)
        margins, objective = space.run(values[None])
        if not patient and margins.min() < -GIVEN_UP:
            return None
        if objective[0] >= worse_than:
            space.least = float(objective[0])
            return None
        whole = whole_seconds(space, values)
        if margins.min() >= -HOLDS:
            if whole is None and not space.aim:
                whole = by_straight_lines(space, values)
            # What an aim makes least is no cost.
            dearest = np.inf if space.aim else (1.0 + WHOLE_SHARE) * float(objective[0])
            if whole is None or _cost(space, whole) > dearest:
                whole = _cheaper(space, whole, _with_whole_fills(space, values))
        if whole is None and margins.min() >= -HOLDS:
            # It holds, but no whole seconds near it do: search again with a backoff for rounding up.
            space.back_off_for_rounding(values)
            values = _continuous(space, values)
            whole = whole_seconds(space, values)
        if whole is None:
            return None
        if space.holds(whole):
            _, objective = space.run(whole[None])
            return Trimmed(space.programme(whole[None]), float(objective[0]))
        values = whole
    return None


def furthest(space: Space, start: Settings, *, patient: bool = True) -> Trimmed | None:
    """Bring the requirement that a space aims at as far as it goes; None where the others can't be held.

    Its objective is minus the margin reached.
    """
    trimmed = trim(space, start, patient=patient)
    if trimmed is not None:
        return trimmed
    # Between whole seconds only: the value that is named must be one that whole seconds can reach.
    values = _continuous(space, space.pack(start))[None]
    margins, objective = space.run(values)
    if margins.min() < -OTHERS_SHORT:
        return None
    return Trimmed(space.programme(values), float(objective[0]))


def nearest_point(space: Space, start: Settings) -> Settings:
    """Numbers, between whole seconds, that hold at the least cost; else those that fall least short."""
    return space.settings(_continuous(space, space.pack(start))[None])


def _cost(space: Space, values: Array) -> float:
    """What is made least, of one candidate."""
    return float(space.run(values[None])[1][0])


def _cheaper(space: Space, one: Array | None, other: Array | None) -> Array | None:
    """The cheaper one of two that hold; the one that there is."""
    if one is None or other is None:
        return one if other is None else other
    return other if _cost(space, other) < _cost(space, one) else one


def _with_whole_fills(space: Space, values: Array) -> Array | None:
    """Whole seconds that hold, with the rest searched for anew at fills that are whole already.

    A second of water is a hundredth of a bath, and what it takes to heat that is many seconds: no few moves.
    """
    filled = np.array([name in WATER for name, _ in space.slots])
    up = np.clip(np.ceil(values / space.unit - 1e-6) * space.unit, space.low, space.high)
    ends = np.where(filled, up, space.low), np.where(filled, up, space.high)
    return whole_seconds(space, _continuous(space, np.where(filled, up, values), ends))


def _continuous(space: Space, start: Array, ends: tuple[Array, Array] | None = None) -> Array:
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
