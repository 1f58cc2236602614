"""The cases a programme is run in: every corner of the tolerances, random draws inside, the nominal one."""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import product

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.water import density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.units import J_PER_KJ, S_PER_MIN

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

EXACT_ZERO = Measured(nominal=0.0, low=0.0, high=0.0)
NO_SWITCH = Measured(nominal=1e9, low=1e9, high=1e9)


@dataclass(frozen=True)
class Spread:
    """Every measured quantity of the machine; in ``Cases`` the same names hold one value a case.

    Attributes
    ----------
    voltage_v : Measured
        Supply voltage [V].
    rated_w : Measured
        Rated power of the element, 0 where there is none [W].
    wash_pump_w : Measured
        Power of the wash pump [W].
    inlet_c, room_c : Measured
        Inlet water, room air [°C].
    flow_l_per_min, drain_l_per_min : Measured
        Inlet and drain flow [l/min].
    level_l : Measured
        Litres at which the level switch closes; out of reach where there is none [l].
    residual_l, film_l, holdup_l : Measured
        Sump residual, film on the ware, hold-up while spraying [l].
    ware_kj_per_k, tank_kj_per_k : Measured
        Heat capacity of ware and tank [kJ/K].
    loss_still_w_per_k, loss_spraying_w_per_k : Measured
        Heat loss [W/K].
    response_spraying_s, response_still_s : Measured
        Response time of the ware [s].
    sensor_error_k : Measured
        Reading of the sensor less the bath temperature [K].
    start_share : Measured
        Share of the carry-over that is in the machine at the start: it may have dried out [1].
    """

    voltage_v: Measured
    rated_w: Measured
    wash_pump_w: Measured
    inlet_c: Measured
    room_c: Measured
    flow_l_per_min: Measured
    drain_l_per_min: Measured
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
    start_share: Measured


QUANTITIES = tuple(field.name for field in fields(Spread))

FACTORS: tuple[tuple[tuple[str, str], tuple[str, ...]], ...] = (
    (("low voltage", "high voltage"), ("voltage_v", "rated_w", "wash_pump_w")),
    (("cold inlet", "warm inlet"), ("inlet_c",)),
    (("cold room", "warm room"), ("room_c",)),
    (("low flow", "high flow"), ("flow_l_per_min",)),
    (("low level switch", "high level switch"), ("level_l",)),
    (("dry start and small carry-over", "large carry-over"), ("start_share", "residual_l", "film_l")),
    (("light ware", "heavy ware"), ("ware_kj_per_k", "tank_kj_per_k")),
    (("low losses", "high losses"), ("loss_still_w_per_k", "loss_spraying_w_per_k")),
    (("quick ware", "slow ware"), ("response_spraying_s", "response_still_s")),
    (("sensor reads low", "sensor reads high"), ("sensor_error_k",)),
)
"""What varies from corner to corner: words for the low and the high end, quantities that go together."""

SAME_SHARE = 1e-3
"""Values closer than this share are the same [1]."""

BAD_ENDS = {"holdup_l": 1.0, "drain_l_per_min": 0.0}
"""Quantities with one bad end for every requirement (0 low, 1 high): fixed there in every corner."""


@dataclass(frozen=True)
class Cases:
    """One value a case of everything the simulation needs.

    Attributes
    ----------
    names : tuple of str
        Name of each case: a corner in words, ``draw 17``, ``nominal`` (the last).
    corners : int
        How many of them are corners [1]; they come first.
    element_w, pump_heat_w : ndarray
        Power of the element at the case's voltage, heat of the wash pump to the bath [W].
    inlet_c, room_c : ndarray
        Inlet water, room air [°C].
    flow_kg_per_s, drain_kg_per_s : ndarray
        Inlet and drain flow [kg/s].
    level_kg, residual_kg, film_kg, holdup_kg : ndarray
        Water at the level switch, in the sump after a drain, on the ware, held up while spraying [kg].
    ware_j_per_k, tank_j_per_k : ndarray
        Heat capacity [J/K].
    loss_still_w_per_k, loss_spraying_w_per_k : ndarray
        Heat loss [W/K].
    response_spraying_s, response_still_s : ndarray
        Response time of the ware [s].
    sensor_error_k : ndarray
        Reading of the sensor less the bath temperature [K].
    start_share : ndarray
        Share of the carry-over that is there at the start [1].
    cold_kg_per_l : ndarray
        Density of the inlet water [kg/l]; turns measured litres into mass.
    """

    names: tuple[str, ...]
    corners: int
    element_w: Array
    pump_heat_w: Array
    inlet_c: Array
    room_c: Array
    flow_kg_per_s: Array
    drain_kg_per_s: Array
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
    start_share: Array
    cold_kg_per_l: Array

    @property
    def count(self) -> int:
        """How many cases there are [1]."""
        return len(self.names)

    @property
    def carry_kg(self) -> Array:
        """What a complete drain leaves behind, sump and film [kg]."""
        return self.residual_kg + self.film_kg

    def hung_kg(self, number: int) -> Array:
        """Film that hangs on the ware when a round begins: it is in the machine and covers nothing.

        Parameters
        ----------
        number : int
            Which round [1], from 0.

        Returns
        -------
        ndarray
            Water [kg].
        """
        return self.film_kg * self.start_share if number == 0 else self.film_kg

    def name_of(self, case: int, values: Array) -> str:
        """Name a case by what matters for a value of it.

        Parameters
        ----------
        case : int
            Which case [1].
        values : ndarray
            The value in every case [any].

        Returns
        -------
        str
            Name of the case; of a corner only the ends it shares with all corners whose value is the
            same to the accuracy of the simulation, so that what does not matter is left out.
        """
        if case >= self.corners:
            return self.names[case]
        near = np.abs(values[: self.corners] - values[case]) <= SAME_SHARE * abs(values[case])
        same = [set(self.names[other].split(", ")) for other in np.flatnonzero(near)]
        words = self.names[case].split(", ")
        return ", ".join(word for word in words if all(word in names for names in same)) or self.names[case]


def spread(machine: Machine) -> Spread:
    """Collect the measured quantities of a machine.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    Spread
        Its quantities with their tolerances.
    """
    element, tank, ware = machine.element, machine.tank, machine.ware
    error = element.sensor_error_k if element is not None and element.control == "thermostat" else 0.0
    return Spread(
        voltage_v=machine.supply.voltage_v,
        rated_w=EXACT_ZERO if element is None else element.rated_w,
        wash_pump_w=machine.wash_pump.power_w,
        inlet_c=machine.inlet.water_c,
        room_c=machine.room.air_c,
        flow_l_per_min=machine.inlet.flow_l_per_min,
        drain_l_per_min=machine.drain_pump.flow_l_per_min,
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
        start_share=Measured(nominal=1.0, low=0.0, high=1.0),
    )


def build_cases(machine: Machine, draws: int, seed: int) -> Cases:
    """Lay out the corners, the draws and the nominal case of a machine.

    Parameters
    ----------
    machine : Machine
        The machine.
    draws : int
        How many random draws inside the tolerances [1].
    seed : int
        Seed of the draws [1].

    Returns
    -------
    Cases
        Corners first, then the draws, the nominal case last. A quantity without tolerance makes no
        corners of its own.
    """
    quantities = spread(machine)
    low, nominal, high = (
        np.array([getattr(getattr(quantities, name), end) for name in QUANTITIES])
        for end in ("low", "nominal", "high")
    )
    names, places = _corner_places(quantities)
    within = np.random.default_rng(seed).uniform(size=(draws, len(QUANTITIES)))
    share = np.vstack([places, within])
    # Both ends exactly as measured, and no spread by rounding where low and high are the same.
    values = np.vstack([np.where(share == 1.0, high, low + share * (high - low)), nominal])
    names += [f"draw {number}" for number in range(1, draws + 1)]
    table = dict(zip(QUANTITIES, values.T.copy(), strict=True))
    return cases_at(machine, (*names, "nominal"), len(places), table)


def _corner_places(quantities: Spread) -> tuple[list[str], Array]:
    """Name the corners and place every quantity at its low (0) or high (1) end in each."""

    def varies(name: str) -> bool:
        measured: Measured = getattr(quantities, name)
        return measured.low < measured.high

    bad_ends = dict(BAD_ENDS)
    if quantities.level_l is not NO_SWITCH:
        # The switch sets the level; the flow only sets how long it takes, and slow is the bad end.
        bad_ends["flow_l_per_min"] = 0.0
    factors = [
        factor for factor in FACTORS if any(varies(name) and name not in bad_ends for name in factor[1])
    ]
    names: list[str] = []
    places: list[list[float]] = []
    for ends in product((0, 1), repeat=len(factors)):
        place = dict.fromkeys(QUANTITIES, 0.0) | bad_ends
        for factor, end in zip(factors, ends, strict=True):
            place |= dict.fromkeys(factor[1], float(end))
        names.append(", ".join(factor[0][end] for factor, end in zip(factors, ends, strict=True)))
        places.append(list(place.values()))
    return names, np.array(places)


def cases_at(machine: Machine, names: tuple[str, ...], corners: int, table: dict[str, Array]) -> Cases:
    """Lay out cases whose measured quantities are given.

    Parameters
    ----------
    machine : Machine
        The machine.
    names : tuple of str
        Name of each case.
    corners : int
        How many of them, from the first, are corners [1].
    table : dict
        By the names of `Spread`, one value a case [unit of the quantity].

    Returns
    -------
    Cases
        The same as masses, powers and heat capacities.
    """
    rated_v = 1.0 if machine.element is None else machine.element.rated_v
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
        drain_kg_per_s=table["drain_l_per_min"] * kg_per_s,
        level_kg=table["level_l"] * cold_kg_per_l,
        residual_kg=table["residual_l"] * cold_kg_per_l,
        film_kg=table["film_l"] * cold_kg_per_l,
        holdup_kg=table["holdup_l"] * cold_kg_per_l,
        ware_j_per_k=table["ware_kj_per_k"] * J_PER_KJ,
        tank_j_per_k=table["tank_kj_per_k"] * J_PER_KJ,
        loss_still_w_per_k=table["loss_still_w_per_k"],
        loss_spraying_w_per_k=table["loss_spraying_w_per_k"],
        response_spraying_s=table["response_spraying_s"],
        response_still_s=table["response_still_s"],
        sensor_error_k=table["sensor_error_k"],
        start_share=table["start_share"],
        cold_kg_per_l=cold_kg_per_l,
    )
