"""Compiled right-hand side of the two nodes, case by case, as `equations` states it.

The rows of ``drive`` are quantities × cases; `HEAT` and the like number them.
"""

from __future__ import annotations

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled
from optimizer.physics.water import (
    BOILING_C,
    latent_heat_kj_per_kg,
    saturation_pressure_kpa,
    specific_heat_kj_per_kg_k,
)
from optimizer.units import J_PER_KJ

ROWS = 12
HEAT, LOSS, EXCHANGE, WARE_PER_S, FILM, TANK, ROOM, AIR, INLET, IN, NET, WET_WARE = range(ROWS)
"""Rows of a drive: heat [W], loss [W/K], conductance bath to ware [W/K], rate of the ware [1/s], film [kg],
heat capacity of the tank [J/K], room [°C], vapour in its air [kPa], inlet [°C], inflow, inflow less outflow
[kg/s], and the heat capacity of ware and film [J/K]."""

_saturation_kpa = compiled(saturation_pressure_kpa)
_latent_kj_per_kg = compiled(latent_heat_kj_per_kg)
_specific_heat_kj_per_kg_k = compiled(specific_heat_kj_per_kg_k)


@compiled
def two_nodes(drive: Array, times: Array, at: Array, fills: bool, vent_kw_per_kpa: float) -> Array:
    """Slopes of bath, ware and water × cases, each case's times its own factor."""
    found = np.empty_like(at)
    for case in range(at.shape[1]):
        bath_c, ware_c, water_kg = at[0, case], at[1, case], at[2, case]
        # The properties of water are fitted up to the boil, and held there.
        liquid_c = min(bath_c, BOILING_C)
        above_ware_k = bath_c - ware_c
        heat_w = drive[HEAT, case] - drive[LOSS, case] * (bath_c - drive[ROOM, case])
        heat_w -= drive[EXCHANGE, case] * above_ware_k
        if fills:
            inlet_c = drive[INLET, case]
            middle_c = 0.5 * (inlet_c + liquid_c)
            mixing_j_per_kg = J_PER_KJ * _specific_heat_kj_per_kg_k(middle_c) * (inlet_c - bath_c)
            heat_w += drive[IN, case] * mixing_j_per_kg
        left_kg = max(water_kg - drive[FILM, case], 0.0)
        bath_j_per_k = J_PER_KJ * _specific_heat_kj_per_kg_k(liquid_c) * left_kg + drive[TANK, case]
        water_slope = drive[NET, case]
        if vent_kw_per_kpa > 0.0 and left_kg > 0.0:
            excess_kpa = max(_saturation_kpa(liquid_c) - drive[AIR, case], 0.0)
            water_slope -= vent_kw_per_kpa * excess_kpa / _latent_kj_per_kg(liquid_c)
        found[0, case] = times[case] * (heat_w / bath_j_per_k)
        found[1, case] = times[case] * (drive[WARE_PER_S, case] * above_ware_k)
        found[2, case] = times[case] * water_slope
    return found


@compiled
def boiling(drive: Array, times: Array, at: Array, steam_share: Array) -> Array:
    """Slopes of a bath that boils: bath, ware and water × cases, each case's times its own factor."""
    found = np.empty_like(at)
    for case in range(at.shape[1]):
        bath_c, ware_c = at[0, case], at[1, case]
        left_kg = max(at[2, case] - drive[FILM, case], 0.0)
        net_w = drive[HEAT, case] - drive[LOSS, case] * (bath_c - drive[ROOM, case])
        steam_w = max(net_w, 0.0) if left_kg > 0.0 else 0.0
        liquid_c = min(bath_c, BOILING_C)
        bath_j_per_k = J_PER_KJ * _specific_heat_kj_per_kg_k(liquid_c) * left_kg + drive[TANK, case]
        # Over the last kelvin the ware's slope falls to 0 gradually: a jump would cost the integrator steps.
        colder = min(max(bath_c - ware_c, 0.0), 1.0)
        found[0, case] = times[case] * (min(net_w, 0.0) / bath_j_per_k)
        found[1, case] = times[case] * (steam_share[case] * steam_w * colder / drive[WET_WARE, case])
        found[2, case] = -times[case] * (steam_w / (J_PER_KJ * _latent_kj_per_kg(liquid_c)))
    return found
