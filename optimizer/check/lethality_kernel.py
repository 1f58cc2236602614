"""Compiled integral of a dose rate along samples, as `lethality` states it."""

from __future__ import annotations

import math

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

LEVEL_K = 1e-7
"""Below this change between two samples the rate in the middle stands for the integral [K]."""


@compiled
def integrals_s(
    time_s: Array, temperature_c: Array, ln_at_0c: float, per_k: float, floor_c: float, ceiling_c: float
) -> Array:
    """Equivalent seconds of each row of samples, straight between them [s]."""
    rows, count = temperature_c.shape
    found = np.zeros(rows)
    at_floor, at_ceiling = math.exp(ln_at_0c + per_k * floor_c), math.exp(ln_at_0c + per_k * ceiling_c)
    for row in range(rows):
        total = before = 0.0
        for number in range(count):
            value_c = temperature_c[row, number]
            if value_c <= floor_c:
                after = 0.0
            elif value_c < ceiling_c:
                after = (math.exp(ln_at_0c + per_k * value_c) - at_floor) / per_k
            else:
                after = (at_ceiling - at_floor) / per_k + at_ceiling * (value_c - ceiling_c)
            if number:
                lasts_s = time_s[row, number] - time_s[row, number - 1]
                change_k = value_c - temperature_c[row, number - 1]
                if abs(change_k) >= LEVEL_K:
                    total += (after - before) / change_k * lasts_s
                elif lasts_s != 0.0:
                    middle_c = value_c - 0.5 * change_k
                    if middle_c >= floor_c:
                        total += math.exp(ln_at_0c + per_k * min(middle_c, ceiling_c)) * lasts_s
            before = after
        found[row] = total
    return found
