"""Noise of the readings: how large, and for how long one reading resembles the next.

A thermometer's readings in a stirred bath are off by a white part (digits, pick-up) and by one that wanders
(streaks of water, a draught). Where all of it is taken for white, intervals are far too narrow. So both parts
and the time for which the second one lasts are estimated from the residuals' autocovariance, by restricted
maximum likelihood (REML: it allows for what the fit itself has taken out of the residuals), one set for each
probe, and the fit is repeated with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.thermal_sessions import Bools, Ints, Series
from optimizer.physics import Array

FLOOR_K, WANDER_FLOOR_K = 0.01, 0.01
"""Neither part is believed to be less than this [K]: a thermometer is not straight to the millikelvin, and a
million rows do not make it so. Our choice, *no source*."""

BEFOREHAND = ((0.05, 1.0), (0.05, 1.5), (60.0, 0.8))
"""White part [K], wandering part [K] and memory [s]: usual value and standard deviation of its logarithm. It
only steadies what few readings leave open; our choice, no source."""

LONGEST_S, SHORTEST_S = 600.0, 3.0
"""Memory is looked for between these [s]."""


@dataclass(frozen=True)
class Noise:
    """Noise of the bath's and of the ware's readings.

    Attributes
    ----------
    white_k, wander_k, memory_s : tuple of float
        Standard deviation of a reading's own part and of the part that wanders [K], and after how long the
        latter resembles itself by 1/e [s]; bath, ware.
    """

    white_k: tuple[float, float] = (0.05, 0.05)
    wander_k: tuple[float, float] = (0.1, 0.1)
    memory_s: tuple[float, float] = (60.0, 60.0)

    def covariance(self, series: Series) -> Array:
        """Covariance of the points of a series, shape (points, points) [K2]."""
        white, wander, memory_s = (
            part[series.probe] for part in (self.white_k, self.wander_k, self.memory_s)
        )
        gap = np.abs(series.time_s[:, None] - series.time_s[None, :])
        half = np.minimum(0.5 * series.span_s / memory_s, 30.0)
        # The wandering part averaged over each point: sinh(x)/x of both points, and its own mean inside one.
        spread = np.where(half > 1e-4, np.sinh(half) / np.maximum(half, 1e-4), 1.0)
        apart = np.exp(-np.minimum(gap / memory_s, 300.0)) * spread[:, None] * spread[None, :]
        x = np.maximum(2.0 * half, 1e-3)
        within = np.where(half > 5e-4, 2.0 * (x - 1.0 + np.exp(-x)) / x**2, 1.0)
        np.fill_diagonal(apart, within)
        return wander**2 * apart + np.diag(white**2 / series.rows)

    def alone_k(self, series: Series) -> Array:
        """Standard deviation of each point of a series [K]."""
        return np.sqrt(np.diag(self.covariance(series)))

    def rows_worth(self, series: Series) -> float:
        """What one reading of a series counts, of a reading with white noise of the same size [1]."""
        white, wander, memory_s = (
            part[series.probe] for part in (self.white_k, self.wander_k, self.memory_s)
        )
        share = wander**2 / (wander**2 + white**2)
        kept = np.exp(-series.every_s / memory_s)
        return float(1.0 / (1.0 + 2.0 * share * kept / (1.0 - kept)))


@dataclass(frozen=True)
class Residuals:
    """A series with what it is off the fit.

    Attributes
    ----------
    series : Series
        The series.
    off_k : ndarray, shape (points,)
        Reading less fit [K].
    slopes : ndarray, shape (points, parameters)
        Slopes of the fit to the parameters that move it [K].
    columns : ndarray of int
        Which parameters those are.
    use : ndarray of bool, shape (points,)
        Points that count.
    """

    series: Series
    off_k: Array
    slopes: Array
    columns: Ints
    use: Bools


def estimate(residuals: Sequence[Residuals], information: Array, pull: Array, begin: Noise) -> Noise:
    """Estimate the noise by restricted maximum likelihood.

    Parameters
    ----------
    residuals : sequence of Residuals
        All series.
    information, pull : ndarray
        Information matrix of everything else (prior knowledge, the meter), shape (parameters, parameters),
        and its gradient at the point of the residuals, shape (parameters,).
    begin : Noise
        Where to begin.

    Notes
    -----
    Minimises ``log|V| + log|A| + r' V^-1 r - b' A^-1 b`` with ``A = X' V^-1 X + information`` and
    ``b = X' V^-1 r + pull`` (Patterson and Thompson 1971; Harville 1977), residuals r, slopes X.
    """
    from scipy.optimize import minimize

    probes = sorted({item.series.probe for item in residuals})
    usual = np.log([value for value, _ in BEFOREHAND])
    spread = np.array([sd for _, sd in BEFOREHAND])

    def noise_of(x: Array) -> Noise:
        parts = [list(part) for part in (begin.white_k, begin.wander_k, begin.memory_s)]
        for i, probe in enumerate(probes):
            for part, value in zip(parts, np.exp(x[3 * i : 3 * i + 3]), strict=True):
                part[probe] = float(value)
        return Noise(*((part[0], part[1]) for part in parts))

    def minus_two_log(x: Array) -> float:
        noise = noise_of(x)
        a, b, total = information.copy(), pull.copy(), 0.0
        for item in residuals:
            use = item.use
            factor = np.asarray(np.linalg.cholesky(noise.covariance(item.series)[np.ix_(use, use)]))
            both = np.column_stack([item.off_k[use], item.slopes[use]])
            white = _solve_lower(factor, both)
            total += 2.0 * float(np.log(np.diag(factor)).sum()) + float(white[:, 0] @ white[:, 0])
            a[np.ix_(item.columns, item.columns)] += white[:, 1:].T @ white[:, 1:]
            b[item.columns] += white[:, 1:].T @ white[:, 0]
        lower = np.asarray(np.linalg.cholesky(a), float)
        solved = _solve_lower(lower, b[:, None])[:, 0]
        total += 2.0 * float(np.log(np.diag(lower)).sum()) - float(solved @ solved)
        off = (x.reshape(-1, 3) - usual) / spread
        return total + float((off**2).sum())

    parts = (begin.white_k, begin.wander_k, begin.memory_s)
    ends = np.log([[FLOOR_K, 2.0], [WANDER_FLOOR_K, 5.0], [SHORTEST_S, LONGEST_S]])
    x0 = np.log([part[probe] for probe in probes for part in parts])
    x0 = np.clip(x0, np.tile(ends[:, 0], len(probes)), np.tile(ends[:, 1], len(probes)))
    found = minimize(
        minus_two_log,
        x0,
        method="L-BFGS-B",
        bounds=[(low, high) for low, high in np.tile(ends, (len(probes), 1))],
        options={"maxiter": 25, "ftol": 1e-6, "eps": 1e-4},
    )
    return noise_of(found.x)


def _solve_lower(factor: Array, right: Array) -> Array:
    from scipy.linalg import solve_triangular

    return np.asarray(solve_triangular(factor, right, lower=True, check_finite=False))
