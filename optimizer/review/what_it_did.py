"""What a run did: each round, and each dose with an interval, by the machine that its log shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import box_of
from optimizer.check.certificate import Trace
from optimizer.check.meters import DoseMeter
from optimizer.check.phases import OFF, Outputs, phases
from optimizer.check.trace_rounds import round_parts, round_peaks_c
from optimizer.programme.plan import Plan
from optimizer.review.bath_courses import simulation_of
from optimizer.review.delivered import Delivered, Step
from optimizer.review.machine_fit import SIGMAS
from optimizer.review.machine_now import MachineNow
from optimizer.review.phases_found import drawn_w
from optimizer.review.run_log import RunLog
from optimizer.units import J_PER_KWH, S_PER_MIN

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RoundPlanned:
    """A round of the plan's nominal run: peak of the bath [°C], electricity [kWh], water let in [l]."""

    peak_c: float
    electricity_kwh: float
    water_l: float


@dataclass(frozen=True)
class RoundDone:
    """A round, asked and done.

    Attributes
    ----------
    kind : str
        ``prerinse``, ``wash``, ``rinse`` or ``steam``.
    asked_s, lasted_s : int
        How long it lasts as written, phases that a sensor or a switch ends at their longest, and how long it
        did [s].
    peak_c : float or None
        Hottest reading of the bath while it is sprayed or heated [°C]; None where there is none.
    electricity_kwh, water_l : float or None
        By the log's watts and its water meter [kWh, l].
    whole : bool
        Whether the log holds all of it.
    planned : RoundPlanned or None
        What the plan's nominal run has of it; None where the plan was not checked.
    """

    kind: str
    asked_s: int
    lasted_s: int
    peak_c: float | None
    electricity_kwh: float | None
    water_l: float | None
    whole: bool
    planned: RoundPlanned | None = None


@dataclass(frozen=True)
class DoseDone:
    """A dose, asked, planned and delivered [min; s for hygiene].

    Attributes
    ----------
    key : str
        As in a certificate: ``dose.grease``, ``hygiene.a0``.
    unit : str
        ``min`` or ``s``.
    asked, planned : float
        What the goal asks for, and what the plan gives the machine as measured.
    low, value, high : float
        What the run gave: its 95 % interval and the most likely value.
    worst : float or None
        What the plan gives at the worst point of the tolerances, by its certificate; None where the plan
        was not checked.
    explained : bool
        Whether few quantities explain the log; where not, no dose is sure.
    """

    key: str
    unit: str
    asked: float
    planned: float
    low: float
    value: float
    high: float
    worst: float | None = None
    explained: bool = True

    @property
    def verdict(self) -> str:
        """``delivered``, ``short``, or ``not sure`` where the interval holds the limit or nothing fits."""
        if not self.explained:
            return "not sure"
        if self.low >= self.asked:
            return "delivered"
        return "short" if self.high < self.asked else "not sure"


def rounds_done(
    plan: Plan, log: RunLog, done: Delivered, planned: Sequence[RoundPlanned] = ()
) -> tuple[RoundDone, ...]:
    """Put what was asked of each round beside what was done."""
    found = []
    asked = [phase for phase in phases(plan.constants) if phase.name != "stand"]
    for number, row in enumerate(plan.constants.rounds):
        steps = [step for step in done.steps if step.phase.round == number]
        left = [phase for phase in done.left_out if phase.round == number]
        if not steps:
            continue
        lasted_s = sum(step.lasted_s for step in steps)
        start_s = steps[0].start_s
        during = (log.time_s >= start_s) & (log.time_s <= start_s + lasted_s)
        peak_c = _peak_c(log, steps)
        # A gap that fell between two rows was asked for all the same.
        asked_s = sum(phase.longest_s for phase in asked if phase.round == number)
        used = _kwh(log, during), _litres(log, during)
        of_plan = planned[number] if planned else None
        found.append(RoundDone(row.kind, asked_s, lasted_s, peak_c, *used, whole=not left, planned=of_plan))
    return tuple(found)


def rounds_planned(plan: Plan, trace: Trace) -> tuple[RoundPlanned, ...]:
    """Read from the plan's nominal run what each round of it has."""
    machine = plan.inputs.machine
    idle_w = drawn_w(machine, OFF)
    watts = np.full(len(trace.time_s), idle_w)
    for name in (field.name for field in fields(Outputs)):
        watts += (drawn_w(machine, replace(OFF, **{name: True})) - idle_w) * getattr(trace, name)
    flow_l_per_s = machine.inlet.flow_l_per_min.nominal / S_PER_MIN
    return tuple(
        RoundPlanned(
            peak_c,
            float(watts[part].sum() / J_PER_KWH),
            float(trace.inlet[part].sum() * flow_l_per_s),
        )
        for part, peak_c in zip(round_parts(trace), round_peaks_c(trace), strict=True)
    )


def _peak_c(log: RunLog, steps: Sequence[Step]) -> float | None:
    """Hottest reading while it is sprayed or heated; before that the sensor may hang in the dry."""
    if log.bath_c is None:
        return None
    at_work = np.zeros(len(log.time_s), dtype=bool)
    for step in steps:
        start_s = step.start_s
        for part in step.parts:
            if part.outputs.wash_pump or part.outputs.element:
                at_work |= (log.time_s >= start_s) & (log.time_s <= start_s + part.longest_s)
            start_s += part.longest_s
    read_c = log.bath_c[at_work & np.isfinite(log.bath_c)]
    return float(read_c.max()) if len(read_c) else None


def _litres(log: RunLog, during: NDArray[np.bool_]) -> float | None:
    """A water meter that only rises."""
    if log.water_l is None:
        return None
    read_l = log.water_l[during & np.isfinite(log.water_l)]
    return float(read_l[-1] - read_l[0]) if len(read_l) else None


def _kwh(log: RunLog, during: NDArray[np.bool_]) -> float | None:
    if log.power_w is None:
        return None
    read = during & np.isfinite(log.power_w)
    if int(read.sum()) < 2:
        return None
    return float(np.trapezoid(log.power_w[read], log.time_s[read]) / J_PER_KWH)


def doses_done(plan: Plan, done: Delivered, now: MachineNow) -> tuple[DoseDone, ...]:
    """Work out the doses of what was done, by the machines that the log allows.

    The interval holds what the log leaves open of the machine, and the spray's strength, which no log shows.
    """
    machine, goal = plan.inputs.machine, plan.inputs.goal
    box = box_of(machine)
    nominal = {name: np.array([value]) for name, value in box.table(box.nominal).items()}
    planned = _doses(plan, None, nominal)
    tables = {name: np.append(now.table[name], values) for name, values in now.draws.items()}
    delivered = _doses(plan, done, tables)
    strength = machine.wash_pump.mechanics_factor
    asked = {f"dose.{dose.name}": dose.minutes.high for dose in goal.dose}
    if goal.hygiene.method != "none" and goal.hygiene.target_s is not None:
        asked[f"hygiene.{goal.hygiene.method}"] = goal.hygiene.target_s
    found = []
    for key, limit in asked.items():
        values = delivered[key]
        spread = float(values[1:].std())
        low, high = values[0] - SIGMAS * spread, values[0] + SIGMAS * spread
        if key.startswith("dose."):
            low *= strength.low / strength.nominal
            high *= strength.high / strength.nominal
        unit = "min" if key.startswith("dose.") else "s"
        value = float(values[0])
        found.append(
            DoseDone(
                key,
                unit,
                limit,
                float(planned[key][0]),
                max(float(low), 0.0),
                value,
                float(high),
                explained=now.explained,
            )
        )
    return tuple(found)


def _doses(plan: Plan, done: Delivered | None, table: dict[str, Array]) -> dict[str, Array]:
    goal, simulation = plan.inputs.goal, simulation_of(plan, table)
    meter = DoseMeter(goal, plan.constants, simulation.cases)
    for stretch in simulation.run(None if done is None else done.to_simulate):
        meter.add(stretch)
    found = {f"dose.{name}": dose_s / S_PER_MIN for name, dose_s in meter.doses_s.items()}
    return found | {f"hygiene.{goal.hygiene.method}": meter.hygiene_s}
