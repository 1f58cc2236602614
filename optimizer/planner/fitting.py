"""Whether any programme at all fits, with some requirements left out."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.options import OptionTable
from optimizer.planner.search import SLACK
from optimizer.planner.solver import SolverName, run_solver
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space

ANY = 1.0
"""Gap at which the solver takes the first programme it finds [1]."""


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
        model = model_for(assessor, Objective(drop=drop), safe=safe)
        if run_solver(model.problem, solver, gap=ANY, limit_s=limit_s).status == "infeasible":
            continue
        structure, start = model.chosen()
        if trim(Space(assessor, structure, drop=drop), start) is not None:
            return True
    return False


def model_for(assessor: Assessor, ask: Objective, *, safe: bool) -> Model:
    """Set up the model that a question is asked of.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    ask : Objective
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
def _table(assessor: Assessor, safe: bool, timed: bool) -> OptionTable:
    """Options of a machine, for as many questions as are asked about it."""
    return Tabulator(assessor, safe=safe, timed=timed).table()
