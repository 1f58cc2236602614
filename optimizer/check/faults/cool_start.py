"""How cool tank and ware have to be before a programme that was cut off is started again.

Asked of the programme that is started, not of the one that was cut: tank and ware at so many degrees, or one
of them as cool as the room, it keeps what its goal allows between ware and bath, and no drain in its turn is
too hot for its pipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from optimizer.check.drawn_cases import with_drawn
from optimizer.check.equations import State
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.phases import phases
from optimizer.check.worst_cases import repeated
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

COOLER_BY_K = 5.0
"""Steps in which it is looked for how cool tank and ware have to be [K]."""
STEP_NOISE_K = 0.1
"""A step between ware and bath that is past its limit by less counts as within it [K]."""
FEW = 24
"""So many drawn points go in besides the corners [1]: a form is written in about a second; *no source*."""


@dataclass(frozen=True)
class CoolStart:
    """Whole temperatures of tank and ware, or less, from which a programme may be started again.

    Attributes
    ----------
    steps_c, drains_c : float or None
        So that it keeps its steps between ware and bath; so that no drain in its turn is too hot [°C]. inf:
        however hot they are left; None: only as cool as the room, or not even then.
    """

    steps_c: float | None
    drains_c: float | None

    @property
    def both_c(self) -> float | None:
        """So that it keeps both; the steps alone where no cooling helps its drains [°C]."""
        if self.steps_c is None or self.drains_c is None:
            return self.steps_c
        return min(self.steps_c, self.drains_c)


@dataclass(frozen=True)
class _Asked:
    """What is asked; goals hold lists, so that as keys they are what is written of them."""

    constants: Constants
    machine: Machine
    circuit: Circuit
    written: str
    goal: Goal = field(compare=False)


def cool_start(constants: Constants, machine: Machine, goal: Goal, circuit: Circuit) -> CoolStart:
    """Find both temperatures of well-formed constants, in steps of 5 K, at corners and drawn points."""
    return _found(_Asked(constants, machine, circuit, repr(goal), goal))


@lru_cache(maxsize=16)
def _found(asked_of: _Asked) -> CoolStart:
    """Find them once: a report of faults and every form of a plan ask the same."""
    constants, machine, goal, circuit = asked_of.constants, asked_of.machine, asked_of.goal, asked_of.circuit
    rig = Rig(constants, machine, goal, circuit, with_drawn(machine, None, FEW), tuple(phases(constants)))
    sound = rig.observe(rig.asked)
    room_c = machine.room.air_c.high
    hottest_c = max(float(sound.meter.hottest_c.max()), room_c)
    steps = math.ceil((hottest_c - room_c) / COOLER_BY_K + 1.0)
    top_c = COOLER_BY_K * math.ceil(hottest_c / COOLER_BY_K)
    tried_c = [at_c for at_c in top_c - COOLER_BY_K * np.arange(steps) if at_c > room_c]
    seen: dict[float, Observation] = {}

    def coolest(misses: Callable[[Observation], bool]) -> float | None:
        """Halve the span: what holds at a temperature holds of anything cooler."""
        low, high = 0, len(tried_c)
        while low < high:
            at = (low + high) // 2
            if tried_c[at] not in seen:
                seen[tried_c[at]] = _started_at(rig, sound, float(tried_c[at]))
            low, high = (at + 1, high) if misses(seen[tried_c[at]]) else (low, at)
        if low == len(tried_c):
            return None
        return math.inf if low == 0 else float(tried_c[low])

    limits, usual = goal.limits, sound.heat
    asked = ((limits.ware_drop_k, "drop_k"), (limits.ware_rise_k, "rise_k"))

    def steps_missed(one: Observation) -> bool:
        return any(
            most_k is not None
            and _most(one, name) > max(most_k, float(getattr(usual, name).max())) + STEP_NOISE_K
            for most_k, name in asked
        )

    def drains_missed(one: Observation) -> bool:
        return bool(np.isfinite(one.meter.tallies["hot_drain"].first_s).any())

    return CoolStart(coolest(steps_missed), coolest(drains_missed))


def _most(one: Observation, name: str) -> float:
    return float(getattr(one.heat, name).max())


def _started_at(rig: Rig, sound: Observation, at_c: float) -> Observation:
    """Start with tank and ware at a temperature, with the ware alone, and with the tank alone; all wet."""
    cases, count = repeated(rig.cases, 3), rig.cases.count
    hot, cool = np.maximum(rig.cases.room_c, at_c), rig.cases.room_c
    fullest_kg = np.max([end.water_kg for end in sound.meter.ends], axis=0)
    start = State(
        np.concatenate([hot, cool, hot]),
        np.concatenate([hot, hot, cool]),
        np.tile(fullest_kg, 3),
        cases.film_kg,
    )
    wet = replace(cases, start_share=np.ones(3 * count))
    return replace(rig, cases=wet).observe(rig.asked, start)
