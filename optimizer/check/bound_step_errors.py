"""How far the steps of a course may put its bounds off, and the hottest bath of a phase with that on top."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_steps import Bounds
from optimizer.check.worst_cases import Array

STEPS_K = 0.05
"""How far the steps of the courses may put a bath off [K]; at random points without tolerance it differed
from the check's own integration by 0.035 K at the most, and by 0.067 K at one machine drawn far out: there
`bound_finer_steps` takes more off."""

SPRAY_END_K = 0.2
"""The same of a bath as a spray ends [K]: ware that follows in minutes has few steps. It was off by 0.12 K at
the most, at random points of 120 random machines."""

STEPS_EVAPORATED = 0.01
"""How far the steps may put off what evaporates, a share of it [1]: the vapour pressure changes by some 5 % a
kelvin, and a bath is off by a twentieth of one."""


def hottest_bath_c(bounds: Bounds, *, counted: bool) -> Array:
    """Hottest bath of a phase [°C], with what the steps may have put it off.

    A bath that only cools may be ``counted`` before, and one that a sensor or the boil stops is known.
    """
    bath_c = bounds.bath_c[:, 1]
    hottest_c = bath_c.max(axis=0)
    cools = counted & (hottest_c <= bath_c[0] + 1e-9)
    widened_c = np.where(cools, hottest_c, hottest_c + STEPS_K)
    if bounds.cap_c is None:
        return np.asarray(widened_c)
    return np.asarray(np.minimum(widened_c, np.maximum(bounds.cap_c, bath_c[0])))
