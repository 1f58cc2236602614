"""The joint fit itself: a robust start, the noise from the residuals, the fit again with that noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.measure.fitting import least_squares
from optimizer.measure.thermal_noise import Noise, estimate
from optimizer.measure.thermal_parameters import Parameters
from optimizer.measure.thermal_problem import Problem
from optimizer.measure.thermal_sessions import Bools
from optimizer.physics import Array

FIRST_SD_K = 0.15
"""In the robust first fit a reading counts as its square up to about here [K]."""

KNOCKED = 6.0
"""A point is left out where it is so many standard deviations off its neighbours [1], and `KNOCKED_K`."""

KNOCKED_K = 0.35
"""See `KNOCKED` [K]."""

NEIGHBOURS = 4
"""Points on either side with which a point is compared [1]."""

MOST_KNOCKED = 0.15
"""Where more of a series than this would be left out, it is a misfit, and all of it counts [1]."""


@dataclass(frozen=True)
class Fitted:
    """The joint fit.

    Attributes
    ----------
    problem : Problem
        Weighed by the noise; points that are left out are marked in it.
    coordinates : ndarray, shape (parameters,)
        The best ones.
    slopes : ndarray, shape (rows, parameters)
        Slopes of the residuals there.
    covariance : ndarray, shape (parameters, parameters)
        Inverse of the information matrix, what is known beforehand included.
    noise : Noise
        The noise of the readings.
    """

    problem: Problem
    coordinates: Array
    slopes: Array
    covariance: Array
    noise: Noise


def fit_jointly(parameters: Parameters, begin: Fitted | None = None) -> Fitted:
    """Fit all logs at once.

    Parameters
    ----------
    parameters : Parameters
        What is left free.
    begin : Fitted or None
        A fit of the same tests to begin with; its points that are left out, and its noise, are kept.
    """
    bounds = parameters.bounds
    if begin is None:
        problem = Problem(parameters)
        problem.weigh_alike(FIRST_SD_K)
        start = np.clip(np.zeros(len(parameters.list)), bounds[0], bounds[1])
        at = least_squares(problem.residuals, start, bounds, problem.jacobian, "soft_l1")
        problem.use = [
            _not_knocked(series.read_c - read_c[:, 0])
            for series, read_c in zip(problem.bench.series, problem.readings_c(at[None]), strict=True)
        ]
        noise = Noise()
    else:
        problem, noise = Problem(parameters, begin.problem.use), begin.noise
        at = np.array(
            [
                begin.coordinates[begin.problem.parameters.index[name]]
                if name in begin.problem.parameters.index
                else 0.0
                for name in parameters.names
            ]
        )
    for _ in range(2):
        residuals, information, pull = problem.residuals_by_series(at)
        noise = estimate(residuals, information, pull, noise)
        problem.weigh(noise)
        at = least_squares(problem.residuals, at, bounds, problem.jacobian)
    slopes = problem.jacobian(at)
    return Fitted(problem, at, slopes, np.asarray(np.linalg.inv(slopes.T @ slopes), float), noise)


def _not_knocked(off_k: Array) -> Bools:
    """Points that are not far off their neighbours."""
    if len(off_k) < 2 * NEIGHBOURS + 1:
        return np.ones(len(off_k), dtype=bool)
    padded = np.pad(off_k, NEIGHBOURS, mode="reflect", reflect_type="odd")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEIGHBOURS + 1)
    apart = np.abs(off_k - np.median(windows, axis=1))
    far = apart > max(KNOCKED * 1.4826 * float(np.median(apart)), KNOCKED_K)
    return np.asarray(~far) if far.mean() <= MOST_KNOCKED else np.ones(len(off_k), dtype=bool)
