"""No plan: what is to blame, and requirements that cannot all hold together, none of them in vain.

A clash is irreducible: with all other requirements left out there is still no programme, and there is one as
soon as any single member is left out as well. It is found by a deletion filter over requirements (Chinneck,
Feasibility and Infeasibility in Optimization, 2008), each step of it a solve that stops at the first
programme. A requirement that is to blame alone belongs to every clash, and is never asked about. Where HiGHS
can name rows of the relaxed model that conflict, the filter begins with the requirements among them; with
CBC, or where the relaxed model is feasible (as often as not), there are no such rows and it begins with all.

A step is asked of the model that gives way in everything first: what is impossible there is impossible.
Members that are left are then asked about as the planner does it, with both models and a trim.

Machine and circuit stand as they are: their limits join a clash only where they are to blame themselves.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.errors import Easing, Reason, SolverError
from optimizer.planner.fitting import ANY, fits, model_for
from optimizer.planner.machine_limits import SOON_S, around
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.obstacles import obstacles
from optimizer.planner.reasons import all_at_once, alone, asked_keys, in_the_way, reason_of, together
from optimizer.planner.solver import SolverName, relaxed_conflict, run_solver

BUDGET_S = 6.0
"""How long the search for a clash may go on before it is given up [s]: what stands in the way is known by
then, and the answer shall not hang on it."""

NEAREST_S = 1.0
"""Longest solve for the nearest value of a member that is not to blame alone [s]."""

FAR_ENOUGH = "for these alone"
"""Marks the nearest value of a requirement that would not do for all the others."""


@dataclass(frozen=True)
class Diagnosis:
    """What stands in the way of a plan.

    Attributes
    ----------
    reasons : tuple of Reason
        What no programme can mend; else what stands in the way alone; else what does so together.
    easing : str
        Whether any one of them has to give way, or all.
    clash : tuple of Reason
        An irreducible set of requirements that cannot all hold, two or more; empty where none was found.
    """

    reasons: tuple[Reason, ...]
    easing: Easing = ""
    clash: tuple[Reason, ...] = ()


def diagnose(assessor: Assessor, solver: SolverName = "auto") -> Diagnosis:
    """Say why a goal can't be met.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    Diagnosis
        Reasons, what of them has to give way, and what clashes.
    """
    if found := obstacles(assessor):
        return Diagnosis(tuple(found))
    if found := alone(assessor, solver):
        return Diagnosis(tuple(found), "any", clash(assessor, solver, found))
    found, complete = together(assessor, solver)
    easing: Easing = "all" if found and complete else ""
    return Diagnosis(tuple(found or [all_at_once(assessor)]), easing, clash(assessor, solver))


def clash(
    assessor: Assessor, solver: SolverName = "auto", single: Sequence[Reason] = ()
) -> tuple[Reason, ...]:
    """Find an irreducible set of requirements that cannot all hold.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    single : sequence of Reason
        All that is to blame alone, if anything is.

    Returns
    -------
    tuple of Reason
        Its members, two or more, each with the nearest value at which the others can hold; empty where one
        requirement alone cannot be met, or none was found in the time.
    """
    search = _Search(assessor, solver, frozenset(reason.key for reason in single))
    try:
        kept = search.filtered()
    except (SolverError, TimeoutError):
        return ()
    if len(kept) + len(single) < 2:
        return ()
    others = search.every - search.certain - kept
    members = list(single)
    if not single:
        members += [reason for reason in around(assessor, solver, others) if reason is not None]
    for key in asked_keys(assessor):
        if key in kept:
            members.append(search.nearest(key, others))
    return tuple(members)


class _Search:
    """The deletion filter of one clash."""

    def __init__(self, assessor: Assessor, solver: SolverName, certain: frozenset[str]) -> None:
        self.assessor, self.solver, self.certain = assessor, solver, certain
        self.every = frozenset(asked_keys(assessor))
        self._until = time.perf_counter() + BUDGET_S

    def filtered(self) -> frozenset[str]:
        """Members besides those that are certain."""
        asked = [key for key in asked_keys(self.assessor) if key not in self.certain]
        kept = frozenset(asked)
        if self.certain and not self._possible(frozenset()):
            return frozenset()
        first = self._conflict()
        if first is not None and not self._possible(kept & first):
            kept &= first
        for holds in (self._possible, self._found):
            for key in asked:
                if key in kept and not holds(kept - {key}):
                    kept -= {key}
        return kept

    def _possible(self, kept: frozenset[str]) -> bool:
        """Whether the certain ones and these can all hold, give or take a little, whatever the others."""
        self._in_time()
        model = model_for(self.assessor, Objective(drop=self.every - self.certain - kept), safe=False)
        outcome = run_solver(model.problem, self.solver, gap=ANY, limit_s=SOON_S)
        return outcome.status != "infeasible"

    def _found(self, kept: frozenset[str]) -> bool:
        """Whether a programme is found with which they all hold."""
        self._in_time()
        return fits(self.assessor, self.solver, self.every - self.certain - kept, limit_s=SOON_S)

    def nearest(self, key: str, others: frozenset[str]) -> Reason:
        """How far a member goes when the others of the clash hold, as well as a short solve can tell."""
        found = None
        with suppress(SolverError):
            found = in_the_way(self.assessor, self.solver, key, others, limit_s=NEAREST_S)
        if found is None:
            return replace(reason_of(self.assessor, key, 0.0), nearest="not found in the time")
        return replace(found, nearest=f"{found.nearest}, {FAR_ENOUGH}")

    def _in_time(self) -> None:
        if time.perf_counter() > self._until:
            raise TimeoutError

    def _conflict(self) -> frozenset[str] | None:
        """Requirements whose rows make the relaxed model infeasible; None where it is not, or not known."""
        model = model_for(self.assessor, Objective(), safe=False)
        rows = relaxed_conflict(model.problem, self.solver)
        return None if rows is None else frozenset(key for row, key in model.row_keys.items() if row in rows)
