"""Whether one change more would explain the residuals: a score test (Rao 1948) on the fit's Jacobian."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from optimizer.measure.joint_fit import Fitted
from optimizer.measure.thermal_sessions import Series
from optimizer.physics import Array


def score(fit: Fitted, column: Array, off: Array) -> tuple[float, float]:
    """Size of a change and its standard deviations.

    Parameters
    ----------
    fit : Fitted
        The joint fit.
    column : ndarray, shape (rows,)
        How the residuals would move with the change, beside the Jacobian's columns.
    off : ndarray, shape (rows,)
        The residuals.

    Returns
    -------
    tuple of float
        Size, in the unit of the column, and how many standard deviations it is away from none [1]; both 0
        where other parameters do what the change does.
    """
    free = column - fit.slopes @ (fit.covariance @ (fit.slopes.T @ column))
    square = float(column @ free)
    if square <= 1e-9:
        return 0.0, 0.0
    pull = -float(free @ off)
    return pull / square, pull / np.sqrt(square)


def column(fit: Fitted, slope_of: Callable[[int, Series], Array | None]) -> Array:
    """Make a column of the Jacobian.

    Parameters
    ----------
    fit : Fitted
        The joint fit.
    slope_of : callable
        From the place of a series and the series to its slopes, shape (points,) [K]; None: it does not move.

    Returns
    -------
    ndarray, shape (rows,)
        The column, whitened as the residuals are.
    """
    whole = np.zeros(len(fit.slopes))
    begin = 0
    for i, (series, use) in enumerate(zip(fit.problem.bench.series, fit.problem.use, strict=True)):
        slope = slope_of(i, series)
        if slope is not None:
            whole[begin : begin + int(use.sum())] = fit.problem.whitened(i, slope[use])
        begin += int(use.sum())
    return whole
