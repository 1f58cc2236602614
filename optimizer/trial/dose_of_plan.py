"""The dose that a plan gave to a soil, and how far it may be off.

A plan is simulated with the check's equations at the nominal machine; how far its dose may be off is worked
out from every measured quantity at its two ends (GUM, JCGM 100:2008, 4.3.7 and 5.1: rectangular, added in
quadrature).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.check.box import Box, box_of
from optimizer.check.certify import SEARCH_RTOL, Runs
from optimizer.check.lethality import dissolving_s, soil_rate
from optimizer.check.meters import DoseMeter, Recorder
from optimizer.check.requirements import Findings, Judged
from optimizer.profile.goal import Dose
from optimizer.programme.plan import Plan
from optimizer.trial.dose_of_wash import Heat, WashDose, ln_sd
from optimizer.trial.dose_response import Array
from optimizer.units import S_PER_MIN

FROM_RUN_TO_RUN = frozenset(
    {
        *("voltage_v", "inlet_c", "room_c", "flow_l_per_min", "drain_l_per_min", "drain_lag_s", "level_l"),
        *("residual_l", "film_l", "humidity_pct", "start_share", "start_chill_share"),
    }
)
"""Quantities that are another in each wash; the others are the machine's, and the same in all of its
washes."""


@dataclass(frozen=True)
class PlanRun:
    """A plan run at the nominal machine and with each measured quantity at each of its ends.

    Attributes
    ----------
    doses : dict of str to WashDose
        By name of the dose; one that the plan does not give has a dose of 0.
    broken : tuple of str
        Requirements of the plan's own goal that it breaks at one of these points.
    """

    doses: Mapping[str, WashDose]
    broken: tuple[str, ...]


def run_plan(plan: Plan, doses: tuple[Dose, ...]) -> PlanRun:
    """Simulate what a plan gives to soils, and hold it against its own goal on the way."""
    inputs, box = plan.inputs, box_of(plan.inputs.machine)
    # Detergent is dosed and dissolves as the plan's goal says; the soils are those that are asked about.
    goal = inputs.goal.model_copy(update={"dose": list(doses)})
    points, moved = _single_moves(box)
    meter = DoseMeter(goal, plan.constants, box.cases(points))
    recorder = Recorder(case=0)
    runs = Runs(plan.constants, inputs.machine, inputs.goal, inputs.circuit, box)
    found = runs.run(points, SEARCH_RTOL, (meter, recorder))
    heats = {dose.name: _heat(plan, dose, recorder) for dose in doses}
    given = {
        dose.name: _wash_dose(meter.doses_s[dose.name] / S_PER_MIN, moved, box, heats[dose.name], plan)
        for dose in doses
    }
    return PlanRun(given, _broken(found))


def _single_moves(box: Box) -> tuple[Array, list[tuple[int, int, int]]]:
    """Points of the nominal machine and of each quantity at each end: place of it, and of its two points."""
    points, moved = [box.nominal], []
    for place in range(box.size):
        ends = []
        for value in (box.low[place], box.high[place]):
            point = box.nominal.copy()
            point[place] = value
            ends.append(len(points))
            points.append(point)
        moved.append((place, ends[0], ends[1]))
    return np.array(points), moved


def _wash_dose(
    dose_min: Array, moved: list[tuple[int, int, int]], box: Box, heat: Heat, plan: Plan
) -> WashDose:
    machine = plan.inputs.names[0]
    if dose_min.min() <= 0.0:
        return WashDose(float(dose_min[0]), 0.0, 0.0, heat, "plan", machine, may_be_none=True)
    common, own = 0.0, 0.0
    for place, low, high in moved:
        variance = ln_sd(float(dose_min[low]), float(dose_min[high])) ** 2
        if box.names[place] in FROM_RUN_TO_RUN:
            own += variance
        else:
            common += variance
    return WashDose(float(dose_min[0]), math.sqrt(common), math.sqrt(own), heat, "plan", machine)


def _heat(plan: Plan, dose: Dose, recorder: Recorder) -> Heat:
    """Seconds of the nominal run's sprays and soaks, at the temperatures of the ware."""
    trace, constants = recorder.trace(), plan.constants
    mechanics = plan.inputs.machine.wash_pump.mechanics_factor.nominal
    starts = np.flatnonzero(np.diff(trace.wash_pump.astype(int), prepend=0) == 1)
    sprayed = [row for row in constants.rounds if row.spray_s > 0]
    firsts = np.cumsum([0, *(1 + bool(row.soak_s) + bool(row.mix_s) for row in sprayed)])
    ware_c, counts_s = [], []
    for first, row in zip(starts[firsts[:-1]], sprayed, strict=True):
        if row.kind not in dose.kinds:
            continue
        during = slice(first, first + row.spray_s + (row.soak_s + 2 * constants.gap_s if row.soak_s else 0))
        on = trace.wash_pump[during]
        at_c = trace.ware_c[during]
        bare = np.cumsum(on) <= dissolving_s(row, plan.inputs.goal)
        floor_c = soil_rate(dose, detergent=False).floor_c
        dissolved = at_c >= plan.inputs.goal.dissolves_from_c
        share = np.where(on, mechanics, dose.soak_share)
        ware_c.append(at_c)
        counts_s.append(share * np.where(bare, dose.bare_share * (at_c >= floor_c), dissolved))
    if not ware_c:
        return Heat(np.zeros(0), np.zeros(0))
    return Heat(np.concatenate(ware_c), np.concatenate(counts_s))


OF_THE_SLOWEST = ("heat.cold_sensor_s",)
"""Requirements whose limit is that of the slowest point of the whole box, which is none of those run here."""


def _broken(found: Findings) -> tuple[str, ...]:
    broken = []
    for one in found.judged():
        if one.key in OF_THE_SLOWEST:
            continue
        if isinstance(one, Judged):
            if not one.row(int(one.badness.argmax()), "").passed:
                broken.append(one.requirement)
        elif not one.passed:
            broken.append(one.requirement)
    return tuple(dict.fromkeys(broken))
