"""How long the single faults of a plan take to run.

python benchmarks/faults.py [--repeats 5] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import statistics
import time

from optimizer.check.faults.run_faults import run_faults
from optimizer.plan_and_prove import plan_and_prove
from optimizer.programme.inputs import load_inputs

PAIRS = ("clubhouse/everyday", "narrowboat/everyday", "garage-120v/everyday", "cold-shed/fresh-cups",
         "garage-120v/steamed-glasses")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("pairs", nargs="*", default=PAIRS)
    parser.add_argument("--repeats", type=int, default=5)
    asked = parser.parse_args()
    print("| machine and goal | faults | median s |")
    print("| --- | --- | --- |")
    for pair in asked.pairs:
        plan = plan_and_prove(load_inputs(*pair.split("/"))).plan
        inputs, taken_s = plan.inputs, []
        for _ in range(asked.repeats):
            start_s = time.perf_counter()
            report = run_faults(plan.constants, inputs.machine, inputs.goal, inputs.circuit)
            taken_s.append(time.perf_counter() - start_s)
        print(f"| {pair} | {len(report.rows)} | {statistics.median(taken_s):.2f} |")


if __name__ == "__main__":
    main()
