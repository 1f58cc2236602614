"""Processor seconds of `scullion plan` for each shipped pair that has a plan, imports included.

With a second checkout, pair by pair and one right after the other, the ratio to it, and whether both give the
same constants:

    python benchmarks/plan_time.py [--other CHECKOUT] [--pairs clubhouse/everyday …]
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent.parent
EVERYWHERE = ("everyday", "eco-everyday", "glasses", "roasting-tins", "fresh-cups")
PAIRS = (
    *(f"{machine}/{goal}" for machine in ("clubhouse", "narrowboat", "garage-120v") for goal in EVERYWHERE),
    *("garage-120v/nursery", "garage-120v/steamed-glasses", "cold-shed/fresh-cups"),
)


def planned(checkout: Path, pair: str) -> tuple[float, dict[str, Any]]:
    """Processor seconds of the command in a checkout, and the plan that it wrote."""
    environment = os.environ | {"PYTHONPATH": str(checkout), "OMP_NUM_THREADS": "1"}
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "plan.json"
        command = [sys.executable, "-m", "optimizer", "plan", *pair.split("/"), "--out", str(out)]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, cwd=checkout, env=environment, capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        plan: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, plan


def cost(plan: dict[str, Any]) -> float:
    """Money and waiting time of a plan [currency]."""
    return float(plan["costs"]["money"] + plan["costs"]["waiting"])


def main() -> None:
    """Time the pairs, and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--other", type=Path)
    parser.add_argument("--pairs", nargs="*", default=PAIRS)
    asked = parser.parse_args()
    checkouts = [HERE, *([asked.other.resolve()] if asked.other else [])]
    for checkout in checkouts:
        planned(checkout, "cold-shed/fresh-cups")  # What is compiled is kept from here on.
    for pair in asked.pairs:
        found = [planned(checkout, pair) for checkout in checkouts]
        words = [f"{pair:30s} {found[0][0]:6.2f} s"]
        if len(found) > 1:
            (here_s, here), (there_s, there) = found
            same = here["constants"] == there["constants"]
            dearer = cost(here) / cost(there) - 1.0
            words += [f"{there_s:6.2f} s there, ratio {here_s / there_s:.2f}"]
            words += ["same constants" if same else f"other constants, cost {dearer:+.2%}"]
        print(*words, sep="  ", flush=True)


if __name__ == "__main__":
    main()
