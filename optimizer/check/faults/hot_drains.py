"""What stands against a drain in its turn that is too hot for its pipe, by what runs with a fault showed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.check.aim import Values, furthest
from optimizer.check.drain_wait import drain_lets_pass_c, drain_stop_dc
from optimizer.check.drawn_cases import Spread
from optimizer.check.faults.guard_words import BEGINS_NO_DRAIN, LETS_PASS
from optimizer.check.faults.guards import Guards
from optimizer.check.faults.harm_meter import FaultMeter
from optimizer.check.faults.outcome import FaultRow
from optimizer.check.faults.past import Course
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.worst_cases import Array
from optimizer.profile.machine import Machine

PASSES = re.compile(re.escape(LETS_PASS).replace(r"\{\}", r"(\d+)"))
"""The guard that says how hot may pass, with its two numbers."""


def by_what_passes(
    machine: Machine, guards: Guards, meters: Sequence[FaultMeter], further_c: float = -math.inf
) -> Guards:
    """Name the pipe in place of the look before a drain, where that look lets anything too hot pass.

    A sensor may read too little: only where every drain that was too hot reads more than WASH_DRAIN_STOP_DC
    all the same is the look a guard. ``further_c`` is what a search has found to pass [°C].
    """
    passed_c = max(further_c, *(float(meter.let_pass_c.max()) for meter in meters))
    if not np.isfinite(passed_c):
        return guards
    most_c = math.ceil(max(passed_c, drain_lets_pass_c(machine)) - 1e-6)
    looks = BEGINS_NO_DRAIN.format(drain_stop_dc(machine))
    said = LETS_PASS.format(drain_stop_dc(machine), most_c)
    named = tuple(said if guard == looks else guard for guard in guards["hot_drain"])
    return guards | {"hot_drain": named}


def most_passed_c(rig: Rig, courses: Sequence[Course], runs: Sequence[Observation]) -> float:
    """Climb from the case that lets the hottest water pass, and give how hot it gets [°C]; -inf for none."""
    at = int(np.argmax([run.meter.let_pass_c.max() for run in runs]))
    passed_c = runs[at].meter.let_pass_c
    if rig.spread is None or not np.isfinite(passed_c.max()):
        return float(passed_c.max())
    box, points = rig.spread.box, rig.spread.points

    def run(some: Array) -> Values:
        return {"passes": courses[at](rig.at(Spread.of(box, some))).meter.let_pass_c}

    return furthest(box, points, {"passes": passed_c}, run)["passes"]


def one_pipe(rows: Sequence[FaultRow]) -> tuple[FaultRow, ...]:
    """Let every row say of the look before a drain the hottest that any says: there is one pipe to buy."""
    said = [found for row in rows for guard in row.guards if (found := PASSES.fullmatch(guard))]
    if not said:
        return tuple(rows)
    hottest = max(said, key=lambda one: int(one[2]))[0]
    return tuple(
        replace(row, guards=tuple(hottest if PASSES.fullmatch(guard) else guard for guard in row.guards))
        for row in rows
    )
