"""A simulated run: the log that a machine drawn from its tolerances would write, drifted or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import box_of
from optimizer.check.certificate import Trace
from optimizer.check.integrate import Simulation
from optimizer.check.meters import Recorder
from optimizer.check.worst_cases import cases_at
from optimizer.errors import InputError, InputIssue
from optimizer.physics.water import boiling_c
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.drifts import Drift, drifted
from optimizer.units import S_PER_MIN, short

Array = NDArray[np.float64]

NOISE_K, STEP_K = 0.1, 0.1
"""Noise of a cheap thermometer, a standard deviation, and its resolution [K]: our choice."""

NOISE_SHARE, STEP_W = 0.005, 1.0
"""Noise of a plug-in meter, a share of the reading, and its resolution [1, W]: our choice."""

COLUMNS = ("time_s", "bath_c", "power_w", "inlet", "element", "wash_pump", "drain_pump")


@dataclass(frozen=True)
class SimulatedRun:
    """A simulated run as a log.

    Attributes
    ----------
    table : dict of str to float
        The machine that ran: every quantity of the tolerances, in its unit.
    trace : Trace
        The run itself, a sample a second.
    rows : ndarray, shape (samples, columns)
        What sensor, meter and controller would have written, by `COLUMNS`.
    note : str
        First line of the log: that it is simulated, of which seed and which drifts.
    input_sha256 : str
        Hash of the profiles behind the plan that ran, for its second line.
    warning : str
        What the log does not show and a person has to know: that the tank ran over; empty if it did not.
    """

    table: dict[str, float]
    trace: Trace
    rows: Array
    note: str
    input_sha256: str
    warning: str = ""

    def csv(self) -> str:
        """The log as text."""
        lines = [
            f"{time_s:.0f},{bath_c:.1f},{power_w:.0f},{inlet:.0f},{element:.0f},{wash_pump:.0f},{drain_pump:.0f}"
            for time_s, bath_c, power_w, inlet, element, wash_pump, drain_pump in self.rows.tolist()
        ]
        notes = [self.note, *([self.warning] if self.warning else []), f"profiles {self.input_sha256}"]
        head = [*(f"# {note}" for note in notes), ",".join(COLUMNS)]
        return "\n".join([*head, *lines]) + "\n"


def simulate_run(plan: Plan, seed: int, drifts: Sequence[Drift] = (), every_s: int = 1) -> SimulatedRun:
    """Simulate a run of a machine drawn evenly from the tolerances, with the noise of cheap instruments.

    Parameters
    ----------
    plan : Plan
        What runs.
    seed : int
        Seed of the machine and of the noise, 0 or more.
    drifts : sequence of Drift, optional
        What has drifted since it was measured.
    every_s : int
        Time between two lines of the log, 1 or more [s].

    Raises
    ------
    InputError
        A drift makes of a quantity what no machine has, or leaves more water in the sump than the tank holds.
    """
    machine, constants = plan.inputs.machine, plan.constants
    box, random = box_of(machine), np.random.default_rng(seed)
    point = box.low + random.uniform(size=box.size) * (box.high - box.low)
    # A run starts drained or dried out; drawn between, it would start with part of a film.
    point = np.where(np.array(box.names) == "start_share", np.rint(point), point)
    table = drifted(box.table(point), drifts)
    _refuse_full(machine, table, drifts)
    cases = cases_at(machine, ("simulated",), 1, {name: np.array([value]) for name, value in table.items()})
    recorder, over_kg, since_s, now_s = Recorder(0), 0.0, None, 0.0
    lip_kg = machine.tank.capacity_l * float(cases.cold_kg_per_l[0])
    for stretch in Simulation(constants, cases, machine.tank.vent_m2, lip_kg=lip_kg).run():
        if stretch.phase.name == "stand":
            break
        recorder.add(stretch)
        water_kg = stretch.samples.water_kg[0]
        if water_kg[-1] > lip_kg:
            over_kg += float(water_kg[-1]) - lip_kg
            if since_s is None:
                since_s = now_s + float(stretch.samples.time_s[0, int((water_kg > lip_kg).argmax())])
        now_s += float(stretch.samples.lasted_s[0])
    trace = recorder.trace()
    shown = slice(None, None, every_s)
    columns = (
        trace.time_s,
        _read_c(trace, machine, table, random),
        _metered_w(trace, machine, table, random),
        *(getattr(trace, name).astype(float) for name in COLUMNS[3:]),
    )
    rows = np.stack(columns, axis=1)[shown]
    also = f", drifted: {', '.join(map(str, drifts))}" if drifts else ""
    note = f"simulated, seed {seed}{also}: no machine has run"
    warning = ""
    if since_s is not None:
        holds_l, over_l = machine.tank.capacity_l, over_kg / float(cases.cold_kg_per_l[0])
        warning = (
            f"the tank holds {short(holds_l, 3)} l and runs over from minute {since_s / S_PER_MIN:.0f} on, "
            f"{short(over_l, 2)} l in all"
        )
    return SimulatedRun(table, trace, rows, note, constants.input_sha256, warning)


def _refuse_full(machine: Machine, table: dict[str, float], drifts: Sequence[Drift]) -> None:
    """Refuse a sump that holds more than the tank."""
    left_l, holds_l = table["residual_l"], machine.tank.capacity_l
    if left_l < holds_l:
        return
    holds = f"a tank that holds {short(holds_l, 3)} l"
    rule = f"leaves {short(left_l, 3)} l in {holds}: it runs over before the first fill"
    said = ", ".join(str(one) for one in drifts if one.word == "residual")
    raise InputError([InputIssue("--drift", "residual", rule, said, "less of it")])


def _read_c(trace: Trace, machine: Machine, table: dict[str, float], random: np.random.Generator) -> Array:
    """Read the bath; heated with the pump off the sensor sits in a layer, never hotter than the boil."""
    layered = trace.element & ~trace.wash_pump
    layer_k = np.where(layered, table["sensor_over_mean_k"], 0.0)
    there_c = np.minimum(trace.bath_c + layer_k, np.maximum(trace.bath_c, boiling_c(machine.room.height_m)))
    read_c = there_c + table["sensor_error_k"] + NOISE_K * random.standard_normal(len(layered))
    return np.asarray(STEP_K * np.rint(read_c / STEP_K))


def _metered_w(trace: Trace, machine: Machine, table: dict[str, float], random: np.random.Generator) -> Array:
    """Read a meter in the plug."""
    element_w = 0.0
    if machine.element is not None:
        element_w = table["rated_w"] * (table["voltage_v"] / machine.element.rated_v) ** 2
    power_w = (
        machine.supply.controller_w
        + element_w * trace.element
        + table["wash_pump_w"] * trace.wash_pump
        + machine.drain_pump.power_w.nominal * trace.drain_pump
        + machine.inlet.valve_w * trace.inlet
    )
    power_w = power_w * (1.0 + NOISE_SHARE * random.standard_normal(len(power_w)))
    return np.asarray(STEP_W * np.rint(power_w / STEP_W))
