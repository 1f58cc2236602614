"""A dose between two temperatures alone."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.physics.dose import DoseSpec
from optimizer.planner.straight_doses import grid_dose_s, lay_slopes


def summed_dose_s(nodes_c: Any, cells_s: Any, spec: DoseSpec) -> float:
    """Equivalent seconds of a temperature that is straight between n + 1 nodes, n cells apart [s]."""
    grid = np.zeros((3, len(nodes_c)))
    grid[0], grid[1, :-1] = nodes_c, cells_s
    lay_slopes(grid)
    return grid_dose_s(grid, spec.reference_c, spec.z_k, spec.floor_c, spec.ceiling_c)


def linear_dose_s(start_c: Any, end_c: Any, duration_s: Any, spec: DoseSpec) -> Any:
    """Equivalent seconds of a stretch of time in which the temperature changes linearly [s]."""
    every = zip(*(each.ravel() for each in np.broadcast_arrays(start_c, end_c, duration_s)), strict=True)
    doses_s = [summed_dose_s([first_c, last_c], [lasts_s], spec) for first_c, last_c, lasts_s in every]
    return np.reshape(doses_s, np.broadcast_shapes(*map(np.shape, (start_c, end_c, duration_s))))[()]
