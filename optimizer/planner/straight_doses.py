"""Compiled sum of a dose along a temperature that is straight between nodes, one exponential a node."""

from __future__ import annotations

import math

from optimizer.compiled import compiled
from optimizer.physics import Array

LN10 = math.log(10.0)
NODES_C, CELLS_S, S_PER_K = range(3)
"""Rows of a grid: temperatures of n + 1 nodes [°C], the time from each to the next [s], and that over the
change of temperature [s/K], 0 where there is hardly any; the last of both is not used."""
STANDS_K = 1e-5
"""Below this change from node to node the mean of both rates stands for the integral [K]."""


@compiled
def lay_slopes(grid: Array) -> None:
    """Write the last row of a grid from the others."""
    for number in range(grid.shape[1] - 1):
        span_k = grid[NODES_C, number + 1] - grid[NODES_C, number]
        grid[S_PER_K, number] = 0.0 if abs(span_k) < STANDS_K else grid[CELLS_S, number] / span_k


@compiled
def grid_dose_s(grid: Array, reference_c: float, z_k: float, floor_c: float, ceiling_c: float) -> float:
    """Equivalent seconds at the reference temperature along a grid [s].

    The integral of the rate over temperature, ``R(T) = z/ln 10 r(T)`` between floor and ceiling, level below
    and rising evenly above, gives the mean rate ``(R_2 - R_1) / (T_2 - T_1)``; where the two ends are closer
    than `STANDS_K`, it is the mean of their rates.
    """
    nodes = grid.shape[1]
    warmest_c = grid[NODES_C, 0]
    for number in range(1, nodes):
        warmest_c = max(warmest_c, grid[NODES_C, number])
    if warmest_c < floor_c:
        return 0.0
    growth_per_k = LN10 / z_k
    grown_k = 1.0 / growth_per_k
    at_floor = math.exp((floor_c - reference_c) * growth_per_k)
    total_s = counted_before = integral_before_k = 0.0
    for number in range(nodes):
        node_c = grid[NODES_C, number]
        if node_c < floor_c:
            rate, counted = at_floor, 0.0
        else:
            rate = counted = math.exp((min(node_c, ceiling_c) - reference_c) * growth_per_k)
        integral_k = rate * (grown_k + max(node_c - ceiling_c, 0.0))
        if number:
            s_per_k = grid[S_PER_K, number - 1]
            if s_per_k == 0.0:
                total_s += 0.5 * (counted_before + counted) * grid[CELLS_S, number - 1]
            else:
                total_s += (integral_k - integral_before_k) * s_per_k
        counted_before, integral_before_k = counted, integral_k
    return total_s
