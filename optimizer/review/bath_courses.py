"""Courses of a run as it was done: the bath, as machines of given quantities would have had it."""

from __future__ import annotations

from collections import deque
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
    return courses_and_fills(plan, parts, [part.longest_s for part in parts], table, time_s, ware=ware)[0]


def courses_and_fills(
    plan: Plan,
    parts: Sequence[Phase],
    lasted_s: Sequence[int],
    table: Mapping[str, Array],
    time_s: Array,
    *,
    ware: bool = False,
) -> tuple[Array, Array]:
    """Simulate as `courses` does, fills to a level switch included, and give how long these took as well.

    Each machine closes its switch when its own water is there; what follows begins for all when it did in the
    log, so that a slow inlet shows in the seconds of its fills and not in what comes after.

    Parameters
    ----------
    lasted_s : sequence of int
        How long each part took by the log [s].

    Returns
    -------
    tuple of ndarray
        The courses, shape (machines, times) [°C], and the fills that a switch ends, shape (machines, fills)
        [s].
    """
    simulation = simulation_of(plan, table)
    kept = _Kept(simulation.cases, parts, lasted_s, ware=ware)
    for stretch in simulation.run(parts):
        kept.add(stretch)
    assert float(np.sum(lasted_s)) >= float(time_s.max(initial=0.0)) - 1.0, "a time after the end of the run"
    return kept.at(time_s), kept.fills_s


def simulation_of(plan: Plan, table: Mapping[str, Array]) -> Simulation:
    """Make ready to run a plan on machines of given quantities, as closely as a log asks for."""
    machine = plan.inputs.machine
    count = len(next(iter(table.values())))
    cases = cases_at(machine, ("",) * count, count, dict(table))
    return Simulation(
        plan.constants, cases, machine.tank.vent_m2, rtol=ROUGH_RTOL, samples_per_step=FEW_SAMPLES
    )


def in_water(parts: Sequence[Phase], lasted_s: Sequence[int], time_s: Array) -> NDArray[np.bool_]:
    """Whether at some times a thermometer is in a bath that is well known: neither dry nor being filled.

    While cold water falls into a hot rest of it a second is a kelvin.
    """
    ends_s = np.cumsum(lasted_s)
    wet = np.array([part.wet and part.name not in ("fill", "top_up") for part in parts])
    found: NDArray[np.bool_] = wet[np.minimum(np.searchsorted(ends_s, time_s, side="right"), len(wet) - 1)]
    return found


class _Kept:
    """All samples of all cases."""

    def __init__(self, cases: Cases, parts: Sequence[Phase], lasted_s: Sequence[int], *, ware: bool) -> None:
        self._cases, self._ware = cases, ware
        self._ends_s = deque(
            (part, float(end_s)) for part, end_s in zip(parts, np.cumsum(lasted_s), strict=True)
        )
        self._now_s, self._took_s = np.zeros(cases.count), np.zeros(cases.count)
        self._time_s: list[Array] = []
        self._bath_c: list[Array] = []
        self._fills_s: list[Array] = []

    @property
    def fills_s(self) -> Array:
        """How long fills took that a switch ends, shape (machines, fills) [s]."""
        return np.stack(self._fills_s, axis=1) if self._fills_s else np.empty((self._cases.count, 0))

    def add(self, stretch: Stretch) -> None:
        samples = stretch.samples
        while self._ends_s[0][0] is not stretch.phase:
            self._go_on()
        layered = stretch.element & (not stretch.phase.outputs.wash_pump)
        layer_k = np.where(layered, self._cases.sensor_over_mean_k, 0.0)[:, None]
        time_s = self._now_s[:, None] + self._took_s[:, None] + samples.time_s
        # A fill that takes a machine longer than the log is over when the log says so.
        self._time_s.append(np.minimum(time_s, self._ends_s[0][1]))
        # No layer of water is hotter than the boil.
        boils_c = np.maximum(samples.bath_c, self._cases.boils_c[:, None])
        self._bath_c.append(samples.ware_c if self._ware else np.minimum(samples.bath_c + layer_k, boils_c))
        self._took_s = self._took_s + samples.lasted_s
        if stretch.last:
            if stretch.phase.name == "fill" and stretch.phase.end == "level":
                self._fills_s.append(self._took_s)
            self._go_on()

    def _go_on(self) -> None:
        """The part is over; the next begins when it did in the log."""
        _, end_s = self._ends_s.popleft()
        self._now_s, self._took_s = np.full(self._cases.count, end_s), np.zeros(self._cases.count)

    def at(self, time_s: Array) -> Array:
        times_s, baths_c = np.hstack(self._time_s), np.hstack(self._bath_c)
        # A time belongs to what begins there.
        after_s = time_s + 1e-6
        return np.array(
            [np.interp(after_s, times, baths) for times, baths in zip(times_s, baths_c, strict=True)]
        )
