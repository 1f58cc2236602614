"""Limits of the detergent of a round: no less and no more than the water in it asks for and bears."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.check.dosing import TENTHS_PER_G, by_litres_dg, detergent_span_dg, least_g_per_l
from optimizer.emit.assertions import Relation, Term, at_least, at_most, exactly, in_c, number
from optimizer.emit.meanings import of_round
from optimizer.programme.constants import Round
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

WEAK, STRONG = "too little detergent for so much water", "too much detergent for so little water"


def detergent_limits(plan: Plan, place: int, row: Round) -> Iterator[Relation]:
    """Hold the detergent to the water; in whole numbers, each safe by less than a tenth of a gram."""
    machine, goal, first = plan.inputs.machine, plan.inputs.goal, place == 1
    name, fill = of_round(place, "detergent_dg"), of_round(place, "fill_s")
    least_dg, most_dg = detergent_span_dg(machine, goal, row, first=first)
    least_dg, most_dg = min(least_dg, row.detergent_dg), max(most_dg, row.detergent_dg)
    yield from at_least(name, least_dg, WEAK)
    if not most_dg:
        yield exactly(name, 0, "detergent goes into a wash only")
        return
    yield at_most(name, most_dg, STRONG)
    if machine.inlet.level_l is not None or goal.detergent is None:
        return
    # Tenths of a gram that a second more of water asks for, and bears, in hundredths.
    flow, hundredths = machine.inlet.flow_l_per_min, 100.0 * TENTHS_PER_G / S_PER_MIN
    asked = math.ceil(least_g_per_l(machine, goal) * flow.high * hundredths)
    borne = math.ceil(goal.detergent.most_g_per_l * flow.low * hundredths)
    by_litres = min(by_litres_dg(machine, goal, row, first=first), row.detergent_dg)
    both = f"{in_c(fill)}, {in_c(name)}"
    yield Relation(
        (Term(fill, asked), *number(100 * by_litres)), "<=",
        (Term(name, 100), *number(asked * row.fill_s)), f"{both}: {WEAK}",
    )  # fmt: skip
    yield Relation(
        (Term(name, 100), *number(borne * row.fill_s)), "<=",
        (Term(fill, borne), *number(100 * most_dg)), f"{both}: {STRONG}",
    )  # fmt: skip
