"""A dose between two temperatures alone."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.physics.dose import DoseSpec, straight_doses_s


def linear_dose_s(start_c: Any, end_c: Any, duration_s: Any, spec: DoseSpec) -> Any:
    """Equivalent seconds of a stretch of time in which the temperature changes linearly [s]."""
    start_c, end_c, duration_s = np.broadcast_arrays(start_c, end_c, duration_s)
    nodes_c = np.stack([start_c, end_c]).astype(float)
    return straight_doses_s(nodes_c, duration_s[None], spec)[0][()]
