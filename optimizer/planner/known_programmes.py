"""Programmes of other cases as plans for these inputs: which hold here as they are, the cheapest first."""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.planner.convert_constants import programme_of
from optimizer.planner.make_plan import plan_of
from optimizer.planner.margins import Assessor
from optimizer.planner.search import allowed
from optimizer.planner.solver import Outcome, SolverName, solver_label
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan

SHORT = 0.003
"""Share of a limit that a proven programme may miss at the planner's corners: planner and check differ by
less, and the check decides [1]."""


def known_here(assessor: Assessor, known: Iterable[Constants], solver: SolverName = "auto") -> list[Plan]:
    """Those that hold at the planner's corners, give or take `SHORT`, with nothing of them changed."""
    machine = assessor.inputs.machine
    ways = "thermostat" if assessor.thermostat else "timed", machine.inlet.control
    found = []
    for constants in dict.fromkeys(known):
        programme = programme_of(constants, machine)
        fits = ways == (constants.control, constants.fill_control) and allowed(assessor, programme.structure)
        if not fits:
            continue
        margins, bill = assessor.run(programme)
        if min(float(margin.min()) for margin in margins.values()) >= -SHORT:
            # No solve stands behind it, and so no bound of one.
            outcome = Outcome("search budget", solver_label(solver), float(bill.money[0]), 0.0, work=0)
            found.append(plan_of(assessor, programme, outcome))
    return sorted(found, key=lambda plan: plan.costs.with_waiting)
