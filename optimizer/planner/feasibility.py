"""Whether requirements can hold together, and how far one of them goes: the questions behind the reasons."""

from __future__ import annotations

from optimizer.errors import SolverError
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import model_for
from optimizer.planner.solver import FULL, Budget, Outcome, SolverName, run_solver
from optimizer.planner.trim import furthest, trim
from optimizer.planner.trim_space import Space

ANY_GAP = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""

CLOSE_GAP = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""

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
