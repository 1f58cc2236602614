"""Where a setpoint ends by what else the file says: the drain wait, and the longest heatings.

A hotter bath takes longer to cool to what the drain pipe stands, and a colder one is reached sooner, so that
a sensor that reads cold would heat for longer than the check lets it. The ends are found one setpoint at a
time, as the ranges are printed. The relations say which other number lets it go further.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from optimizer.check.controller_numbers import ControllerNumbers
from optimizer.check.drain_wait import drain_wait_s
from optimizer.check.sensor_meter import moves_least_s
from optimizer.check.table_rows import HEAT_SHARE, slowest_s_per_k
from optimizer.emit.assertions import Limit, Relation, Term, at_least, at_most, in_c, number
from optimizer.emit.meanings import of_round
from optimizer.emit.setpoint_limits import is_set
from optimizer.emit.shared_limits import ConstantLimits
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan

COOLS = "a hotter bath cools for longer until the drain pipe stands it"
SLOW = "a sound sensor would count as stuck"
SOONER = "so much sooner warm, a sensor that reads cold would heat for too long"


def setpoint_ends(plan: Plan, known: ControllerNumbers, so_far: ConstantLimits) -> Iterator[Limit]:
    """What drain wait and longest heatings make of each setpoint, within what other limits leave of it."""
    set_at = [place for place, row in enumerate(plan.constants.rounds, start=1) if is_set(row)]
    for place in set_at:
        top_dc = so_far.range_of(of_round(place, "setpoint_dc"))[1]
        yield from _by_drain_wait(plan, place, top_dc, known)
        yield from _by_heating(plan, place, place)
    for before, place in pairwise(set_at):
        yield from _by_heating(plan, place, before)


def gap_least_s(plan: Plan, known: ControllerNumbers) -> int:
    """Shortest pause between two phases for which the drain wait is long enough [s]."""
    least_s = min(1, plan.constants.gap_s)
    if known.drain_wait_s == 0 or plan.constants.gap_s <= 1:
        return least_s
    shorter = replace(plan.constants, gap_s=least_s)
    needed_s = drain_wait_s(shorter, plan.inputs.machine, known.sensor_moves_s)
    return least_s if needed_s <= known.drain_wait_s else plan.constants.gap_s


def _by_drain_wait(plan: Plan, place: int, top_dc: int, known: ControllerNumbers) -> Iterator[Limit]:
    constants, machine, name = plan.constants, plan.inputs.machine, of_round(place, "setpoint_dc")
    now_dc = constants.rounds[place - 1].setpoint_dc
    if top_dc <= now_dc:
        return

    def waits_s(setpoint_dc: int) -> int:
        return drain_wait_s(_set(constants, place, setpoint_dc), machine, known.sensor_moves_s)

    if moves_least_s(_set(constants, place, top_dc), machine) > known.sensor_moves_s:
        yield at_most(name, now_dc, SLOW)
        return
    top_s = waits_s(top_dc)
    if top_s <= known.drain_wait_s:
        return
    covered_dc, past_dc = now_dc, now_dc + 1
    if waits_s(past_dc) <= known.drain_wait_s:
        covered_dc, past_dc = past_dc, top_dc
        while past_dc - covered_dc > 1:
            middle_dc = (covered_dc + past_dc) // 2
            if waits_s(middle_dc) <= known.drain_wait_s:
                covered_dc = middle_dc
            else:
                past_dc = middle_dc
    # From what the wait covers up to the top it grows along a line or below it: a hotter bath holds that
    # much more heat for each kelvin, once it is the hottest.
    s_per_dk = math.ceil((top_s - known.drain_wait_s) / (top_dc - covered_dc))
    over_s = s_per_dk * covered_dc - known.drain_wait_s
    left: tuple[Term, ...] = (Term(name, s_per_dk),)
    right: tuple[Term, ...] = (Term("drain_wait_s"),)
    if over_s > 0:
        right = (*right, *number(over_s))
    elif over_s < 0:
        left = (*left, *number(-over_s))
    yield Relation(left, "<=", right, f"{in_c(name)}, {in_c('drain_wait_s')}: {COOLS}")


def _by_heating(plan: Plan, place: int, moved: int) -> Iterator[Limit]:
    """Keep a round's longest heating, as its own setpoint falls or that of the heated round before it rises.

    What the certificate has to spare is that of the round with least; any other has more.
    """
    row, spare_s, name = plan.constants.rounds[place - 1], plan.certified.heat_spare_s, "setpoint_dc"
    if not row.heat_s or spare_s is None:
        return
    s_per_k = slowest_s_per_k(plan.inputs.machine, row)
    moved_dc = plan.constants.rounds[moved - 1].setpoint_dc
    at, heat = of_round(moved, name), of_round(place, "heat_s")
    if math.isinf(s_per_k):
        yield from at_least(at, moved_dc, SOONER) if moved == place else [at_most(at, moved_dc, SOONER)]
        return
    # In hundredths of a second: 0.1 K is a few seconds.
    per_dk = math.ceil(s_per_k * 10.0 * HEAT_SHARE)
    most = 100 * (row.heat_s + math.floor(max(spare_s, 0.0)))
    why = f"{', '.join(map(in_c, (at, heat)))}: {SOONER}"
    if moved == place:
        left, right = (Term(heat, 100), *number(per_dk * moved_dc)), (Term(at, per_dk), *number(most))
    else:
        left, right = (Term(heat, 100), Term(at, per_dk)), number(most + per_dk * moved_dc)
    yield Relation(left, "<=", right, why)


def _set(constants: Constants, place: int, setpoint_dc: int) -> Constants:
    rounds = list(constants.rounds)
    rounds[place - 1] = replace(rounds[place - 1], setpoint_dc=setpoint_dc)
    return replace(constants, rounds=tuple(rounds))
