"""Why there is no plan: each requirement in the way, with the nearest value at which it would not be.

A requirement is taken out of the model and brought as far as it goes under all the others; the programme
found is trimmed for it, so that the value given is one a plan exists at.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from optimizer.errors import Reason
from optimizer.planner.choose import first
from optimizer.planner.model import Ask, Model
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import BOILING_C, Mode
from optimizer.planner.solve import SolverName, run_solver
from optimizer.planner.space import Space
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import furthest
from optimizer.profile.goal import Goal
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.units import S_PER_MIN

STEAM_TANK_SPARE_K = 2.0
"""By how much a tank's limit must be above the boil [K]."""

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
        Requirements that alone stand in the way. Where there is no such one, what can be reached of every
        dose with the other requirements left out.
    """
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.needs.keys, "rinse.residue", "limits.duration_min"]
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    keys += ["drying.ware_heat"] if goal.drying.method == "hot_rinse" else []
    margins = {key: _reach(assessor, solver, key, frozenset()) for key in keys}
    found = [_reason(assessor, key, margin) for key, margin in margins.items() if margin is not None]
    found += [reason for ask in (_circuit, _tank, _level) if (reason := ask(assessor, solver)) is not None]
    if found:
        return found
    for key in keys:
        margin = _reach(assessor, solver, key, frozenset(keys) - {key})
        if margin is not None and margin < 0.0:
            found.append(_reason(assessor, key, margin))
    return found or [_nothing_fits(assessor)]


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


def _reach(assessor: Assessor, solver: SolverName, key: str, drop: frozenset[str]) -> float | None:
    """Best margin of one requirement under the others; None where they can't be met even so."""
    for safe in (True, False):
        table = Tabulator(assessor, safe=safe).table()
        model = Model(assessor, table, Ask(aim=key, drop=drop, slack=0.0 if safe else 0.03))
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
        share = _up(goal.rinse.residue_max ** (1.0 + margin))
        advice = "leave less behind after a drain, fill higher, or allow more water"
        return Reason("rinse residue", f"{goal.rinse.residue_max:g}", f"{share:.2g}", advice)
    asked = f"ware heat {goal.drying.heat_factor:g} of the film's"
    factor = math.floor(goal.drying.heat_factor * max(reached, 0.0) * 100.0) / 100.0
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
        advice = "more time, a higher tank limit, or a stronger element"
        if most_s == 0.0:
            floor_c = needs.floor_c[-1, need]
            advice = f"the rinse stays under {floor_c:.0f} °C, below which nothing counts: {advice}"
        return Reason(f"hygiene, {name}", f"{target_s:g} s", f"{most_s:g} s at the most", advice)
    advice = "; ".join(_dose_advice(assessor, need, reached_nothing=most_s == 0.0))
    most_min = _down(most_s / S_PER_MIN) if most_s > 0.0 else 0.0
    asked = f"{target_s / S_PER_MIN:g} min at {needs.reference_c[need]:g} °C"
    return Reason(f"dose {key.partition('.')[2]}", asked, f"{most_min:g} min at the most", advice)


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
    currents, circuit = assessor.currents, assessor.inputs.circuit
    if assessor.inputs.machine.element is None:
        return None
    blocked = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if not currents.fits(mode)]
    blocked.sort(key=currents.running_a)
    for number, mode in enumerate(blocked, start=1):
        freed = Assessor(assessor.inputs, assessor.tighten, frozenset(blocked[:number]))
        if first(freed, solver) is not None:
            needed_a = math.ceil(currents.running_a(mode) * 10.0) / 10.0
            doing = "element and wash pump together" if mode is Mode.WHILE_SPRAYING else "the element alone"
            asked = f"{circuit.available_a:.1f} A left for the machine"
            advice = "a circuit of its own, or a smaller background load"
            return Reason("current of the circuit", asked, f"{needed_a:g} A ({doing})", advice)
    return None


def _tank(assessor: Assessor, solver: SolverName) -> Reason | None:
    """The least tank limit at which a plan exists, up to what the material stands."""
    machine = assessor.inputs.machine
    if machine.element is None:
        return None

    def plans_at(limit_c: float) -> bool:
        tank = machine.tank.model_copy(update={"limit_c": limit_c})
        hotter = replace(assessor.inputs, machine=machine.model_copy(update={"tank": tank}))
        return first(Assessor(hotter, assessor.tighten), solver) is not None

    least_c = _least_step(machine.tank.limit_c, MATERIAL_LIMIT_C[machine.tank.material], plans_at)
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


def _level(assessor: Assessor, solver: SolverName) -> Reason | None:
    """A level switch that closes too early for the pump."""
    machine = assessor.inputs.machine
    least_l = machine.wash_pump.prime_l + machine.wash_pump.holdup_l.high
    switch_l = machine.inlet.level_l
    if switch_l is None or switch_l.low >= least_l * 1.02:
        return None
    nearest_l = math.ceil(least_l * 1.03 * 10.0) / 10.0
    advice = "raise the switch: the pump would draw air"
    return Reason(
        "litres at the level switch", f"{switch_l.low:g} l at its lowest", f"{nearest_l:g} l", advice
    )


def _nothing_fits(assessor: Assessor) -> Reason:
    machine = assessor.inputs.machine
    least_l = machine.wash_pump.prime_l + machine.wash_pump.holdup_l.high
    advice = "a bigger tank, or a pump that holds less water up"
    return Reason(
        "levels", f"{least_l:g} l to spray at all", f"{machine.tank.capacity_l:g} l to the lip", advice
    )


def _down(value: float) -> float:
    """Round down to three figures."""
    step = 10.0 ** (math.floor(math.log10(max(value, 1e-9))) - 2)
    return math.floor(value / step) * step


def _up(value: float) -> float:
    """Round up to two figures."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value * 1.0001 / step) * step
