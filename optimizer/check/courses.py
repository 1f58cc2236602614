"""Courses to draw: the nominal run and the runs of the worst points, a sample a second, and heat on its way.

The simulation is the check's own. It runs once more, at the points that a certificate names, because a
certificate keeps no course but the nominal one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.check.certificate import Certificate
from optimizer.check.heat_flows import HeatFlows, HeatMap
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.lethality import dissolving_s, soil_dose_s
from optimizer.check.meters import Meter, pool_and_level_l
from optimizer.check.worst_cases import QUANTITIES, Array, Cases, cases_at, tolerances
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

DRAWN_RTOL = 1e-5
"""Relative tolerance of the integration for what is drawn [1]; what is judged stands in the certificate."""

NOMINAL = "nominal"
AFTER_S = 1e-6
"""A whole second belongs to the phase that starts there, whatever rounding did to the summed times [s]."""


@dataclass(frozen=True)
class Courses:
    """Runs of one programme, one row a run, one column a second; the nominal run comes first.

    A run that has ended keeps its last value.

    Attributes
    ----------
    names : tuple of str
        ``nominal``, then a requirement's key for each worst point.
    time_s : ndarray
        Seconds since the start, up to the end of the last drain of the longest run [s].
    bath_c, ware_c : ndarray
        Temperatures [°C].
    level_l : ndarray
        Water in the tank [l].
    pool_l : ndarray
        What of it covers element and suction: without film and hold-up [l].
    doses_s : mapping
        By name of the dose: what has been earned so far [s].
    lasted_s : ndarray
        Length of each run, without the standing [s].
    heat : HeatMap
        Where the heat of the nominal run goes.
    """

    names: tuple[str, ...]
    time_s: Array
    bath_c: Array
    ware_c: Array
    level_l: Array
    pool_l: Array
    doses_s: Mapping[str, Array]
    lasted_s: Array
    heat: HeatMap

    def place(self, key: str) -> int:
        """Row of the worst point of a requirement; 0, the nominal run, where it has none."""
        return self.names.index(key) if key in self.names else 0


def courses(constants: Constants, machine: Machine, goal: Goal, certificate: Certificate) -> Courses:
    """Run a programme at the nominal point and at every worst point of its certificate."""
    cases, names = _cases(machine, certificate)
    samples = _Samples(constants, goal, cases)
    heat = HeatFlows(cases)
    for stretch in Simulation(constants, cases, machine.tank.vent_m2, DRAWN_RTOL).run():
        if stretch.phase.name != "stand":
            samples.add(stretch)
            heat.add(stretch)
    return samples.courses(names, heat.map())


def _cases(machine: Machine, certificate: Certificate) -> tuple[Cases, tuple[str, ...]]:
    """Make cases of the nominal point and of the worst points."""
    every = tolerances(machine)
    points = {
        NOMINAL: {name: getattr(every, name).nominal for name in QUANTITIES},
        **certificate.worst_points,
    }
    table = {name: np.array([point[name] for point in points.values()]) for name in QUANTITIES}
    names = tuple(points)
    return cases_at(machine, names, len(names), table), names


class _Samples(Meter):
    """Keeps all samples of all cases, and puts them on one clock."""

    def __init__(self, constants: Constants, goal: Goal, cases: Cases) -> None:
        self._constants, self._goal, self._cases = constants, goal, cases
        self._end_s = np.zeros(cases.count)
        self._sprayed_s = np.zeros(cases.count)
        self._earned_s = {dose.name: np.zeros(cases.count) for dose in goal.dose}
        self._blocks: dict[str, list[Array]] = {}

    def add(self, stretch: Stretch) -> None:
        """Keep a stretch."""
        samples = stretch.samples
        pool_l, level_l = pool_and_level_l(self._cases, stretch)
        columns = {
            "time_s": self._end_s[:, None] + samples.time_s,
            "bath_c": samples.bath_c,
            "ware_c": samples.ware_c,
            "pool_l": pool_l,
            "level_l": level_l,
            **{f"dose {name}": earned_s for name, earned_s in self._doses(stretch)},
        }
        for name, values in columns.items():
            self._blocks.setdefault(name, []).append(values)
        self._end_s = self._end_s + samples.lasted_s

    def _doses(self, stretch: Stretch) -> Iterator[tuple[str, Array]]:
        """Add up each dose from sample to sample, by the integral that the check takes over a whole phase."""
        samples, phase = stretch.samples, stretch.phase
        sprays = phase.outputs.wash_pump
        if not phase.sprayed:
            self._sprayed_s = np.zeros_like(self._sprayed_s)
        row = self._constants.rounds[max(phase.round, 0)]
        times_s = np.stack([samples.time_s[:, :-1], samples.time_s[:, 1:]], axis=-1)
        ware_c = np.stack([samples.ware_c[:, :-1], samples.ware_c[:, 1:]], axis=-1)
        left_s = dissolving_s(row, self._goal) - self._sprayed_s[:, None] - times_s[..., 0] * sprays
        for dose in self._goal.dose:
            earned_s = self._earned_s[dose.name][:, None]
            if phase.sprayed and row.kind in dose.kinds:
                share = (
                    self._cases.mechanics_factor if sprays else np.full(self._cases.count, dose.soak_share)
                )
                more_s = share[:, None] * soil_dose_s(dose, left_s, times_s, ware_c, spraying=sprays)
                earned_s = np.concatenate([earned_s, earned_s + np.cumsum(more_s, axis=1)], axis=1)
            else:
                earned_s = np.repeat(earned_s, samples.time_s.shape[1], axis=1)
            self._earned_s[dose.name] = earned_s[:, -1]
            yield dose.name, earned_s
        if sprays:
            self._sprayed_s = self._sprayed_s + samples.lasted_s

    def courses(self, names: tuple[str, ...], heat: HeatMap) -> Courses:
        """Put the runs on one clock, a sample a second."""
        kept = {name: np.concatenate(blocks, axis=1) for name, blocks in self._blocks.items()}
        time_s = np.arange(np.floor(self._end_s.max() + AFTER_S) + 1.0)
        runs_s = kept.pop("time_s")
        found = {
            name: np.array(
                [np.interp(time_s + AFTER_S, run_s, row) for run_s, row in zip(runs_s, values, strict=True)]
            )
            for name, values in kept.items()
        }
        return Courses(
            names=names,
            time_s=time_s,
            doses_s={dose.name: found.pop(f"dose {dose.name}") for dose in self._goal.dose},
            lasted_s=self._end_s,
            heat=heat,
            **found,
        )
