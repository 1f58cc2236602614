"""Everything the joint fit leaves free: the numbers that are wanted, and what is not exactly known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.measure.estimate import Instruments
from optimizer.measure.thermal_model import Nodes
from optimizer.measure.thermal_sessions import Bench, Event, Ints
from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.physics import Array
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.profile.measured import Measured
from optimizer.units import J_PER_KJ

SQRT_3 = float(np.sqrt(3.0))
"""A rectangle's half-width over its standard deviation (GUM 4.3.7) [1]."""

PROBE_LAG_S, PROBE_LAG_SD_S, LEAST_LAG_S = 6.0, 6.0, 0.2
"""Lag of a probe: most likely, its standard deviation, and the least [s]; our choice, *no source*."""

EVAPORATION_FACTOR = 2.0
"""The formula's evaporation under a lid is good to this factor, one standard deviation [1]; *no source*."""

POUR_LOSS, POUR_LOSS_SD = 0.005, 0.005
"""Share of its excess over the room that water loses as it is poured, and its standard deviation [1]: 0.2 K
of 40 K. Our choice, no source."""

STOOD_K = 0.15
"""How close to the room's temperature stands what has stood until it was as warm, standard deviation [K];
our choice, no source."""

TWO_READINGS_K = 0.3
"""Two readings of one room may be so far apart by their last digits [K]; our choice, no source."""

OPEN_SD = 5.0
"""Standard deviation of the coordinate of a number that is wanted [1]: a factor of 150 either way says
nothing, and keeps the information matrix regular where the tests say nothing either."""

ANYWHERE_K = 20.0
"""Standard deviation of a start temperature that is free [K]: it says nothing."""

GAIN_FROM_C, GAIN_OVER_K = 20.0, 40.0
"""What a thermometer reads too much may differ by its stated error from here to so much hotter [°C], [K]; our
choice, *no source*."""

KEY_OF = {
    "tank": "tank.heat_capacity_kj_per_k",
    "still": "tank.loss_still_w_per_k",
    "spraying": "tank.loss_spraying_w_per_k",
    "share": "wash_pump.heat_share",
    "quick": "ware.response_spraying_s",
    "slow": "ware.response_still_s",
    "element": "element.rated_w",
}
"""Short name of each number that is wanted, and its key."""

TYPICAL = {
    "tank": 4.5,
    "still": 6.0,
    "spraying": 9.0,
    "share": 0.5,
    "quick": 45.0,
    "slow": 1800.0,
    "element": 900.0,
}
"""Where the search begins when there is no profile that the machine is like."""


@dataclass(frozen=True)
class Parameter:
    """One number that the fit leaves free.

    A value is ``typical + coordinate``, or ``typical exp(coordinate)`` where it is logarithmic.

    Attributes
    ----------
    name : str
        Short name.
    session : int
        The session it belongs to; -1 where it belongs to all.
    typical : float
        Value at the coordinate 0.
    logarithmic : bool
        Whether the coordinate is a logarithm.
    sd : float
        Standard deviation of what is known beforehand about the coordinate, around 0.
    least, most : float
        Bounds of the coordinate.
    """

    name: str
    session: int
    typical: float
    logarithmic: bool
    sd: float
    least: float
    most: float

    def value(self, coordinate: Array) -> Array:
        """The value at a coordinate."""
        return self.typical * np.exp(coordinate) if self.logarithmic else self.typical + coordinate


class Parameters:
    """All parameters of a bench, and the cases that they make.

    Parameters
    ----------
    bench : Bench
        The tests.
    instruments : Instruments
        What the instruments are worth.
    known : Known
        What is known from elsewhere.
    leaning : tuple of str
        Short names of wanted numbers that are taken from the profile it is like, with its ends.
    events : tuple of Event
        What is allowed for, each by an amount of its own.
    """

    def __init__(
        self,
        bench: Bench,
        instruments: Instruments,
        known: Known,
        leaning: tuple[str, ...] = (),
        events: tuple[Event, ...] = (),
    ) -> None:
        self.bench, self.instruments, self.known = bench, instruments, known
        self.list: list[Parameter] = []
        tests = bench.tests
        self._wanted(leaning)
        thermometer_sd = max(instruments.thermometer_error_k, 1e-3) / SQRT_3
        self._add("bath_offset", 0.0, thermometer_sd)
        self._add("bath_gain", 0.0, thermometer_sd / GAIN_OVER_K)
        self._add_lag("bath_lag")
        if any(series.probe for series in bench.series):
            self._add("ware_offset", 0.0, thermometer_sd)
            self._add("ware_gain", 0.0, thermometer_sd / GAIN_OVER_K)
            self._add_lag("ware_lag")
        if known.ware_kj_per_k is not None and any(test.ware_in for test in tests):
            self._add_range("ware", known.ware_kj_per_k)
        if known.pump_w is not None and any(test.pump_on for test in tests):
            self._add_range("pump", known.pump_w)
        self._add_log("evaporation", 1.0, float(np.log(EVAPORATION_FACTOR)), 0.1, 10.0)
        self._add("meter", 0.0, max(instruments.meter_error_share, 1e-4) / SQRT_3)
        for at in range(len(bench.sessions)):
            self._of_session(at)
        self.events = events
        for i, event in enumerate(events):
            self._add(f"event {i}", 0.0, ANYWHERE_K, event.session)
        self.names = [(parameter.name, parameter.session) for parameter in self.list]
        self.index = {name: i for i, name in enumerate(self.names)}
        self.wanted = [name for name in KEY_OF if (name, -1) in self.index]

    def _wanted(self, leaning: tuple[str, ...]) -> None:
        tests = self.bench.tests
        present = {
            "tank": True,
            "still": any(not test.pump_on for test in tests),
            "spraying": any(test.pump_on for test in tests),
            "share": any(test.pump_on for test in tests),
            "quick": any(test.ware_in and test.pump_on for test in tests),
            "slow": any(test.ware_in and not test.pump_on for test in tests),
            "element": any(test.element_from_s is not None for test in tests),
        }
        for name in (name for name, there in present.items() if there):
            like = self.known.like.get(KEY_OF[name])
            typical = TYPICAL[name] if like is None else like.nominal
            if name in leaning and like is not None:
                sd = max(_half(like) / SQRT_3, 1e-3 * typical)
                sd = sd if name == "share" else sd / typical
            else:
                sd = OPEN_SD
            if name == "share":
                self.list.append(Parameter(name, -1, typical, False, sd, -typical, 1.0 - typical))
            else:
                self._add_log(name, typical, sd, typical / 30.0, typical * 30.0)

    def _of_session(self, at: int) -> None:
        bench, known = self.bench, self.known
        first, tests = bench.first(at), [bench.tests[i] for i in bench.sessions[at].tests]
        self._add("room", 0.0, max(*map(room_error_k, tests), 1e-3) / SQRT_3, at)
        scales_sd = self.instruments.scales_error_kg * np.sqrt(2.0 / 3.0)
        self._add_log("water", first.water_kg, max(scales_sd / first.water_kg, 1e-5), 0.0, np.inf, at)
        if first.poured_c is not None:
            self._add("pour", POUR_LOSS, POUR_LOSS_SD, at)
        else:
            self._add("bath_start", 0.0, STOOD_K if first.stood_at_room else ANYWHERE_K, at)
        if any(test.ware_in for test in tests):
            self._add("ware_start", 0.0, STOOD_K if _cold(first) else ANYWHERE_K, at)
        if any(test.element_from_s is not None for test in tests):
            own = next((t.voltage_v for t in tests if t.voltage_v is not None), None)
            volts = known.supply_v
            error = self.instruments.voltmeter_error_share if own else _half(volts) / volts.nominal
            self._add("voltage", 0.0, max(error, 1e-4) / SQRT_3, at)
            self._add("element_time", 0.0, max(self._switching_share(tests), 1e-5), at)

    def _switching_share(self, tests: list[ThermalTest]) -> float:
        """Standard deviation of the element's time, as a share: stopped twice by hand [1]."""
        spans = [
            (t.log.time_s[-1] if t.element_until_s is None else t.element_until_s) - t.element_from_s
            for t in tests
            if t.element_from_s is not None
        ]
        return float(self.instruments.stopwatch_error_s * np.sqrt(2.0 / 3.0) / max(sum(spans), 1.0))

    def _add(self, name: str, typical: float, sd: float, session: int = -1) -> None:
        reach = 8.0 * sd
        self.list.append(Parameter(name, session, typical, False, sd, -reach, reach))

    def _add_lag(self, name: str) -> None:
        least, most = LEAST_LAG_S - PROBE_LAG_S, 20.0 * PROBE_LAG_SD_S
        self.list.append(Parameter(name, -1, PROBE_LAG_S, False, PROBE_LAG_SD_S, least, most))

    def _add_log(
        self, name: str, typical: float, sd: float, least: float, most: float, session: int = -1
    ) -> None:
        with np.errstate(divide="ignore"):
            low, high = float(np.log(least / typical)), float(np.log(most / typical))
        reach = 8.0 * sd
        self.list.append(Parameter(name, session, typical, True, sd, max(low, -reach), min(high, reach)))

    def _add_range(self, name: str, known: Measured) -> None:
        sd = max(_half(known) / SQRT_3 / known.nominal, 1e-3)
        self._add_log(name, known.nominal, sd, 0.0, np.inf)

    def affecting(self, session: int) -> Ints:
        """Which parameters a session's readings depend on: their places in the list."""
        tests = [self.bench.tests[i] for i in self.bench.sessions[session].tests]
        ware = any(test.ware_in for test in tests)
        pump, still = any(test.pump_on for test in tests), any(not test.pump_on for test in tests)
        element = any(test.element_from_s is not None for test in tests)
        needs = {
            "still": still,
            "spraying": pump,
            "share": pump,
            "pump": pump,
            "element": element,
            "quick": ware and pump,
            "slow": ware and still,
            "ware": ware,
            "ware_lag": ware,
            "ware_offset": ware,
            "ware_gain": ware,
            "meter": False,
        }
        return np.array(
            [
                i
                for i, parameter in enumerate(self.list)
                if parameter.session in (-1, session) and needs.get(parameter.name, True)
            ]
        )

    def getter(self, coordinates: Array, session: int = -1) -> Callable[[str, float], Array]:
        """Look-up of values by name in coordinates of shape (cases, parameters); a default where absent."""

        def get(name: str, default: float) -> Array:
            place = self.index.get((name, session), self.index.get((name, -1)))
            if place is None:
                return np.full(len(coordinates), default)
            return self.list[place].value(coordinates[:, place])

        return get

    def nodes(self, coordinates: Array, session: int) -> Nodes:
        """Make the cases of a session from coordinates of shape (cases, parameters)."""
        get, first = self.getter(coordinates, session), self.bench.first(session)
        offset, gain, room_k = get("bath_offset", 0.0), get("bath_gain", 0.0), get("room", 0.0)

        def true_c(read_c: float) -> Array:
            return np.asarray(read_c - offset - gain * (read_c - GAIN_FROM_C))

        water_kg = get("water", first.water_kg)
        began_c = true_c(first.room_c)
        tank_j = J_PER_KJ * get("tank", 4.5)
        start_k = get("bath_start", 0.0)
        if first.poured_c is not None:
            poured_c = true_c(first.poured_c)
            poured_c = poured_c - get("pour", 0.0) * (poured_c - began_c)
            water_j = J_PER_KJ * specific_heat_kj_per_kg_k(0.5 * (poured_c + first.poured_c)) * water_kg
            bath_c = (water_j * poured_c + tank_j * began_c) / (water_j + tank_j)
        elif first.stood_at_room:
            bath_c = began_c + start_k
        else:
            bath_c = true_c(float(first.log.bath_c[0])) + start_k
        ware_c = (began_c if _cold(first) else bath_c) + get("ware_start", 0.0)
        on_time = (1.0 + get("voltage", 0.0)) ** 2 * (1.0 + get("element_time", 0.0))
        return Nodes(
            tank_j_per_k=tank_j,
            ware_j_per_k=J_PER_KJ * get("ware", 7.0),
            loss_still_w_per_k=get("still", 6.0),
            loss_spraying_w_per_k=get("spraying", 9.0),
            response_still_s=get("slow", 1800.0),
            response_spraying_s=get("quick", 45.0),
            pump_heat_w=get("share", 0.5) * get("pump", 0.0),
            element_w=get("element", 0.0) * on_time,
            evaporation=get("evaporation", 1.0),
            bath_lag_s=get("bath_lag", PROBE_LAG_S),
            ware_lag_s=get("ware_lag", PROBE_LAG_S),
            bath_c=bath_c,
            ware_c=ware_c,
            room_over_k=room_k + began_c - first.room_c,
            water_kg=water_kg,
        )

    @property
    def sd(self) -> Array:
        """Standard deviations of what is known beforehand."""
        return np.array([parameter.sd for parameter in self.list])

    @property
    def bounds(self) -> tuple[Array, Array]:
        """Bounds of the coordinates."""
        return np.array([p.least for p in self.list]), np.array([p.most for p in self.list])


def room_error_k(test: ThermalTest) -> float:
    """By how much the room may have been another, the second reading of it counted in [K]."""
    if test.room_end_c is None:
        return test.room_error_k
    return max(test.room_error_k, abs(test.room_end_c - test.room_c) - TWO_READINGS_K)


def _cold(test: ThermalTest) -> bool:
    """Whether the load was as warm as the room; one that is wet was sprayed, and is not."""
    return test.ware_at_room and not test.ware_wet


def _half(measured: Measured) -> float:
    """Larger of the two half-widths."""
    return max(measured.high - measured.nominal, measured.nominal - measured.low)
