"""Why there is no plan: each requirement in the way, with the nearest value at which it would not be.

A requirement is taken out of the model and brought as far as it goes under all the others; the programme
found is trimmed for it, so that the value given is one a plan exists at. Where no single one is in the way,
as few as possible are left out together.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from optimizer.errors import Reason
from optimizer.planner.choose import SLACK
from optimizer.planner.model import Ask, Model
from optimizer.planner.obstacles import current_reason, obstacles
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import BOILING_C, HOTTEST_BATH_C, Mode
from optimizer.planner.solve import SolverName, run_solver
from optimizer.planner.space import Space
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import furthest, trim
from optimizer.profile.goal import Goal
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.units import S_PER_MIN

STEAM_TANK_SPARE_K = 2.0
"""By how much a tank's limit must be above the boil [K]."""

BY_A_HAIR = 0.005
"""Margin that whole seconds may take [1]."""

ANY = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

TANK_STEP_C = 1.0
"""Step in which a nearest tank limit is looked for [°C]."""


def reasons(assessor: Assessor, solver: SolverName = "auto") -> list[Reason]:
    """Say why a goal can't be met.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    list of Reason
        What no programme can mend; else requirements that alone stand in the way; else those that do so
        together, each as far as it goes without the others.
    """
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.needs.keys, "rinse.residue", "limits.duration_min"]
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    keys += ["drying.ware_heat"] if goal.drying.method == "hot_rinse" else []
    if found := obstacles(assessor):
        return found
    asked = [_in_the_way(assessor, solver, key, frozenset()) for key in keys]
    asked += [ask(assessor, solver) for ask in (_circuit, _tank)]
    if alone := [reason for reason in asked if reason is not None]:
        return alone
    together = _together(assessor, solver, keys)
    asked = [_in_the_way(assessor, solver, key, together - {key}) for key in keys if key in together]
    return [reason for reason in asked if reason is not None] or [_all_at_once(assessor)]


def steam_refused(machine: Machine, goal: Goal) -> Reason | None:
    """Say why a machine must not dry by steam.

    Parameters
    ----------
    machine : Machine
        The machine.
    goal : Goal
        The goal.

    Returns
    -------
    Reason or None
        Why; None where it may, or is not asked to.
    """
    if goal.drying.method != "steam":
        return None
    instead = 'method = "hot_rinse" in [drying] dries by the heat of the last rinse instead'
    if machine.element is None:
        return Reason("drying by steam", "an element that boils a pool", "no element", instead)
    tank, least_c = machine.tank, BOILING_C + STEAM_TANK_SPARE_K
    if tank.limit_c >= least_c:
        return None
    soft = (
        f"a {tank.material} tank softens in steam"
        if tank.material != "stainless"
        else "some part does not stand it"
    )
    asked = f"a tank that stands {least_c:g} °C: steam, and {STEAM_TANK_SPARE_K:g} K to spare"
    return Reason("drying by steam", asked, f"its limit is {tank.limit_c:g} °C", f"{soft}; {instead}")


def _together(assessor: Assessor, solver: SolverName, keys: list[str]) -> frozenset[str]:
    """Requirements without which there is a plan, and with any one of which there is none."""
    dropped = frozenset(keys)
    for key in keys:
        if _fits(assessor, solver, dropped - {key}):
            dropped -= {key}
    return dropped


def _fits(assessor: Assessor, solver: SolverName, drop: frozenset[str] = frozenset()) -> bool:
    """Whether a programme is found that holds with some requirements left out; any will do."""
    for safe in (True, False):
        model = _model(assessor, Ask(drop=drop), safe=safe)
        if run_solver(model.problem, solver, gap=ANY).status == "infeasible":
            continue
        structure, start = model.chosen()
        if trim(Space(assessor, structure, drop=drop), start) is not None:
            return True
    return False


def _model(assessor: Assessor, ask: Ask, *, safe: bool) -> Model:
    timed = "limits.duration_min" not in (ask.aim, *ask.drop)
    table = Tabulator(assessor, safe=safe, timed=timed).table()
    return Model(assessor, table, replace(ask, slack=0.0 if safe else SLACK))


def _in_the_way(assessor: Assessor, solver: SolverName, key: str, drop: frozenset[str]) -> Reason | None:
    """A requirement that falls short under all others but the dropped; None where it does not."""
    margin = _reach(assessor, solver, key, drop)
    # Met by a hair means met between whole seconds: a little more must be asked for.
    return _reason(assessor, key, min(margin, 0.0)) if margin is not None and margin < BY_A_HAIR else None


def _reach(assessor: Assessor, solver: SolverName, key: str, drop: frozenset[str]) -> float | None:
    """Best margin of one requirement under the others; None where they can't be met even so."""
    for safe in (True, False):
        model = _model(assessor, Ask(aim=key, drop=drop), safe=safe)
        if run_solver(model.problem, solver).status == "infeasible":
            continue
        structure, start = model.chosen()
        margin = furthest(Space(assessor, structure, aim=key, drop=drop), start)
        if margin is not None:
            return margin
    return None


def _reason(assessor: Assessor, key: str, margin: float) -> Reason:
    goal = assessor.inputs.goal
    reached = (margin + 1.0 + assessor.spare(key)) / (1.0 + assessor.spare(key))
    if key in assessor.simulator.needs.keys:
        return _dose_reason(assessor, key, reached)
    if key == "limits.duration_min":
        least_min = math.ceil(goal.limits.duration_min * (1.0 - margin) + 0.1)
        advice = "allow more time, or a stronger element where the circuit carries it"
        return Reason("longest duration", f"{goal.limits.duration_min:g} min", f"{least_min} min", advice)
    if key == "limits.water_l":
        asked_l = goal.limits.water_l or 0.0
        least_l = math.ceil(asked_l * (1.0 - margin) * 10.0 + 0.5) / 10.0
        advice = "spare more water, or leave less behind after a drain"
        return Reason("water of a run", f"{asked_l:g} l", f"{least_l:g} l", advice)
    if key == "rinse.residue":
        # Up to seven fills, each rounded down by up to a second so that nothing runs over.
        share = _up(goal.rinse.residue_max**reached * 1.1)
        advice = "leave less behind after a drain, fill higher, or allow more water"
        return Reason("rinse residue", f"{goal.rinse.residue_max:g}", f"{share:.2g}", advice)
    asked = f"ware heat {goal.drying.heat_factor:g} of the film's"
    factor = math.floor(goal.drying.heat_factor * max(reached, 0.0) * 0.998 * 100.0) / 100.0
    return Reason(
        "drying by a hot rinse", asked, f"{factor:g} at the most", "a hotter last rinse, or less film"
    )


def _dose_reason(assessor: Assessor, key: str, reached: float) -> Reason:
    needs = assessor.simulator.needs
    need = needs.keys.index(key)
    target_s = float(needs.target_s[need])
    most_s = _down(target_s * reached * 0.998) if reached > 1e-3 else 0.0
    if key.startswith("hygiene."):
        name = "A0" if key.endswith("a0") else "heat units"
        # In the warm corner a timed element nears the tank's limit while the cold corner is still far off.
        advice = "more time, a higher tank limit, or " + _heat_advice(assessor)
        if most_s == 0.0:
            floor_c = needs.floor_c[-1, need]
            advice = f"the rinse stays under {floor_c:.0f} °C, below which nothing counts: {advice}"
        return Reason(f"hygiene, {name}", f"{target_s:g} s", f"{most_s:g} s at the most", advice)
    advice = "; ".join(_dose_advice(assessor, need, reached_nothing=most_s == 0.0))
    most_min = _down(most_s / S_PER_MIN) if most_s > 0.0 else 0.0
    asked = f"{target_s / S_PER_MIN:g} min at {needs.reference_c[need]:g} °C"
    return Reason(f"dose {key.partition('.')[2]}", asked, f"{most_min:g} min at the most", advice)


def _heat_advice(assessor: Assessor) -> str:
    element = assessor.inputs.machine.element
    if element is None:
        return "an element"
    return "a stronger element" if element.control == "thermostat" else "a thermostat on the element"


def _dose_advice(assessor: Assessor, need: int, *, reached_nothing: bool) -> list[str]:
    needs, machine, bare = (
        assessor.simulator.needs,
        assessor.inputs.machine,
        assessor.inputs.goal.detergent is None,
    )
    counting = [
        float(floor)
        for floor, share in zip(needs.floor_c[:, need], needs.share[:, need], strict=True)
        if share
    ]
    advice = (
        [f"the ware stays under {min(counting):.0f} °C, below which nothing counts"]
        if reached_nothing
        else []
    )
    if bare:
        advice.append("wash with detergent")
    if machine.element is None:
        advice.append("fit an element, or fill with hot water")
    return [*advice, "allow more time"] if not reached_nothing else advice


def _circuit(assessor: Assessor, solver: SolverName) -> Reason | None:
    """The least current at which a plan exists, where the circuit keeps heat modes out."""
    currents = assessor.currents
    if assessor.inputs.machine.element is None:
        return None
    blocked = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if not currents.fits(mode)]
    blocked.sort(key=currents.running_a)
    for number, mode in enumerate(blocked, start=1):
        freed = Assessor(assessor.inputs, assessor.tighten, frozenset(blocked[:number]))
        if _fits(freed, solver):
            return current_reason(currents, mode)
    return None


def _tank(assessor: Assessor, solver: SolverName) -> Reason | None:
    """The least tank limit at which a plan exists, up to what the material stands."""
    machine = assessor.inputs.machine
    if machine.element is None:
        return None
    most_c = min(MATERIAL_LIMIT_C[machine.tank.material], math.ceil(HOTTEST_BATH_C))

    def plans_at(limit_c: float) -> bool:
        tank = machine.tank.model_copy(update={"limit_c": limit_c})
        hotter = replace(assessor.inputs, machine=machine.model_copy(update={"tank": tank}))
        return _fits(Assessor(hotter, assessor.tighten), solver)

    least_c = _least_step(machine.tank.limit_c, most_c, plans_at)
    if least_c is None:
        return None
    advice = "only if every part stands it: tank, hoses, pump and glue"
    return Reason("tank limit", f"{machine.tank.limit_c:g} °C", f"{least_c:g} °C", advice)


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


def _all_at_once(assessor: Assessor) -> Reason:
    """Nothing found to blame: the requirements hold one by one, and no programme was found for all."""
    asked = f"all that {assessor.inputs.names[1]} asks, at once"
    advice = "ask for a little less: a longer duration, a larger residue, fewer minutes of a dose"
    return Reason("requirements together", asked, "no programme found, each alone within reach", advice)


def _down(value: float) -> float:
    """Round down to three figures."""
    step = 10.0 ** (math.floor(math.log10(max(value, 1e-9))) - 2)
    return math.floor(value / step) * step


def _up(value: float) -> float:
    """Round up to two figures."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value * 1.0001 / step) * step
