"""A meter for what the sensor of the bath sees: its hottest reading, and how long each heating takes."""

from __future__ import annotations

import numpy as np

from optimizer.check.integrate import Stretch
from optimizer.check.meters import Meter
from optimizer.check.worst_cases import Array, Cases
from optimizer.programme.constants import Constants


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
        reading_c = samples.bath_c.max(axis=1) + self._cases.sensor_error_k
        self.hottest_c = np.maximum(self.hottest_c, reading_c)
        if phase.end == "setpoint":
            self.heating_s[phase.round] = samples.lasted_s
