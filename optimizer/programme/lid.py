"""When the lid may be opened: shut until so long after the last drain, then ajar while the load dries.

There is no source for either time. A chamber full of steam needs minutes until that has settled on walls and
ware; after a hot rinse the vapour is less. Whoever opens sooner stands in it.
"""

from __future__ import annotations

from optimizer.profile.goal import Goal

SHUT_S = {"none": 0, "hot_rinse": 120, "steam": 300}
"""Lid shut after the last drain at least, by the way of drying [s]; *no source*, our choice."""


def lid_shut_least_s(goal: Goal) -> int:
    """How long the lid stays shut after the last drain, at least.

    Parameters
    ----------
    goal : Goal
        The goal, with its way of drying.

    Returns
    -------
    int
        Time [s]; 0 where nothing is dried.

    Examples
    --------
    >>> SHUT_S["steam"] > SHUT_S["hot_rinse"] > SHUT_S["none"]
    True
    """
    return SHUT_S[goal.drying.method]
