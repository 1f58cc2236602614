"""Limits of machine and circuit that may stand in the way of a plan: current, tank, number of prerinses."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.fitting import fits
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import current_reason
from optimizer.planner.simulation import HOTTEST_BATH_C
from optimizer.planner.solver import SolverName
from optimizer.planner.structure import Mode
from optimizer.profile.machine import MATERIAL_LIMIT_C

SOON_S = 3.0
"""Longest solve of a question whose answer is not needed [s]."""

CURRENT = "circuit.running_a"
"""Key of the current that is left for the machine."""

TANK_STEP_C = 1.0
"""Step in which a nearest tank limit is looked for [°C]."""


def around(assessor: Assessor, solver: SolverName, drop: frozenset[str] = frozenset()) -> list[Reason | None]:
    """Ask whether circuit, tank or the number of prerinses stand in the way.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    drop : frozenset of str
        Keys of requirements to leave out.

    Returns
    -------
    list of Reason or None
        One each; None where easing it alone makes no plan possible.
    """
    return [ask(assessor, solver, drop) for ask in (_circuit, _tank, _prerinses)]


def _fits_soon(assessor: Assessor, solver: SolverName, drop: frozenset[str]) -> bool:
    """Whether a programme is soon found; one that is not counts as none."""
    with suppress(SolverError):
        return fits(assessor, solver, drop, SOON_S)
    return False


def _circuit(assessor: Assessor, solver: SolverName, drop: frozenset[str]) -> Reason | None:
    """The least current at which a plan exists, where the circuit keeps heat modes out."""
    currents = assessor.currents
    if assessor.inputs.machine.element is None:
        return None
    blocked = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if not currents.fits(mode)]
    blocked.sort(key=currents.running_a)
    for number, mode in enumerate(blocked, start=1):
        freed = assessor.again(assessor.inputs, frozenset(blocked[:number]))
        if _fits_soon(freed, solver, drop):
            return replace(current_reason(currents, mode), key=CURRENT)
    return None


def _tank(assessor: Assessor, solver: SolverName, drop: frozenset[str]) -> Reason | None:
    """The least tank limit at which a plan exists, up to what the material stands."""
    machine = assessor.inputs.machine
    if machine.element is None:
        return None
    most_c = min(MATERIAL_LIMIT_C[machine.tank.material], math.ceil(HOTTEST_BATH_C))

    def plans_at(limit_c: float) -> bool:
        tank = machine.tank.model_copy(update={"limit_c": limit_c})
        hotter = replace(assessor.inputs, machine=machine.model_copy(update={"tank": tank}))
        return _fits_soon(assessor.again(hotter), solver, drop)

    least_c = _least_step(machine.tank.limit_c, most_c, plans_at)
    if least_c is None:
        return None
    advice = "only if every part stands it: tank, hoses, pump and glue"
    return Reason("tank limit", f"{machine.tank.limit_c:g} °C", f"{least_c:g} °C", advice, "tank.bath_c")


def _prerinses(assessor: Assessor, solver: SolverName, drop: frozenset[str]) -> Reason | None:
    """The most prerinses, fewer than are asked for, with which a plan exists."""
    goal = assessor.inputs.goal
    for rounds in reversed(range(goal.prerinse.rounds_min)):
        prerinse = goal.prerinse.model_copy(update={"rounds_min": rounds})
        fewer = replace(assessor.inputs, goal=goal.model_copy(update={"prerinse": prerinse}))
        if _fits_soon(assessor.again(fewer), solver, drop):
            advice = "scrape the ware better, if that will do instead"
            asked = f"at least {goal.prerinse.rounds_min}"
            nearest = f"at least {rounds}" if rounds else "none"
            return Reason("number of prerinses", asked, nearest, advice, "prerinse.rounds")
    return None


def _least_step(low: float, high: float, works: Callable[[float], bool]) -> float | None:
    """Least value on a grid of steps for which something works, given that it does not at ``low``."""
    if high <= low or not works(high):
        return None
    while high - low > TANK_STEP_C:
        middle = math.floor((low + high) / 2.0)
        if middle <= low:
            break
        low, high = (low, middle) if works(middle) else (middle, high)
    return high
