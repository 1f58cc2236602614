"""Bounded, robust least squares: the one way in which this folder fits curves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np

from optimizer.physics import Array

Loss = Literal["linear", "soft_l1"]

MOST_TRIALS = 80
"""A fit with slopes of its own ends after so many trials [1]: logs that fit need a dozen."""


def least_squares(
    residuals: Callable[[Array], Array],
    start: Array,
    bounds: tuple[Array, Array] | None = None,
    jacobian: Callable[[Array], Array] | None = None,
    loss: Loss = "linear",
    close: float = 1e-9,
) -> Array:
    """Find the parameters with the least sum of squares.

    Parameters
    ----------
    residuals : callable
        From parameters of shape (parameters,) to residuals over their standard deviations, shape (rows,) [1].
    start : ndarray, shape (parameters,)
        Where to begin.
    bounds : tuple of ndarray or None
        Least and highest parameters; None: none.
    jacobian : callable or None
        Slopes of the residuals, shape (rows, parameters); None: by differences.
    close : float
        With slopes given: it ends where the sum of squares falls by less than this share [1].
    loss : str
        ``linear``, or ``soft_l1``: residuals far above 1 count as their size and not as its square.

    Returns
    -------
    ndarray, shape (parameters,)
        The parameters.

    Notes
    -----
    SciPy's trust region reflective method (Branch, Coleman and Li 1999). The tests hold it against the
    certified values of NIST StRD.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0])
    >>> found = least_squares(lambda p: p[0] + p[1] * x - np.array([1.0, 3.0, 5.0]), np.zeros(2))
    >>> [float(value) for value in found.round(9)]
    [1.0, 2.0]
    """
    from scipy.optimize import least_squares as fit

    found = fit(
        residuals,
        start if bounds is None else np.clip(start, bounds[0] + 1e-9, bounds[1] - 1e-9),
        jac="3-point" if jacobian is None else jacobian,
        bounds=(-np.inf, np.inf) if bounds is None else bounds,
        loss=loss,
        x_scale="jac",
        ftol=1e-15 if jacobian is None else close,
        xtol=1e-15 if jacobian is None else 1e-8,
        max_nfev=None if jacobian is None else MOST_TRIALS,
        gtol=None if jacobian is None else 1e-9,
    )
    return np.asarray(found.x)
