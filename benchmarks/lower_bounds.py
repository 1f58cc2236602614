"""How near the plans are to what no programme costs less than.

Every pair of machine and goal that has a plan: its cost, the lower bound, the gap, and processor seconds.

    python benchmarks/lower_bounds.py [--looks 30] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import itertools
import time

from optimizer.errors import CheckFailedError, NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.lower_bound import Budget, lower_bound
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Search
from optimizer.programme.inputs import load_inputs

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
GOALS = (
    *("fresh-cups", "glasses", "everyday", "roasting-tins", "eco-everyday", "nursery"),
    "steamed-glasses",
)


def main() -> None:
    """Print a row a pair as they come."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pairs", nargs="*")
    parser.add_argument("--looks", type=int, default=30)
    asked = parser.parse_args()
    pairs = [tuple(pair.split("/")) for pair in asked.pairs] or list(itertools.product(MACHINES, GOALS))
    print("| pair | plan | lower bound | within | s |")
    print("| --- | --- | --- | --- | --- |")
    for machine, goal in pairs:
        inputs = load_inputs(machine, goal)
        try:
            proven = plan_and_prove(inputs, search=Search(why=False))
        except (NoPlanError, CheckFailedError):
            continue
        programme = programme_of(proven.plan.constants, inputs.machine)
        cost = proven.plan.costs.money + proven.plan.costs.waiting
        started = time.process_time()
        assessor = Assessor(inputs, proven.kept)
        found = lower_bound(assessor, programme, cost, budget=Budget(looks=asked.looks))
        took = time.process_time() - started
        print(
            f"| {machine} {goal} | {cost:.4f} | {found.least:.4f} | {found.gap:.1%} | {took:.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
