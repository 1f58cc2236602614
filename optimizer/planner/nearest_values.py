"""Searches for the nearest value where there is no plan: how far a requirement or a machine limit goes.

A requirement (a dose, hygiene, residue, duration, water, drying) is brought as far as it goes by a model that
aims at it. Current of the circuit, limits of tank and drain pipe and number of prerinses are eased step by
step, each alone, until a plan is found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.obstacles import current_reason
from optimizer.planner.reasons import reason_of
from optimizer.planner.search import model_for
from optimizer.planner.simulation import BELOW_BOIL_K
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.structure import Mode
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space
from optimizer.profile.machine import DRAIN_STANDS_C, MATERIAL_LIMIT_C, OPEN_LOOP_ADVICE

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

ROUNDING = 0.005
"""Margin that rounding to whole seconds may use up: a requirement met by less counts as not met [1]."""

STEPS_BACK = (0.0, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16)
"""How far a nearest value is taken back for which no programme is found, one after the other, as margins
[1]."""

NONE: frozenset[str] = frozenset()

CURRENT = "circuit.running_a"
"""Key of the current that is left for the machine."""

EVERY_PART = "only if every part stands it: tank, hoses, pump and glue"
"""What to mind with a higher tank limit."""

TANK_STEP_C = 1.0
"""Step in which a nearest tank limit is looked for [°C]."""


class Feasibility:
    """Questions about one machine and goal, each solve cut off at a budget; ``work`` is what they took.

    A solve that is cut off before it knows ends a question with a `SolverError`; ``gave_up`` remembers it.
    """

    def __init__(self, assessor: Assessor, solver: SolverName = "auto", budget: Budget = FULL) -> None:
        self.assessor, self.solver, self.budget = assessor, solver, budget
        self.work, self.gave_up = 0, False

    def possible(self, drop: frozenset[str] = NONE) -> bool:
        """Whether the model that may fall a little short finds a programme; where not, there is none."""
        model = model_for(self.assessor, Objective(drop=drop), safe=False)
        return self._solve(model, ANY_GAP).status != "infeasible"

    def fits(self, drop: frozenset[str] = NONE) -> bool:
        """Whether a programme is found that holds with the requirements ``drop`` left out."""
        for safe in (True, False):
            model = model_for(self.assessor, Objective(drop=drop), safe=safe)
            if self._solve(model, ANY_GAP).status == "infeasible":
                continue
            structure, start = model.chosen()
            if trim(Space(self.assessor, structure, drop=drop), start) is not None:
                return True
        return False

    def furthest(self, key: str, drop: frozenset[str] = NONE) -> float | None:
        """Best margin of one requirement under the others [1]; None where they can't be met even so."""
        for safe in (True, False):
            model = model_for(self.assessor, Objective(aim=key, drop=drop), safe=safe)
            if self._solve(model, CLOSE_GAP).status == "infeasible":
                continue
            structure, start = model.chosen()
            margin = furthest(Space(self.assessor, structure, aim=key, drop=drop), start)
            if margin is not None:
                return margin
        return None

    def _solve(self, model: Model, gap: float) -> Outcome:
        try:
            outcome = run_solver(model.rows.problem, self.solver, gap, self.budget)
        except SolverError:
            self.gave_up = True
            raise
        self.work += outcome.work
        return outcome


def asked_keys(assessor: Assessor) -> list[str]:
    """Keys of the requirements that a question may leave out."""
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.targets.keys, "rinse.residue", "limits.duration_min"]
    keys += ["rinse.soil"] if goal.rinse.soil_max is not None else []
    keys += ["rinse.film_mg_per_l"] if goal.rinse.film_mg_per_l is not None and goal.detergent else []
    keys += ["detergent.bath_c"] if goal.spray_least_c > 0.0 else []
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    keys += list(assessor.step_limits_k)
    return [*keys, "drying.ware_heat"] if goal.drying.method == "hot_rinse" else keys


def alone(asked: Feasibility) -> list[Reason]:
    """Requirements each of which, eased alone, makes a plan possible; one that is given up is left out."""
    found = [_nearest_found(asked, key) for key in asked_keys(asked.assessor)]
    return [reason for reason in found if reason is not None]


def together(asked: Feasibility) -> tuple[list[Reason], bool]:
    """Requirements that make a plan possible only when all are eased, and whether these are all.

    For a goal that no single requirement rules out. Each is as far as it goes with the others left out.
    """
    keys = asked_keys(asked.assessor)
    dropped = frozenset(keys)
    for key in keys:
        with suppress(SolverError):
            if asked.fits(dropped - {key}):
                dropped -= {key}
    eased_keys = [key for key in keys if key in dropped]
    margins: dict[str, float] = {}
    for key in eased_keys:
        with suppress(SolverError):
            margin = asked.furthest(key, dropped - {key})
            if margin is not None and margin < ROUNDING:
                margins[key] = min(margin, 0.0)
    complete = not asked.gave_up and len(margins) == len(eased_keys)
    return _verified(asked, margins, NONE if complete else dropped - margins.keys()), complete


def nearest(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """How far a requirement goes under the others, to a value for which a programme was found.

    None where it can be met, or the others cannot be met even without it.
    """
    margin = asked.furthest(key, drop)
    if margin is None or margin >= ROUNDING:
        return None
    found = _verified(asked, {key: min(margin, 0.0)}, drop)
    return found[0] if found else None


def _nearest_found(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """The same; None as well where the search is given up."""
    with suppress(SolverError):
        return nearest(asked, key, drop)
    return None


def _verified(asked: Feasibility, margins: Mapping[str, float], drop: frozenset[str]) -> list[Reason]:
    """Put margins into words, each value as far back as a programme is found that holds all of them.

    The values are those that are printed. None where there is no programme however far back.
    """
    assessor = asked.assessor
    for back in STEPS_BACK:
        reasons = [reason_of(assessor, key, margin - back) for key, margin in margins.items()]
        values = {reason.key: printed_value(reason) for reason in reasons}
        # What is nothing at the most is left out.
        held = {key: value for key, value in values.items() if value > 0.0}
        eased_inputs = replace(assessor.inputs, goal=eased(assessor.inputs.goal, held))
        if _fits(asked, assessor.again(eased_inputs), drop | (values.keys() - held.keys())):
            return reasons
    return []


def machine_limits(asked: Feasibility, drop: frozenset[str] = frozenset()) -> list[Reason]:
    """Which of circuit, tank, drain pipe and number of prerinses, eased alone, makes a plan possible."""
    found = [ask(asked, drop) for ask in (_circuit, _tank, _drain, _prerinses)]
    return [reason for reason in found if reason is not None]


def _fits(asked: Feasibility, assessor: Assessor, drop: frozenset[str]) -> bool:
    """Whether a programme is found; a search that ends at its budget has found none."""
    with suppress(SolverError):
        return Feasibility(assessor, asked.solver, asked.budget).fits(drop)
    return False


def _circuit(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least current at which a plan exists, where the circuit keeps heat modes out."""
    assessor = asked.assessor
    currents = assessor.currents
    if assessor.inputs.machine.element is None:
        return None
    blocked = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if not currents.fits(mode)]
    blocked.sort(key=currents.running_a)
    for number, mode in enumerate(blocked, start=1):
        if _fits(asked, assessor.again(assessor.inputs, frozenset(blocked[:number])), drop):
            return replace(current_reason(currents, mode), key=CURRENT)
    return None


def _tank(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least tank limit at which a plan exists, up to what the material stands."""
    inputs = asked.assessor.inputs
    machine, boils_c = inputs.machine, asked.assessor.simulator.boils_c
    if machine.element is None:
        return None
    # A bath that is held must not boil; one heated by time alone may come near the limit only at the boil.
    timed = machine.element.control == "timed"
    boils_c -= 0.0 if timed else BELOW_BOIL_K
    most_c = min(MATERIAL_LIMIT_C[machine.tank.material], math.ceil(boils_c))

    def plans_at(limit_c: float) -> bool:
        tank = machine.tank.model_copy(update={"limit_c": limit_c})
        hotter = replace(inputs, machine=machine.model_copy(update={"tank": tank}))
        return _fits(asked, asked.assessor.again(hotter), drop)

    least_c = _least_step(machine.tank.limit_c, most_c, plans_at)
    if least_c is None:
        return None
    now, nearest = f"{machine.tank.limit_c:g} °C", f"{least_c:g} °C"
    advice = f"{EVERY_PART}; or {OPEN_LOOP_ADVICE}" if timed else EVERY_PART
    return Reason("tank limit", now, nearest, advice, "tank.bath_c")


def _drain(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The least limit of the drain pipe at which a plan exists."""
    inputs = asked.assessor.inputs
    machine = inputs.machine
    if not asked.assessor.may_drain_hot:
        return None

    def plans_at(limit_c: float) -> bool:
        pipe = machine.drain_pump.model_copy(update={"drain_limit_c": limit_c})
        hotter = replace(inputs, machine=machine.model_copy(update={"drain_pump": pipe}))
        return _fits(asked, asked.assessor.again(hotter), drop)

    least_c = _least_step(machine.drain_pump.drain_limit_c, DRAIN_STANDS_C, plans_at)
    if least_c is None:
        return None
    now, nearest = f"{machine.drain_pump.drain_limit_c:g} °C", f"{least_c:g} °C"
    advice = "a drain pipe that stands it, where the local code lets it; or a larger tank to top up"
    return Reason("drain temperature", now, nearest, advice, "drain.bath_c")


def _prerinses(asked: Feasibility, drop: frozenset[str]) -> Reason | None:
    """The most prerinses, fewer than are asked for, with which a plan exists."""
    inputs = asked.assessor.inputs
    goal = inputs.goal
    for rounds in reversed(range(goal.prerinse.rounds_min)):
        prerinse = goal.prerinse.model_copy(update={"rounds_min": rounds})
        fewer = replace(inputs, goal=goal.model_copy(update={"prerinse": prerinse}))
        if _fits(asked, asked.assessor.again(fewer), drop):
            advice = "scrape the ware better, if that will do instead"
            least = f"at least {goal.prerinse.rounds_min}"
            nearest = f"at least {rounds}" if rounds else "none"
            return Reason("number of prerinses", least, nearest, advice, "prerinse.rounds")
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
