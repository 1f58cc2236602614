"""Detergent by weight: what a wash asks for and bears, in tenths of a gram as the table has them."""

from __future__ import annotations

import math

from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Round
from optimizer.units import S_PER_MIN

TENTHS_PER_G = 10.0
ROUNDING = 1e-6
"""Tenths of a gram by which a product may be off [0.1 g]."""


def bath_span_l(machine: Machine, row: Round, *, first: bool) -> tuple[float, float]:
    """Least and most water that detergent goes into, as the fill of a round ends [l].

    It is the fill on top of sump and film; the machine may have dried out before the ``first`` round. A level
    switch closes at its level, and the film comes on top.
    """
    inlet, film_l, sump_l = machine.inlet, machine.ware.film_l, machine.tank.residual_l
    if inlet.level_l is not None:
        return inlet.level_l.low, inlet.level_l.high + film_l.high
    open_min, flow = row.fill_s / S_PER_MIN, inlet.flow_l_per_min
    there_l = 0.0 if first else sump_l.low + film_l.low
    return open_min * flow.low + there_l, open_min * flow.high + sump_l.high + film_l.high


def harder(machine: Machine, goal: Goal) -> float:
    """What the hardest water makes of a dose [1]."""
    return 1.0 if goal.detergent is None else goal.detergent.more_by(machine.inlet.hardness_mmol_per_l.high)


def load_g(machine: Machine, goal: Goal) -> float:
    """Detergent that the load asks for in a wash, by its place settings [g]."""
    if goal.detergent is None:
        return 0.0
    return harder(machine, goal) * goal.detergent.g_per_setting * machine.ware.settings


def least_g_per_l(machine: Machine, goal: Goal) -> float:
    """Detergent that the water of a wash asks for [g/l]."""
    return 0.0 if goal.detergent is None else harder(machine, goal) * goal.detergent.least_g_per_l


def by_litres_dg(machine: Machine, goal: Goal, row: Round, *, first: bool) -> int:
    """Least that the fullest bath of a wash asks for, whatever the load [0.1 g]."""
    asked_g = least_g_per_l(machine, goal) * bath_span_l(machine, row, first=first)[1]
    return math.ceil(asked_g * TENTHS_PER_G - ROUNDING)


def detergent_span_dg(machine: Machine, goal: Goal, row: Round, *, first: bool) -> tuple[int, int]:
    """Least and most detergent of a round [0.1 g]: none but in a wash, and none where the goal has none.

    The least is asked for by load and litres, the most is what the smallest bath bears; where a load is too
    big for its bath the least is above the most.
    """
    if row.kind != "wash" or goal.detergent is None:
        return 0, 0
    load_dg = math.ceil(load_g(machine, goal) * TENTHS_PER_G - ROUNDING)
    least_dg = max(load_dg, by_litres_dg(machine, goal, row, first=first), 1)
    smallest_l, _ = bath_span_l(machine, row, first=first)
    return least_dg, math.floor(goal.detergent.most_g_per_l * smallest_l * TENTHS_PER_G + ROUNDING)
