"""Plan, then prove: where the check finds a requirement short, back off from it and plan again."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from optimizer.check.certificate import Certificate, failure_lines
from optimizer.check.certify import check
from optimizer.errors import CheckFailedError
from optimizer.planner.make_plan import plan
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs, Plan

TRIES = 4
"""Plans that are made until one passes; after that the failed check is the answer [1]."""

BACKOFF_STEP = 0.002
"""Backoff beyond the shortfall that the check found, a share of the limit [1]."""

BACKOFF_KEYS = (
    *("dose.", "hygiene.", "tank.", "prerinse.bath_c", "cover."),
    *("drying.", "steam.", "limits.", "rinse.residue"),
)
"""Requirements on which planner and check may differ by their physics. Any other failure is a bug."""


@dataclass(frozen=True)
class Proven:
    """A plan with the certificate that it passed."""

    plan: Plan
    certificate: Certificate


def plan_and_prove(
    inputs: Inputs,
    *,
    solver: SolverName = "auto",
    report: Callable[[str], None] | None = None,
    search: Search = USUAL_SEARCH,
) -> Proven:
    """Plan a programme and prove it in every corner of the tolerances; ``report`` is told each step.

    Raises
    ------
    NoPlanError
        No programme meets the goal.
    CheckFailedError
        The check still finds a requirement short after several plans.
    """
    tell = report or (lambda _: None)
    backoff: dict[str, float] = {}
    for _ in range(TRIES):
        planned = plan(inputs, solver, extra_backoff=backoff, report=tell, search=search)
        tell("running the check in every corner")
        certificate = check(planned.constants, inputs.machine, inputs.goal, inputs.circuit)
        failed = [row for row in certificate.rows if not row.passed]
        if not failed:
            return Proven(planned, certificate)
        if not all(row.key.startswith(BACKOFF_KEYS) and math.isfinite(row.worst) for row in failed):
            break
        for row in failed:
            backoff[row.key] = backoff.get(row.key, 0.0) - row.margin_share + BACKOFF_STEP
    raise CheckFailedError("the check does not pass, nothing was written", failure_lines(failed))
