"""The number type of the physics: one float, or an array of them."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Real = TypeVar("Real", float, NDArray[np.float64])
"""A float or an array: a function gives back what its first ``Real`` argument was. Further arguments
are ``Real | float``, so that one number may stand beside an array and is broadcast."""
