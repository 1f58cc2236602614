"""Run a solver on a model, and read its answer only through the gate of its status."""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.metadata import version
from typing import Literal

import pulp

from optimizer.errors import InputError, InputIssue, SolverError

SolverName = Literal["auto", "highs", "cbc"]

TIME_LIMIT_S = 60.0
"""Time after which a solve is cut off [s]; the choose step takes about a second."""

CONFLICT_S, ELASTIC = 1.0, 2
"""How HiGHS looks for conflicting rows: at most so long [s], by its strategy of elastic rows [1], which takes
a tenth of a second where proving the set irreducible would take many."""

GAP = 1e-4
"""Relative gap at which a solve counts as optimal [1]."""


@dataclass(frozen=True)
class Outcome:
    """How a solve ended.

    Attributes
    ----------
    status : str
        ``optimal``, ``time limit`` (a solution, not proven best) or ``infeasible``.
    solver : str
        Name and version of the solver that ran.
    objective, bound : float
        Value of the solution and proven bound, 0 where infeasible [in unit] of the objective.
    seconds : float
        Time taken [s].
    """

    status: Literal["optimal", "time limit", "infeasible"]
    solver: str
    objective: float
    bound: float
    seconds: float

    @property
    def gap(self) -> float:
        """(objective - bound) / objective [1]."""
        return max(self.objective - self.bound, 0.0) / max(abs(self.objective), 1e-12)


def run_solver(
    problem: pulp.LpProblem,
    solver: SolverName = "auto",
    gap: float = GAP,
    limit_s: float | None = None,
) -> Outcome:
    """Solve a problem.

    Parameters
    ----------
    problem : LpProblem
        A minimisation.
    solver : str
        ``highs``, ``cbc``, or ``auto``: HiGHS where it is there, else CBC.
    gap : float
        Relative gap at which a solution will do [1].
    limit_s : float or None
        Time after which it is cut off; None: the usual one [s].

    Returns
    -------
    Outcome
        How it ended. Variables hold a solution unless it is infeasible.

    Raises
    ------
    InputError
        The solver asked for is not installed.
    SolverError
        The solver stopped with neither a solution nor a proof that there is none.
    """
    name, limit_s = _pick(solver), TIME_LIMIT_S if limit_s is None else limit_s
    started = time.perf_counter()
    with _stdout_closed():
        problem.solve(_command(name, gap, limit_s))
    seconds = time.perf_counter() - started
    label = _label(name)
    infeasible = problem.sol_status == pulp.LpSolutionInfeasible or problem.status == pulp.LpStatusInfeasible
    # CBC that is cut off while it prepares a problem calls it infeasible.
    if infeasible and seconds < limit_s:
        return Outcome("infeasible", label, 0.0, 0.0, seconds)
    if infeasible or problem.sol_status not in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible):
        raise SolverError(
            f"{label} found no programme within {limit_s:.0f} s and no proof that there is none"
        )
    proven = problem.sol_status == pulp.LpSolutionOptimal
    objective = float(pulp.value(problem.objective))
    bound = _bound(problem, name, objective - gap * abs(objective) if proven else None)
    return Outcome("optimal" if proven else "time limit", label, objective, min(bound, objective), seconds)


def relaxed_conflict(problem: pulp.LpProblem, solver: SolverName = "auto") -> frozenset[int] | None:
    """Ask HiGHS for rows that make the relaxed problem infeasible.

    Parameters
    ----------
    problem : LpProblem
        The problem; its whole numbers are let go.
    solver : str
        ``highs``, ``cbc`` or ``auto``.

    Returns
    -------
    frozenset of int
        Rows in the order in which they were added, few but not always as few as can be [1]; None where the
        relaxed problem is feasible, the time is up, or another solver is asked for.
    """
    if _pick(solver) != "highs":
        return None
    with _stdout_closed():
        problem.solve(pulp.HiGHS(msg=False, mip=False, threads=1, timeLimit=CONFLICT_S))
        highs = problem.solverModel
        if problem.status != pulp.LpStatusInfeasible:
            return None
        highs.setOptionValue("iis_strategy", ELASTIC)
        highs.setOptionValue("iis_time_limit", CONFLICT_S)
        _, found = highs.getIis()
    return frozenset(found.row_index_) or None


def solver_label(solver: SolverName = "auto") -> str:
    """Name the solver that would run.

    Parameters
    ----------
    solver : str
        ``highs``, ``cbc`` or ``auto``.

    Returns
    -------
    str
        Its name and version.

    Raises
    ------
    InputError
        The solver asked for is not installed.
    """
    return _label(_pick(solver))


def _pick(solver: SolverName) -> Literal["highs", "cbc"]:
    there = {"highs": pulp.HiGHS(msg=False).available(), "cbc": pulp.PULP_CBC_CMD(msg=False).available()}
    if solver == "auto":
        if there["highs"]:
            return "highs"
        solver = "cbc"
    if not there[solver]:
        fix = "pip install highspy" if solver == "highs" else "use --solver highs"
        raise InputError([InputIssue("--solver", "", "this solver is not installed", solver, fix)])
    return solver


def _command(name: Literal["highs", "cbc"], gap: float, limit_s: float) -> pulp.LpSolver:
    """One thread each, so that the same input gives the same programme."""
    if name == "highs":
        return pulp.HiGHS(msg=False, threads=1, gapRel=gap, timeLimit=limit_s)
    return pulp.PULP_CBC_CMD(msg=False, threads=1, gapRel=gap, timeLimit=limit_s)


def _label(name: Literal["highs", "cbc"]) -> str:
    return f"HiGHS {version('highspy')}" if name == "highs" else f"CBC with PuLP {version('pulp')}"


def _bound(problem: pulp.LpProblem, name: Literal["highs", "cbc"], proven: float | None) -> float:
    """Proven bound: the solver's own, else what its gap proves, else the relaxation where it was cut off."""
    if name == "highs":
        bound = float(problem.solverModel.getInfo().mip_dual_bound)
        if math.isfinite(bound):
            return bound
    if proven is not None:
        return proven
    return _relaxed(problem, name)


def _relaxed(problem: pulp.LpProblem, name: Literal["highs", "cbc"]) -> float:
    """Optimum of the relaxation; the solution that the problem's variables hold stays."""
    # A copy of a problem shares its variables.
    solution = [(variable, variable.varValue) for variable in problem.variables()]
    relaxed = problem.deepcopy()
    solver = pulp.HiGHS if name == "highs" else pulp.PULP_CBC_CMD
    with _stdout_closed():
        relaxed.solve(solver(msg=False, mip=False))
    bound = float(pulp.value(relaxed.objective))
    for variable, value in solution:
        variable.varValue = value
    return bound


@contextmanager
def _stdout_closed() -> Iterator[None]:
    """Send file descriptor 1 to nowhere: HiGHS prints there on its first use whatever it is told."""
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # no descriptor 1 at all: nothing to protect
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)
