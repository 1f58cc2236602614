"""Limits of circuit, tank, drain pipe, prerinse, and number of prerinses: which, eased alone, gives a plan.

Each is eased step by step. A limit is named at a value for which a whole plan was found and proven.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from optimizer.errors import Reason
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.feasibility import NONE, Feasibility
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import fits, proven
from optimizer.planner.obstacles import current_reason, hot_feed, untaught
from optimizer.planner.simulation import BELOW_BOIL_K
from optimizer.planner.structure import Mode, Programme
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.profile.machine_loads import DRAIN_STANDS_C

CURRENT = "circuit.running_a"
"""Key of the current that is left for the machine."""

EVERY_PART = "only if every part stands it: tank, hoses, pump and glue"
"""What to mind with a higher tank limit."""

STEP_C = 1.0
"""Step in which the nearest limit of a tank or a drain pipe is looked for [K]."""

FURTHER = 3
"""Whole kelvin over what an obstacle alone asks that are tried [K]; *no source*, our choice."""

FURTHER_C = (0.0, 1.0, 2.0, 4.0, 8.0)
"""How far a limit is eased further where no plan is proven at the least that was found [K]."""


def machine_limits(asked: Feasibility, drop: frozenset[str] = NONE) -> list[Reason]:
    """Which of circuit, tank, drain pipe and prerinses, eased alone, makes a plan possible."""
    found = [ask(asked, drop) for ask in (_circuit, _tank, _drain, _hot_prerinse, _prerinses)]
    return [reason for reason in found if reason is not None]


def _circuit(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least current at which a plan exists, where the circuit keeps heat modes out."""
    assessor = asked.assessor
    currents, circuit = assessor.currents, assessor.inputs.circuit
    if assessor.inputs.machine.element is None:
        return None
    blocked = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if not currents.fits(mode)]
    blocked.sort(key=currents.running_a)
    for mode in blocked:
        reason = replace(current_reason(currents, mode), key=CURRENT)
        needed_a = float(reason.nearest.split()[0])
        if currents.running_a(mode) <= circuit.available_a:
            bigger = circuit.that_starts(needed_a)
        else:
            rating_a = (needed_a + circuit.background_a.high) / circuit.usable_share
            bigger = circuit.model_copy(update={"rating_a": rating_a})
        if proven(asked, assessor.again(replace(assessor.inputs, circuit=bigger)), drop):
            return reason
    return None


def _tank(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least tank limit at which a plan exists, up to what the material stands."""
    machine, boils_c = asked.assessor.inputs.machine, asked.assessor.simulator.boils_c
    if machine.element is None:
        return None
    # A bath that is held must not boil; one heated by time alone may come near the limit only at the boil.
    timed = machine.element.control == "timed"
    boils_c -= 0.0 if timed else BELOW_BOIL_K
    most_c = min(MATERIAL_LIMIT_C[machine.tank.material], math.ceil(boils_c))

    def standing(limit_c: float) -> Machine:
        return machine.model_copy(update={"tank": machine.tank.model_copy(update={"limit_c": limit_c})})

    least_c = _least_limit(asked, drop, (machine.tank.limit_c, most_c), standing)
    if least_c is None:
        return None
    now, nearest = f"{machine.tank.limit_c:g} °C", f"{least_c:g} °C"
    advice = f"{EVERY_PART}; or {machine.open_loop_advice}" if timed else EVERY_PART
    return Reason("tank limit", now, nearest, advice, "tank.bath_c")


def _drain(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least limit of the drain pipe at which a plan exists."""
    machine = asked.assessor.inputs.machine
    if not asked.assessor.may_drain_hot:
        return None

    def standing(limit_c: float) -> Machine:
        pipe = machine.drain_pump.model_copy(update={"drain_limit_c": limit_c})
        return machine.model_copy(update={"drain_pump": pipe})

    least_c = _least_limit(asked, drop, (machine.drain_pump.drain_limit_c, DRAIN_STANDS_C), standing)
    if least_c is None:
        return None
    now, nearest = f"{machine.drain_pump.drain_limit_c:g} °C", f"{least_c:g} °C"
    advice = "a drain pipe that stands it, where the local code lets it; or a larger tank to top up"
    return Reason("drain temperature", now, nearest, advice, "drain.bath_c")


def _hot_prerinse(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least limit of a prerinse at which a plan exists, where the feed alone comes near it."""
    inputs = asked.assessor.inputs
    if inputs.goal.prerinse.rounds_min == 0:
        return None
    reason = hot_feed(asked.assessor)
    for limit_c in higher(reason):
        goal = eased(inputs.goal, {reason.key: limit_c})
        if proven(asked, untaught(asked.assessor, replace(inputs, goal=goal)), drop):
            return replace(reason, nearest=f"{limit_c:g} °C")
    return None


def higher(reason: Reason) -> list[float]:
    """Values for the limit that an obstacle names: those it asks for and some more, above what is asked."""
    least, now = printed_value(reason), printed_value(replace(reason, nearest=reason.asked))
    return [value for further in range(FURTHER + 1) if (value := least + further) > now]


def _prerinses(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The most prerinses, fewer than are asked for, with which a plan exists."""
    inputs = asked.assessor.inputs
    goal = inputs.goal
    for rounds in reversed(range(goal.prerinse.rounds_min)):
        prerinse = goal.prerinse.model_copy(update={"rounds_min": rounds})
        fewer = replace(inputs, goal=goal.model_copy(update={"prerinse": prerinse}))
        if proven(asked, asked.assessor.again(fewer), drop):
            advice = "scrape the ware better, if that will do instead"
            least = f"at least {goal.prerinse.rounds_min}"
            nearest = f"at least {rounds}" if rounds else "none"
            return Reason("number of prerinses", least, nearest, advice, "prerinse.rounds")
    return None


def _least_limit(
    asked: Feasibility,
    drop: frozenset[str],
    range_c: tuple[float, float],
    standing: Callable[[float], Machine],
) -> float | None:
    """Least limit on a grid of steps with which a plan is proven, given that none is found at the low end."""

    def assessor(limit_c: float) -> Assessor:
        return asked.assessor.again(replace(asked.assessor.inputs, machine=standing(limit_c)))

    low_c, most_c = range_c
    if most_c <= low_c:
        return None
    start: Programme | None = fits(asked, assessor(most_c), drop)
    if start is None:
        return None
    high_c = most_c
    while high_c - low_c > STEP_C:
        middle_c = math.floor((low_c + high_c) / 2.0)
        if middle_c <= low_c:
            break
        found = fits(asked, assessor(middle_c), drop, start)
        if found is None:
            low_c = middle_c
        else:
            high_c, start = middle_c, found
    for further_c in FURTHER_C:
        limit_c = min(high_c + further_c, most_c)
        if proven(asked, assessor(limit_c), drop, start):
            return limit_c
        if limit_c == most_c:
            break
    return None
