"""Plans of measured profiles, run on the machine as it is.

A plan is made and proven for the profile that a bench book gave. Then its table is run by the check's
equations at the true numbers, some runs each: what varies is drawn anew for every run.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from bench_truth import Truth
from kept_checks import no_bounds
from tolerance_box import at_point, box

from optimizer.check.certify import check
from optimizer.errors import CheckFailedError, NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.search import USUAL_SEARCH
from optimizer.profile.machine import Machine
from optimizer.programme.inputs import load_inputs

GOAL_OF = {
    "clubhouse": "everyday",
    "narrowboat": "glasses",
    "garage-120v": "everyday",
    "cold-shed": "fresh-cups",
}

PERFORMANCE = ("dose.", "hygiene.", "rinse.", "drying.", "limits.", "detergent.")
"""Requirements that make the ware clean, dry or ready in time; all others keep machine and people safe."""


OF_THE_BOX = ("fill.stuck_s", "heat.cold_sensor_s")
"""Limits on a fault's longest time, a share over what the slowest point of the tolerances needs: they are no
fact of one machine. What water and heat do in that time is judged by rows of their own."""


@dataclass(frozen=True)
class Executed:
    """What came of a plan on the true machine.

    Attributes
    ----------
    status : str
        ``run``, ``no plan``, or ``check failed`` for the measured profile.
    money : float
        What a run costs, waiting counted [currency]; 0 without a plan.
    runs : int
        Runs on the true machine [1].
    unsafe, short : tuple of str
        Requirements of safety that a run broke, and those of cleaning, with their values.
    """

    status: str
    money: float = 0.0
    runs: int = 0
    unsafe: tuple[str, ...] = ()
    short: tuple[str, ...] = ()


def executed(measured: Machine, truth: Truth, rng: np.random.Generator, runs: int = 4) -> Executed:
    """Plan for the measured profile and run the plan on the true machine."""
    inputs = load_inputs(truth.like, GOAL_OF[truth.like])
    try:
        plan = plan_and_prove(replace(inputs, machine=measured), search=replace(USUAL_SEARCH, why=False)).plan
    except NoPlanError:
        return Executed("no plan")
    except CheckFailedError:
        return Executed("check failed")
    unsafe, short = list[str](), list[str]()
    for _ in range(runs):
        at = at_point(plan, point_of(measured, truth, rng))
        # A point has no tolerances to bound.
        with no_bounds():
            rows = check(at.constants, at.inputs.machine, at.inputs.goal, at.inputs.circuit, draws=0).rows
        for row in rows:
            if not row.passed and row.key not in OF_THE_BOX:
                kind = short if row.key.startswith(PERFORMANCE) else unsafe
                kind.append(f"{row.key} {row.held:.4g} of {row.limit:.4g}")
    return Executed("run", plan.costs.with_waiting, runs, tuple(unsafe), tuple(short))


def point_of(measured: Machine, truth: Truth, rng: np.random.Generator) -> dict[str, float]:
    """The true numbers of one run.

    What no bench test of the book measures is drawn from the interval that the profile takes from elsewhere.
    """
    run = truth.run(rng)
    point = {key: float(rng.uniform(low, high)) for key, (low, _, high) in box(measured).items()}
    return point | {key: value for key, value in run.items() if key in point or key in PLAIN}


PLAIN = ("wash_pump.heat_share", "tank.capacity_l", "element.cover_l", "wash_pump.prime_l")
"""Numbers that a profile holds without an interval, and that are measured."""
