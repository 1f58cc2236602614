"""How much time there is for a run: the stretches without quiet hours, and the longest run they hold."""

from __future__ import annotations

from itertools import pairwise

from optimizer.study.hours import DAY_S, DAYS_ON, Hours
from optimizer.study.span import Span


def stretches(hours: Hours, first_s: float, last_s: float) -> list[tuple[float, float]]:
    """List the stretches without quiet hours.

    Parameters
    ----------
    hours : Hours
        The hours.
    first_s, last_s : float
        Where to look [s].

    Returns
    -------
    list of tuple of float
        Begin and end of each [s], cut off at the ends of where to look.
    """
    edges_s = hours.quiet.edges_s
    ends = zip(edges_s[:-1], edges_s[1:], hours.quiet.values, strict=True)
    cut = [(max(a, first_s), min(b, last_s)) for a, b, quiet in ends if not quiet]
    return [(float(a), float(b)) for a, b in cut if a < b]


def room_s(hours: Hours, span: Span, stand_s: float) -> float:
    """Find the longest run that any of the starts asked for leaves room for.

    Parameters
    ----------
    hours : Hours
        The hours.
    span : Span
        The starts asked for.
    stand_s : float
        How long the load stands after its last drain [s], which the finish-by time counts and quiet does not.

    Returns
    -------
    float
        Longest time from a start to the end of the last drain [s]; 0 where no start leaves any.
    """
    longest_s = 0.0
    for begin_s, end_s in stretches(hours, span.first_s, span.until_s + DAYS_ON * DAY_S):
        due_s = [float(at_s) for at_s in hours.due_s if begin_s < at_s < end_s + stand_s]
        for start_s, ready_s in pairwise([begin_s, *due_s, end_s + stand_s]):
            if start_s < span.until_s:
                longest_s = max(longest_s, min(ready_s - stand_s, end_s) - start_s)
    return longest_s
