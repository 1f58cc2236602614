"""Worst points inside the tolerances, of what hangs on where a thermostat's wave stands as something ends.

Such a requirement is a smooth part and a saw tooth. Between the ends it may be worst in two ways: another
point may be worse once a quantity shifts its wave, and a top of the wave is a ridge, along which two
quantities or more have to move together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.check.worst_points import GAIN_SHARE, SAME_SHARE, WorstPoints, moved_point
from optimizer.check.worst_ridges import climb_ridges, inside, numbered_starts, telling

INSIDE_SHARES = tuple(eighth / 8.0 for eighth in range(1, 8))
"""Places inside a tolerance to which a quantity is moved that shifts a wave, from its low end [1]."""

QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Places between which it is looked whether a requirement comes and goes [1]."""

JUMP_SHARE, BENT = 7e-3, 1.0 / 3.0
"""A requirement comes and goes along a quantity where a third difference is more than this share of its value
and than this share of all second differences [1]: a course that only bends has hardly any."""

FOLLOWED_FROM = 12
"""From so many of the worst points known the quantity is followed along which it comes and goes most [1]."""


def look_inside(search: WorstPoints, requirements: Iterable[int]) -> None:
    """Search inside the tolerances for requirements that a thermostat's wave decides.

    From the worst point all pairs of quantities are moved to their other ends, as no single move may lead to
    a point whose wave stands better. Then the quantity along which a requirement comes and goes most is moved
    through its tolerance from each of the worst points known, and ridges are climbed.
    A requirement that has no number somewhere has its worst, and is left.
    """
    starts = numbered_starts(search, requirements)
    strong = {which: telling(search, which, start, SAME_SHARE) for which, start in starts.items()}
    shifting = {which: telling(search, which, start, GAIN_SHARE) for which, start in starts.items()}
    search.run(
        [
            *(
                inside(search, start, place, share)
                for which, start in starts.items()
                for place in shifting[which]
                for share in QUARTERS
            ),
            *(pair for which, start in starts.items() for pair in _pairs(search, start, strong[which])),
        ]
    )
    jumps = {which: _jump(search, which, start, shifting[which]) for which, start in starts.items()}
    search.climb([w for w, start in starts.items() if search.helps(w, start, search.worst_places(w, 1)[0])])
    search.run(
        inside(search, start, place, share)
        for which, place in jumps.items()
        if place is not None
        for start in _apart_but_for(search, which, shifting[which], place)
        for share in INSIDE_SHARES
    )
    climb_ridges(search, starts)


def _pairs(search: WorstPoints, start: int, places: list[int]) -> Iterator[Array]:
    """Move any two quantities to their other ends."""
    point = search.points[start]
    for number, place in enumerate(places):
        moved = moved_point(point, place, search.box.other_end(point, place))
        for other in places[:number]:
            yield moved_point(moved, other, search.box.other_end(point, other))


def _jump(search: WorstPoints, which: int, start: int, places: list[int]) -> int | None:
    """Name the quantity along which a requirement comes and goes most; None where there is none."""
    found = {}
    for place in places:
        course = [search.at(inside(search, start, place, share))[which] for share in QUARTERS]
        if not np.isfinite(course).all():
            continue
        bends = np.diff(course, 2)
        jump = float(np.abs(np.diff(bends)).max())
        if jump > max(JUMP_SHARE * abs(search.worst_value(which)), BENT * float(np.abs(bends).sum())):
            found[place] = jump
    return max(found, key=lambda place: found[place], default=None)


def _apart_but_for(search: WorstPoints, which: int, telling: list[int], moved: int) -> list[int]:
    """Give the worst points known that differ in more than what is moved and what does not tell."""
    others = [place for place in telling if place != moved]
    found: dict[bytes, int] = {}
    for start in search.worst_places(which, search.count):
        found.setdefault(search.points[start][others].tobytes(), start)
        if len(found) == FOLLOWED_FROM:
            break
    return list(found.values())
