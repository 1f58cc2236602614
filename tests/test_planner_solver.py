"""The solver's gate: the same answer every time, an honest status, and silence on standard output."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pulp
import pytest
from planner_cases import shipped, tiny

from optimizer.errors import InputError, SolverError
from optimizer.planner import solver as solve
from optimizer.planner.integer_model import Model
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import choose, choose_by_model
from optimizer.planner.solver import SolverName, run_solver
from optimizer.planner.tabulate import Tabulator
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import plan_to_json

ROOT = Path(__file__).resolve().parent.parent
PLAN_IN_A_PROCESS = """
import sys
from optimizer.planner.make_plan import plan
from optimizer.programme.inputs import load_inputs
from optimizer.programme.planfile import plan_to_json
sys.stderr.write(plan_to_json(plan(load_inputs("cold-shed", "everyday"))))
"""


def model_of(inputs: Inputs) -> Model:
    assessor = Assessor(inputs)
    return Model(assessor, Tabulator(assessor).table(), Objective())


class TestSameInputSameAnswer:
    def test_twice_in_one_process(self) -> None:
        once, twice = (plan(tiny()) for _ in range(2))
        assert once.constants == twice.constants
        assert plan_to_json(once) == plan_to_json(twice)

    def test_in_two_processes(self) -> None:
        """With different hash seeds; and HiGHS, which greets on its first use, leaves descriptor 1 empty."""
        done = [
            subprocess.run(
                [sys.executable, "-c", PLAN_IN_A_PROCESS],
                capture_output=True,
                check=True,
                cwd=ROOT,
                env={**os.environ, "PYTHONHASHSEED": seed},
            )
            for seed in ("1", "2")
        ]
        assert done[0].stderr == done[1].stderr
        assert done[0].stderr.startswith(b"{")
        assert [process.stdout for process in done] == [b"", b""]
        assert plan_to_json(plan(shipped("cold-shed", "everyday"))).encode() == done[0].stderr

    def test_a_model_is_written_the_same_every_time(self) -> None:
        assert str(model_of(tiny()).problem) == str(model_of(tiny()).problem)


class TestBothSolvers:
    @pytest.mark.parametrize("changes", [{}, {"goal__limits__duration_min": 40.0}], ids=str)
    def test_same_cost(self, changes: dict[str, Any]) -> None:
        """HiGHS and CBC, each proven to a ten-thousandth: the model's optimum; the trimmed plan to 0.5 %."""
        inputs = tiny(**changes)
        found = {}
        for solver in ("highs", "cbc"):
            outcome = run_solver(model_of(inputs).problem, solver)
            assert outcome.status == "optimal"
            assert 0.0 <= outcome.gap <= 1.01 * solve.GAP
            assert outcome.bound <= outcome.objective
            choice = choose(Assessor(inputs), solver)
            assert choice is not None
            found[solver] = (outcome.objective, choice.trimmed.objective)
        assert found["highs"][0] == pytest.approx(found["cbc"][0], rel=2.1 * solve.GAP)
        assert found["highs"][1] == pytest.approx(found["cbc"][1], rel=5e-3)

    @pytest.mark.parametrize("solver", ["highs", "cbc"])
    def test_both_say_infeasible(self, solver: SolverName) -> None:
        outcome = run_solver(model_of(tiny(goal__limits__duration_min=6.0)).problem, solver)
        assert outcome.status == "infeasible"

    def test_label_names_the_solver_that_ran(self) -> None:
        assert run_solver(model_of(tiny()).problem, "cbc").solver.startswith("CBC with PuLP ")
        assert run_solver(model_of(tiny()).problem).solver.startswith("HiGHS ")


class TestMissingSolver:
    @pytest.mark.parametrize(("solver", "there"), [("highs", "PULP_CBC_CMD"), ("cbc", "HiGHS")])
    def test_asked_for_and_not_there(
        self, solver: SolverName, there: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        gone = "HiGHS" if solver == "highs" else "PULP_CBC_CMD"
        monkeypatch.setattr(getattr(pulp, gone), "available", lambda self: False)
        with pytest.raises(InputError) as caught:
            run_solver(model_of(tiny()).problem, solver)
        (issue,) = caught.value.issues
        assert (issue.subject, issue.rule) == ("--solver", "this solver is not installed")
        assert issue.fix
        assert caught.value.exit_code == 3

    def test_auto_takes_the_other(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(pulp.HiGHS, "available", lambda self: False)
        assert run_solver(model_of(tiny()).problem).solver.startswith("CBC")


class TestTimeLimit:
    """A solve that is cut off: a solution with a gap, or an error; never a wrong proof."""

    @pytest.mark.parametrize("solver", ["highs", "cbc"])
    def test_no_time_at_all(self, solver: SolverName, monkeypatch: pytest.MonkeyPatch) -> None:
        """CBC cut off while it prepares a problem calls it infeasible; that is no answer."""
        monkeypatch.setattr(solve, "TIME_LIMIT_S", 1e-3)
        with pytest.raises(SolverError, match="no programme within 0 s and no proof"):
            run_solver(model_of(shipped("clubhouse", "everyday")).problem, solver)

    @pytest.mark.parametrize("solver", ["highs", "cbc"])
    @pytest.mark.parametrize("limit_s", [0.05, 0.15, 0.3, 0.6])
    def test_some_time(self, solver: SolverName, limit_s: float, monkeypatch: pytest.MonkeyPatch) -> None:
        model = model_of(shipped("clubhouse", "everyday"))
        monkeypatch.setattr(solve, "TIME_LIMIT_S", limit_s)
        try:
            outcome = run_solver(model.problem, solver)
        except SolverError:
            return
        assert outcome.status in ("optimal", "time limit")
        if outcome.status == "time limit":
            assert outcome.bound < outcome.objective
            assert outcome.gap > solve.GAP
        else:
            assert outcome.gap <= 1.01 * solve.GAP

    def test_cut_off_with_a_solution(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """What a solver that ran out of time hands over is used, and called what it is."""
        model = model_of(tiny())
        proven = run_solver(model.problem)

        def cut_off(self: pulp.LpProblem, solver: pulp.LpSolver) -> int:
            status: int = solved(self, solver)
            self.assignStatus(pulp.LpStatusOptimal, pulp.LpSolutionIntegerFeasible)
            return status

        solved = pulp.LpProblem.solve
        monkeypatch.setattr(pulp.LpProblem, "solve", cut_off)
        outcome = run_solver(model.problem)
        assert outcome.status == "time limit"
        assert outcome.objective == pytest.approx(proven.objective)
        choice = choose_by_model(Assessor(tiny()))
        assert choice is not None
        assert choice.outcome.status == "time limit"

    def test_no_bound_is_no_gap_of_nothing(self) -> None:
        """Cut off before HiGHS has a bound, the relaxation is one; the gap is never 0 for want of it."""
        model = model_of(tiny())
        objective = run_solver(model.problem).objective
        nothing_yet = SimpleNamespace(mip_dual_bound=-math.inf)
        model.problem.solverModel = SimpleNamespace(getInfo=lambda: nothing_yet)
        bound = solve._bound(model.problem, "highs", None)
        assert 0.0 < bound < 0.999 * objective
        assert float(pulp.value(model.problem.objective)) == pytest.approx(objective), "the solution stays"


@pytest.mark.parametrize("solver", ["highs", "cbc"])
def test_standard_output_stays_empty(solver: SolverName, capfd: pytest.CaptureFixture[str]) -> None:
    run_solver(model_of(tiny()).problem, solver)
    assert capfd.readouterr().out == ""
