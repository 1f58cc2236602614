"""The solver's gate: the same answer every time, an honest status, and silence on standard output."""

from __future__ import annotations

import ast
import gc
import itertools
import math
import os
import random
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pulp
import pytest
from planner_cases import FEW, FOUR_RINSES, shipped, tiny

from optimizer.errors import InputError, SolverError
from optimizer.planner import search
from optimizer.planner import solver as solve
from optimizer.planner.integer_model import Model
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import Models, choose, choose_by_model, model_for
from optimizer.planner.solver import FULL, Budget, SolverName, run_solver
from optimizer.planner.structure import ROUNDS_MOST, Structure
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import plan_to_json

ROOT = Path(__file__).resolve().parent.parent
PLAN_IN_A_PROCESS = """
import sys
from optimizer.planner.make_plan import plan
from optimizer.programme.inputs import load_inputs
from optimizer.programme.planfile import plan_to_json
sys.stderr.write(plan_to_json(plan(load_inputs("cold-shed", "fresh-cups"))))
"""


def model_of(inputs: Inputs, rounds_most: dict[str, int] = FOUR_RINSES) -> Model:
    return model_for(Assessor(inputs, rounds_most=rounds_most), Objective(), safe=True)


class TestSameInputSameAnswer:
    def test_twice_in_one_process(self) -> None:
        once, twice = (plan(tiny(), search=FEW) for _ in range(2))
        assert plan_to_json(once) == plan_to_json(twice)

    @pytest.mark.slow
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
        assert plan_to_json(plan(shipped("cold-shed", "fresh-cups"))).encode() == done[0].stderr

    def test_a_model_is_written_the_same_every_time(self) -> None:
        assert str(model_of(tiny()).rows.problem) == str(model_of(tiny()).rows.problem)


class TestBothSolvers:
    def test_same_cost(self) -> None:
        """HiGHS and CBC, each proven to a ten-thousandth: the model's optimum; the trimmed plan to 0.5 %."""
        inputs = tiny()
        found = {}
        for solver in ("highs", "cbc"):
            outcome = run_solver(model_of(inputs).rows.problem, solver)
            assert outcome.status == "optimal"
            assert 0.0 <= outcome.gap <= 1.01 * solve.GAP
            assert outcome.bound <= outcome.objective
            choice = choose(Assessor(inputs, rounds_most=FOUR_RINSES), solver)
            assert choice is not None
            found[solver] = (outcome.objective, choice.trimmed.objective)
        assert found["highs"][0] == pytest.approx(found["cbc"][0], rel=2.1 * solve.GAP)
        assert found["highs"][1] == pytest.approx(found["cbc"][1], rel=5e-3)

    @pytest.mark.parametrize("solver", ["highs", "cbc"])
    def test_both_say_infeasible(self, solver: SolverName) -> None:
        outcome = run_solver(model_of(tiny(goal__limits__duration_min=6.0)).rows.problem, solver)
        assert outcome.status == "infeasible"

    def test_label_names_the_solver_that_ran(self) -> None:
        assert run_solver(model_of(tiny()).rows.problem, "cbc").solver.startswith("CBC with PuLP ")
        assert run_solver(model_of(tiny()).rows.problem).solver.startswith("HiGHS ")


class TestMissingSolver:
    @pytest.mark.parametrize(("solver", "there"), [("highs", "PULP_CBC_CMD"), ("cbc", "HiGHS")])
    def test_asked_for_and_not_there(
        self, solver: SolverName, there: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        gone = "HiGHS" if solver == "highs" else "PULP_CBC_CMD"
        monkeypatch.setattr(getattr(pulp, gone), "available", lambda self: False)
        with pytest.raises(InputError) as caught:
            run_solver(model_of(tiny()).rows.problem, solver)
        (issue,) = caught.value.issues
        assert (issue.subject, issue.rule) == ("--solver", "this solver is not installed")
        assert issue.fix
        assert caught.value.exit_code == 2

    def test_auto_takes_the_other(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(pulp.HiGHS, "available", lambda self: False)
        assert run_solver(model_of(tiny()).rows.problem).solver.startswith("CBC")


class TestBrokenCbc:
    """A CBC that is there and does not work: an error that says what to do, and no files left behind."""

    @pytest.mark.parametrize(
        "script",
        [
            "#!/bin/sh\nexit 1\n",
            "#!/bin/sh\nexit 0\n",
            '#!/bin/sh\nfor word; do file=$word; done\necho nonsense > "$file"\necho a line >> "$file"\n',
            "#!/bin/sh\nkill -9 $$\n",
            "no programme at all\n",
        ],
        ids=["fails", "writes nothing", "writes nonsense", "is killed", "cannot be run"],
    )
    def test_is_a_solver_error(self, script: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        fake, folder = tmp_path / "cbc", tmp_path / "temporary"
        fake.write_text(script, encoding="utf-8")
        fake.chmod(0o755)
        folder.mkdir()
        monkeypatch.setattr(pulp.PULP_CBC_CMD, "pulp_cbc_path", str(fake))
        monkeypatch.setattr("tempfile.tempdir", str(folder))
        with pytest.raises(SolverError, match=r"CBC .* did not run(.|\n)*--solver highs"):
            run_solver(model_of(tiny()).rows.problem, "cbc")
        # A file that is left open is a warning, and here a failure, as soon as it is collected.
        gc.collect()
        assert list(folder.iterdir()) == []

    def test_missing_file(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(pulp.PULP_CBC_CMD, "pulp_cbc_path", str(tmp_path / "gone"))
        with pytest.raises(InputError, match="not installed"):
            run_solver(model_of(tiny()).rows.problem, "cbc")


def market_split(rows: int, columns: int) -> pulp.LpProblem:
    """Market split (Cornuéjols and Dawande, 1999): equalities over zeros and ones, hard to decide."""
    draw = random.Random(1)
    problem = pulp.LpProblem("split", pulp.LpMinimize)
    shares = [problem.add_variable(f"share_{number}", cat=pulp.LpBinary) for number in range(columns)]
    problem += shares[0]
    for _ in range(rows):
        sizes = [draw.randrange(100) for _ in shares]
        split = pulp.lpSum(size * share for size, share in zip(sizes, shares, strict=True))
        problem += split == sum(sizes) // 2
    return problem


class TestBudget:
    """A solve that is cut off: a solution with a gap, or an error; never a wrong proof."""

    @pytest.mark.parametrize(("solver", "said"), [("highs", "30 steps of HiGHS"), ("cbc", "5 nodes of CBC")])
    def test_nothing_found_is_no_proof(self, solver: SolverName, said: str) -> None:
        """The wide one has a solution, the tall one has none; neither is known by then."""
        for rows, columns, ends in ((2, 15, "optimal"), (3, 20, "infeasible")):
            with pytest.raises(SolverError, match=rf"gave up after {said} .*none is excluded") as caught:
                run_solver(market_split(rows, columns), solver, budget=Budget(steps=30, nodes=5))
            assert "Try --solver " in str(caught.value)
            ample = Budget(steps=100_000, nodes=100_000)
            assert run_solver(market_split(rows, columns), solver, budget=ample).status == ends

    @pytest.mark.parametrize(("solver", "budgets"), [("highs", (3, 5, 1000)), ("cbc", (0, 1000))])
    def test_more_work_comes_nearer(self, solver: SolverName, budgets: tuple[int, ...]) -> None:
        problem = model_of(shipped("garage-120v", "eco-everyday"), ROUNDS_MOST).rows.problem
        found = [run_solver(problem, solver, budget=Budget(work, work)) for work in budgets]
        assert [outcome.status for outcome in found[:1] + found[-1:]] == ["search budget", "optimal"]
        for before, after in itertools.pairwise(found):
            assert after.objective <= before.objective + solve.GAP
        for outcome in found:
            if outcome.status == "search budget":
                assert outcome.bound < outcome.objective
                assert outcome.gap > solve.GAP
            else:
                assert outcome.gap <= 1.01 * solve.GAP
            assert outcome.bound <= found[-1].objective

    @pytest.mark.parametrize("solver", ["highs", "cbc"])
    def test_infeasible_without_work_is_a_proof(self, solver: SolverName) -> None:
        """Both see it before their first step or node."""
        problem = model_of(tiny(goal__limits__duration_min=6.0)).rows.problem
        assert run_solver(problem, solver, budget=Budget(steps=0, nodes=0)).status == "infeasible"

    def test_same_work_same_answer(self) -> None:
        """Cut off in the middle, twice: no answer depends on a clock."""
        budget = Budget(steps=2, nodes=0)
        inputs = shipped("garage-120v", "everyday")
        problems = [model_of(inputs, ROUNDS_MOST).rows.problem for _ in range(2)]
        once, twice = (run_solver(problem, budget=budget) for problem in problems)
        assert once == twice
        assert once.status == "search budget"

    def test_a_shipped_profile_takes_a_tenth_of_the_budget(self) -> None:
        """garage-120v with roasting-tins is cut off by the whole of it."""
        outcome = run_solver(model_of(shipped("garage-120v", "eco-everyday"), ROUNDS_MOST).rows.problem)
        assert outcome.status == "optimal"
        assert outcome.work < 0.1 * FULL.steps

    def test_a_plan_says_that_it_was_cut_off(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def cut_off(self: pulp.LpProblem, solver: pulp.LpSolver) -> int:
            status: int = solved(self, solver)
            self.assignStatus(pulp.LpStatusOptimal, pulp.LpSolutionIntegerFeasible)
            return status

        solved = pulp.LpProblem.solve
        monkeypatch.setattr(pulp.LpProblem, "solve", cut_off)
        choice = choose_by_model(Assessor(tiny(), rounds_most=FOUR_RINSES))
        assert choice is not None
        assert choice.outcome.status == "search budget"

    def test_what_was_struck_is_not_asked_for(self) -> None:
        """The structure that a model chooses, once struck, gives way to another."""
        judge = Assessor(tiny(), rounds_most=FOUR_RINSES)
        first = choose_by_model(judge)
        assert first is not None
        struck = [first.trimmed.programme.structure]
        second = choose_by_model(judge, models=Models(struck=struck))
        assert second is not None
        assert second.trimmed.programme.structure not in struck
        assert second.trimmed.objective >= first.trimmed.objective * (1.0 - 1e-3)

    def test_what_cannot_be_trimmed_is_struck(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """A wash of 60 min whose rounds no trim brings to hold: all that was asked for is on the list."""
        monkeypatch.setattr(search, "trim", lambda *_, **__: None)
        struck: list[Structure] = []
        judge = Assessor(tiny(), rounds_most=FOUR_RINSES)
        models = Models(wider=False, asked=((False, 2), (True, 1)), struck=struck)
        assert choose_by_model(judge, models=models) is None
        assert 1 <= len(struck) <= 3
        assert len({(one.kinds, one.modes) for one in struck[:2]}) == len(struck[:2])

    def test_no_bound_is_no_gap_of_nothing(self) -> None:
        """Cut off before HiGHS has a bound, the relaxation is one; the gap is never 0 for want of it."""
        problem = model_of(tiny()).rows.problem
        objective = run_solver(problem).objective
        nothing_yet = SimpleNamespace(mip_dual_bound=-math.inf)
        problem.solverModel = SimpleNamespace(getInfo=lambda: nothing_yet)
        bound = solve._bound(problem, "highs", None)
        assert 0.0 < bound < 0.999 * objective
        assert float(pulp.value(problem.objective)) == pytest.approx(objective), "the solution stays"


@pytest.mark.parametrize("solver", ["highs", "cbc"])
def test_standard_output_stays_empty(solver: SolverName, capfd: pytest.CaptureFixture[str]) -> None:
    run_solver(model_of(tiny()).rows.problem, solver)
    assert capfd.readouterr().out == ""


def test_no_clock_outside_the_command_line_and_the_workers() -> None:
    """No answer may hang on one: only progress lines and waiting for workers read a clock."""
    clocks = {"perf_counter", "monotonic", "process_time", "time_limit", "timeLimit", "iis_time_limit"}
    for path in sorted((ROOT / "optimizer").rglob("*.py")):
        folder = path.relative_to(ROOT / "optimizer").parts[0]
        text = path.read_text(encoding="utf-8")
        if not any(clock in text for clock in clocks):
            continue
        tree = ast.parse(text)
        named = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        named |= {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
        named |= {node.arg for node in ast.walk(tree) if isinstance(node, ast.keyword) and node.arg}
        named |= {str(node.value) for node in ast.walk(tree) if isinstance(node, ast.Constant)}
        assert folder in ("cli", "batch") or not named & clocks, path
