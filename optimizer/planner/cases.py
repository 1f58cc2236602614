"""The ends of the tolerances the planner counts with: a cold set, a hot set and the nominal case.

Which end is the bad one is known for most quantities. For the level and for the carry-over it is not
(more water is slower to heat, but keeps more heat for the next round), so both ends are tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.water import density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.units import J_PER_KJ, S_PER_MIN

Array = NDArray[np.float64]
End = Literal["low", "nominal", "high"]

WATER_J_PER_KG_K = 4180.0
"""Specific heat of water between 5 and 95 °C, within 0.4 % (IAPWS-IF97) [J/(kg K)]."""


@dataclass(frozen=True)
class Cases:
    """One machine in several corners; every array has one entry a corner.

    Attributes
    ----------
    element_w, pump_heat_w : ndarray
        Heat of the element and of the wash pump into the bath [W].
    inlet_c, room_c : ndarray
        Inlet water and room temperature [°C].
    inlet_kg_per_s, inlet_l_per_s, drain_l_per_s : ndarray
        Flows [kg/s, l/s].
    level_l : ndarray
        Litres at which a level switch closes the inlet; nan for a timed fill [l].
    left_l : ndarray
        Carry-over after a drain [l].
    ware_j_per_k, tank_j_per_k : ndarray
        Heat capacities [J/K].
    loss_still_w_per_k, loss_spraying_w_per_k : ndarray
        Heat losses [W/K].
    exchange_spraying_w_per_k, exchange_still_w_per_k : ndarray
        Conductance between bath and ware [W/K].
    sensor_k : ndarray
        True bath temperature less what the sensor reads [K].
    hysteresis_k : float
        Gap between thermostat off and on again [K].
    cold, hot : ndarray of bool
        Which corners belong to the cold and to the hot set.
    nominal : int
        Index of the nominal case [1].
    """

    element_w: Array
    pump_heat_w: Array
    inlet_c: Array
    room_c: Array
    inlet_kg_per_s: Array
    inlet_l_per_s: Array
    drain_l_per_s: Array
    level_l: Array
    left_l: Array
    ware_j_per_k: Array
    tank_j_per_k: Array
    loss_still_w_per_k: Array
    loss_spraying_w_per_k: Array
    exchange_spraying_w_per_k: Array
    exchange_still_w_per_k: Array
    sensor_k: Array
    hysteresis_k: float
    cold: NDArray[np.bool_]
    hot: NDArray[np.bool_]
    nominal: int


def corner_cases(machine: Machine) -> Cases:
    """Set up the corners of a machine: four cold ones, four hot ones, the nominal case.

    Parameters
    ----------
    machine : Machine
        The measured machine.

    Returns
    -------
    Cases
        Its corners.
    """
    ends: list[tuple[str, End, End, End]] = [
        (warmth, "low" if warmth == "cold" else "high", level, left)
        for warmth, level, left in product(("cold", "hot"), ("low", "high"), ("low", "high"))
    ]  # type: ignore[misc]
    ends.append(("nominal", "nominal", "nominal", "nominal"))
    rows = [_case(machine, *end) for end in ends]
    columns = {key: np.array([row[key] for row in rows]) for key in rows[0]}
    return Cases(
        **columns,
        hysteresis_k=machine.element.hysteresis_k if machine.element else 0.0,
        cold=np.array([end[0] == "cold" for end in ends]),
        hot=np.array([end[0] == "hot" for end in ends]),
        nominal=len(ends) - 1,
    )


def _case(machine: Machine, warmth: str, warm: End, level: End, left: End) -> dict[str, float]:
    """One corner: ``warm`` is the end of what warms the bath; what cools it takes the other end."""
    cool: End = {"low": "high", "nominal": "nominal", "high": "low"}[warm]  # type: ignore[assignment]

    def end(value: Measured, which: End) -> float:
        return float(getattr(value, which))

    inlet, tank, ware, element = machine.inlet, machine.tank, machine.ware, machine.element
    inlet_c = end(inlet.water_c, warm)
    flow_l_per_s = end(inlet.flow_l_per_min, level) / S_PER_MIN
    ware_j_per_k = end(ware.heat_capacity_kj_per_k, cool) * J_PER_KJ
    element_w = 0.0
    if element is not None:
        element_w = end(element.rated_w, warm) * (end(machine.supply.voltage_v, warm) / element.rated_v) ** 2
    sensor_k = element.sensor_error_k if element else 0.0
    return {
        "element_w": element_w,
        "pump_heat_w": end(machine.wash_pump.power_w, warm) * machine.wash_pump.heat_share,
        "inlet_c": inlet_c,
        "room_c": end(machine.room.air_c, warm),
        "inlet_l_per_s": flow_l_per_s,
        "inlet_kg_per_s": flow_l_per_s * float(density_kg_per_l(inlet_c)),
        "drain_l_per_s": end(machine.drain_pump.flow_l_per_min, cool) / S_PER_MIN,
        "level_l": end(inlet.level_l, level) if inlet.level_l else float("nan"),
        "left_l": end(tank.residual_l, left) + end(ware.film_l, left),
        "ware_j_per_k": ware_j_per_k,
        "tank_j_per_k": end(tank.heat_capacity_kj_per_k, cool) * J_PER_KJ,
        "loss_still_w_per_k": end(tank.loss_still_w_per_k, cool),
        "loss_spraying_w_per_k": end(tank.loss_spraying_w_per_k, cool),
        "exchange_spraying_w_per_k": ware_j_per_k / end(ware.response_spraying_s, cool),
        "exchange_still_w_per_k": ware_j_per_k / end(ware.response_still_s, cool),
        "sensor_k": {"cold": -sensor_k, "nominal": 0.0, "hot": sensor_k}[warmth],
    }
