"""Compiled loop of the levels in the tank, as `meters` states them."""

from __future__ import annotations

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled
from optimizer.physics.water import BOILING_C, density_kg_per_l

_density_kg_per_l = compiled(density_kg_per_l)


@compiled
def pools_and_levels(water_kg: Array, bath_c: Array, covers_nothing_kg: Array) -> tuple[Array, Array]:
    """Litres of the water less what of each case covers nothing, and of all of it: cases × samples."""
    pools_l, levels_l = np.empty_like(water_kg), np.empty_like(water_kg)
    for case in range(water_kg.shape[0]):
        for sample in range(water_kg.shape[1]):
            per_l = _density_kg_per_l(min(bath_c[case, sample], BOILING_C))
            levels_l[case, sample] = water_kg[case, sample] / per_l
            pools_l[case, sample] = (water_kg[case, sample] - covers_nothing_kg[case]) / per_l
    return pools_l, levels_l
