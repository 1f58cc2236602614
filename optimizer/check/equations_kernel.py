"""Compiled right-hand side of the two nodes, case by case, as `equations` states it.

The rows of ``drive`` are quantities × cases; `HEAT` and the like number them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

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
def _two_nodes(
    drive: Array,
    case: int,
    bath_c: float,
    ware_c: float,
    water_kg: float,
    fills: bool,
    vent_kw_per_kpa: float,
) -> tuple[float, float, float]:
    """Slopes of bath, ware and water of one case."""
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
    return heat_w / bath_j_per_k, drive[WARE_PER_S, case] * above_ware_k, water_slope


@compiled
def _boiling(
    drive: Array, case: int, bath_c: float, ware_c: float, water_kg: float, steam_share: float
) -> tuple[float, float, float]:
    """Slopes of bath, ware and water of one case whose bath boils."""
    left_kg = max(water_kg - drive[FILM, case], 0.0)
    net_w = drive[HEAT, case] - drive[LOSS, case] * (bath_c - drive[ROOM, case])
    steam_w = max(net_w, 0.0) if left_kg > 0.0 else 0.0
    liquid_c = min(bath_c, BOILING_C)
    bath_j_per_k = J_PER_KJ * _specific_heat_kj_per_kg_k(liquid_c) * left_kg + drive[TANK, case]
    # Over the last kelvin the ware's slope falls to 0 gradually: a jump would cost the integrator steps.
    colder = min(max(bath_c - ware_c, 0.0), 1.0)
    ware_slope = steam_share * steam_w * colder / drive[WET_WARE, case]
    return min(net_w, 0.0) / bath_j_per_k, ware_slope, -(steam_w / (J_PER_KJ * _latent_kj_per_kg(liquid_c)))


@compiled
def two_nodes(
    drive: Array,
    times: Array,
    at: Array,
    fills: bool,
    vent_kw_per_kpa: float,
    steam_share: Array,
    found: Array,
) -> None:
    """Write slopes of bath, ware and water × cases, each case's times its own factor.

    A bath boils where there is a ``steam_share`` of each case; else that is empty.
    """
    boils = len(steam_share) > 0
    for case in range(at.shape[1]):
        bath_c, ware_c, water_kg = at[0, case], at[1, case], at[2, case]
        if boils:
            bath, ware, water = _boiling(drive, case, bath_c, ware_c, water_kg, steam_share[case])
        else:
            bath, ware, water = _two_nodes(drive, case, bath_c, ware_c, water_kg, fills, vent_kw_per_kpa)
        found[0, case] = times[case] * bath
        found[1, case] = times[case] * ware
        found[2, case] = times[case] * water


@compiled
def _moved(at: Array, step: float, shares: Array, stages: Array, found: Array) -> None:
    """Move a state by a sum of stages; one pass a stage keeps the processor's lanes full."""
    for quantity in range(at.shape[0]):
        row = found[quantity]
        row[:] = 0.0
        for stage in range(len(shares)):
            share, slope = step * shares[stage], stages[stage, quantity]
            for case in range(len(row)):
                row[case] += share * slope[case]
        for case in range(len(row)):
            row[case] += at[quantity, case]


@compiled
def runge_kutta_step(
    drive: Array,
    times: Array,
    at: Array,
    step: float,
    method: tuple[Array, Array, Array],
    tolerances: tuple[float, float],
    fills: bool,
    vent_kw_per_kpa: float,
    steam_share: Array,
    after: Array,
    stages: Array,
) -> float:
    """Take one explicit step of all cases, and give the norm of its error over the tolerances.

    ``at`` is quantities × cases, as in `two_nodes`, and its slope the first of ``stages``. The new state is
    written to ``after``, and the slopes of all other stages, the last of them at the new state, to
    ``stages``: stages × quantities × cases. ``method`` has the coefficients of stages, result and error;
    ``tolerances`` are the relative and the absolute one.
    """
    of_stages, of_result, of_error = method
    rtol, atol = tolerances
    last = len(of_result)
    for stage in range(1, last):
        _moved(at, step, of_stages[stage, :stage], stages, after)
        two_nodes(drive, times, after, fills, vent_kw_per_kpa, steam_share, stages[stage])
    _moved(at, step, of_result, stages, after)
    two_nodes(drive, times, after, fills, vent_kw_per_kpa, steam_share, stages[last])
    squares, off = 0.0, np.empty(at.shape[1])
    for quantity in range(3):
        off[:] = 0.0
        for stage in range(last + 1):
            share, slope = step * of_error[stage], stages[stage, quantity]
            for case in range(len(off)):
                off[case] += share * slope[case]
        for case in range(len(off)):
            largest = max(abs(at[quantity, case]), abs(after[quantity, case]))
            squares += (off[case] / (atol + largest * rtol)) ** 2
    return math.sqrt(squares / at.size)


@compiled
def between_steps(found: Array, first: int, polynomial: Array, at: Array, step: float, shares: Array) -> None:
    """Write the samples of a step: quantities × cases × samples, from number ``first`` on, at its shares.

    ``polynomial`` has four coefficients of each quantity and case, that of the first power first.
    """
    for quantity in range(at.shape[0]):
        for case in range(at.shape[1]):
            start, one, two = at[quantity, case], polynomial[quantity, case, 0], polynomial[quantity, case, 1]
            three, four = polynomial[quantity, case, 2], polynomial[quantity, case, 3]
            for number in range(len(shares)):
                x = shares[number]
                total = x * (one + x * (two + x * (three + x * four)))
                found[quantity, case, first + number] = start + step * total


@compiled
def hold_stopped(values: Array, time_s: Array, threshold_c: Array, direction: Array) -> None:
    """Hold each case where its bath has passed its threshold, straight between two samples; in place.

    ``values`` are quantities × cases × samples, ``time_s`` cases × samples; ``direction`` is 1 to stop at or
    above the threshold, -1 to stop at or below.
    """
    cases, samples = time_s.shape
    for case in range(cases):
        after = 0
        while after < samples:
            if (values[0, case, after] - threshold_c[case]) * direction[case] >= 0.0:
                break
            after += 1
        if after == samples:
            continue
        last = max(after, 1)
        short_k = (values[0, case, last - 1] - threshold_c[case]) * direction[case]
        over_k = (values[0, case, last] - threshold_c[case]) * direction[case]
        share = 1.0
        if over_k > short_k:
            share = min(max(-short_k / (over_k - short_k), 0.0), 1.0)
        for quantity in range(values.shape[0]):
            earlier, later = values[quantity, case, last - 1], values[quantity, case, last]
            values[quantity, case, after:] = earlier + share * (later - earlier)
        earlier, later = time_s[case, last - 1], time_s[case, last]
        time_s[case, after:] = earlier + share * (later - earlier)


@dataclass(frozen=True)
class Moves:
    """A right-hand side as the kernel takes it; ``times`` is the factor of each case [s]."""

    drive: Array
    times: Array
    fills: bool
    vent_kw_per_kpa: float
    steam_share: Array

    def slopes(self, at: Array) -> Array:
        """Slopes of bath, ware and water × cases, each case's times its factor."""
        found = np.empty_like(at)
        two_nodes(self.drive, self.times, at, self.fills, self.vent_kw_per_kpa, self.steam_share, found)
        return found
