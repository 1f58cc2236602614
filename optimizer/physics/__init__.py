"""Cited formulas that the tool runs.

Every function takes numbers or arrays and works element by element; arguments broadcast against each other,
and no argument is changed. Nothing raises: a value outside a stated range gives a number that means nothing,
inf or nan, so that ranges are the caller's affair (profiles are checked when they are loaded).
"""

from __future__ import annotations

from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
"""Numbers of any shape."""

Number: TypeAlias = float | Array
"""One number, or numbers of any shape that broadcast."""

Real = TypeVar("Real", float, Array)
"""A float or an array: a function gives back what its first ``Real`` argument was. Further arguments
are ``Real | float``, so that one number may stand beside an array and is broadcast."""
