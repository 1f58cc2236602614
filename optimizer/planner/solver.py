"""Run a solver on a model, and read its answer only through the gate of its status.

A solve is cut off by work that is counted, never by a clock: a busy computer gives the answer of an idle one.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from importlib.metadata import version
from tempfile import TemporaryDirectory
from typing import Any, Literal

import pulp

from optimizer.errors import InputError, InputIssue, SolverError
from optimizer.interrupts import interrupts_noted
from optimizer.planner.solver_output import stdout_closed

SolverName = Literal["auto", "highs", "cbc"]
Installed = Literal["highs", "cbc"]
Status = Literal["optimal", "search budget", "infeasible"]
"""``search budget``: a solution, cut off before it was proven the best."""

GAP = 1e-4
"""Relative gap at which a solve counts as optimal [1]."""

ELASTIC = 2
"""HiGHS's strategy for conflicting rows, by elastic rows: a tenth of a second where a proof that the set is
irreducible would take many."""

LP_ITERATIONS = 100_000
"""Simplex iterations after which a linear problem is given up; it takes some thousands [1]."""

FEASIBLE_POINT = 2
"""HiGHS's primal solution status where it holds a solution."""


@dataclass(frozen=True)
class Budget:
    """Work after which a solve is cut off.

    HiGHS's ``steps`` are the times at which it asks whether to go on: each round of cuts, dive and node. Its
    nodes alone would not do, since most of these models are solved before the first branch. CBC counts
    ``nodes`` of its tree.
    """

    steps: int
    nodes: int


FULL = Budget(steps=2000, nodes=1000)
"""For a question that has to be answered. Most shipped pairs take up to 150 steps or 22 nodes, garage-120v
with roasting-tins all; a second is worth 20 to 40 steps, or 5 nodes."""


@dataclass(frozen=True)
class Outcome:
    """How a solve ended; objective and bound are 0 where it is infeasible.

    ``work`` counts one for the solve and one for each of HiGHS's steps.
    """

    status: Status
    solver: str
    objective: float
    bound: float
    work: int

    @property
    def gap(self) -> float:
        """(objective - bound) / objective [1]."""
        return max(self.objective - self.bound, 0.0) / max(abs(self.objective), 1e-12)


def run_solver(
    problem: pulp.LpProblem, solver: SolverName = "auto", gap: float = GAP, budget: Budget = FULL
) -> Outcome:
    """Solve a minimisation; its variables hold a solution unless it is infeasible.

    Raises `InputError` where the solver asked for is not installed, and `SolverError` where it stopped with
    neither a solution nor a proof that there is none.
    """
    name = _pick(solver)
    label = _label(name)
    work = 1 + _solve(problem, name, gap, budget)
    status = _status(problem, name)
    if status == "infeasible":
        return Outcome(status, label, 0.0, 0.0, work)
    if status is None:
        done, other = (
            (f"{budget.steps} steps", "cbc") if name == "highs" else (f"{budget.nodes} nodes", "highs")
        )
        raise SolverError(
            f"The search gave up after {done} of {label}: no programme found, but none is excluded."
            f"\nTry --solver {other}, which searches in another way."
        )
    objective = float(pulp.value(problem.objective))
    bound = _bound(problem, name, objective - gap * abs(objective) if status == "optimal" else None)
    return Outcome(status, label, objective, min(bound, objective), work)


def _solve(problem: pulp.LpProblem, name: Installed, gap: float, budget: Budget) -> int:
    """Run it on one thread, so that the same input gives the same programme; give HiGHS's steps."""
    if name == "cbc":
        _run_cbc(problem, mip=True, gapRel=gap, maxNodes=budget.nodes)
        return 0
    steps = 0

    def ask(_type: object, _message: str, _out: object, answer: Any, _data: object) -> None:
        nonlocal steps
        steps += 1
        answer.user_interrupt = steps > budget.steps or bool(interrupts)

    ask_type = pulp.HiGHS.hscb.HighsCallbackType.kCallbackMipInterrupt
    # HiGHS drops what its callback raises, and would go on.
    with interrupts_noted(held=True) as interrupts:
        _run_highs(problem, gapRel=gap, callbackTuple=(ask, None), callbacksToActivate=[ask_type])
    return steps


def relaxed_conflict(problem: pulp.LpProblem, solver: SolverName = "auto") -> frozenset[int] | None:
    """Ask HiGHS for rows that make the relaxed problem infeasible: few, but not always as few as can be.

    Rows count in the order in which they were added. None where the relaxed problem is feasible, no such
    rows were found, or another solver is asked for.
    """
    if _pick(solver) != "highs":
        return None
    with stdout_closed():
        _run_highs(problem, mip=False, simplex_iteration_limit=LP_ITERATIONS)
        highs = problem.solverModel
        if problem.status != pulp.LpStatusInfeasible:
            return None
        highs.setOptionValue("iis_strategy", ELASTIC)
        _, found = highs.getIis()
    return frozenset(found.row_index_) or None


def solver_label(solver: SolverName = "auto") -> str:
    """Name and version of the solver that would run."""
    return _label(_pick(solver))


def _pick(solver: SolverName) -> Installed:
    there = {"highs": pulp.HiGHS(msg=False).available(), "cbc": pulp.PULP_CBC_CMD(msg=False).available()}
    if solver == "auto":
        if there["highs"]:
            return "highs"
        solver = "cbc"
    if not there[solver]:
        fix = "pip install highspy" if solver == "highs" else "use --solver highs"
        raise InputError([InputIssue("--solver", "", "this solver is not installed", solver, fix)])
    return solver


def _label(name: Installed) -> str:
    return f"HiGHS {version('highspy')}" if name == "highs" else f"CBC with PuLP {version('pulp')}"


def _run_highs(problem: pulp.LpProblem, **options: Any) -> None:
    with stdout_closed():
        problem.solve(pulp.HiGHS(msg=False, threads=1, **options))


def _run_cbc(problem: pulp.LpProblem, **options: Any) -> None:
    """Its files go to a folder that is gone afterwards, however it ends."""
    # CBC is stopped by the terminal's Ctrl-C as well, and then writes an answer, or fails.
    with (
        interrupts_noted(held=False),
        TemporaryDirectory(prefix="scullion-") as folder,
        stdout_closed(),
        open(os.devnull, "w", encoding="utf-8") as nowhere,
    ):
        cbc = pulp.PULP_CBC_CMD(msg=False, threads=1, **options)
        cbc.tmpDir = folder
        # PuLP leaves its own open where CBC does not start or is interrupted.
        cbc.get_pipe = lambda: nowhere
        try:
            problem.solve(cbc)
        # Without a solver's exit code or its file PuLP says so; a file that is none it fails to read.
        except (pulp.PulpSolverError, OSError, ValueError, LookupError) as error:
            raise SolverError(
                f"{_label('cbc')} did not run, or wrote no solution that can be read."
                "\nUse --solver highs, or install PuLP again: it brings its own CBC."
            ) from error


def _status(problem: pulp.LpProblem, name: Installed) -> Status | None:
    """How a solve ended; None where there is neither a solution nor a proof.

    PuLP calls a problem "Optimal" that was cut off, and a HiGHS that was cut off "integer feasible" with or
    without a solution.
    """
    # CBC's "integer infeasible" is in the status alone.
    if problem.sol_status == pulp.LpSolutionInfeasible or problem.status == pulp.LpStatusInfeasible:
        return "infeasible"
    if name == "highs" and problem.solverModel.getInfo().primal_solution_status != FEASIBLE_POINT:
        return None
    if problem.sol_status == pulp.LpSolutionOptimal:
        return "optimal"
    return "search budget" if problem.sol_status == pulp.LpSolutionIntegerFeasible else None


def _bound(problem: pulp.LpProblem, name: Installed, proven: float | None) -> float:
    """Proven bound: the solver's own, else what its gap proves, else the relaxation where it was cut off."""
    if name == "highs":
        bound = float(problem.solverModel.getInfo().mip_dual_bound)
        if math.isfinite(bound):
            return bound
    if proven is not None:
        return proven
    return _relaxed(problem, name)


def _relaxed(problem: pulp.LpProblem, name: Installed) -> float:
    """Optimum of the relaxation; the solution that the problem's variables hold stays."""
    # A copy of a problem shares its variables.
    solution = [(variable, variable.varValue) for variable in problem.variables()]
    relaxed = problem.deepcopy()
    run = _run_highs if name == "highs" else _run_cbc
    run(relaxed, mip=False)
    bound = float(pulp.value(relaxed.objective))
    for variable, value in solution:
        variable.varValue = value
    return bound
