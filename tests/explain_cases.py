"""Plans of the tiny machine that are explained; what several tests ask for is made once a process."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from kept_checks import no_bounds
from plan_cases import with_own_figures
from planner_cases import tiny
from test_planner_oracle import COLD

from optimizer.check.certify import check
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.programme.plan import Plan
from optimizer.whatif.explain import Explanation, explain

FEW = Search(rounds_most={"prerinse": 1, "wash": 1, "rinse": 3, "steam": 1})
"""One prerinse and one rinse more than the plan here has; a wash more is asked of `dear`."""


def explained(plan: Plan, search: Search = USUAL_SEARCH) -> Explanation:
    machine, goal, circuit = plan.inputs.machine, plan.inputs.goal, plan.inputs.circuit
    return explain(plan, check(plan.constants, machine, goal, circuit), search=search)


@cache
def dear_plan() -> Plan:
    """A cold plan whose wash sprays ten minutes longer than it has to."""
    plan = plan_and_prove(tiny(**COLD), search=FEW).plan
    longer = tuple(
        replace(row, spray_s=row.spray_s + 600) if row.kind == "wash" else row
        for row in plan.constants.rounds
    )
    return with_own_figures(replace(plan, constants=replace(plan.constants, rounds=longer)))


@cache
def dear_explained() -> Explanation:
    """As it is judged by the worst values found."""
    with no_bounds():
        return explained(dear_plan(), FEW)


@cache
def dear_in_full() -> Explanation:
    return explained(dear_plan())
