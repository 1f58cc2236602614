"""Detergent by weight: what a round's bath asks for, in tenths of a gram as the table has them."""

from __future__ import annotations

import math

from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.units import S_PER_MIN

TENTHS_PER_G = 10.0
HALF_A_TENTH = 0.5
"""The table holds whole tenths of a gram: a dose may be off by half of one [0.1 g]."""

SPARE_SHARE = 0.1
"""Detergent over what is asked that still passes [1]: about what a scoop is off; *no source*, our choice."""


def bath_l(machine: Machine, row: Round) -> float:
    """Water of a round's bath on the nominal machine, which detergent is weighed out for [l].

    It is the fill on top of sump and film; a level switch closes at its level, and the film comes on top.
    """
    inlet, film_l = machine.inlet, machine.ware.film_l.nominal
    if inlet.level_l is not None:
        return inlet.level_l.nominal + film_l
    filled_l = row.fill_s / S_PER_MIN * inlet.flow_l_per_min.nominal
    return filled_l + machine.tank.residual_l.nominal + film_l


def asked_dg(machine: Machine, goal: Goal, row: Round) -> float:
    """Detergent that the goal asks for in a bath of this size, whatever the kind of round [0.1 g]."""
    return goal.detergent_g_per_l * bath_l(machine, row) * TENTHS_PER_G


def detergent_span_dg(machine: Machine, goal: Goal, row: Round) -> tuple[int, int]:
    """Least and most detergent of a round [0.1 g]: none but in a wash, and none where the goal has none.

    Less than asked cleans less than the doses count; more than a tenth over it is not what the rinses were
    counted for.
    """
    if row.kind != "wash" or goal.detergent is None:
        return 0, 0
    asked = asked_dg(machine, goal, row)
    least = math.ceil(asked - HALF_A_TENTH - 1e-6)
    return max(least, 1), max(math.floor(asked * (1.0 + SPARE_SHARE) + HALF_A_TENTH), least, 1)


def excess(constants: Constants, machine: Machine, goal: Goal) -> float:
    """Strongest bath over what is asked, in grams a litre [1]; 1 where none is stronger."""
    shares = [
        (row.detergent_dg - HALF_A_TENTH) / asked_dg(machine, goal, row)
        for row in constants.rounds
        if row.detergent_dg and goal.detergent is not None
    ]
    return max([1.0, *shares])
