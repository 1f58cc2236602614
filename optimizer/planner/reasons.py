"""Requirements that rule out a plan: whether others can hold without them, how far one goes, and in words.

Each reason says what is asked, the nearest value, and what would help.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space
from optimizer.units import S_PER_MIN

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

ROUNDING = 0.005
"""Margin that rounding to whole seconds may use up: a requirement met by less counts as not met [1]."""

NONE: frozenset[str] = frozenset()


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
            outcome = run_solver(model.problem, self.solver, gap, self.budget)
        except SolverError:
            self.gave_up = True
            raise
        self.work += outcome.work
        return outcome


def asked_keys(assessor: Assessor) -> list[str]:
    """Keys of the requirements that a question may leave out."""
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.targets.keys, "rinse.residue", "limits.duration_min"]
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
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
    found = [_nearest_found(asked, key, dropped - {key}) for key in keys if key in dropped]
    return [reason for reason in found if reason is not None], not asked.gave_up and None not in found


def nearest(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """How far a requirement goes under the others.

    None where it can be met, or the others cannot be met even without it.
    """
    margin = asked.furthest(key, drop)
    if margin is None or margin >= ROUNDING:
        return None
    return reason_of(asked.assessor, key, min(margin, 0.0))


def _nearest_found(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """The same; None as well where the search is given up."""
    with suppress(SolverError):
        return nearest(asked, key, drop)
    return None


def reason_of(assessor: Assessor, key: str, margin: float) -> Reason:
    """Put a requirement's best margin into words; the margin is 0 or less [1]."""
    return replace(_worded(assessor, key, margin), key=key)


def _worded(assessor: Assessor, key: str, margin: float) -> Reason:
    goal = assessor.inputs.goal
    reached = (margin + 1.0 + assessor.backoff(key)) / (1.0 + assessor.backoff(key))
    if key in assessor.simulator.targets.keys:
        return _dose_reason(assessor, key, reached)
    if key == "limits.duration_min":
        least_min = math.ceil(goal.limits.duration_min * (1.0 - margin) + 0.1)
        element = "an element" if assessor.inputs.machine.element is None else "a stronger element"
        advice = f"allow more time, or {element} where the circuit carries it"
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
    return Reason("drying by a hot rinse", asked, _reached(factor), "a hotter last rinse, or less film")


def _dose_reason(assessor: Assessor, key: str, reached: float) -> Reason:
    targets = assessor.simulator.targets
    target = targets.keys.index(key)
    target_s = float(targets.target_s[target])
    most_s = _down(target_s * reached * 0.998) if reached > 1e-3 else 0.0
    if key.startswith("hygiene."):
        name = "A0" if key.endswith("a0") else "heat units"
        # In the warm corner a timed element nears the tank's limit while the cold corner is still far off.
        advice = "more time, a higher tank limit, or " + _heat_advice(assessor)
        if most_s == 0.0:
            floor_c = targets.floor_c[-1, target]
            advice = f"the rinse stays under {floor_c:.0f} °C, below which nothing counts: {advice}"
        return Reason(f"hygiene, {name}", f"{target_s:g} s", _reached(most_s, "s"), advice)
    advice = "; ".join(_dose_advice(assessor, target, reached_nothing=most_s == 0.0))
    most_min = _down(most_s / S_PER_MIN) if most_s > 0.0 else 0.0
    asked = f"{target_s / S_PER_MIN:g} min at {targets.reference_c[target]:g} °C"
    return Reason(f"dose {key.partition('.')[2]}", asked, _reached(most_min, "min"), advice)


def _reached(most: float, unit: str = "") -> str:
    """A value that a programme was found for: no proof that none goes further, but where nothing counts."""
    amount = f"{most:g} {unit}".rstrip()
    return f"{amount} within reach" if most > 0.0 else f"{amount} at the most"


def _heat_advice(assessor: Assessor) -> str:
    element = assessor.inputs.machine.element
    if element is None:
        return "an element"
    return "a stronger element" if element.control == "thermostat" else "a thermostat on the element"


def _dose_advice(assessor: Assessor, target: int, *, reached_nothing: bool) -> list[str]:
    targets, machine, bare = (
        assessor.simulator.targets,
        assessor.inputs.machine,
        assessor.inputs.goal.detergent is None,
    )
    counting = [
        float(floor)
        for floor, share in zip(targets.floor_c[:, target], targets.share[:, target], strict=True)
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


def _down(value: float) -> float:
    """Round down to three figures."""
    step = 10.0 ** (math.floor(math.log10(max(value, 1e-9))) - 2)
    return math.floor(value / step) * step


def _up(value: float) -> float:
    """Round up to two figures."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value * 1.0001 / step) * step


def all_at_once(asked: Feasibility) -> Reason:
    """Say that no programme was found for all requirements, where none was found to rule it out."""
    wanted = f"all that {asked.assessor.inputs.names[1]} asks, at once"
    nearest_value = "no programme found, each alone within reach"
    if asked.gave_up:
        nearest_value = "no programme found; the search for reasons gave up at its budget"
    advice = "ask for a little less: a longer duration, a larger residue, fewer minutes of a dose"
    return Reason("requirements together", wanted, nearest_value, advice)
