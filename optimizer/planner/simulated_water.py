"""Compiled: phases of a simulated round that move water: its fill, a cold top-up, its drain.

One corner at a time; every phase moves its bath on (`simulated_bath.py`).
"""

from __future__ import annotations

import math

from optimizer.compiled import compiled
from optimizer.physics import Array, Real
from optimizer.physics.thermal import Flow, drained_c, filled_c, temperature_after_c
from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K, mean_fed_c
from optimizer.planner.simulated_bath import (
    BATH_C,
    DRAIN_L_PER_S,
    FILM_J_PER_K,
    INLET_C,
    INLET_KG_PER_S,
    INLET_L_PER_S,
    J_PER_K,
    LEVEL_L,
    PIPE_L,
    PUMP_W,
    ROOM_C,
    STILL_W_PER_K,
    SUMP_J_PER_K,
    SUMP_L,
    TANK_J_PER_K,
    TO_WARE_STILL_W_PER_K,
    WARE_C,
    WATER_J_PER_K,
    WET_FILM_J_PER_K,
    WET_START,
    Fixed,
    course,
    spray_begins,
    spray_ends,
    temperatures_c,
)

DRAIN_EXTRA_S = 1.0
"""Draining beyond the time that the slowest drain and the longest lag need [s]: water is hottest, and needs
longest, at a point of the tolerances that need not be a corner."""

_density_kg_per_l = compiled(density_kg_per_l)
_drained_c = compiled(drained_c)
_filled_c = compiled(filled_c)
_mean_fed_c = compiled(mean_fed_c)
_temperature_after_c = compiled(temperature_after_c)


def slowest_drain_s(fixed: Fixed, litres: Real) -> Real:
    """Drain time that the slowest drain needs, with the longest lag [s]."""
    return litres / fixed.drain_slow_l_per_s + fixed.drain_lag_s + DRAIN_EXTRA_S


@compiled
def kg_per_l(bath: Array) -> float:
    """Density of the bath [kg/l]."""
    return float(_density_kg_per_l(min(bath[BATH_C], BOILING_C)))


@compiled
def _fed_c(corner: Array, filled_l: float) -> float:
    """Mean temperature of what a fill lets in [°C]."""
    return float(_mean_fed_c(max(filled_l, 1e-6), corner[PIPE_L], corner[INLET_C], corner[ROOM_C]))


@compiled
def fill(corner: Array, bath: Array, fill_s: float, first: bool, fixed: Fixed) -> tuple[float, float]:
    """Let water in on the carry-over, bath and ware as they are.

    Gives how long the inlet is open [s], and the litres let in [l].
    """
    carry_over_share = corner[WET_START] if first else 1.0
    kept_j_per_k = corner[TANK_J_PER_K] + corner[SUMP_J_PER_K] * carry_over_share
    open_s, filled_l = fill_s, fill_s * corner[INLET_L_PER_S]
    if fixed.to_a_level:
        filled_l = corner[LEVEL_L] - corner[SUMP_L] * carry_over_share
        open_s = filled_l / corner[INLET_L_PER_S]
    inflow = Flow(corner[INLET_KG_PER_S] * WATER_J_PER_KG_K, _fed_c(corner, filled_l))
    bath[BATH_C] = _filled_c(
        bath[BATH_C], open_s, kept_j_per_k, inflow, corner[STILL_W_PER_K], corner[ROOM_C]
    )
    bath[WATER_J_PER_K] = corner[INLET_KG_PER_S] * open_s * WATER_J_PER_KG_K
    bath[J_PER_K] = kept_j_per_k + bath[WATER_J_PER_K]
    bath[FILM_J_PER_K] = corner[WET_FILM_J_PER_K] * carry_over_share
    return open_s, filled_l


@compiled
def top_up(
    corner: Array, bath: Array, top_s: float, mix_s: float, drain_s: float, fixed: Fixed
) -> tuple[float, float, float]:
    """Let cold water in, and stir it in by the pump.

    Gives the hottest water then [°C], the litres [l], and ware less bath as the stirring begins [K].

    What stands in the pipe of a hot feed may still be hot. Not stirred, the hottest water is above the
    mean by a share of what the mean has fallen.
    """
    before_c, litres = bath[BATH_C], top_s * corner[INLET_L_PER_S]
    fed_c = max(_fed_c(corner, litres), corner[INLET_C])
    inflow = Flow(corner[INLET_KG_PER_S] * WATER_J_PER_KG_K, fed_c)
    bath[BATH_C] = _filled_c(before_c, top_s, bath[J_PER_K], inflow, corner[STILL_W_PER_K], corner[ROOM_C])
    let_in_j_per_k = corner[INLET_KG_PER_S] * top_s * WATER_J_PER_KG_K
    bath[J_PER_K] += let_in_j_per_k
    bath[WATER_J_PER_K] += let_in_j_per_k
    # What boiled or was heated with the pump off leaves ware that is hotter than the bath after a top-up.
    warm_c = warmed_c(corner, bath, drain_s)
    hottest_c = warm_c + fixed.unmixed_share * max(before_c - warm_c, 0.0)
    if mix_s <= 0.0:
        return hottest_c, litres, 0.0
    over_k = bath[WARE_C] - bath[BATH_C]
    spray_begins(bath)
    run = course(corner, bath, corner[PUMP_W], True)
    bath[BATH_C], bath[WARE_C] = temperatures_c(run, mix_s)
    spray_ends(corner, bath)
    return bath[BATH_C], litres, over_k


@compiled
def drain(corner: Array, bath: Array, drain_s: float) -> None:
    """Drain: what stays cools with the tank."""
    kept = corner[TANK_J_PER_K] + corner[SUMP_J_PER_K]
    loss, room_c = corner[STILL_W_PER_K], corner[ROOM_C]
    flow_w_per_k = corner[DRAIN_L_PER_S] * kg_per_l(bath) * WATER_J_PER_KG_K
    cooled_c = _drained_c(bath[BATH_C], bath[WATER_J_PER_K], kept, flow_w_per_k, loss, room_c)
    idle_s = max(drain_s - bath[WATER_J_PER_K] / flow_w_per_k, 0.0)
    bath[BATH_C] = _temperature_after_c(cooled_c, idle_s, kept, 0.0, loss, room_c)


@compiled
def warmed_c(corner: Array, bath: Array, drain_s: float) -> float:
    """Bath at the end of a drain, warmed by hotter ware all the while; call it before the drain [°C].

    With ware and room held as they are, ``T_bath`` nears ``(G T_ware + UA T_room) / (G + UA)``, the more
    quickly the less water is left: ``∫ dt / C`` over a heat capacity that falls evenly, then stays.
    """
    kept = corner[TANK_J_PER_K] + corner[SUMP_J_PER_K]
    pull_w_per_k = corner[TO_WARE_STILL_W_PER_K] + corner[STILL_W_PER_K]
    goal_w = corner[TO_WARE_STILL_W_PER_K] * bath[WARE_C] + corner[STILL_W_PER_K] * corner[ROOM_C]
    pumped_s = bath[WATER_J_PER_K] / (corner[DRAIN_L_PER_S] * kg_per_l(bath) * WATER_J_PER_KG_K)
    idle_s = max(drain_s - pumped_s, 0.0)
    full = kept + bath[WATER_J_PER_K]
    s_k_per_j = pumped_s * math.log(full / kept) / bath[WATER_J_PER_K] + idle_s / kept
    share = 1.0 - math.exp(-pull_w_per_k * s_k_per_j)
    return float(bath[BATH_C] + share * max(goal_w / pull_w_per_k - bath[BATH_C], 0.0))
