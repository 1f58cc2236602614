"""Rows of the soaks: how long ware rests between two sprays or before a drain, and how long it is sprayed.

They are as written, whatever the tolerances.
"""

from __future__ import annotations

import math

from optimizer.check.certificate import EVERY_POINT, Row, exact_row
from optimizer.profile.goal import Goal
from optimizer.programme.constants import REST_BEFORE_DRAIN_S, SPRAY_BY_SOAK_S, Constants
from optimizer.units import S_PER_MIN


def soak_rows(constants: Constants, goal: Goal) -> list[Row]:
    """Hold soaks and rests against the goal's longest soak, and soaks against what keeps the ware wet."""
    return [*_rest_rows(constants, goal), *_soak_rows(constants, goal)]


def rest_most_s(goal: Goal) -> int:
    """Longest rest of a wash that no spray follows before its drain [s]: as long as the ware may soak."""
    return max(math.floor(goal.limits.soak_min * S_PER_MIN), REST_BEFORE_DRAIN_S)


def _rest_rows(constants: Constants, goal: Goal) -> list[Row]:
    """Hold rests of soiled ware that no spray follows: what it came loose from may dry on."""
    rests_s = [row.rest_s for row in constants.rounds if row.kind == "wash" and not row.stirred]
    longest_s = max(rests_s, default=0)
    if longest_s <= REST_BEFORE_DRAIN_S:
        return []
    what = "longest rest of a wash before its drain: it counts as a soak"
    most_min, longest_min = rest_most_s(goal) / S_PER_MIN, longest_s / S_PER_MIN
    return [exact_row("soak.rest_min", what, "min", ("at most", most_min), longest_min)]


def _soak_rows(constants: Constants, goal: Goal) -> list[Row]:
    soaked = [row for row in constants.rounds if row.soak_s]
    if not soaked:
        return []
    longest_min = max(row.soak_s for row in soaked) / S_PER_MIN
    shortest_min = min(min(row.split_spray_s(constants.after_soak_s)) for row in soaked) / S_PER_MIN
    most_min, least_min = goal.limits.soak_min, SPRAY_BY_SOAK_S / S_PER_MIN
    what = "shortest spray before or after a soak"
    return [
        Row("soak.min", "longest soak", "min", "at most", most_min, longest_min, longest_min, EVERY_POINT),
        Row("soak.spray_min", what, "min", "at least", least_min, shortest_min, shortest_min, EVERY_POINT),
    ]
