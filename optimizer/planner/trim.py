"""Trim: with kinds and heat modes fixed, shave every duration until the targets just hold, then go to
whole seconds on the safe side.

The continuous step is scipy's SLSQP on the planner's own simulation, with gradients from one batch of
candidates; the whole-second step is a descent in which every move is checked in full.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.structure import Settings, Structure
from optimizer.planner.trim_space import FEASIBLE, Space

Array = NDArray[np.float64]

STEP = 1e-4
CUTS = 4
"""Times the search starts again with the corners that it broke [1]."""
NEARLY = 2e-4
"""Shortfall of the others at which a requirement is as far as it goes: less than what is named leaves [1]."""
HOLDS = 1e-6
"""Shortfall that counts as none before the whole-second step [1]."""
REPAIRS, PAIR_REPAIRS = 40, 6
"""Moves that may mend what rounding up broke, and how often two numbers may be asked for [1]."""
PAIRED = 14
"""Numbers of a programme of which any two may move together by any step [1]."""
BATCH = 1000
"""Candidates that are simulated at once [1]."""
PATIENCE, PATIENT_STEP = 25, 1e-5
"""Looks without a gain of that share of the cost after which the search ends [1]."""


@dataclass(frozen=True)
class Trimmed:
    """A programme in whole seconds and tenths of a degree.

    Attributes
    ----------
    structure : Structure
        Kinds and heat modes.
    settings : Settings
        The one candidate.
    objective : float
        What the planner makes least [currency].
    """

    structure: Structure
    settings: Settings
    objective: float


def trim(space: Space, start: Settings, *, worse_than: float = np.inf) -> Trimmed | None:
    """Find the cheapest numbers of a structure.

    Parameters
    ----------
    space : Space
        The structure's variables.
    start : Settings
        One candidate to start from; need not be feasible.
    worse_than : float
        Give up where the continuous optimum is not below this [currency].

    Returns
    -------
    Trimmed or None
        The programme in whole seconds; None where none was found that holds, or none below ``worse_than``.
    """
    if space.hopeless():
        return None
    values = space.pack(start)
    for _ in range(CUTS):
        space.look_at_worst(values)
        values = _continuous(space, values)
        if float(space.run(values[None])[1][0]) >= worse_than:
            return None
        whole = _whole(space, values)
        if whole is None and space.run(values[None])[0].min() >= -10.0 * HOLDS:
            # It holds, but no whole seconds beside it do: leave room under the limits to round up.
            space.keep_back(values)
            values = _continuous(space, values)
            whole = _whole(space, values)
        if whole is None:
            return None
        if space.holds(whole):
            _, objective = space.run(whole[None])
            return Trimmed(space.structure, space.settings(whole[None]), float(objective[0]))
        values = whole
    return None


def furthest(space: Space, start: Settings) -> float | None:
    """Bring the requirement a space aims at as far as it goes.

    Parameters
    ----------
    space : Space
        The structure's variables, with an aim.
    start : Settings
        One candidate to start from.

    Returns
    -------
    float or None
        Its best margin [1]; None where the other requirements can't be held.
    """
    trimmed = trim(space, start)
    if trimmed is not None:
        return -trimmed.objective
    # Between whole seconds only: what is named must leave room for them.
    margins, objective = space.run(_continuous(space, space.pack(start))[None])
    return -float(objective[0]) if margins.min() >= -NEARLY else None


def nearest_point(space: Space, start: Settings) -> Settings:
    """Find the numbers of a structure that hold at the least cost or, where none hold, fall least short.

    Parameters
    ----------
    space : Space
        The structure's variables.
    start : Settings
        One candidate to start from.

    Returns
    -------
    Settings
        One candidate, between whole seconds.
    """
    return space.settings(_continuous(space, space.pack(start))[None])


def _continuous(space: Space, start: Array) -> Array:
    """SLSQP in scaled variables; the best point it saw that holds, else its last one."""
    from scipy.optimize import NonlinearConstraint, minimize

    scale = space.scale
    low, high = space.low / scale, space.high / scale
    look = _Look(space, start)
    with suppress(_Enough):
        minimize(
            look.cost,
            start / scale,
            jac=look.cost_slopes,
            bounds=[(float(a), float(b)) for a, b in zip(low, high, strict=True)],
            constraints=NonlinearConstraint(look.margins, 0.0, np.inf, jac=look.margin_slopes),
            method="SLSQP",
            options={"maxiter": 60, "ftol": 1e-6},
        )
    return np.asarray(np.clip(look.best, low, high) * scale)


class _Enough(Exception):  # noqa: N818
    """Raised through the solver to end a search that no longer gets anywhere."""


class _Look:
    """One point of the search with its slopes, from one batch; remembers the best point seen.

    Best is the cheapest that holds; as long as none holds, the one that is least short. Thermostats put kinks
    into the margins, at which SLSQP would go on for hundreds of looks.
    """

    def __init__(self, space: Space, start: Array) -> None:
        self._space = space
        self._unit = max(abs(float(space.run(start[None])[1][0])), 1e-3)
        self._at: Array = np.full(len(start), np.nan)
        self.best = start / space.scale
        self._best_rank = (np.inf, np.inf)
        self._looks = self._best_look = 0
        self._cost = np.inf
        self._margins = self._cost_slopes = self._margin_slopes = np.zeros(0)

    def _look(self, x: Array) -> None:
        if np.array_equal(x, self._at):
            return
        batch = np.vstack([x, x + STEP * np.eye(len(x))])
        margins, cost = self._space.run(batch * self._space.scale, keep_back=True)
        cost = cost / self._unit
        self._at, self._cost, self._margins = x.copy(), float(cost[0]), margins[0]
        self._cost_slopes = (cost[1:] - cost[0]) / STEP
        self._margin_slopes = (margins[1:] - margins[0]).T / STEP
        short = max(-float(margins[0].min()) - HOLDS, 0.0)
        self._looks += 1
        if (short, self._cost) < self._best_rank:
            if self._cost < self._best_rank[1] - PATIENT_STEP or short < 0.9 * self._best_rank[0]:
                self._best_look = self._looks
            self.best, self._best_rank = x.copy(), (short, self._cost)
        if self._looks - self._best_look > PATIENCE:
            raise _Enough

    def cost(self, x: Array) -> float:
        self._look(x)
        return self._cost

    def cost_slopes(self, x: Array) -> Array:
        self._look(x)
        return self._cost_slopes

    def margins(self, x: Array) -> Array:
        self._look(x)
        return self._margins

    def margin_slopes(self, x: Array) -> Array:
        self._look(x)
        return self._margin_slopes


def _whole(space: Space, values: Array) -> Array | None:
    """Round up, repair what rounding broke, then step every number down as far as it goes."""
    unit = space.unit
    low, high = np.ceil(space.low / unit), np.floor(space.high / unit)
    now = np.clip(np.ceil(values / unit - 1e-6), low, high)
    singles = np.vstack([step * np.eye(len(now)) for step in (1, -1, 4, -4, 16, -16, 64, -64)])
    short = _short(space, now[None] * unit)[0]
    paired = 0
    for look in range(REPAIRS):
        if short >= FEASIBLE:
            # An aim is as far as the continuous step brought it; a second less does not matter.
            return now * unit if space.aim else _descend(space, now, low, high)
        moved, left = _mended(space, np.clip(now + singles, low, high))
        # What one number can't mend takes two: a litre more for the cover, and the heat that it needs. At
        # first both are asked, lest a number that mends a little leads away from two that mend it all.
        stuck = left <= short or (look == 0 and left < FEASIBLE)
        if stuck and not space.aim and paired < PAIR_REPAIRS:
            paired += 1
            both, left_by_both = _mended(space, np.clip(now + _pairs(singles), low, high))
            if left_by_both >= FEASIBLE or left <= short:
                moved, left = both, left_by_both
        if left <= short:
            return None
        now, short = moved, left
    return None


def _mended(space: Space, tries: Array) -> tuple[Array, float]:
    """The try that is least short, and its shortfall."""
    found = _short(space, tries * space.unit)
    pick = int(found.argmax())
    return tries[pick], float(found[pick])


def _pairs(singles: Array) -> Array:
    """Any two of the moves; where that were too many, one of the two is a single step."""
    size = singles.shape[1]
    first, second = np.triu_indices(len(singles), k=1)
    if size > PAIRED:
        few = first < 2 * size
        first, second = first[few], second[few]
    return np.asarray(singles[first] + singles[second])


def _short(space: Space, values: Array) -> Array:
    """Sum of all shortfalls of candidates, 0 or less; not too many at once, for the memory's sake."""
    batches = np.array_split(values, math.ceil(len(values) / BATCH))
    return np.concatenate([np.minimum(space.run(batch)[0], 0.0).sum(axis=1) for batch in batches])


def _descend(space: Space, start: Array, low: Array, high: Array) -> Array:
    """Single steps down, and pairs of one up and one down, while the cost falls and all margins hold."""
    unit, size = space.unit, len(start)
    now = start
    single = -np.eye(size)
    pairs = np.array([np.eye(size)[i] - np.eye(size)[j] for i in range(size) for j in range(size) if i != j])
    cost = float(space.run((now * unit)[None])[1][0])
    for step in (16.0, 4.0, 1.0):
        for moves in (single, pairs) if step == 1.0 else (single,):
            while True:
                tries = np.clip(now + step * moves, low, high)
                margins, objective = space.run(tries * unit)
                prices = np.where(margins.min(axis=1) >= FEASIBLE, objective, np.inf)
                pick = int(prices.argmin())
                if not prices[pick] < cost - 1e-12:
                    break
                now, cost = tries[pick], float(prices[pick])
    return np.asarray(now * unit)
