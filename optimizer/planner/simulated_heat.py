"""Compiled: phases of a simulated round that heat or clean: the element, steam, sprays, a soak and a rest.

One corner at a time; every phase moves its bath on (`simulated_bath.py`). Only doses are summed over a grid,
each cell of it in closed form (`straight_doses.py`).
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.compiled import compiled
from optimizer.physics import Array
from optimizer.physics.two_nodes import Course
from optimizer.planner.simulated_bath import (
    BATH_C,
    ELEMENT_W,
    FILM_J_PER_K,
    HYSTERESIS_K,
    J_PER_K,
    PUMP_W,
    ROOM_C,
    SPRAYING_W_PER_K,
    STEAM_SHARE,
    STILL_W_PER_K,
    TO_WARE_SPRAYING_W_PER_K,
    WARE_C,
    WARE_J_PER_K,
    Fixed,
    course,
    reached_s,
    temperatures_c,
)
from optimizer.planner.straight_doses import CELLS_S, LN10, NODES_C, grid_dose_s, lay_slopes
from optimizer.planner.targets import UNDISSOLVED, DoseTargets
from optimizer.programme.constants import KINDS

WASH = KINDS.index("wash")
PIECES = 14
CELLS = np.diff(np.linspace(0.0, 1.0, PIECES + 1) ** 2)
"""Cells of the dose sum, as shares of a phase: narrow at its start, where the ware lags behind. Node number n
is at the share ``(n / PIECES)²``."""

BOIL_SAFETY_FACTOR = 1.1
"""Boiling time that the pool must last for, as a multiple of the time it is to boil [1]."""


SHARE, FLOOR_C, CEILING_C, REFERENCE_C, Z_K, LEFT = range(6)
"""Rates, kinds of rounds × these × targets: share, floor, ceiling, reference, step for ten times the rate
[1, °C, °C, °C, K], and what is left of the rate with the spray off [1]; as `DoseTargets` has them."""
DOSE_S, UNDER_SPRAY = range(2)
"""Doses of a round in one corner, these × targets: equivalent seconds so far, and the factor of the corner's
spray on each rate [s, 1]."""


def rate_rows(targets: DoseTargets) -> Array:
    """Rates of some targets in each kind of round, as above."""
    kinds = len(targets.share)
    same = (targets.ceiling_c, targets.reference_c, targets.z_k, targets.soak_share)
    rows = [targets.share, targets.floor_c, *(np.tile(each, (kinds, 1)) for each in same)]
    return np.stack(rows, axis=1).astype(np.float64)


@compiled
def heat(corner: Array, bath: Array, element_s: float, off_at_c: float) -> float:
    """Element alone; returns how long it was on [s]."""
    run = course(corner, bath, corner[ELEMENT_W], False)
    on_s = reached_s(run, off_at_c, element_s)
    bath[BATH_C], bath[WARE_C] = temperatures_c(run, on_s)
    return on_s


@compiled
def boil(corner: Array, bath: Array, element_s: float, fixed: Fixed) -> float:
    """Boil the pool: its steam heats the ware; returns what it may lose, splashes included [l].

    ``C_ware ΔT = share · (P − UA (T_boil − T_room)) · t``, the film in C_ware.
    """
    run = course(corner, bath, corner[ELEMENT_W], False)
    up_s = reached_s(run, fixed.boils_c, element_s)
    bath[BATH_C], ware_c = temperatures_c(run, up_s)
    boil_s = element_s - up_s
    net_w = max(corner[ELEMENT_W] - corner[STILL_W_PER_K] * (fixed.boils_c - corner[ROOM_C]), 0.0)
    rise_k = corner[STEAM_SHARE] * net_w * boil_s / (corner[WARE_J_PER_K] + bath[FILM_J_PER_K])
    bath[WARE_C] = min(ware_c + rise_k, fixed.boils_c)
    # An upper bound: all of the power makes steam, and no condensate runs back.
    boiled_l = boil_s * corner[ELEMENT_W] / fixed.steam_j_per_l
    return float(fixed.splash_l + BOIL_SAFETY_FACTOR * boiled_l)


@compiled
def heat_spraying(
    corner: Array,
    bath: Array,
    element_s: float,
    off_at_c: float,
    kind: int,
    fixed: Fixed,
    rates: Array,
    doses: Array,
    grid: Array,
) -> tuple[float, float]:
    """Element from the start of the spray, then held; gives on-time [s] and the hottest bath [°C].

    While held for a time t the element gives
    ``(UA (T_held − T_room) − P_pump) t + C_ware ΔT_ware + C_bath ΔT_bath``.
    """
    power_w = corner[ELEMENT_W] + corner[PUMP_W]
    up_s = reached_s(course(corner, bath, power_w, True), off_at_c, element_s)
    spray(corner, bath, up_s, power_w, 0.0, kind, fixed, rates, doses, grid)
    top_c, hold_s = bath[BATH_C], element_s - up_s
    if hold_s <= 0.0:
        return up_s, top_c
    # The bath is held half a hysteresis under the switching point, the mean of its saw-tooth.
    held_c = off_at_c - 0.5 * corner[HYSTERESIS_K]
    decays = corner[TO_WARE_SPRAYING_W_PER_K] / corner[WARE_J_PER_K] * hold_s
    before_c = bath[WARE_C]
    lay_grid(held_c, before_c - held_c, decays, 0.0, 0.0, hold_s, grid)
    bath[WARE_C] = grid[NODES_C, PIECES]
    held_j = (corner[SPRAYING_W_PER_K] * (held_c - corner[ROOM_C]) - corner[PUMP_W]) * hold_s
    held_j += corner[WARE_J_PER_K] * (bath[WARE_C] - before_c)
    held_j += bath[J_PER_K] * (held_c - bath[BATH_C])
    # It may end at the bottom of the saw-tooth.
    bath[BATH_C] = off_at_c - corner[HYSTERESIS_K]
    left_s = fixed.dissolving_s - up_s
    if kind == WASH and left_s > 0.0:
        # Each cell in two: what sprays with undissolved detergent, then the rest of it.
        for number in range(PIECES):
            cell_s = CELLS[number] * hold_s
            grid[CELLS_S, number] = min(max(left_s, 0.0), cell_s)
            left_s -= cell_s
        add_doses(grid, UNDISSOLVED, True, rates, doses)
        for number in range(PIECES):
            grid[CELLS_S, number] = CELLS[number] * hold_s - grid[CELLS_S, number]
    add_doses(grid, kind, True, rates, doses)
    return up_s + min(max(held_j / corner[ELEMENT_W], 0.0), hold_s), top_c


@compiled
def spray(
    corner: Array,
    bath: Array,
    time_s: float,
    power_w: float,
    before_s: float,
    kind: int,
    fixed: Fixed,
    rates: Array,
    doses: Array,
    grid: Array,
) -> None:
    """Spray at constant heat, ``before_s`` after it began: detergent may not have dissolved yet."""
    if kind == WASH and before_s < fixed.dissolving_s:
        undissolved_s = min(fixed.dissolving_s - before_s, time_s)
        spray_as(corner, bath, undissolved_s, power_w, UNDISSOLVED, rates, doses, grid)
        time_s -= undissolved_s
    spray_as(corner, bath, time_s, power_w, kind, rates, doses, grid)


@compiled
def spray_as(
    corner: Array,
    bath: Array,
    time_s: float,
    power_w: float,
    kind: int,
    rates: Array,
    doses: Array,
    grid: Array,
) -> None:
    """Wash pump on at constant heat."""
    if time_s > 0.0:
        run = course(corner, bath, power_w, True)
        _add_course(run, time_s, kind, True, rates, doses, grid)
        bath[BATH_C], bath[WARE_C] = temperatures_c(run, time_s)


@compiled
def soak(
    corner: Array, bath: Array, time_s: float, kind: int, rates: Array, doses: Array, grid: Array
) -> None:
    """Everything off, the ware wet."""
    run = course(corner, bath, 0.0, False)
    _add_course(run, time_s, kind, False, rates, doses, grid)
    bath[BATH_C], bath[WARE_C] = temperatures_c(run, time_s)


@compiled
def rest(
    corner: Array, bath: Array, rest_s: float, counts_s: float, kind: int, rates: Array, doses: Array
) -> None:
    """Rest; what the ware soaks meanwhile, and in a drain after it, counts at the rate of its end."""
    if rest_s > 0.0:
        run = course(corner, bath, 0.0, False)
        bath[BATH_C], bath[WARE_C] = temperatures_c(run, rest_s)
    ware_c = bath[WARE_C]
    for target in range(doses.shape[1]):
        share = rates[kind, SHARE, target] * rates[kind, LEFT, target]
        if share != 0.0 and ware_c >= rates[kind, FLOOR_C, target]:
            over_k = min(ware_c, rates[kind, CEILING_C, target]) - rates[kind, REFERENCE_C, target]
            doses[DOSE_S, target] += share * math.exp(LN10 * over_k / rates[kind, Z_K, target]) * counts_s


@compiled
def lay_grid(
    settled_c: float, slow_k: float, slow: float, fast_k: float, fast: float, time_s: float, grid: Array
) -> None:
    """Temperatures at the nodes of the grid, and the cells between them.

    They are a constant and two parts that decay; ``slow`` and ``fast`` are the exponents at the end.
    ``exp(−a n²)`` takes two products a node: ``(n + 1)² − n² = 2 n + 1``.
    """
    slow_step = math.exp(-slow / (PIECES * PIECES))
    fast_step = math.exp(-fast / (PIECES * PIECES))
    slow_twice, fast_twice = slow_step * slow_step, fast_step * fast_step
    grid[NODES_C, 0] = settled_c + slow_k + fast_k
    for number in range(PIECES):
        slow_k *= slow_step
        fast_k *= fast_step
        # Numbers this small would only be slow.
        if abs(fast_k) < 1e-200:
            fast_k = 0.0
        grid[NODES_C, number + 1] = settled_c + slow_k + fast_k
        grid[CELLS_S, number] = CELLS[number] * time_s
        slow_step *= slow_twice
        fast_step *= fast_twice


@compiled
def _add_course(
    run: Course, time_s: float, kind: int, sprays: bool, rates: Array, doses: Array, grid: Array
) -> None:
    """Add the doses of the ware along a course."""
    for target in range(doses.shape[1]):
        if rates[kind, SHARE, target] != 0.0:
            slow, fast = float(run.slow_per_s) * time_s, float(run.fast_per_s) * time_s
            lay_grid(float(run.settled_c), float(run.slow_k), slow, float(run.fast_k), fast, time_s, grid)
            add_doses(grid, kind, sprays, rates, doses)
            return


@compiled
def add_doses(grid: Array, kind: int, sprays: bool, rates: Array, doses: Array) -> None:
    """Add the doses of a grid, under a spray or with all off."""
    lay_slopes(grid)
    for target in range(doses.shape[1]):
        share = rates[kind, SHARE, target]
        if share != 0.0:
            spent_s = grid_dose_s(
                grid,
                rates[kind, REFERENCE_C, target],
                rates[kind, Z_K, target],
                rates[kind, FLOOR_C, target],
                rates[kind, CEILING_C, target],
            )
            left = doses[UNDER_SPRAY, target] if sprays else rates[kind, LEFT, target]
            doses[DOSE_S, target] += share * spent_s * left
