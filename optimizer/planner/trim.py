"""Trim: with kinds and heat modes fixed, find the cheapest durations that hold, then whole seconds.

The continuous step is scipy's SLSQP on the planner's own simulation, with slopes from one batch of
candidates; the whole-second step is a descent in which every move is checked.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.structure import Programme, Settings
from optimizer.planner.trim_space import FEASIBLE, Space

STEP = 1e-4
"""Step of the slopes, in scaled variables [1]."""
CORNER_TRIES = 4
"""Times the search starts again with the corners that it broke [1]."""
OTHERS_SHORT = 2e-4
"""Shortfall of the other requirements that an aim may end at: less than is left for whole seconds [1]."""
HOLDS = 1e-6
"""Shortfall that counts as none before the whole-second step [1]."""
REPAIRS, PAIR_REPAIRS = 40, 6
"""Most moves that mend what rounding up broke, and how many of these may move two numbers [1]."""
AIM_WEIGHT = 0.1
"""Shortfall that counts as much as all of what is aimed at [1]."""
PAIRS_TRIED = 250
"""Pairs of moves that are simulated, the most promising by what each move does alone [1]."""
BATCH = 250
"""Candidates that are simulated at once [1]."""
TRADED = (1.0, 10.0, 1.0)
"""How far one number may go up for another to go down by one, one look after the other [1]."""
FURTHER = (2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 64.0, 128.0, 256.0)
"""Multiples of a move that helped that are tried as well [1]."""
STALL_LOOKS, STALL_GAIN = 25, 1e-5
"""Points without a gain of that share of the cost after which the search ends [1]."""

FAR_SHORT = 0.5
"""Sum of shortfalls, each a share of its limit, that rounding alone never causes [1]."""

HOPED_PACE = 8.0
"""From far short, repairs go on if they get there at so many times the pace of the last one [1]."""

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
        if objective[0] >= worse_than or (not patient and margins.min() < -GIVEN_UP):
            return None
        whole = _whole(space, values)
        if whole is None and margins.min() >= -10.0 * HOLDS:
            # It holds, but no whole seconds near it do: search again with a backoff for rounding up.
            space.back_off_for_rounding(values)
            values = _continuous(space, values)
            whole = _whole(space, values)
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


def _continuous(space: Space, start: Array) -> Array:
    """SLSQP in scaled variables; the best point it saw that holds, else its last one."""
    from scipy.optimize import NonlinearConstraint, minimize

    scale = space.scale
    low, high = space.low / scale, space.high / scale
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
    """Points of the search, each with its slopes from one batch; remembers the best one.

    Best is the cheapest that holds; as long as none holds, the one that is least short. Thermostats put kinks
    into the margins, at which SLSQP would go on for hundreds of points.
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

    def _move_to(self, x: Array) -> None:
        if np.array_equal(x, self._at):
            return
        batch = np.vstack([x, x + STEP * np.eye(len(x))])
        margins, cost = self._space.run(batch * self._space.scale, backed_off=True)
        cost = cost / self._unit
        self._at, self._cost, self._margins = x.copy(), float(cost[0]), margins[0]
        self._cost_slopes = (cost[1:] - cost[0]) / STEP
        self._margin_slopes = (margins[1:] - margins[0]).T / STEP
        short = max(-float(margins[0].min()) - HOLDS, 0.0)
        self._looks += 1
        if (short, self._cost) < self._best_rank:
            if self._cost < self._best_rank[1] - STALL_GAIN or short < 0.9 * self._best_rank[0]:
                self._best_look = self._looks
            self.best, self._best_rank = x.copy(), (short, self._cost)
        if self._looks - self._best_look > STALL_LOOKS:
            raise _Stalled

    def cost(self, x: Array) -> float:
        self._move_to(x)
        return self._cost

    def cost_slopes(self, x: Array) -> Array:
        self._move_to(x)
        return self._cost_slopes

    def margins(self, x: Array) -> Array:
        self._move_to(x)
        return self._margins

    def margin_slopes(self, x: Array) -> Array:
        self._move_to(x)
        return self._margin_slopes


def _whole(space: Space, values: Array) -> Array | None:
    """Round up, repair what rounding broke, then step every number down as far as it goes."""
    unit = space.unit
    low, high = np.ceil(space.low / unit), np.floor(space.high / unit)
    now = np.clip(np.ceil(values / unit - 1e-6), low, high)
    singles = np.vstack([step * np.eye(len(now)) for step in (1, -1, 4, -4, 16, -16, 64, -64)])
    short = float(_shortfalls(_run(space, now[None] * unit)[0])[0])
    paired = 0
    for look in range(REPAIRS):
        if short >= FEASIBLE:
            # An aim is as far as the continuous step brought it; a second less does not matter.
            return now * unit if space.aim else _descend(space, now, low, high)
        tries = np.clip(now + singles, low, high)
        margins, objective = _run(space, np.vstack([now[None], tries]) * unit)
        moved, left = _least_short(space, tries, margins[1:], objective[1:])
        if left < -FAR_SHORT and left + (REPAIRS - look) * HOPED_PACE * max(left - short, 0.0) < 0.0:
            return None
        # Where one number can't mend it, two may: a litre more for the cover, and the heat that it needs. At
        # first both are tried, as the best single move may lead away from the pair that repairs everything.
        stuck = left <= short or (look == 0 and left < FEASIBLE)
        if stuck and not space.aim and paired < PAIR_REPAIRS:
            paired += 1
            pairs = np.clip(_pairs(now, tries, margins), low, high)
            both, left_by_both = _least_short(space, pairs, *_run(space, pairs * unit))
            if left_by_both >= FEASIBLE or left <= short:
                moved, left = both, left_by_both
        if left <= short:
            return None
        now, short = moved, left
    return None


def _least_short(space: Space, tries: Array, margins: Array, objective: Array) -> tuple[Array, float]:
    """The candidate that is least short, and its shortfall; one that gives up much of an aim comes last."""
    found = _shortfalls(margins)
    pick = int((found - AIM_WEIGHT * objective).argmax() if space.aim else found.argmax())
    return tries[pick], float(found[pick])


def _pairs(now: Array, tries: Array, margins: Array) -> Array:
    """Two of the moves at once: those that would be least short if each did what it does alone.

    ``margins`` are those of where it stands now, then of each move.
    """
    gains = margins[1:] - margins[0]
    first, second = np.triu_indices(len(tries), k=1)
    hoped = _shortfalls(margins[0] + gains[first] + gains[second])
    tried = np.argsort(-hoped, kind="stable")[:PAIRS_TRIED]
    return np.asarray(tries[first[tried]] + tries[second[tried]] - now)


def _shortfalls(margins: Array) -> Array:
    """Sum of all shortfalls of each candidate, 0 or less."""
    return np.asarray(np.minimum(margins, 0.0).sum(axis=1))


def _run(space: Space, values: Array) -> tuple[Array, Array]:
    """Margins of candidates, and what is made least; in batches, for the memory."""
    runs = [space.run(batch) for batch in np.array_split(values, math.ceil(len(values) / BATCH))]
    return np.concatenate([margins for margins, _ in runs]), np.concatenate([made for _, made in runs])


def _descend(space: Space, start: Array, low: Array, high: Array) -> Array:
    """Step single numbers down, and pairs one up and one down, while the cost falls and all margins hold."""
    unit, size = space.unit, len(start)
    now = start
    one = np.eye(size)
    single = -one
    # Late heat buys little spray: many seconds of the one may stand for a second of the other.
    traded = [
        np.array([up * one[i] - one[j] for i in range(size) for j in range(size) if i != j]) for up in TRADED
    ]
    cost = float(space.run((now * unit)[None])[1][0])
    for step in (16.0, 4.0, 1.0):
        for moves in (single, *traded) if step == 1.0 else (single,):
            while True:
                tries = np.clip(now + step * moves, low, high)
                margins, objective = space.run(tries * unit)
                prices = np.where(margins.min(axis=1) >= FEASIBLE, objective, np.inf)
                pick = int(prices.argmin())
                if not prices[pick] < cost - 1e-12:
                    break
                move = tries[pick] - now
                # What helps once may help many times.
                further = np.clip(now + np.outer(FURTHER, move), low, high)
                margins, objective = space.run(further * unit)
                more = np.where(margins.min(axis=1) >= FEASIBLE, objective, np.inf)
                best = int(more.argmin())
                if more[best] < prices[pick]:
                    now, cost = further[best], float(more[best])
                else:
                    now, cost = tries[pick], float(prices[pick])
    return np.asarray(now * unit)
