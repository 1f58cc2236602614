"""What a single step saves on the plans of shipped pairs, or of machines and goals changed at random.

The steps are those of `tests/single_steps.py`, which takes nothing from the planner's own: a round struck,
twice, merged, cold, its heat in another way or another round, levels, soaks, rests, top-ups. Each is trimmed
with what the plan's checks taught. Printed are the step that saves most and its share of the cost.

    python benchmarks/step_search.py [--random 50] [--seed 1] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from evolution import random_inputs
from global_search import GOALS, MACHINES

from optimizer.errors import ScullionError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.search import Search
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from single_steps import best_step


def cases(asked: argparse.Namespace) -> Iterator[tuple[str, Inputs]]:
    """Shipped pairs, or as many random ones as asked for; those that no profile allows are skipped."""
    if not asked.random:
        for pair in asked.pairs or [f"{machine}/{goal}" for machine in MACHINES for goal in GOALS]:
            yield pair, load_inputs(*pair.split("/"))
        return
    seed, found = asked.seed, 0
    while found < asked.random:
        made = random_inputs(seed)
        seed += 1
        if made is not None:
            found += 1
            yield made


def main() -> None:
    """Print a row a pair, and what the worst of them comes to."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("pairs", nargs="*", metavar="MACHINE/GOAL")
    parser.add_argument("--random", type=int, default=0, help="so many random pairs instead")
    parser.add_argument("--seed", type=int, default=1, help="first seed of the random pairs")
    worst = ("none", "", 0.0)
    planned = without = 0
    for name, inputs in cases(parser.parse_args()):
        before = time.process_time()
        try:
            proven = plan_and_prove(inputs, search=Search(why=False))
        except ScullionError as error:
            without += 1
            print(f"{name:28} {type(error).__name__}", flush=True)
            continue
        planned += 1
        taken_s = time.process_time() - before
        step, share = best_step(proven)
        worst = max(worst, (name, step, share), key=lambda one: one[2])
        print(f"{name:28} {taken_s:5.1f} s  {100.0 * share:6.2f} %  {step}", flush=True)
    print(f"{planned} plans, {without} without one")
    print(f"at the most {100.0 * worst[2]:.2f} %: {worst[1]}, {worst[0]}")


if __name__ == "__main__":
    main()
