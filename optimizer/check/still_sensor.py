"""How long the bath's sensor may stand still while the element is on and nothing is broken."""

from __future__ import annotations

import numpy as np

from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.meters import Meter
from optimizer.check.worst_cases import Array, Cases, build_cases
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants


class StillMeter(Meter):
    """Watches the bath the way a controller does that looks for a dead sensor.

    Parameters
    ----------
    cases : Cases
        The cases.
    moves_k : float
        Change of temperature that counts as a movement [K].
    """

    longest_s: Array
    """Longest time without a movement while the element was on [s], one value a case."""

    def __init__(self, cases: Cases, moves_k: float) -> None:
        self._moves_k = moves_k
        self._since_s = np.zeros(cases.count)
        self._moved_c = np.full(cases.count, np.nan)
        self.longest_s = np.zeros(cases.count)

    def _see(self, stretch: Stretch) -> None:
        samples = stretch.samples
        # Boiling water keeps the sensor still: a controller does not ask then.
        on = stretch.element & (not stretch.phase.steam)
        self._moved_c = np.where(np.isnan(self._moved_c), samples.bath_c[:, 0], self._moved_c)
        for step_s, now_c in zip(np.diff(samples.time_s, axis=1).T, samples.bath_c[:, 1:].T, strict=True):
            self._since_s = self._since_s + step_s
            self.longest_s = np.where(on, np.maximum(self.longest_s, self._since_s), self.longest_s)
            moved = ~on | (np.abs(now_c - self._moved_c) >= self._moves_k)
            self._since_s = np.where(moved, 0.0, self._since_s)
            self._moved_c = np.where(moved, now_c, self._moved_c)


def longest_still_s(constants: Constants, machine: Machine, moves_k: float) -> float:
    """Find how long a sound sensor may stand still while the element is on.

    Parameters
    ----------
    constants : Constants
        The programme.
    machine : Machine
        The machine with its tolerances.
    moves_k : float
        Change of temperature that counts as a movement [K].

    Returns
    -------
    float
        The longest time in any corner of the tolerances [s]; 0 where there is no element.
    """
    cases = build_cases(machine, 0, 1)
    meter = StillMeter(cases, moves_k)
    simulation = Simulation(constants, cases, machine.tank.vent_m2, steam_share=machine.ware.steam_share)
    for stretch in simulation.run():
        meter.see(stretch)
    return float(meter.longest_s.max())
