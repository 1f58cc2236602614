"""The measured quantities of a machine, and the cases of a run: one value a case; five cases for faults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.water import boiling_c, density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.units import J_PER_KJ, S_PER_MIN

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

WEIGHED_KG_PER_L = 0.998
"""Litres on kitchen scales in kilograms: water at 20 °C (IAPWS-IF97) [kg/l]."""

EXACT_ZERO = Measured(nominal=0.0, low=0.0, high=0.0)
NO_SWITCH = Measured(nominal=1e9, low=1e9, high=1e9)
"""A level that is never reached: the machine has no level switch [l]."""


@dataclass(frozen=True)
class Tolerances:
    """Every measured quantity of a machine with its low and high end.

    Attributes
    ----------
    rated_w : Measured
        Rated power of the element, 0 where there is none [W].
    drain_lag_s : Measured
        Time of a drain beyond volume over flow: run-off from ware and walls, and the pump priming again [s].
    level_l : Measured
        Water at which the level switch closes; `NO_SWITCH` where there is none [l].
    holdup_l : Measured
        Water that ware and walls hold up while the pump sprays [l].
    sensor_error_k : Measured
        Reading of the sensor less the temperature where it sits [K].
    sensor_over_mean_k, top_over_mean_k : Measured
        Where the sensor sits and where it is hottest, less the mean of the bath, as a heating with the pump
        off ends [K].
    humidity_pct : Measured
        Relative humidity of the room; exact where nothing evaporates [%].
    steam_share : Measured
        Share of a boiling pool's heat that condenses on ware and film; exact where nothing may boil [1].
    pipe_l : Measured
        Water that stands in the pipe, as warm as the room: it comes in first, in every fill [l].
    mechanics_factor : Measured
        Dose rate under this machine's spray over that on which the goal's minutes were set [1].
    start_share : Measured
        Share of the carry-over that is still there at the start: the machine may have dried out [1].
    start_chill_share : Measured
        How far an earlier run's cold rinses have brought the tank from the room's temperature down to the
        inlet's at the start; exact where no water is colder than the room [1].
    """

    voltage_v: Measured
    rated_w: Measured
    wash_pump_w: Measured
    inlet_c: Measured
    room_c: Measured
    flow_l_per_min: Measured
    drain_l_per_min: Measured
    drain_lag_s: Measured
    level_l: Measured
    residual_l: Measured
    film_l: Measured
    holdup_l: Measured
    ware_kj_per_k: Measured
    tank_kj_per_k: Measured
    loss_still_w_per_k: Measured
    loss_spraying_w_per_k: Measured
    response_spraying_s: Measured
    response_still_s: Measured
    sensor_error_k: Measured
    sensor_over_mean_k: Measured
    top_over_mean_k: Measured
    humidity_pct: Measured
    steam_share: Measured
    pipe_l: Measured
    mechanics_factor: Measured
    start_share: Measured
    start_chill_share: Measured


QUANTITIES = tuple(field.name for field in fields(Tolerances))

HOT_ENDS = {
    "voltage_v": 1, "rated_w": 1, "wash_pump_w": 1, "inlet_c": 1, "room_c": 1, "ware_kj_per_k": 0,
    "tank_kj_per_k": 0, "loss_still_w_per_k": 0, "loss_spraying_w_per_k": 0, "response_spraying_s": 1,
    "response_still_s": 1, "sensor_error_k": 0, "sensor_over_mean_k": 0, "top_over_mean_k": 1,
    "pipe_l": 0, "steam_share": 1, "start_chill_share": 0,
}  # fmt: skip
"""Faults: end of each quantity, 0 low and 1 high, that makes the bath hot; the other end makes it cold."""

MUCH_ENDS = {
    "flow_l_per_min": 1, "drain_l_per_min": 0, "drain_lag_s": 1, "level_l": 1, "residual_l": 1, "film_l": 1,
    "start_share": 1, "humidity_pct": 1,
}  # fmt: skip
"""Faults: end of each quantity that brings much water into the tank; the other end brings little."""

WEAK = ("mechanics_factor",)
"""Faults: quantities at their low end in every corner; what a fault spoils is spoilt most there."""

FAULT_CORNERS = ("hot, much water", "hot, little water", "cold, much water", "cold, little water")


@dataclass(frozen=True)
class Cases:
    """One value a case of everything the simulation needs; arrays of length `count`, units as in the names.

    Attributes
    ----------
    names : tuple of str
        Name of each case.
    corners : int
        How many of them are at ends of the tolerances [1]; they come first.
    element_w, pump_heat_w : ndarray
        Power of the element at the voltage of the case, heat of the wash pump that reaches the bath [W].
    drain_lag_s : ndarray
        Time of each drain in which nothing is pumped [s].
    level_kg, residual_kg, film_kg, holdup_kg : ndarray
        Water at the level switch, in the sump after a drain, on the ware, held up while spraying [kg].
    response_spraying_s, response_still_s : ndarray
        Time constant with which the ware follows the bath [s].
    sensor_error_k : ndarray
        Reading of the sensor less the temperature where it sits [K].
    sensor_over_mean_k, top_over_mean_k : ndarray
        Where the sensor sits and where it is hottest, less the mean of the bath, as a heating with the pump
        off ends [K].
    humidity : ndarray
        Relative humidity of the room [1].
    steam_share : ndarray
        Share of a boiling pool's heat that condenses on ware and film [1].
    pipe_l : ndarray
        Water that stands in the pipe, as warm as the room: it comes in first, in every fill [l].
    mechanics_factor : ndarray
        Dose rate under the spray over that of the goal's minutes [1].
    start_share : ndarray
        Share of the carry-over that is there at the start [1].
    start_chill_share : ndarray
        How far the tank begins from the room's temperature down to the inlet's [1].
    cold_kg_per_l : ndarray
        Density of the inlet water [kg/l]; turns what runs in, and the level of a switch, into mass.
    unmixed_share : ndarray
        Top-up that no pump stirs: hottest water less the mean, over the fall of the mean; the same in all
        cases [1].
    boils_c : ndarray
        Boiling point at the height of the machine, the same in all cases [°C].
    """

    names: tuple[str, ...]
    corners: int
    element_w: Array
    pump_heat_w: Array
    inlet_c: Array
    room_c: Array
    flow_kg_per_s: Array
    drain_l_per_s: Array
    drain_lag_s: Array
    level_kg: Array
    residual_kg: Array
    film_kg: Array
    holdup_kg: Array
    ware_j_per_k: Array
    tank_j_per_k: Array
    loss_still_w_per_k: Array
    loss_spraying_w_per_k: Array
    response_spraying_s: Array
    response_still_s: Array
    sensor_error_k: Array
    sensor_over_mean_k: Array
    top_over_mean_k: Array
    humidity: Array
    steam_share: Array
    pipe_l: Array
    mechanics_factor: Array
    start_share: Array
    start_chill_share: Array
    cold_kg_per_l: Array
    unmixed_share: Array
    boils_c: Array

    @property
    def count(self) -> int:
        """How many cases there are [1]."""
        return len(self.names)

    @property
    def flow_l_per_s(self) -> Array:
        """What the inlet lets in [l/s]."""
        return self.flow_kg_per_s / self.cold_kg_per_l

    @property
    def start_bath_c(self) -> Array:
        """Tank, and the carry-over in it, as a run begins [°C]."""
        return start_bath_c(self.start_chill_share, self.inlet_c, self.room_c)

    @property
    def carry_over_kg(self) -> Array:
        """What a complete drain leaves behind, in the sump and on the ware [kg]."""
        return self.residual_kg + self.film_kg

    def film_at_start_kg(self, round_number: int) -> Array:
        """Film on the ware when a round (from 0) begins [kg]: it is in the machine and covers nothing."""
        return self.film_kg * self.start_share if round_number == 0 else self.film_kg


def tolerances(machine: Machine) -> Tolerances:
    """Collect the measured quantities of a machine."""
    element, tank, ware = machine.element, machine.tank, machine.ware
    boils = element is not None and tank.limit_c >= boiling_c(machine.room.height_m)
    error = machine.thermostat.sensor_error_k if machine.thermostat else 0.0
    chills = machine.inlet.water_c.low < machine.room.air_c.high
    return Tolerances(
        voltage_v=machine.supply.voltage_v,
        rated_w=EXACT_ZERO if element is None else element.rated_w,
        wash_pump_w=machine.wash_pump.power_w,
        inlet_c=machine.inlet.water_c,
        room_c=machine.room.air_c,
        flow_l_per_min=machine.inlet.flow_l_per_min,
        drain_l_per_min=machine.drain_pump.flow_l_per_min,
        drain_lag_s=machine.drain_pump.drain_lag_s,
        level_l=machine.inlet.level_l or NO_SWITCH,
        residual_l=tank.residual_l,
        film_l=ware.film_l,
        holdup_l=machine.wash_pump.holdup_l,
        ware_kj_per_k=ware.heat_capacity_kj_per_k,
        tank_kj_per_k=tank.heat_capacity_kj_per_k,
        loss_still_w_per_k=tank.loss_still_w_per_k,
        loss_spraying_w_per_k=tank.loss_spraying_w_per_k,
        response_spraying_s=ware.response_spraying_s,
        response_still_s=ware.response_still_s,
        sensor_error_k=Measured(nominal=0.0, low=-error, high=error),
        sensor_over_mean_k=machine.thermostat.sensor_over_mean_k if machine.thermostat else EXACT_ZERO,
        top_over_mean_k=EXACT_ZERO if element is None else element.top_over_mean_k,
        humidity_pct=machine.room.humidity_pct if tank.vent_m2 else _exact(machine.room.humidity_pct),
        steam_share=ware.steam_share if boils else _exact(ware.steam_share),
        pipe_l=machine.inlet.pipe_l,
        mechanics_factor=machine.wash_pump.mechanics_factor,
        start_share=Measured(nominal=1.0, low=0.0, high=1.0),
        start_chill_share=Measured(nominal=0.0, low=0.0, high=float(chills)),
    )


def start_bath_c(chill_share: Array, inlet_c: Array, room_c: Array) -> Array:
    """Temperature of a tank as a run begins; water that is no colder than the room chills nothing [°C].

    It rises with inlet and room, and falls with the share. No source, our choice: between the two the tank
    may be anywhere, by what ran before and how long ago.
    """
    return np.asarray(room_c - chill_share * np.maximum(room_c - inlet_c, 0.0))


def _exact(quantity: Measured) -> Measured:
    return Measured(nominal=quantity.nominal, low=quantity.nominal, high=quantity.nominal)


def cases_at(
    machine: Machine,
    names: tuple[str, ...],
    corners: int,
    table: dict[str, Array],
    cold_kg_per_l: Array | None = None,
) -> Cases:
    """Make cases of given quantities: by the names of `Tolerances`, one value a case, in its unit.

    ``cold_kg_per_l`` is the density of the inlet's water where it is not that at its temperature.
    """
    rated_v = 1.0 if machine.element is None else machine.element.rated_v
    if cold_kg_per_l is None:
        cold_kg_per_l = np.asarray(density_kg_per_l(table["inlet_c"]), dtype=float)
    kg_per_s = cold_kg_per_l / S_PER_MIN
    return Cases(
        names=names,
        corners=corners,
        element_w=table["rated_w"] * (table["voltage_v"] / rated_v) ** 2,
        pump_heat_w=table["wash_pump_w"] * machine.wash_pump.heat_share,
        inlet_c=table["inlet_c"],
        room_c=table["room_c"],
        flow_kg_per_s=table["flow_l_per_min"] * kg_per_s,
        drain_l_per_s=table["drain_l_per_min"] / S_PER_MIN,
        drain_lag_s=table["drain_lag_s"],
        level_kg=table["level_l"] * cold_kg_per_l,
        residual_kg=table["residual_l"] * WEIGHED_KG_PER_L,
        film_kg=table["film_l"] * WEIGHED_KG_PER_L,
        holdup_kg=table["holdup_l"] * WEIGHED_KG_PER_L,
        ware_j_per_k=table["ware_kj_per_k"] * J_PER_KJ,
        tank_j_per_k=table["tank_kj_per_k"] * J_PER_KJ,
        loss_still_w_per_k=table["loss_still_w_per_k"],
        loss_spraying_w_per_k=table["loss_spraying_w_per_k"],
        response_spraying_s=table["response_spraying_s"],
        response_still_s=table["response_still_s"],
        sensor_error_k=table["sensor_error_k"],
        sensor_over_mean_k=table["sensor_over_mean_k"],
        top_over_mean_k=table["top_over_mean_k"],
        humidity=table["humidity_pct"] / 100.0,
        steam_share=table["steam_share"],
        pipe_l=table["pipe_l"],
        mechanics_factor=table["mechanics_factor"],
        start_share=table["start_share"],
        start_chill_share=table["start_chill_share"],
        cold_kg_per_l=cold_kg_per_l,
        unmixed_share=np.full_like(cold_kg_per_l, machine.inlet.unmixed_share),
        boils_c=np.full_like(cold_kg_per_l, boiling_c(machine.room.height_m)),
    )


def fault_cases(machine: Machine, worst_points: Mapping[str, Mapping[str, float]] | None = None) -> Cases:
    """Lay out the cases that faults are run in: four corners, the nominal case, worst points of a check.

    ``worst_points`` are as in `fault_table`.
    """
    table, names = fault_table(machine, worst_points)
    return cases_at(machine, names, len(FAULT_CORNERS), table)


def fault_table(
    machine: Machine, worst_points: Mapping[str, Mapping[str, float]] | None = None
) -> tuple[dict[str, Array], tuple[str, ...]]:
    """Give the quantities of these cases, by the names of `Tolerances`, and the names of the cases.

    Much water goes with a slow drain, little with a quick one; the hold-up is at its high end in all four.
    ``worst_points`` are quantities of `Tolerances` by requirement; points that are the same are run once.
    """
    points: dict[tuple[float, ...], str] = {}
    for key, point in (worst_points or {}).items():
        points.setdefault(tuple(point[name] for name in QUANTITIES), f"worst of {key}")
    quantities = tolerances(machine)
    table: dict[str, Array] = {}
    for name in QUANTITIES:
        measured = getattr(quantities, name)
        ends = (measured.low, measured.high)
        if name in HOT_ENDS:
            hot = HOT_ENDS[name]
            picks = (hot, hot, 1 - hot, 1 - hot)
        elif name in MUCH_ENDS:
            much = MUCH_ENDS[name]
            picks = (much, 1 - much, much, 1 - much)
        else:
            picks = (0, 0, 0, 0) if name in WEAK else (1, 1, 1, 1)
        at_points = [point[QUANTITIES.index(name)] for point in points]
        table[name] = np.array([*(ends[pick] for pick in picks), measured.nominal, *at_points])
    return table, (*FAULT_CORNERS, "nominal", *points.values())


def repeated(cases: Cases, times: int) -> Cases:
    """Repeat cases, one whole set after the other."""
    values = {
        field.name: np.tile(getattr(cases, field.name), times)
        for field in fields(cases)
        if field.name not in ("names", "corners")
    }
    return Cases(names=cases.names * times, corners=cases.corners, **values)
