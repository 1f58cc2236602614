"""The worst points of a box of tolerances by search, each quantity on its own.

A two-level design and single moves from the nominal point say which way each quantity hurts each requirement;
with the box's corners and random draws they give the points to start from. From a requirement's start every
single move is tried, and all that help are taken at once, until none helps. All points of all requirements
that a pass asks for are run as one batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import Box
from optimizer.check.worst_cases import Array

Badness = Callable[[Array], Array]
"""From points × quantities to points × requirements: how bad each is, the higher the worse."""

STARTS = 2
"""Points that the search climbs from for each requirement, and the worst corner with them [1]."""

PASSES = 12
"""Most passes of single moves [1]."""

GAIN_SHARE = 1e-4
"""Share of its value by which a requirement must get worse for a move to count [1]."""

SAME_SHARE = 1e-3
"""Values that differ by less than this share count as the same [1]."""


@dataclass(frozen=True)
class _Around:
    """The single moves from a point, one a row: the points, which quantity each moves, and to what value."""

    points: Array
    keys: list[bytes]
    moved: NDArray[np.int64]
    values: Array


class WorstPoints:
    """All points of a box that were run, and how bad each is for each requirement."""

    def __init__(self, box: Box, badness: Badness) -> None:
        self.box = box
        self._badness = badness
        self._places: dict[bytes, int] = {}
        self.points: list[Array] = []
        self._bad: Array = np.empty((0, 0))
        self._known_around: dict[bytes, _Around] = {}

    @property
    def count(self) -> int:
        """How many points were run [1]."""
        return len(self.points)

    def find(self, draws: int, seed: int, entwined: Collection[int] = ()) -> None:
        """Search from the design, the single moves from nominal and the draws.

        Requirements that are ``entwined`` are climbed to from two more points. What a quantity does to them
        hangs on the others (where a thermostat's wave stands as a spray ends), so that there are many tops,
        and no single move leads from one to a higher one: a start that is the worst of all may stand under a
        low top. From each corner all single moves that help are taken together, and the search climbs from
        the worst point come to from corners whose sensor reads low, and from those whose sensor reads high.
        """
        box = self.box
        screened = box.vertices(box.screening())
        corners = box.corners()
        self.run([box.nominal, *self.singles(box.nominal), *screened, *box.draws(draws, seed), *corners])
        guesses = {which: self._guesses(which, screened) for which in self.touched()}
        wide = [which for which in guesses if which in entwined]
        self.run(
            [
                *(guess for some in guesses.values() for guess in some),
                *(one for corner in corners for one in self.singles(corner) if wide),
            ]
        )
        places = [self._places[corner.tobytes()] for corner in corners]
        starts = {}
        for which in guesses:
            corner = places[int(np.argmax([self._bad[place][which] for place in places]))]
            starts[which] = [*self.worst_places(which, STARTS), corner]
        beside = {which: [self._together(which, place) for place in places] for which in wide}
        self.run(point for some in beside.values() for point in some)
        for which, points in beside.items():
            for numbers in box.corners_by_reading(corners):
                come_to = [self._places[points[number].tobytes()] for number in numbers]
                starts[which].append(max(come_to, key=lambda place: self._bad[place, which]))
        self._climb([(which, start) for which in starts for start in dict.fromkeys(starts[which])])

    def climb(self, requirements: Iterable[int]) -> None:
        """Search for some requirements from the worst points that were run."""
        self._climb([(which, self.worst_places(which, 1)[0]) for which in requirements])

    def touched(self) -> list[int]:
        """Find the requirements whose value differs from point to point."""
        return [int(which) for which in np.flatnonzero(~np.all(self._bad == self._bad[0], axis=0))]

    def worst(self, which: int, number: int = 1) -> list[Array]:
        """Give the worst points found for a requirement, the worst first."""
        return [self.points[place] for place in self.worst_places(which, number)]

    def worst_value(self, which: int) -> float:
        """Give the badness of the worst point found for a requirement."""
        return float(self._bad[self.worst_places(which, 1)[0]][which])

    def run(self, points: Iterable[Array]) -> None:
        """Run the points that were not run before, in one batch."""
        new = {key: point for point in points if (key := point.tobytes()) not in self._places}
        if not new:
            return
        batch = np.array(list(new.values()))
        self._places |= {key: self.count + number for number, key in enumerate(new)}
        self.points += list(batch)
        # What is no number passes nothing.
        bad = np.nan_to_num(self._badness(batch), nan=np.inf, posinf=np.inf, neginf=-np.inf)
        self._bad = np.vstack([self._bad, bad]) if len(self._bad) else bad

    def named(self, points: list[tuple[int, Array]]) -> list[str]:
        """Say where points lie, each by the quantities that matter to a requirement, the most first.

        A quantity matters where its move back to nominal changes the value by more than `SAME_SHARE`.
        """
        back = {
            (number, place): moved_point(point, place, float(self.box.nominal[place]))
            for number, (_, point) in enumerate(points)
            for place in map(int, np.flatnonzero(point != self.box.nominal))
        }
        self.run([*(point for _, point in points), *back.values()])
        found = []
        for number, (which, point) in enumerate(points):
            here = self.at(point)[which]
            change = {
                place: float(abs(self.at(moved)[which] - here))
                for (owner, place), moved in back.items()
                if owner == number
            }
            telling = [place for place, by in change.items() if by > SAME_SHARE * abs(here)]
            found.append(self.box.words(point, sorted(telling, key=lambda place: -change[place])))
        return found

    def _guesses(self, which: int, screened: Array) -> list[Array]:
        """Guess the worst point as if each quantity acted by itself: from the design, and from nominal."""
        box, bad = self.box, np.array([self.at(point)[which] for point in screened])
        with np.errstate(invalid="ignore"):
            effects = bad @ np.where(screened == box.high, 1.0, -1.0)
        return [box.vertices(effects > 0.0), self._together(which, self._places[box.nominal.tobytes()])]

    def _climb(self, starts: list[tuple[int, int]]) -> None:
        """Climb from each start until no single move helps; then from any worse point met on the way."""
        tops: dict[int, int] = {}
        for _ in range(PASSES):
            # Many requirements start from the same point.
            self.run(
                one for start in dict.fromkeys(start for _, start in starts) for one in self._from(start)
            )
            joint = [(which, start, self._together(which, start)) for which, start in starts]
            apart = {point.tobytes(): point for _, _, point in joint}
            self.run(one for point in apart.values() for one in (point, *self.singles(point)))
            onward = set()
            for which, start, point in joint:
                tried = np.append(self._places_from(start), self._places[point.tobytes()])
                bad = self._bad[tried, which]
                best = int(tried[bad == bad.max()].min())
                if self.helps(which, start, best):
                    onward.add((which, best))
                elif which not in tops or self.helps(which, tops[which], start):
                    tops[which] = start
            climbing = {which for which, _ in onward}
            for which, top in tops.items():
                (worst,) = self.worst_places(which, 1)
                if which not in climbing and self.helps(which, top, worst):
                    onward.add((which, worst))
            if not onward:
                return
            starts = sorted(onward)

    def _together(self, which: int, start: int) -> Array:
        """Take all single moves that help at once, each quantity to the value that hurts most."""
        point, around = self.points[start].copy(), self._around(self.points[start])
        bad, least = self._bad[self._places_from(start), which], self._helps_from(which, start)
        hurt: dict[int, float] = {}
        for number in map(int, np.flatnonzero(bad > least)):
            place = int(around.moved[number])
            if bad[number] > hurt.get(place, -np.inf):
                point[place], hurt[place] = around.values[number], bad[number]
        return point

    def helps(self, which: int, start: int, end: int) -> bool:
        """Whether a point is so much worse for a requirement that a move to it counts."""
        return float(self._bad[end, which]) > self._helps_from(which, start)

    def _helps_from(self, which: int, start: int) -> float:
        """How bad a point must be at the least for a move to it to count."""
        before = float(self._bad[start, which])
        return before + (GAIN_SHARE * abs(before) if math.isfinite(before) else 0.0)

    def worst_places(self, which: int, number: int) -> list[int]:
        """Number the worst points found for a requirement, the worst first."""
        if number == 1:
            return [int(self._bad[:, which].argmax())]
        return [int(place) for place in np.argsort(-self._bad[:, which], kind="stable")[:number]]

    def singles(self, point: Array) -> Array:
        """Give the single moves from a point, each quantity to its ends and to nominal."""
        return self._around(point).points

    def _from(self, start: int) -> Array:
        return self.singles(self.points[start])

    def _places_from(self, start: int) -> NDArray[np.int64]:
        """Where the single moves from a point stand among all points, once they were run."""
        keys = self._around(self.points[start]).keys
        return np.array([self._places[key] for key in keys], dtype=np.int64)

    def _around(self, point: Array) -> _Around:
        """The single moves from a point, laid out once for all requirements."""
        key = point.tobytes()
        if key not in self._known_around:
            moves = list(self.box.moves(point))
            moved = np.array([place for place, _ in moves], dtype=np.int64)
            values = np.array([value for _, value in moves])
            points = np.repeat(point[None], len(moves), axis=0)
            points[np.arange(len(moves)), moved] = values
            self._known_around[key] = _Around(points, [one.tobytes() for one in points], moved, values)
        return self._known_around[key]

    def place_of(self, point: Array) -> int:
        """Number a point that was run."""
        return self._places[point.tobytes()]

    def at(self, point: Array) -> Array:
        """How bad a point that was run is for each requirement."""
        bad: Array = self._bad[self._places[point.tobytes()]]
        return bad


def moved_point(point: Array, place: int, value: float) -> Array:
    """Copy a point, with one quantity at another value."""
    moved = point.copy()
    moved[place] = value
    return moved
