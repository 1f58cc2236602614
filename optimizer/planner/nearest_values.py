"""Searches for the nearest value where there is no plan: how far a requirement goes.

A requirement (a dose, hygiene, residue, duration, water, drying) is brought as far as it goes by a model that
aims at it, and then taken back until a plan holds it. What is named, to the digits that are named, is what
was planned and proven.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.errors import Reason, SolverError
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.reasons import reason_of
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.structure import Programme
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space
from optimizer.planner.worst_corners import Finder
from optimizer.programme.plan import Inputs

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

STEPS_BACK = (0.0, 0.004, 0.01, 0.02, 0.04, 0.08, 0.16)
"""How far a nearest value is taken back for which no programme is found, one after the other, as margins
[1]."""

NONE: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Proof:
    """What a nearest value has to stand before it is named, beyond the corners of the planner.

    ``find`` searches worst points of the tolerances; ``proves`` says whether a whole plan for some inputs is
    found and passes the check.
    """

    find: Finder | None = None
    proves: Callable[[Inputs], bool] = lambda _: True


BY_CORNERS = Proof()
"""Nothing beyond the corners."""


@dataclass(frozen=True)
class Furthest:
    """How far a requirement was brought [1], and the programme that does it."""

    margin: float
    programme: Programme


class Feasibility:
    """Questions about one machine and goal, each solve cut off at a budget; ``work`` is what they took.

    A solve that is cut off before it knows ends a question with a `SolverError`; ``gave_up`` remembers it.
    """

    def __init__(
        self,
        assessor: Assessor,
        solver: SolverName = "auto",
        budget: Budget = FULL,
        proof: Proof = BY_CORNERS,
    ) -> None:
        self.assessor, self.solver, self.budget, self.proof = assessor, solver, budget, proof
        self.work, self.gave_up = 0, False

    def with_budget(self, budget: Budget) -> Feasibility:
        """The same questions with another budget."""
        return Feasibility(self.assessor, self.solver, budget, self.proof)

    def possible(self, drop: frozenset[str] = NONE) -> bool:
        """Whether the model that may fall a little short finds a programme."""
        model = model_for(self.assessor, Objective(drop=drop), safe=False)
        return self._solve(model, ANY_GAP).status != "infeasible"

    def fits(self, drop: frozenset[str] = NONE, start: Programme | None = None) -> Programme | None:
        """Find a programme that holds with the requirements ``drop`` left out; None where none was found.

        With a ``start`` that can be trimmed to hold no model is asked.
        """
        found = None if start is None else self._trimmed(start, drop)
        return found or self._fits_by_model(drop)

    def _fits_by_model(self, drop: frozenset[str]) -> Programme | None:
        for safe in (False, True):
            model = model_for(self.assessor, Objective(drop=drop), safe=safe)
            if self._solve(model, ANY_GAP).status == "infeasible":
                # What the model cannot do that may fall a little short, the safe one cannot either.
                return None
            found = self._trimmed(model.chosen(), drop, patient=safe)
            if found is not None:
                return found
        return None

    def _trimmed(self, start: Programme, drop: frozenset[str], *, patient: bool = False) -> Programme | None:
        # What safe lines point at is worth some repairs; of what may fall short most cannot be repaired.
        space = Space(self.assessor, start.structure, drop=drop)
        trimmed = trim(space, start.settings, patient=patient)
        return None if trimmed is None else trimmed.programme

    def furthest(self, key: str, drop: frozenset[str] = NONE) -> Furthest | None:
        """Bring one requirement as far as it goes under the others; None where they can't be met even so."""
        for safe in (False, True):
            model = model_for(self.assessor, Objective(aim=key, drop=drop), safe=safe)
            if self._solve(model, CLOSE_GAP).status == "infeasible":
                return None
            found = self._further(key, model.chosen(), drop, patient=safe)
            if found is not None:
                return found
        return None

    def _further(self, key: str, start: Programme, drop: frozenset[str], *, patient: bool) -> Furthest | None:
        space = Space(self.assessor, start.structure, aim=key, drop=drop)
        found = furthest(space, start.settings, patient=patient)
        return None if found is None else Furthest(-found.objective, found.programme)

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
    keys += ["first_wash.bath_c"] if goal.limits.first_wash_most_c > 0.0 else []
    keys += ["first_rinse.bath_c"] if goal.rinse.first_least_c > 0.0 else []
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    keys += list(assessor.step_limits_k)
    return [*keys, "drying.ware_heat"] if goal.drying.method == "hot_rinse" else keys


def alone(asked: Feasibility) -> list[Reason]:
    """Requirements each of which, eased alone, makes a plan possible; one that is given up is left out."""
    found = [_nearest_found(asked, key) for key in asked_keys(asked.assessor)]
    return [reason for reason in found if reason is not None]


def together(asked: Feasibility) -> tuple[list[Reason], bool]:
    """Requirements that make a plan possible only when all are eased, and whether these are all.

    For a goal that no single requirement rules out. Each is as far as it goes with the others left out, and
    then taken back until a plan holds all of them.
    """
    keys = asked_keys(asked.assessor)
    dropped = frozenset(keys)
    start: Programme | None = None
    for key in keys:
        with suppress(SolverError):
            found = asked.fits(dropped - {key}, start)
            if found is not None:
                dropped, start = dropped - {key}, found
    eased_keys = [key for key in keys if key in dropped]
    reached: dict[str, Furthest] = {}
    for key in eased_keys:
        with suppress(SolverError):
            found_margin = asked.furthest(key, dropped - {key})
            if found_margin is not None and found_margin.margin < 0.0:
                reached[key] = found_margin
    complete = not asked.gave_up and len(reached) == len(eased_keys)
    return _verified(asked, reached, NONE if complete else dropped - reached.keys()), complete


def nearest(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """How far a requirement goes under the others, to a value for which a programme was found.

    None where it can be met, or the others cannot be met even without it.
    """
    found = asked.furthest(key, drop)
    if found is None or found.margin >= 0.0:
        return None
    reasons = _verified(asked, {key: found}, drop)
    return reasons[0] if reasons else None


def _nearest_found(asked: Feasibility, key: str, drop: frozenset[str] = frozenset()) -> Reason | None:
    """The same; None as well where the search is given up."""
    with suppress(SolverError):
        return nearest(asked, key, drop)
    return None


def _verified(asked: Feasibility, reached: Mapping[str, Furthest], drop: frozenset[str]) -> list[Reason]:
    """Put margins into words, each value as far back as a plan is found and proven that holds all of them.

    The values are those that are printed. None where there is no plan however far back.
    """
    assessor, tried = asked.assessor, set[tuple[str, ...]]()
    for back in STEPS_BACK:
        reasons = [reason_of(assessor, key, found.margin - back) for key, found in reached.items()]
        texts = tuple(reason.nearest for reason in reasons)
        if texts in tried:
            continue
        tried.add(texts)
        values = {reason.key: printed_value(reason) for reason in reasons}
        # What is nothing at the most is left out.
        held = {key: value for key, value in values.items() if value > 0.0}
        eased_inputs = replace(assessor.inputs, goal=eased(assessor.inputs.goal, held))
        left_out = drop | (values.keys() - held.keys())
        starts = [found.programme for found in reached.values()]
        if proven(asked, assessor.again(eased_inputs), left_out, starts[0] if starts else None):
            return reasons
    return []


def proven(
    asked: Feasibility, assessor: Assessor, drop: frozenset[str], start: Programme | None = None
) -> bool:
    """Whether a programme is found at the corners and, with nothing left out, a whole plan is proven."""
    found = fits(asked, assessor, drop, start)
    return found is not None and (bool(drop) or asked.proof.proves(assessor.inputs))


def fits(
    asked: Feasibility, assessor: Assessor, drop: frozenset[str], start: Programme | None = None
) -> Programme | None:
    """Find a programme; a search that ends at its budget has found none."""
    with suppress(SolverError):
        return Feasibility(assessor, asked.solver, asked.budget).fits(drop, start)
    return None
