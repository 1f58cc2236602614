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
    sizes, deviations = scores(fit, column[:, None], off)
    return float(sizes[0]), float(deviations[0])


def scores(fit: Fitted, columns: Array, off: Array) -> tuple[Array, Array]:
    """Size and standard deviations of many changes, each on its own.

    Parameters
    ----------
    columns : ndarray, shape (rows, changes)
        How the residuals would move with each.
    off : ndarray, shape (rows,)
        The residuals.

    Returns
    -------
    tuple of ndarray, shape (changes,)
        As those of `score`.
    """
    shared = fit.slopes.T @ columns
    taken = fit.covariance @ shared
    square = (columns**2).sum(axis=0) - (shared * taken).sum(axis=0)
    pull = taken.T @ (fit.slopes.T @ off) - columns.T @ off
    seen = square > 1e-9
    sound = np.where(seen, square, 1.0)
    return np.where(seen, pull / sound, 0.0), np.where(seen, pull / np.sqrt(sound), 0.0)


def unseen(fit: Fitted, change: Array) -> tuple[float, Array]:
    """By how much a change would show, and how far it would pull all coordinates where nobody allows for it.

    Parameters
    ----------
    change : ndarray, shape (rows,)
        How the residuals would move with the change.

    Returns
    -------
    tuple of float, ndarray, shape (parameters,)
        Standard deviations by which it would show in what is left [1], and the pull on each coordinate.
    """
    shared = fit.slopes.T @ change
    pull = fit.covariance @ shared
    return float(np.sqrt(max(float(change @ change - shared @ pull), 0.0))), np.asarray(pull)


def column(fit: Fitted, slope_of: Callable[[int, Series], Array | None]) -> Array:
    """Make a column of the Jacobian.

    Parameters
    ----------
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
