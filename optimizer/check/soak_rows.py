"""Rows of the soaks: how long the ware rests between two sprays, and how long it is sprayed before and after.

They are as written, whatever the tolerances.
"""

from __future__ import annotations

from optimizer.check.certificate import EVERY_POINT, Row
from optimizer.profile.goal import Goal
from optimizer.programme.constants import SPRAY_BY_SOAK_S, Constants
from optimizer.units import S_PER_MIN


def soak_rows(constants: Constants, goal: Goal) -> list[Row]:
    """Hold the soaks against the goal's longest and against what keeps the ware wet; none without a soak."""
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
