"""Intervals by profile likelihood: how far a number can go before the logs contradict it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.measure.fitting import least_squares
from optimizer.measure.joint_fit import Fitted
from optimizer.physics import Array

COVER = 2.5
"""Half-width of an interval in standard deviations [1]. 1.96 would do for 95 % if the noise were known;
the rest is for what its own estimate leaves open. `benchmarks/bench_books.py` counts how often the true
number lies inside."""

ROUNDS = 8
"""Rounds in which both ends of all intervals are sought together [1]; the last ones change nothing."""

CLOSE = 0.08
"""An end is taken where the square root of the rise is within this share of `COVER` [1]; others are sought
one by one."""

CLOSE_SQUARES = 1e-4
"""The others are fitted anew until the sum of squares falls by less than this share [1]."""

PLAINLY_OPEN = 1.5
"""Where the covariance makes the half-width of a coordinate more than this, no ends are sought [1]."""

HALVINGS = 12
"""Steps of the search for one end on its own [1]."""


@dataclass(frozen=True)
class Interval:
    """An interval of a coordinate.

    Attributes
    ----------
    low, high : float
        Its ends [1].
    at_bound : bool
        Whether an end is a bound of the search, beyond which there is no physics.
    """

    low: float
    high: float
    at_bound: bool


def intervals(fit: Fitted, names: list[str]) -> dict[str, Interval]:
    """Find the interval of each of some numbers that belong to all sessions.

    Parameters
    ----------
    names : list of str
        Short names of parameters.

    Returns
    -------
    dict of str to Interval
        By name.

    Notes
    -----
    An end is where ``min chi2 - chi2_best = COVER^2`` with the number held there and all others free again.
    The others follow by Gauss-Newton steps with the slopes of the best fit; all ends are sought at once.
    """
    parameters = fit.problem.parameters
    widths = {
        name: COVER * np.sqrt(fit.covariance[at, at])
        for name in names
        for at in [parameters.index[(name, -1)]]
    }
    nowhere = [name for name in names if widths[name] > PLAINLY_OPEN]
    found = {name: _anywhere(fit, name) for name in nowhere}
    names = [name for name in names if name not in found]
    if not names:
        return found
    places = [parameters.index[(name, -1)] for name in names]
    least, most = parameters.bounds
    best, slopes = fit.coordinates, fit.slopes
    lowest = float((fit.problem.residuals(best) ** 2).sum())
    held = np.repeat(places, 2)
    sign = np.tile([-1.0, 1.0], len(places))
    sd = np.sqrt(np.diag(fit.covariance))
    cases = best + COVER * sign[:, None] * fit.covariance[held] / sd[held, None]
    cases = np.clip(cases, least, most)
    squares = slopes.T @ slopes
    for turn in range(ROUNDS):
        pull = fit.problem.off(cases) @ slopes
        for i in range(len(held)):
            cases[i] = _stepped(cases[i], squares, pull[i], int(held[i]), (least, most))
        if turn % 2:
            rise = (fit.problem.off(cases) ** 2).sum(axis=1) - lowest
            scale = np.clip(COVER / np.sqrt(np.maximum(rise, 1e-6)), 0.5, 2.0)
            cases = np.clip(best + scale[:, None] * (cases - best), least, most)
    ends = cases[np.arange(len(held)), held]
    rise = (fit.problem.off(cases) ** 2).sum(axis=1) - lowest
    for at in np.flatnonzero(np.abs(np.sqrt(np.maximum(rise, 0.0)) / COVER - 1.0) > CLOSE):
        ends[at] = _end_alone(fit, int(held[at]), float(sign[at]), lowest)
    for i, (name, place) in enumerate(zip(names, places, strict=True)):
        low, high = float(ends[2 * i]), float(ends[2 * i + 1])
        at_bound = low <= least[place] + 1e-9 or high >= most[place] - 1e-9
        found[name] = Interval(min(low, float(best[place])), max(high, float(best[place])), at_bound)
    return found


def _anywhere(fit: Fitted, name: str) -> Interval:
    """The bounds of a coordinate that the logs leave open."""
    parameter = fit.problem.parameters.list[fit.problem.parameters.index[(name, -1)]]
    return Interval(parameter.least, parameter.most, True)


def _stepped(case: Array, squares: Array, pull: Array, held: int, bounds: tuple[Array, Array]) -> Array:
    """Take a Gauss-Newton step of all coordinates but the held one; what meets a bound stays on it."""
    free = np.ones(len(case), dtype=bool)
    free[held] = False
    moved = case.copy()
    for _ in range(len(case)):
        rest = pull + squares[:, ~free] @ (moved - case)[~free]
        moved[free] = case[free] - np.linalg.solve(squares[np.ix_(free, free)], rest[free])
        inside = np.clip(moved, *bounds)
        met = free & (inside != moved)
        if not met.any():
            break
        moved[met] = inside[met]
        free &= ~met
    return moved


def _end_alone(fit: Fitted, place: int, sign: float, lowest: float) -> float:
    """One end, the others fitted anew within their bounds at every trial; a bound where it is never met."""
    least, most = fit.problem.parameters.bounds
    best = float(fit.coordinates[place])
    free = np.delete(np.arange(len(fit.coordinates)), place)
    others = fit.coordinates[free]

    def rise_at(held: float, start: Array) -> tuple[float, Array]:
        def whole(x: Array) -> Array:
            full = np.empty(len(free) + 1)
            full[place], full[free] = held, x
            return full

        at = least_squares(
            lambda x: fit.problem.residuals(whole(x)),
            start,
            (least[free], most[free]),
            lambda x: fit.problem.jacobian(whole(x))[:, free],
            close=CLOSE_SQUARES,
        )
        return float((fit.problem.residuals(whole(at)) ** 2).sum()) - lowest, at

    bound = float(most[place] if sign > 0.0 else least[place])
    inside, outside, near = best, bound, others
    step = COVER * float(np.sqrt(fit.covariance[place, place]))
    trial = best + sign * min(step, abs(bound - best))
    for _ in range(HALVINGS):
        rise, at = rise_at(trial, near)
        if abs(np.sqrt(max(rise, 0.0)) / COVER - 1.0) <= CLOSE:
            return trial
        if rise < COVER**2:
            if abs(trial - bound) < 1e-9:
                return bound
            inside, near = trial, at
            doubled = trial + (trial - best) if outside == bound else 0.5 * (trial + outside)
            trial = min(doubled, bound) if sign > 0.0 else max(doubled, bound)
        else:
            outside = trial
            trial = 0.5 * (inside + outside)
    return trial
