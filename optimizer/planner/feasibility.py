"""Questions where there is no plan: is there a programme with these left out, how far does a requirement go.

How far each of several goes is asked one after the other, or by two processes at once: who answers makes an
assessor by the same calls, so that the answers are the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass

from optimizer.errors import SolverError
from optimizer.planner.corners import KeptBack
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.structure import Programme
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space
from optimizer.planner.trims_ahead import assessor_by, rules_of
from optimizer.planner.value_proofs import BY_CORNERS, Proof, Proofs
from optimizer.second_process import Ahead, ahead, by_two

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

NONE: frozenset[str] = frozenset()


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
        self.proofs, self.was_taught = Proofs(), False

    def with_budget(self, budget: Budget) -> Feasibility:
        """The same questions with another budget; whole plans are counted together."""
        other = Feasibility(self.assessor, self.solver, budget, self.proof)
        other.proofs, other.was_taught = self.proofs, self.was_taught
        return other

    def taught(self, lesson: KeptBack) -> Feasibility:
        """The same questions, with what a check found short counted with."""
        old, asked = self.assessor.kept, self.assessor
        backoff = {
            key: max(old.backoff.get(key, 0.0), lesson.backoff.get(key, 0.0))
            for key in (*old.backoff, *lesson.backoff)
        }
        kept = KeptBack(backoff, (*old.points, *(one for one in lesson.points if one not in old.points)))
        other = self.with_budget(self.budget)
        other.was_taught = True
        most, terms = asked.rounds_most, asked.terms
        other.assessor = Assessor(asked.inputs, kept, asked.unblock, rounds_most=most, terms=terms)
        return other

    def possible(self, drop: frozenset[str] = NONE) -> bool:
        """Whether the model that may fall a little short finds a programme."""
        model = model_for(self.assessor, Objective(drop=drop), safe=False)
        return self._solve(model, ANY_GAP).status != "infeasible"

    def fits(self, drop: frozenset[str] = NONE, start: Programme | None = None) -> Programme | None:
        """Find a programme that holds with the requirements ``drop`` left out; None where none was found.

        With a ``start`` that can be trimmed to hold no model is asked.
        """
        found = None if start is None else self.trimmed(start, drop)
        return found or self._fits_by_model(drop)

    def _fits_by_model(self, drop: frozenset[str]) -> Programme | None:
        for safe in (False, True):
            model = model_for(self.assessor, Objective(drop=drop), safe=safe)
            if self._solve(model, ANY_GAP).status == "infeasible":
                # What the model cannot do that may fall a little short, the safe one cannot either.
                return None
            found = self.trimmed(model.chosen(), drop, patient=safe)
            if found is not None:
                return found
        return None

    def trimmed(self, start: Programme, drop: frozenset[str], *, patient: bool = False) -> Programme | None:
        """Trim a programme until it holds; None where it does not."""
        # What safe lines point at is worth some repairs; of what may fall short most cannot be repaired.
        space = Space(self.assessor, start.structure, drop=drop)
        trimmed = trim(space, start.settings, patient=patient)
        return None if trimmed is None else trimmed.programme

    def furthest(
        self, key: str, drop: frozenset[str] = NONE, start: Programme | None = None
    ) -> Furthest | None:
        """Bring one requirement as far as it goes under the others; None where they can't be met even so.

        A ``start`` is gone on from where the models point at nothing that can be trimmed.
        """
        found = self._furthest_by_model(key, drop)
        if found is None and start is not None:
            found = self._further(key, start, drop, patient=True)
        return found

    def _furthest_by_model(self, key: str, drop: frozenset[str]) -> Furthest | None:
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


@dataclass(frozen=True)
class HowFar:
    """Asks how far a requirement goes with others left out (`Feasibility.furthest`)."""

    key: str
    drop: frozenset[str] = NONE
    start: Programme | None = None


def how_far(asked: Feasibility, asks: Iterable[HowFar]) -> Iterator[Furthest | None]:
    """Answer one after the other, None where a search is given up; the second process answers some."""
    rules = rules_of(asked.assessor)

    def here(ask: HowFar) -> _Answer:
        return _answer(asked.assessor, asked.solver, asked.budget, ask)

    def there(ask: HowFar) -> Ahead[_Answer] | None:
        return ahead(_answer_there, rules, asked.solver, asked.budget, ask)

    for found, work, gave_up in by_two(asks, here, there):
        asked.work += work
        asked.gave_up = asked.gave_up or gave_up
        yield found


_Answer = tuple[Furthest | None, int, bool]
"""How far it goes, the work that it took, and whether it was given up."""


def _answer(assessor: Assessor, solver: SolverName, budget: Budget, ask: HowFar) -> _Answer:
    asked = Feasibility(assessor, solver, budget)
    with suppress(SolverError):
        return asked.furthest(ask.key, ask.drop, ask.start), asked.work, False
    return None, asked.work, True


def _answer_there(rules: bytes, solver: SolverName, budget: Budget, ask: HowFar) -> _Answer:
    return _answer(assessor_by(rules), solver, budget, ask)
