"""What an obstacle names as nearest, brought to a value at which a whole plan is proven.

The value is worked out for the obstacle alone: the check asks a little more of a whole plan, and something
else may stand in the way. Where no plan is found a little further either, that is what is said.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.feasibility import NONE, Feasibility
from optimizer.planner.machine_limits import FURTHER
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import fits
from optimizer.planner.obstacles import CAPACITY, COVER, STRONGEST, SWITCH, obstacles, untaught
from optimizer.profile.measured import Measured
from optimizer.programme.plan import Inputs


@dataclass(frozen=True)
class _Value:
    """How the value of one obstacle is asked for.

    ``further`` is how far beyond the value of the obstacle is tried [unit of the value]; *no source*, our
    choice. ``put`` gives the inputs with a value, None where there can be none such. ``shown`` is how a value
    is printed, and ``missed`` says that no plan was found up to the last one.
    """

    further: tuple[float, ...]
    put: Callable[[Inputs, float], Inputs | None]
    shown: str
    missed: str = "no plan found up to {}, with all else that is asked"


def _lower_element(inputs: Inputs, cover_l: float) -> Inputs | None:
    element = inputs.machine.element
    if element is None or cover_l <= 0.0:
        return None
    return _on(inputs, element=element.model_copy(update={"cover_l": cover_l}))


def _bigger_tank(inputs: Inputs, capacity_l: float) -> Inputs:
    return _on(inputs, tank=inputs.machine.tank.model_copy(update={"capacity_l": capacity_l}))


def _higher_switch(inputs: Inputs, low_l: float) -> Inputs | None:
    switch_l = inputs.machine.inlet.level_l
    if switch_l is None or low_l + switch_l.high - switch_l.low > inputs.machine.tank.capacity_l:
        return None
    more_l = low_l - switch_l.low
    raised = Measured(nominal=switch_l.nominal + more_l, low=low_l, high=switch_l.high + more_l)
    return _on(inputs, inlet=inputs.machine.inlet.model_copy(update={"level_l": raised}))


def _on(inputs: Inputs, **parts: object) -> Inputs:
    return replace(inputs, machine=inputs.machine.model_copy(update=parts))


def _let_rise(key: str) -> Callable[[Inputs, float], Inputs]:
    """A limit of the goal that an obstacle asks to be let rise."""

    def put(inputs: Inputs, value: float) -> Inputs:
        return replace(inputs, goal=eased(inputs.goal, {key: value}))

    return put


KELVIN = tuple(float(more) for more in range(FURTHER + 1))
VALUES = {
    "prerinse.bath_c": _Value(KELVIN, _let_rise("prerinse.bath_c"), "{:g} °C"),
    "ware.drop_k": _Value(KELVIN, _let_rise("ware.drop_k"), "{:g} K"),
    "ware.rise_k": _Value(KELVIN, _let_rise("ware.rise_k"), "{:g} K"),
    COVER: _Value(
        (0.0, -0.2, -0.5, -1.0),
        _lower_element,
        "cover_l = {:g} l",
        "no plan found with a lower element, with all else that is asked",
    ),
    CAPACITY: _Value((0.0, 0.1, 0.2, 0.5, 1.0, 2.0), _bigger_tank, "{:g} l"),
    SWITCH: _Value((0.0, 0.1, 0.2, 0.5, 1.0), _higher_switch, "{:g} l"),
    STRONGEST: _Value((0.0, 0.1, 0.2, 0.5, 1.0), _let_rise(STRONGEST), "{:g} g/l"),
}
"""Obstacles by their keys."""


def with_a_plan(asked: Feasibility, reason: Reason) -> Reason:
    """Bring what an obstacle names as nearest to a value at which a plan is proven, if it is such a value."""
    value = VALUES.get(reason.key)
    if value is None:
        return reason
    inputs, least, nearest = asked.assessor.inputs, printed_value(reason), reason.nearest
    for further in value.further:
        tried = round(least + further, 3)
        put = value.put(inputs, tried)
        if put is None:
            break
        nearest = value.shown.format(tried)
        judge = untaught(asked.assessor, put)
        if not obstacles(judge) and _has_plan(asked, judge):
            return replace(reason, nearest=nearest)
    return replace(reason, nearest=value.missed.format(nearest))


def _has_plan(asked: Feasibility, judge: Assessor) -> bool:
    """Whether there is a proven plan; a programme by corners is enough where no plans are made."""
    if not asked.proof.makes_plans:
        return fits(asked, judge, NONE) is not None
    with suppress(SolverError):
        return asked.proofs.planned(asked.proof, judge.inputs)
    return False


def unverified(reason: Reason) -> Reason:
    """Name an obstacle without the value that only a plan can show to be the nearest."""
    return replace(reason, nearest="") if reason.key in VALUES else reason
