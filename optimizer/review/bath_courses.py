"""Courses of a run as it was done: the bath, as machines of given quantities would have had it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.phases import Phase
from optimizer.check.worst_cases import Cases, cases_at
from optimizer.programme.plan import Plan

Array = NDArray[np.float64]
ROUGH_RTOL, FEW_SAMPLES = 1e-6, 16
"""As close as the noise of a thermometer asks for [1]."""


def courses(
    plan: Plan, parts: Sequence[Phase], table: Mapping[str, Array], time_s: Array, *, ware: bool = False
) -> Array:
    """Simulate what was done; bath of each machine at each time, as the sensor has it but for its error [°C].

    Parameters
    ----------
    plan : Plan
        The plan that ran.
    parts : sequence of Phase
        What was done, one after the other.
    table : mapping of str to ndarray, shape (machines,)
        By the names of the tolerances: each machine's quantities.
    time_s : ndarray, shape (times,)
        Times since the run began, within it [s].
    ware : bool
        Whether the temperature of the ware is asked for, instead of the bath's.

    Returns
    -------
    ndarray, shape (machines, times)
    """
    simulation = simulation_of(plan, table)
    kept, ended_s = _Kept(simulation.cases, ware=ware), 0.0
    for stretch in simulation.run(parts):
        kept.add(stretch)
        ended_s = float(kept.now_s.max())
    assert ended_s >= float(time_s.max()) - 1.0, "a time after the end of the run"
    return kept.at(time_s)


def simulation_of(plan: Plan, table: Mapping[str, Array]) -> Simulation:
    """Make ready to run a plan on machines of given quantities, as closely as a log asks for."""
    machine = plan.inputs.machine
    count = len(next(iter(table.values())))
    cases = cases_at(machine, ("",) * count, count, dict(table))
    return Simulation(
        plan.constants, cases, machine.tank.vent_m2, rtol=ROUGH_RTOL, samples_per_step=FEW_SAMPLES
    )


class _Kept:
    """All samples of all cases."""

    def __init__(self, cases: Cases, *, ware: bool) -> None:
        self._cases, self._ware = cases, ware
        self.now_s = np.zeros(cases.count)
        self._time_s: list[Array] = []
        self._bath_c: list[Array] = []

    def add(self, stretch: Stretch) -> None:
        samples = stretch.samples
        layered = stretch.element & (not stretch.phase.outputs.wash_pump)
        layer_k = np.where(layered, self._cases.sensor_over_mean_k, 0.0)[:, None]
        self._time_s.append(self.now_s[:, None] + samples.time_s)
        self._bath_c.append(samples.ware_c if self._ware else samples.bath_c + layer_k)
        self.now_s = self.now_s + samples.lasted_s

    def at(self, time_s: Array) -> Array:
        times_s, baths_c = np.hstack(self._time_s), np.hstack(self._bath_c)
        # A time belongs to what begins there.
        after_s = time_s + 1e-6
        return np.array(
            [np.interp(after_s, times, baths) for times, baths in zip(times_s, baths_c, strict=True)]
        )
