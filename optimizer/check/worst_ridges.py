"""Ridges inside the tolerances, along which two quantities or more have to move together.

A requirement that hangs on where a thermostat's wave stands as something ends has its tops where the wave
has: what one quantity shifts another has to shift back. Either side of such a ridge is nearly a plane, so
that the slopes on both sides say where along the ridge it is worst.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.check.worst_points import SAME_SHARE, WorstPoints, moved_point

RIDGES_FROM = 2
"""From so many of the worst points known a ridge is looked for [1]."""

APART, APART_SHARE, APART_OF = 4, 0.3, 1500
"""They differ in so many quantities, in each by more than this share of its tolerance, and are among so many
of the worst points known [1]."""

STEP = 1.0 / 16.0
"""Share of the tolerances by which every quantity is moved either way to find a ridge, and a point to either
side of it; half as much the second time [1]."""

KINK_SHARE = 2e-4
"""Share of its value by which both moves of a quantity together lessen a requirement on a ridge [1]."""

CLIMBS = 2
"""How often a ridge is laid out anew [1]."""

REACHES = (1.0 / 8.0, 1.0 / 4.0, 1.0)
"""Shares of the tolerances by which quantities may move at the most along a ridge [1]: it bends."""

NEARER = 0.35
"""Share of the reaches that is left where nothing worse was found [1]."""

BESIDE = (-1.0, 0.0, 1.0)
"""Where the top of a ridge is tried, beside where it should be [thirds of a step]: it bends."""

AT_END = 0.02
"""Share of a tolerance from an end within which a quantity counts as being there [1]."""

LAST_STEP = 1.0 / 32.0
"""Share of the tolerances by which every quantity is moved either way at last [1]."""


EITHER_SIDE = 1e-9
"""How far to either side of a mixture of two planes its greatest points are looked for [1]."""


def climb_ridges(search: WorstPoints, requirements: Iterable[int]) -> None:
    """Climb ridges from the worst points known, and move every quantity a little from the worst at last."""
    starts = numbered_starts(search, requirements)
    strong = {which: telling(search, which, start, SAME_SHARE) for which, start in starts.items()}
    ridges = [
        Ridge(search, which, place, strong[which], strong[which][0])
        for which, start in starts.items()
        if strong[which]
        for place in _apart(search, which, start, strong[which])
    ]
    search.run(
        [
            *(point for ridge in ridges for point in ridge.either_way(STEP)),
            *(point for ridge in ridges for point in search.singles(search.points[ridge.start])),
        ]
    )
    ridges = [found for ridge in ridges if (found := ridge.found()) is not None]
    for _ in range(CLIMBS):
        search.run(point for ridge in ridges for point in ridge.laid_out())
        tops = [ridge.tops() for ridge in ridges]
        search.run(point for some in tops for point in some.values())
        ridges = [ridge.onward(some) for ridge, some in zip(ridges, tops, strict=True)]
    _move_at_last(search, strong)


@dataclass(frozen=True)
class Plane:
    """A value that changes by a slope along each quantity.

    Attributes
    ----------
    value : float
        Its value where nothing is moved.
    slopes : ndarray
        By how much it changes for each move by one.
    """

    value: float
    slopes: Array

    def at(self, moves: Array) -> float:
        """Give the value where each quantity is moved by so much."""
        return float(self.value + self.slopes @ moves)


def top_of(one: Plane, other: Plane, least: Array, most: Array) -> Array:
    """Find the moves, each from ``least`` to ``most``, at which the lesser of two planes is greatest.

    No mixture of both planes has its greatest value below what is looked for, and the least of these greatest
    values is just that (duality of linear programmes). It lies at a mixture at which a quantity turns from
    its most to its least, or at one of the planes. The top lies between the points that are greatest for
    mixtures on either side of it, where both planes meet.
    """

    def corner(share: float) -> Array:
        slopes = share * one.slopes + (1.0 - share) * other.slopes
        return np.where(slopes > 0.0, most, np.where(slopes < 0.0, least, 0.0))

    with np.errstate(divide="ignore", invalid="ignore"):
        turns = other.slopes / (other.slopes - one.slopes)
    shares = np.unique([0.0, *turns[(turns > 0.0) & (turns < 1.0)], 1.0])
    bounds = [share * one.at(corner(share)) + (1.0 - share) * other.at(corner(share)) for share in shares]
    share = float(shares[int(np.argmin(bounds))])
    first, last = corner(max(share - EITHER_SIDE, 0.0)), corner(min(share + EITHER_SIDE, 1.0))
    before, after = one.at(first) - other.at(first), one.at(last) - other.at(last)
    if before * after < 0.0:
        return first + before / (before - after) * (last - first)
    ends = [first, last]
    return ends[int(np.argmax([min(one.at(moves), other.at(moves)) for moves in ends]))]


@dataclass(frozen=True)
class Ridge:
    """A ridge of a requirement at a point that was run, as seen from both sides of it.

    Attributes
    ----------
    which : int
        The requirement.
    start : int
        The point.
    places : list of int
        The quantities that are moved.
    across : int
        The one of them that leads over the ridge.
    step, reach : float
        How far to either side of it points are laid out, and what share of `REACHES` is left [1].
    """

    search: WorstPoints
    which: int
    start: int
    places: list[int]
    across: int
    step: float = STEP
    reach: float = 1.0

    def value(self, point: Array) -> float:
        """How bad a point is."""
        return float(self.search.at(point)[self.which])

    @property
    def shares(self) -> Array:
        """Where the start lies in the tolerances [1]."""
        return self.search.box.shares(self.search.points[self.start])

    @property
    def here(self) -> float:
        """How bad the start is."""
        return self.value(self.search.points[self.start])

    def either_way(self, step: float) -> Iterator[Array]:
        """Move every quantity either way, as far as its tolerance reaches."""
        return either_way(self.search, self.start, self.places, step)

    def found(self) -> Ridge | None:
        """Find the quantity that leads over the ridge, once all were moved; None where there is no ridge.

        At an end it falls that way alone: by more than twice its share of the whole fall to the other end.
        """
        box, point, kinks = self.search.box, self.search.points[self.start], {}
        for place in self.places:
            low, high = (self.value(point) for point in either_way(self.search, self.start, [place], STEP))
            kinks[place] = 2.0 * self.here - low - high
            if point[place] in (box.low[place], box.high[place]):
                far = self.value(moved_point(point, place, box.other_end(point, place)))
                kinks[place] -= 2.0 * max(self.here - far, 0.0) * STEP
        across = max(kinks, key=lambda place: kinks[place])
        if kinks[across] < KINK_SHARE * abs(self.here):
            return None
        return replace(self, across=across)

    def sides(self) -> list[tuple[Array, list[float]]]:
        """Give a point on either side of the ridge, as shares, and by how much each quantity moves from it.

        All moves are into the tolerances; that of the quantity across leads away from the ridge, if it can.
        """
        found = []
        for side in (self.step, -self.step):
            shares = self.shares.copy()
            shares[self.across] = min(max(shares[self.across] + side, 0.0), 1.0)
            moves = [math.copysign(self.step / 2.0, 0.5 - shares[place]) for place in self.places]
            away = self.places.index(self.across)
            if 0.0 <= shares[self.across] + side / 2.0 <= 1.0:
                moves[away] = side / 2.0
            found.append((shares, moves))
        return found

    def laid_out(self) -> Iterator[Array]:
        """Give the points on both sides, and those that each quantity leads to from there."""
        for shares, moves in self.sides():
            yield self.search.box.inside(shares)
            for place, move in zip(self.places, moves, strict=True):
                yield self.search.box.inside(moved_point(shares, place, shares[place] + move))

    def planes(self) -> list[Plane]:
        """The planes on both sides, about the start."""
        found, here = [], self.shares
        for shares, moves in self.sides():
            value = self.value(self.search.box.inside(shares))
            ends = [
                self.value(self.search.box.inside(moved_point(shares, place, shares[place] + move)))
                for place, move in zip(self.places, moves, strict=True)
            ]
            slopes = (np.array(ends) - value) / np.array(moves)
            found.append(Plane(float(value + slopes @ (here - shares)[self.places]), slopes))
        return found

    def tops(self) -> dict[tuple[int, float, float], Array]:
        """Give points about the top of the ridge, by what leads over it there and how they were made."""
        one, other = self.planes()
        apart = np.abs(one.slopes - other.slopes)
        found: dict[tuple[int, float, float], Array] = {}
        if not np.isfinite([one.value, other.value, *apart]).all():
            return found
        here, at = self.shares, self.shares[self.places]
        for most in REACHES:
            reach = most * self.reach
            least, furthest = np.maximum(-reach, -at), np.minimum(reach, 1.0 - at)
            top = here.copy()
            top[self.places] = np.clip(at + top_of(one, other, least, furthest), 0.0, 1.0)
            at_end = np.abs(top[self.places] - 0.5) > 0.5 - AT_END
            # One that may move either way from there leads over the ridge again, if there is one.
            across = self.places[int(np.argmax(np.where(at_end, apart * AT_END, apart)))]
            for beside in BESIDE:
                share = min(max(top[across] + beside * self.step / 3.0, 0.0), 1.0)
                found[across, most, beside] = self.search.box.inside(moved_point(top, across, share))
        return found

    def onward(self, tops: Mapping[tuple[int, float, float], Array]) -> Ridge:
        """Go on from the worst of all points that were laid out or tried."""
        tried = [(self.across, point) for point in self.laid_out()]
        tried += [(across, point) for (across, _, _), point in tops.items()]
        across, point = max(tried, key=lambda one: self.value(one[1]))
        start = self.search.place_of(point)
        step = self.step / 2.0
        if not self.search.helps(self.which, self.start, start):
            return replace(self, step=step, reach=self.reach * NEARER)
        return replace(self, start=start, across=across, step=step)


def numbered_starts(search: WorstPoints, requirements: Iterable[int]) -> dict[int, int]:
    """The worst point of each requirement that has a number everywhere, once its single moves were run."""
    starts = {which: search.worst_places(which, 1)[0] for which in requirements}
    starts = {which: at for which, at in starts.items() if math.isfinite(search.worst_value(which))}
    search.run(one for at in dict.fromkeys(starts.values()) for one in search.singles(search.points[at]))
    return starts


def telling(search: WorstPoints, which: int, start: int, least: float) -> list[int]:
    """Name the quantities that change a requirement by a single move from a point, by a least share."""
    point = search.points[start]
    here = search.at(point)[which]
    return sorted(
        {
            place
            for place, value in search.box.moves(point)
            if abs(search.at(moved_point(point, place, value))[which] - here) > least * abs(here)
        }
    )


def inside(search: WorstPoints, start: int, place: int, share: float) -> Array:
    """Copy a point that was run, with one quantity at a share of its tolerance."""
    low, high = search.box.low[place], search.box.high[place]
    value = float(high if share == 1.0 else low + share * (high - low))
    return moved_point(search.points[start], place, value)


def either_way(search: WorstPoints, start: int, places: list[int], step: float) -> Iterator[Array]:
    """Move every quantity down and up, as far as its tolerance reaches."""
    shares = search.box.shares(search.points[start])
    for place in places:
        for move in (-step, step):
            yield inside(search, start, place, min(max(float(shares[place]) + move, 0.0), 1.0))


def _move_at_last(search: WorstPoints, strong: Mapping[int, list[int]]) -> None:
    """Move every quantity from the worst, a little and to the ends; climb on where an end is worse."""
    worst = {which: search.worst_places(which, 1)[0] for which in strong}
    singles = {which: list(search.singles(search.points[start])) for which, start in worst.items()}
    search.run(
        point
        for which, start in worst.items()
        for point in [*either_way(search, start, strong[which], LAST_STEP), *singles[which]]
    )
    search.climb(
        which
        for which, start in worst.items()
        if any(search.helps(which, start, search.place_of(point)) for point in singles[which])
    )


def _apart(search: WorstPoints, which: int, start: int, places: list[int]) -> list[int]:
    """Give the worst point, and the worst known that are far from it and from each other."""
    known = search.worst_places(which, APART_OF)
    shares = search.box.shares(np.array([search.points[place] for place in known]))[:, places]
    found, last = [start], search.box.shares(search.points[start])[places]
    far = np.full(len(known), len(places))
    while len(found) < RIDGES_FROM:
        far = np.minimum(far, np.sum(np.abs(shares - last) > APART_SHARE, axis=1))
        left = np.flatnonzero(far >= APART)
        if not len(left):
            break
        found.append(known[int(left[0])])
        last = shares[left[0]]
    return found
