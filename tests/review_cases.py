"""What several tests of the review share."""

from __future__ import annotations

from pathlib import Path

from optimizer.programme.plan import Plan
from optimizer.review.delivered import delivered
from optimizer.review.machine_now import MachineNow, machine_now
from optimizer.review.run_log import RunLog, read_run
from optimizer.review.simulated_run import SimulatedRun


def read_back(plan: Plan, path: Path, run: SimulatedRun) -> tuple[RunLog, MachineNow]:
    """Write a whole run as a log, read it, and fit the machine to it."""
    path.write_text(run.csv(), encoding="utf-8")
    log = read_run(path, 230.0)
    done = delivered(plan.constants, log)
    assert done.complete
    assert done.unlike == ()
    return log, machine_now(plan, log, done)
