"""How the choose step grows with the number of rounds, levels and temperature steps.

python benchmarks/scaling.py [--machine clubhouse] [--goal everyday] [--repeats 3]
"""

from __future__ import annotations

import argparse
import statistics
import time
from importlib.metadata import version
from unittest.mock import patch

from optimizer.planner import tabulate as tabulate_module
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.solver import run_solver
from optimizer.planner.tabulate import Tabulator
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs

USUAL_ROUNDS = {"prerinse": 2, "wash": 3, "rinse": 6, "steam": 1}
ROUNDS = (
    {"prerinse": 1, "wash": 1, "rinse": 3, "steam": 1},
    {"prerinse": 1, "wash": 2, "rinse": 4, "steam": 1},
    USUAL_ROUNDS,
    {"prerinse": 2, "wash": 4, "rinse": 8, "steam": 1},
)
LEVELS = ((1.0,), (1.0, 1.35), (1.0, 1.2, 1.5), (1.0, 1.15, 1.35, 1.6))
STEPS_K = (10.0, 5.0, 2.5)


def solve(
    inputs: Inputs, rounds: dict[str, int], levels: tuple[float, ...], step_k: float
) -> tuple[int, float, float]:
    """Variables, seconds and objective of one setting."""
    with (
        patch.object(tabulate_module, "HEATED_STEPS", levels),
        patch.object(tabulate_module, "PEAK_STEP_K", step_k),
    ):
        assessor = Assessor(inputs, rounds_most=rounds)
        model = Model(assessor, Tabulator(assessor).table())
        started = time.perf_counter()
        outcome = run_solver(model.rows.problem)
        seconds = time.perf_counter() - started
    return model.rows.problem.numVariables(), seconds, outcome.objective


def main() -> None:
    """Vary one thing at a time around the usual setting."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--machine", default="clubhouse")
    parser.add_argument("--goal", default="everyday")
    parser.add_argument("--repeats", type=int, default=3)
    asked = parser.parse_args()
    inputs = load_inputs(asked.machine, asked.goal)
    cases = [(f"{r['prerinse']} + {r['wash']} + {r['rinse']} rounds", r, LEVELS[1], 5.0) for r in ROUNDS]
    cases += [(f"{len(levels)} levels of a heated round", USUAL_ROUNDS, levels, 5.0) for levels in LEVELS]
    cases += [(f"peaks in steps of {step:g} K", USUAL_ROUNDS, LEVELS[1], step) for step in STEPS_K]
    usual = None
    print("| setting | variables | seconds (median) | over the usual | objective |")
    print("| --- | --- | --- | --- | --- |")
    for name, rounds, levels, step_k in [("usual", USUAL_ROUNDS, LEVELS[1], 5.0), *cases]:
        runs = [solve(inputs, rounds, levels, step_k) for _ in range(asked.repeats)]
        seconds = statistics.median(run[1] for run in runs)
        usual = usual or seconds
        print(
            f"| {name} | {runs[0][0]} | {seconds:.2f} | {seconds / usual:.2f} | {runs[0][2] / 100:.4f} |",
            flush=True,
        )
    print(
        f"\n{asked.goal} on {asked.machine}; HiGHS {version('highspy')}, PuLP {version('pulp')}, one thread."
    )


if __name__ == "__main__":
    main()
