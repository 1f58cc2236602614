"""Why there is no plan: each requirement in the way, with the nearest value at which it would not be.

A requirement is taken out of the model and brought as far as it goes under all the others; the programme
found is trimmed for it, so that the value given is one a plan exists at. Where no single one is in the way,
as few as possible are left out together.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache

from optimizer.errors import Reason, SolverError
from optimizer.planner.choose import SLACK
from optimizer.planner.model import Ask, Model
from optimizer.planner.obstacles import current_reason
from optimizer.planner.options import Table
from optimizer.planner.reason_words import reason_of
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import BOILING_C, HOTTEST_BATH_C, Mode
from optimizer.planner.solve import SolverName, run_solver
from optimizer.planner.space import Space
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import furthest, trim
from optimizer.profile.goal import Goal
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine

STEAM_TANK_SPARE_K = 2.0
"""By how much a tank's limit must be above the boil [K]."""

BY_A_HAIR = 0.005
"""Margin that whole seconds may take [1]."""

ANY = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

SOON_S = 3.0
"""Longest solve of a question whose answer is not needed [s]."""

NEAR = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

CURRENT = "circuit.running_a"
"""Key of the current that is left for the machine."""

TANK_STEP_C = 1.0
"""Step in which a nearest tank limit is looked for [°C]."""


def asked_keys(assessor: Assessor) -> list[str]:
    """List what a goal asks that may be left out of a model.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.

    Returns
    -------
    list of str
        Keys of the requirements.
    """
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.needs.keys, "rinse.residue", "limits.duration_min"]
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    return [*keys, "drying.ware_heat"] if goal.drying.method == "hot_rinse" else keys


def alone(assessor: Assessor, solver: SolverName = "auto") -> list[Reason]:
    """Find requirements that stand in the way alone: with any one of them eased there is a plan.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    list of Reason
        Each with the nearest value at which it is in nobody's way.
    """
    found = [in_the_way(assessor, solver, key) for key in asked_keys(assessor)]
    found += around(assessor, solver)
    return [reason for reason in found if reason is not None]


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


def together(assessor: Assessor, solver: SolverName = "auto") -> list[Reason]:
    """Find requirements that stand in the way together: only with all of them eased there is a plan.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan, and none to blame alone.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    list of Reason
        Each as far as it goes with the others of them left out.
    """
    keys = asked_keys(assessor)
    dropped = frozenset(keys)
    for key in keys:
        if fits(assessor, solver, dropped - {key}):
            dropped -= {key}
    found = [in_the_way(assessor, solver, key, dropped - {key}) for key in keys if key in dropped]
    return [reason for reason in found if reason is not None]


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


def fits(
    assessor: Assessor,
    solver: SolverName,
    drop: frozenset[str] = frozenset(),
    limit_s: float | None = None,
) -> bool:
    """Look for a programme that holds with some requirements left out; any will do.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    drop : frozenset of str
        Keys of the requirements left out.
    limit_s : float or None
        Longest solve; None: the usual one [s].

    Returns
    -------
    bool
        Whether one is found.

    Raises
    ------
    SolverError
        A solve came to no end in its time.
    """
    for safe in (True, False):
        model = model_for(assessor, Ask(drop=drop), safe=safe)
        if run_solver(model.problem, solver, gap=ANY, limit_s=limit_s).status == "infeasible":
            continue
        structure, start = model.chosen()
        if trim(Space(assessor, structure, drop=drop), start) is not None:
            return True
    return False


def model_for(assessor: Assessor, ask: Ask, *, safe: bool) -> Model:
    """Set up the model that a question is asked of.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    ask : Ask
        The question.
    safe : bool
        Lines on the safe side; False: on the other, and everything may fall a little short.

    Returns
    -------
    Model
        The model.
    """
    table = _table(assessor, safe, "limits.duration_min" not in (ask.aim, *ask.drop))
    return Model(assessor, table, replace(ask, slack=0.0 if safe else SLACK))


@lru_cache(maxsize=8)
def _table(assessor: Assessor, safe: bool, timed: bool) -> Table:
    """Options of a machine, for as many questions as are asked about it."""
    return Tabulator(assessor, safe=safe, timed=timed).table()


def in_the_way(
    assessor: Assessor,
    solver: SolverName,
    key: str,
    drop: frozenset[str] = frozenset(),
    limit_s: float | None = None,
) -> Reason | None:
    """Bring a requirement as far as it goes under the others.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    key : str
        The requirement.
    drop : frozenset of str
        Keys of others to leave out.
    limit_s : float or None
        Longest solve, after which the best found will do; None: the usual one [s].

    Returns
    -------
    Reason or None
        How far; None where it can be met, or the others cannot be met even without it.
    """
    margin = _reach(assessor, solver, key, drop, limit_s)
    # Met by a hair means met between whole seconds: a little more must be asked for.
    return reason_of(assessor, key, min(margin, 0.0)) if margin is not None and margin < BY_A_HAIR else None


def _reach(
    assessor: Assessor, solver: SolverName, key: str, drop: frozenset[str], limit_s: float | None
) -> float | None:
    """Best margin of one requirement under the others; None where they can't be met even so."""
    for safe in (True, False):
        model = model_for(assessor, Ask(aim=key, drop=drop), safe=safe)
        if run_solver(model.problem, solver, gap=NEAR, limit_s=limit_s).status == "infeasible":
            continue
        structure, start = model.chosen()
        margin = furthest(Space(assessor, structure, aim=key, drop=drop), start)
        if margin is not None:
            return margin
    return None


def _fits_soon(assessor: Assessor, solver: SolverName, drop: frozenset[str]) -> bool:
    """The same, where it is of no use to know that there is none: what is not soon found counts as none."""
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
        freed = Assessor(assessor.inputs, assessor.tighten, frozenset(blocked[:number]))
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
        return _fits_soon(Assessor(hotter, assessor.tighten), solver, drop)

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
        if _fits_soon(Assessor(fewer, assessor.tighten), solver, drop):
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


def all_at_once(assessor: Assessor) -> Reason:
    """Say that nothing is to blame: the requirements hold one by one, and no programme was found for all.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff.

    Returns
    -------
    Reason
        The reason.
    """
    asked = f"all that {assessor.inputs.names[1]} asks, at once"
    advice = "ask for a little less: a longer duration, a larger residue, fewer minutes of a dose"
    return Reason("requirements together", asked, "no programme found, each alone within reach", advice)
