"""Requirements on the detergent of each round: by the load, by the litre, and where it does not belong.

Each value is worked out at the worst end of every quantity that it depends on, so that it is guaranteed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimizer.check.certificate import EVERY_POINT, Row, exact_row
from optimizer.check.dosing import TENTHS_PER_G, bath_span_l, least_g_per_l, load_g
from optimizer.profile.goal import Detergent, Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round

Placed = tuple[float, str]
"""A value, and the round that it is of."""


def detergent_rows(constants: Constants, machine: Machine, goal: Goal) -> list[Row]:
    """Judge the detergent of all rounds, of each requirement the worst one."""
    washes = [
        (number, row)
        for number, row in enumerate(constants.rounds, start=1)
        if goal.detergent and row.kind == "wash"
    ]
    others = [
        (row.detergent_dg / TENTHS_PER_G, _place(number, row))
        for number, row in enumerate(constants.rounds, start=1)
        if (number, row) not in washes
    ]
    rows = _of_washes(washes, machine, goal, goal.detergent) if goal.detergent and washes else []
    if others:
        dosed_g, place = max(others)
        what = "detergent but in a wash"
        at = place if dosed_g else EVERY_POINT
        rows.append(exact_row("detergent.elsewhere_g", what, "g", ("at most", 0.0), dosed_g, at))
    return rows


def strongest_g_per_l(constants: Constants, machine: Machine) -> float:
    """Detergent over the least bath that it goes into, of all rounds the most [g/l]; inf without a bath."""
    rounds = list(enumerate(constants.rounds, start=1))
    return max(_strengths(rounds, machine))[0]


def _strengths(rounds: Sequence[tuple[int, Round]], machine: Machine) -> list[Placed]:
    """How strong each bath may be [g/l], and where."""
    found: list[Placed] = []
    for number, row in rounds:
        least_l, _ = bath_span_l(machine, row, first=number == 1)
        dosed_g = row.detergent_dg / TENTHS_PER_G
        strong = dosed_g / least_l if least_l else math.inf
        found.append((strong, f"slow inlet, little left over, {_place(number, row)}"))
    return found


def _of_washes(
    washes: list[tuple[int, Round]], machine: Machine, goal: Goal, detergent: Detergent
) -> list[Row]:
    by_load: list[Placed] = []
    weakest: list[Placed] = []
    for number, row in washes:
        _, most_l = bath_span_l(machine, row, first=number == 1)
        dosed_g, place = row.detergent_dg / TENTHS_PER_G, _place(number, row)
        by_load.append((dosed_g, place))
        weakest.append((dosed_g / most_l, f"fast inlet, much left over, {place}"))
    asked = (load_g(machine, goal), least_g_per_l(machine, goal), detergent.most_g_per_l)
    load = f"detergent of a wash: {detergent.g_per_setting:g} g a setting, hardness counted"
    weak, strong = "weakest bath of a wash, hardness counted", "strongest bath of a wash"
    return [
        exact_row("detergent.least_g", load, "g", ("at least", asked[0]), *min(by_load)),
        exact_row("detergent.least_g_per_l", weak, "g/l", ("at least", asked[1]), *min(weakest)),
        exact_row(
            "detergent.most_g_per_l", strong, "g/l", ("at most", asked[2]), *max(_strengths(washes, machine))
        ),
    ]


def _place(number: int, row: Round) -> str:
    return f"{row.kind} (round {number})"


def sets_above(goal: Goal, least_c: float) -> str:
    """Name what is solid at a least temperature of a bath: doses whose floor no spray has to keep."""
    found = [dose for dose in goal.dose if "wash" in dose.kinds and dose.floor_c > goal.spray_least_c > 0.0]
    solid = [f"{dose.name} (below {dose.floor_c:g} °C)" for dose in found if dose.floor_c > least_c]
    return f"; what counts for nothing there may set again: {', '.join(solid)}" if solid else ""
