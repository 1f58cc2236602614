"""Meters for what the sensor of the bath sees: its hottest reading, how long each heating takes, and how long
it stands still."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from optimizer.check.box import box_of
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.meters import Meter
from optimizer.check.worst_cases import Array, Cases, fault_cases, repeated
from optimizer.check.worst_points import WorstPoints
from optimizer.option_defaults import DRAWS, SEED
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

ROUGH = 1e-5
"""Relative tolerance of the integration where a tenth of a kelvin is enough [1]."""


MOVES_K, MOVES_S, STILL_FACTOR = 1.0, 600, 1.25
"""A sensor counts as dead if its reading has not changed by so much [K] in so long [s], or in this multiple
of the longest time for which a sound one stands still at any point [1]: readings are coarse, and late."""


class SensorMeter(Meter):
    """Readings of the sensor, and the heatings that it ends."""

    hottest_c: Array
    """Hottest reading while anything may be on [°C]."""
    heating_s: dict[int, Array]
    """By round, from 0: how long its heating to the setpoint took in each case [s]."""

    def __init__(self, constants: Constants, cases: Cases) -> None:
        self._constants = constants
        self._cases = cases
        self.hottest_c = np.full(cases.count, -np.inf)
        self.heating_s = {}

    def add(self, stretch: Stretch) -> None:
        """Count every phase but the standing at the end."""
        phase, samples = stretch.phase, stretch.samples
        if phase.name == "stand":
            return
        self.hottest_c = np.maximum(self.hottest_c, self._hottest_c(stretch))
        if phase.end == "setpoint":
            self.heating_s[phase.round] = samples.lasted_s

    def _hottest_c(self, stretch: Stretch) -> Array:
        """Hottest reading, in a layer of its own while the bath is heated with the pump off [°C].

        No layer is the hotter the colder its bath is: the hottest bath gives it.
        """
        bath_c, cases = stretch.samples.bath_c.max(axis=1), self._cases
        layer_c = np.minimum(bath_c + cases.sensor_over_mean_k, np.maximum(bath_c, cases.boils_c))
        layered = stretch.element & (not stretch.phase.outputs.wash_pump)
        return np.asarray(np.where(layered, layer_c, bath_c) + cases.sensor_error_k)


COOLED_K = 2.0
"""A round whose bath comes no closer than this to what the drain pipe stands has nothing to cool [K]; *no
source*, our choice."""


class HottestOfRounds(Meter):
    """Hottest bath of each round while anything is on or it rests [°C]."""

    def __init__(self, constants: Constants, cases: Cases) -> None:
        self.hottest_c = np.full((len(constants.rounds), cases.count), -np.inf)

    def add(self, stretch: Stretch) -> None:
        """Count every phase of a round but its drain."""
        number = stretch.phase.round
        if number >= 0 and stretch.phase.name not in ("drain", "stand"):
            bath_c = stretch.samples.bath_c.max(axis=1)
            self.hottest_c[number] = np.maximum(self.hottest_c[number], bath_c)


@lru_cache(maxsize=16)
def cooled_rounds(constants: Constants, machine: Machine) -> tuple[bool, ...]:
    """Say of each round whether its bath is too hot for the drain pipe before it has cooled, or nearly so."""
    if machine.drain_pump.stands_the_boil:
        return (False,) * len(constants.rounds)
    cases = _both_readings(machine)
    meter = HottestOfRounds(constants, cases)
    for stretch in Simulation(constants, cases, machine.tank.vent_m2, ROUGH).run():
        meter.add(stretch)
    hottest_c = meter.hottest_c.max(axis=1)
    return tuple(bool(each) for each in hottest_c > machine.drain_pump.drain_limit_c - COOLED_K)


def _both_readings(machine: Machine) -> Cases:
    """Hot and cold ends of the tolerances, the sensor low in half of the cases and high in the others."""
    few = fault_cases(machine)
    error_k = np.abs(few.sensor_error_k)
    return replace(repeated(few, 2), sensor_error_k=np.concatenate([-error_k, error_k]))


@lru_cache(maxsize=16)
def hottest_reading_c(constants: Constants, machine: Machine) -> float:
    """Hottest reading of a sound run, at the hot and the cold ends of the tolerances [°C].

    The sensor reads low in half of the cases and high in the others.
    """
    both = _both_readings(machine)
    meter = SensorMeter(constants, both)
    simulation = Simulation(constants, both, machine.tank.vent_m2, ROUGH)
    for stretch in simulation.run():
        meter.add(stretch)
    return float(meter.hottest_c.max())


class StillSensorMeter(Meter):
    """How long the sensor of the bath reads the same while the element is on.

    A controller takes a sensor that stands still for too long for a dead one, so it has to know how long
    a sound one may. A change of at least ``moves_k`` counts as a movement.
    """

    longest_s: Array
    """Longest time without a movement while the element was on, one value a case [s]."""

    def __init__(self, cases: Cases, moves_k: float) -> None:
        self._moves_k = moves_k
        self._since_s = np.zeros(cases.count)
        self._moved_c = np.full(cases.count, np.nan)
        self.longest_s = np.zeros(cases.count)

    def add(self, stretch: Stretch) -> None:
        """Count the time since the last movement; it starts again whenever the element is off."""
        samples = stretch.samples
        # Boiling water keeps the sensor still: a controller does not look then.
        on = stretch.element & (not stretch.phase.steam)
        self._moved_c = np.where(np.isnan(self._moved_c), samples.bath_c[:, 0], self._moved_c)
        for step_s, now_c in zip(np.diff(samples.time_s, axis=1).T, samples.bath_c[:, 1:].T, strict=True):
            self._since_s = self._since_s + step_s
            self.longest_s = np.where(on, np.maximum(self.longest_s, self._since_s), self.longest_s)
            moved = ~on | (np.abs(now_c - self._moved_c) >= self._moves_k)
            self._since_s = np.where(moved, 0.0, self._since_s)
            self._moved_c = np.where(moved, now_c, self._moved_c)


@lru_cache(maxsize=16)
def longest_still_s(constants: Constants, machine: Machine, moves_k: float) -> float:
    """Longest time for which a sound sensor stands still while the element is on, at any point [s]."""
    box = box_of(machine)

    def still_s(points: Array) -> Array:
        cases = box.cases(points)
        meter = StillSensorMeter(cases, moves_k)
        simulation = Simulation(constants, cases, machine.tank.vent_m2)
        for stretch in simulation.run():
            meter.add(stretch)
        return meter.longest_s[:, None]

    search = WorstPoints(box, still_s)
    search.find(DRAWS, SEED)
    return search.worst_value(0)


def moves_least_s(constants: Constants, machine: Machine) -> int:
    """Find the least WASH_SENSOR_MOVES_S with which no sound run ends [s]."""
    still_s = longest_still_s(constants, machine, MOVES_K) if machine.element else 0.0
    return max(1, math.ceil(still_s * STILL_FACTOR))


def moves_s(constants: Constants, machine: Machine) -> int:
    """Give WASH_SENSOR_MOVES_S: with the element on for so long a sensor that has stuck is found [s]."""
    return max(MOVES_S, moves_least_s(constants, machine))
