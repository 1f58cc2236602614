"""A machine at several points of its tolerances: every quantity that the planner counts with, as an array."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array, Number
from optimizer.physics.thermal import element_power_w
from optimizer.physics.water import density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.units import J_PER_KJ, S_PER_MIN

WATER_J_PER_KG_K = 4180.0
"""Specific heat of water between 5 and 95 °C, within 0.4 % (IAPWS-IF97) [J/(kg K)]."""


def mean_fed_c(filled_l: Number, pipe_l: Number, inlet_c: Number, room_c: Number) -> Number:
    """Mean temperature of what a fill lets in, the water of the pipe first; floats or arrays [°C]."""
    share = np.minimum(pipe_l / filled_l, 1.0)
    return inlet_c + share * (room_c - inlet_c)


def start_bath_c(chill_share: Number, inlet_c: Number, room_c: Number) -> Array:
    """Tank as a run begins, so far from the room's temperature down to colder inlet water [°C]."""
    return np.asarray(room_c + chill_share * (np.minimum(room_c, inlet_c) - room_c))


Place = slice | NDArray[np.int64]
"""Where some entries of an array stand: a stretch of it, which costs no copy, or their numbers."""


@dataclass(frozen=True)
class Where:
    """Where the corners of each set stand, as in `Corners`."""

    cold: Place
    hot: Place
    stepped: Place


def _place_of(marked: NDArray[np.bool_]) -> Place:
    numbers = np.flatnonzero(marked)
    if len(numbers) and numbers[-1] - numbers[0] + 1 == len(numbers):
        return slice(int(numbers[0]), int(numbers[-1]) + 1)
    return numbers


@dataclass(frozen=True)
class Corners:
    """One machine in several corners; every array has one entry a corner.

    Attributes
    ----------
    element_w, pump_heat_w : ndarray
        Heat of the element and of the wash pump into the bath [W].
    inlet_c, room_c : ndarray
        Inlet water and room temperature [°C].
    inlet_kg_per_s, inlet_l_per_s, drain_l_per_s : ndarray
        Flows [kg/s, l/s].
    steam_share : ndarray
        Share of a boiling pool's heat that condenses on ware and film [1].
    pipe_l : ndarray
        Water that stands in the inlet's pipe, as warm as the room: it comes in first [l].
    mechanics : ndarray
        Dose rate under the spray over that of the goal's minutes [1].
    level_l : ndarray
        Litres at which a level switch closes the inlet; nan for a timed fill [l].
    sump_l, film_l : ndarray
        What a drain leaves in the sump, and on the ware [l].
    start_bath_c : ndarray
        Tank, and the carry-over in it, as a run begins [°C].
    wet_start : ndarray
        1 where a run starts with that carry-over, 0 where the machine is bone dry [1].
    ware_j_per_k, tank_j_per_k : ndarray
        Heat capacities [J/K].
    loss_still_w_per_k, loss_spraying_w_per_k : ndarray
        Heat losses [W/K].
    exchange_spraying_w_per_k, exchange_still_w_per_k : ndarray
        Conductance between bath and ware [W/K].
    sensor_k : ndarray
        True temperature where the sensor sits less what it reads [K].
    sensor_over_mean_k, top_over_mean_k : ndarray
        Where the sensor sits and where it is hottest, less the mean of the bath, as a heating with the pump
        off ends [K].
    hysteresis_k : float or ndarray
        Gap between thermostat off and on again [K].
    cold, hot : ndarray of bool
        Which corners belong to the cold and to the hot set.
    stepped : ndarray of bool
        In which of them the steps between ware and bath are looked at.
    nominal : int
        Index of the nominal corner [1].
    """

    element_w: Array
    pump_heat_w: Array
    inlet_c: Array
    room_c: Array
    inlet_kg_per_s: Array
    inlet_l_per_s: Array
    drain_l_per_s: Array
    steam_share: Array
    pipe_l: Array
    mechanics: Array
    level_l: Array
    sump_l: Array
    film_l: Array
    start_bath_c: Array
    wet_start: Array
    ware_j_per_k: Array
    tank_j_per_k: Array
    loss_still_w_per_k: Array
    loss_spraying_w_per_k: Array
    exchange_spraying_w_per_k: Array
    exchange_still_w_per_k: Array
    sensor_k: Array
    sensor_over_mean_k: Array
    top_over_mean_k: Array
    hysteresis_k: float | Array
    cold: NDArray[np.bool_]
    hot: NDArray[np.bool_]
    stepped: NDArray[np.bool_]
    nominal: int

    @cached_property
    def where(self) -> Where:
        """Where the corners of each set stand."""
        return Where(_place_of(self.cold), _place_of(self.hot), _place_of(self.stepped))

    @property
    def sump_j_per_k(self) -> Array:
        """Heat capacity of what stays in the sump [J/K]."""
        return np.asarray(self.sump_l * float(density_kg_per_l(40.0)) * WATER_J_PER_KG_K)

    @property
    def film_j_per_k(self) -> Array:
        """Heat capacity of the film on the ware [J/K]."""
        return np.asarray(self.film_l * float(density_kg_per_l(40.0)) * WATER_J_PER_KG_K)

    def fed_c(self, filled_l: Array) -> Array:
        """Mean temperature of what a fill lets in, the water of the pipe first [°C]."""
        return np.asarray(mean_fed_c(filled_l, self.pipe_l, self.inlet_c, self.room_c))

    def only(self, numbers: NDArray[np.int64]) -> Corners:
        """Pick some of the corners; the nominal one must be among them."""
        values: dict[str, Any] = {field.name: getattr(self, field.name) for field in fields(self)}
        picked = {name: value[numbers] for name, value in values.items() if isinstance(value, np.ndarray)}
        values |= picked | {"nominal": int(np.flatnonzero(numbers == self.nominal)[0])}
        return Corners(**values)


@dataclass(frozen=True)
class CornerSets:
    """Which of some corners belong to which set, one value a corner, as in `Corners`."""

    cold: NDArray[np.bool_]
    hot: NDArray[np.bool_]
    stepped: NDArray[np.bool_]


def corners_at(machine: Machine, table: Mapping[str, Array], sets: CornerSets) -> Corners:
    """Make corners of measured quantities, one value a corner by the check's names; the last is nominal."""
    element, count = machine.element, len(sets.cold)
    flow_l_per_s = table["flow_l_per_min"] / S_PER_MIN
    ware_j_per_k = table["ware_kj_per_k"] * J_PER_KJ
    element_w = np.zeros(count)
    if element is not None:
        element_w = np.asarray(element_power_w(table["voltage_v"], table["rated_w"], element.rated_v))
    return Corners(
        element_w=element_w,
        pump_heat_w=table["wash_pump_w"] * machine.wash_pump.heat_share,
        inlet_c=table["inlet_c"],
        room_c=table["room_c"],
        inlet_l_per_s=flow_l_per_s,
        inlet_kg_per_s=flow_l_per_s * density_kg_per_l(table["inlet_c"]),
        drain_l_per_s=table["drain_l_per_min"] / S_PER_MIN,
        steam_share=table["steam_share"],
        pipe_l=table["pipe_l"],
        mechanics=table["mechanics_factor"],
        level_l=table["level_l"] if machine.inlet.level_l else np.full(count, np.nan),
        sump_l=table["residual_l"],
        film_l=table["film_l"],
        start_bath_c=start_bath_c(table["start_chill_share"], table["inlet_c"], table["room_c"]),
        wet_start=table["start_share"],
        ware_j_per_k=ware_j_per_k,
        tank_j_per_k=table["tank_kj_per_k"] * J_PER_KJ,
        loss_still_w_per_k=table["loss_still_w_per_k"],
        loss_spraying_w_per_k=table["loss_spraying_w_per_k"],
        exchange_spraying_w_per_k=ware_j_per_k / table["response_spraying_s"],
        exchange_still_w_per_k=ware_j_per_k / table["response_still_s"],
        # The check has what the sensor reads over its bath, the planner the bath over what it reads.
        sensor_k=-table["sensor_error_k"],
        sensor_over_mean_k=table["sensor_over_mean_k"],
        top_over_mean_k=table["top_over_mean_k"],
        hysteresis_k=element.hysteresis_k if element else 0.0,
        cold=sets.cold,
        hot=sets.hot,
        stepped=sets.stepped,
        nominal=count - 1,
    )
