"""Limits of a soak: how long the ware may soak, and how long it is sprayed before and after."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.check.soak_rows import rest_most_s
from optimizer.emit.assertions import Relation, Term, at_least, at_most, exactly, in_c, number
from optimizer.emit.meanings import of_round
from optimizer.programme.constants import SPRAY_BY_SOAK_S, Round
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

DRIES_ON = "longer than the goal lets the ware soak, and no spray follows before the drain"
NO_SOAK = "no soak was proven here, plan again"
LEFT_ON = "what a soak loosens is not sprayed off"
DRY = "the ware may not be wet all over before it soaks"


def after_soak_limits(plan: Plan) -> Iterator[Relation]:
    """How long the ware is sprayed after a soak: one number for all rounds."""
    after_s = plan.constants.after_soak_s
    if after_s:
        yield from at_least("after_soak_s", min(SPRAY_BY_SOAK_S, after_s), LEFT_ON)
    else:
        yield exactly("after_soak_s", 0, NO_SOAK)


def soak_limits(plan: Plan, place: int, row: Round) -> Iterator[Relation]:
    """The soak of one round: as long as the goal allows, and its spray in two parts, heat in the first."""
    soak, spray, element = (of_round(place, name) for name in ("soak_s", "spray_s", "spray_element_s"))
    if row.kind == "wash" and not row.stirred:
        rest = of_round(place, "rest_s")
        yield at_most(rest, max(rest_most_s(plan.inputs.goal), row.rest_s), DRIES_ON)
    if not row.soak_s:
        yield exactly(soak, 0, NO_SOAK)
        return
    goal_s = math.floor(plan.inputs.goal.limits.soak_min * S_PER_MIN)
    yield from at_least(soak, 1, "the spray would stop for nothing")
    yield at_most(soak, max(goal_s, row.soak_s), "longer than the goal lets the ware soak")
    before_s, _ = row.split_spray_s(plan.constants.after_soak_s)
    after = in_c("after_soak_s")
    least = (Term("after_soak_s"), *number(min(SPRAY_BY_SOAK_S, before_s)))
    yield Relation(least, "<=", (Term(spray),), f"{in_c(spray)}, {after}: {DRY}")
    heated = (Term(element), Term("after_soak_s"))
    late = "element on after the soak"
    yield Relation(heated, "<=", (Term(spray),), f"{in_c(element)}, {in_c(spray)}, {after}: {late}")
