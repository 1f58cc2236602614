"""Record the nominal run, one sample a second, for people to look at."""

from __future__ import annotations

import numpy as np

from optimizer.check.cases import Array
from optimizer.check.certificate import Trace
from optimizer.check.meters import Meter
from optimizer.check.model import BOILING_C
from optimizer.check.simulate import Stretch
from optimizer.physics.water import density_kg_per_l


class Recorder(Meter):
    """Keeps one case of a simulation.

    Parameters
    ----------
    case : int
        Which case [1].
    """

    def __init__(self, case: int) -> None:
        self._case = case
        self._end_s = 0.0
        self._samples: list[Array] = []
        self._starts_s: list[float] = []
        self._outputs: list[tuple[bool, bool, bool, bool]] = []

    def _see(self, stretch: Stretch) -> None:
        samples, on = stretch.samples, stretch.phase.outputs
        columns = (samples.time_s, samples.bath_c, samples.ware_c, samples.water_kg)
        block = np.array([column[self._case] for column in columns])
        block[0] += self._end_s
        self._samples.append(block)
        if block[0, -1] > self._end_s:
            self._starts_s.append(self._end_s)
            self._outputs.append((on.inlet, bool(stretch.element[self._case]), on.wash_pump, on.drain_pump))
        self._end_s = float(block[0, -1])

    def trace(self) -> Trace:
        """Sample what was recorded.

        Returns
        -------
        Trace
            One sample a second [s], from 0 to the last whole second.
        """
        recorded = np.hstack(self._samples)
        time_s = np.arange(np.floor(self._end_s + 1e-6) + 1.0)
        bath_c, ware_c, water_kg = (np.interp(time_s, recorded[0], values) for values in recorded[1:])
        # A whole second belongs to what starts there, whatever rounding did to the sum of durations.
        part = np.searchsorted(np.array([*self._starts_s, self._end_s]), time_s + 1e-6, side="right") - 1
        inlet, element, wash_pump, drain_pump = np.array([*self._outputs, (False,) * 4])[part].T
        level_l = water_kg / density_kg_per_l(np.minimum(bath_c, BOILING_C))
        return Trace(time_s, bath_c, ware_c, level_l, inlet, element, wash_pump, drain_pump)
