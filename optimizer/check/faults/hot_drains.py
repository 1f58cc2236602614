"""What stands against a drain in its turn that is too hot for its pipe, by what runs with a fault showed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from optimizer.check.drain_wait import drain_lets_pass_c, drain_stop_dc
from optimizer.check.faults.guard_words import BEGINS_NO_DRAIN, LETS_PASS
from optimizer.check.faults.guards import Guards
from optimizer.check.faults.harm_meter import FaultMeter
from optimizer.profile.machine import Machine


def by_what_passes(machine: Machine, guards: Guards, meters: Sequence[FaultMeter]) -> Guards:
    """Name the pipe in place of the look before a drain, where that look lets anything too hot pass.

    A sensor may read too little: only where every drain that was too hot reads more than WASH_DRAIN_STOP_DC
    all the same is the look a guard.
    """
    passed_c = max(meter.let_pass_c for meter in meters)
    if not np.isfinite(passed_c):
        return guards
    most_c = math.ceil(max(passed_c, drain_lets_pass_c(machine)) - 1e-6)
    looks = BEGINS_NO_DRAIN.format(drain_stop_dc(machine))
    said = LETS_PASS.format(drain_stop_dc(machine), most_c)
    named = tuple(said if guard == looks else guard for guard in guards["hot_drain"])
    return guards | {"hot_drain": named}
