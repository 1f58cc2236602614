"""The worst points of a box of tolerances by search, each quantity on its own.

A two-level design and single moves from the nominal point say which way each quantity hurts each requirement;
with the box's corners and random draws they give the points to start from. From a requirement's start every
single move is tried, and all that help are taken at once, until none helps. All points of all requirements
that a pass asks for are run as one batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator
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

INSIDE_SHARES = tuple(eighth / 8.0 for eighth in range(1, 8))
"""Places inside a tolerance to which `WorstPoints.look_inside` moves a quantity, from its low end [1]."""

QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Places between which it looks whether a requirement comes and goes [1]."""

JUMP_SHARE, BENT = 7e-3, 1.0 / 3.0
"""A requirement comes and goes along a quantity where a third difference is more than this share of its value
and than this share of all second differences [1]: a course that only bends has hardly any."""

JUMPS_FOLLOWED, FOLLOWED_FROM = 2, 48
"""Along so many quantities it is followed, from so many of the worst points known [1]."""

STEPS = (1.0 / 8.0, 1.0 / 8.0, 1.0 / 16.0, 1.0 / 32.0)
"""Shares of the tolerances by which every quantity is then moved either way, one pass each [1]."""

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
        self._points: list[Array] = []
        self._bad: Array = np.empty((0, 0))
        self._known_around: dict[bytes, _Around] = {}

    @property
    def count(self) -> int:
        """How many points were run [1]."""
        return len(self._points)

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
        self.run([box.nominal, *self._singles(box.nominal), *screened, *box.draws(draws, seed), *corners])
        guesses = {which: self._guesses(which, screened) for which in self.touched()}
        wide = [which for which in guesses if which in entwined]
        self.run(
            [
                *(guess for some in guesses.values() for guess in some),
                *(one for corner in corners for one in self._singles(corner) if wide),
            ]
        )
        places = [self._places[corner.tobytes()] for corner in corners]
        starts = {}
        for which in guesses:
            corner = places[int(np.argmax([self._bad[place][which] for place in places]))]
            starts[which] = [*self._worst(which, STARTS), corner]
        beside = {which: [self._together(which, place) for place in places] for which in wide}
        self.run(point for some in beside.values() for point in some)
        for which, points in beside.items():
            for numbers in box.corners_by_reading(corners):
                come_to = [self._places[points[number].tobytes()] for number in numbers]
                starts[which].append(max(come_to, key=lambda place: self._bad[place, which]))
        self._climb([(which, start) for which in starts for start in dict.fromkeys(starts[which])])

    def climb(self, requirements: Iterable[int]) -> None:
        """Search for some requirements from the worst points that were run."""
        self._climb([(which, self._worst(which, 1)[0]) for which in requirements])

    def look_inside(self, requirements: Iterable[int]) -> None:
        """Search inside the tolerances for what hangs on where a thermostat's wave stands as something ends.

        Such a requirement comes and goes as one quantity moves through its tolerance. The quantities along
        which it does so most are moved so from each of the worst points known: another point may be worse
        once the wave stands elsewhere. Then every quantity moves by less and less from the worst.
        A requirement that has no number somewhere has its worst, and is left.
        """
        starts = {which: self._worst(which, 1)[0] for which in requirements}
        starts = {which: start for which, start in starts.items() if math.isfinite(self._bad[start, which])}
        self.run(one for start in set(starts.values()) for one in self._from(start))
        telling = {which: self._telling(which, start) for which, start in starts.items()}
        self.run(
            self._inside(start, place, share)
            for which, start in starts.items()
            for place in telling[which]
            for share in QUARTERS
        )
        jumps = {which: self._jumps(which, start, telling[which]) for which, start in starts.items()}
        for turn in range(JUMPS_FOLLOWED):
            self.run(
                self._inside(start, place, share)
                for which, places in jumps.items()
                for place in places[turn : turn + 1]
                for start in self._apart(which, telling[which], place)
                for share in INSIDE_SHARES
            )
        gained = [which for which, at in starts.items() if self._helps(which, at, self._worst(which, 1)[0])]
        for step in STEPS:
            self.run(
                moved
                for which in gained
                for moved in self._either_way(self._worst(which, 1)[0], telling[which], step)
            )

    def touched(self) -> list[int]:
        """Find the requirements whose value differs from point to point."""
        return [int(which) for which in np.flatnonzero(~np.all(self._bad == self._bad[0], axis=0))]

    def worst(self, which: int, number: int = 1) -> list[Array]:
        """Give the worst points found for a requirement, the worst first."""
        return [self._points[place] for place in self._worst(which, number)]

    def worst_value(self, which: int) -> float:
        """Give the badness of the worst point found for a requirement."""
        return float(self._bad[self._worst(which, 1)[0]][which])

    def run(self, points: Iterable[Array]) -> None:
        """Run the points that were not run before, in one batch."""
        new = {key: point for point in points if (key := point.tobytes()) not in self._places}
        if not new:
            return
        batch = np.array(list(new.values()))
        self._places |= {key: self.count + number for number, key in enumerate(new)}
        self._points += list(batch)
        # What is no number passes nothing.
        bad = np.nan_to_num(self._badness(batch), nan=np.inf, posinf=np.inf, neginf=-np.inf)
        self._bad = np.vstack([self._bad, bad]) if len(self._bad) else bad

    def named(self, points: list[tuple[int, Array]]) -> list[str]:
        """Say where points lie, each by the quantities that matter to a requirement, the most first.

        A quantity matters where its move back to nominal changes the value by more than `SAME_SHARE`.
        """
        back = {
            (number, place): _moved(point, place, float(self.box.nominal[place]))
            for number, (_, point) in enumerate(points)
            for place in map(int, np.flatnonzero(point != self.box.nominal))
        }
        self.run([*(point for _, point in points), *back.values()])
        found = []
        for number, (which, point) in enumerate(points):
            here = self._at(point)[which]
            change = {
                place: float(abs(self._at(moved)[which] - here))
                for (owner, place), moved in back.items()
                if owner == number
            }
            telling = [place for place, by in change.items() if by > SAME_SHARE * abs(here)]
            found.append(self.box.words(point, sorted(telling, key=lambda place: -change[place])))
        return found

    def _guesses(self, which: int, screened: Array) -> list[Array]:
        """Guess the worst point as if each quantity acted by itself: from the design, and from nominal."""
        box, bad = self.box, np.array([self._at(point)[which] for point in screened])
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
            self.run(one for point in apart.values() for one in (point, *self._singles(point)))
            onward = set()
            for which, start, point in joint:
                tried = np.append(self._places_from(start), self._places[point.tobytes()])
                bad = self._bad[tried, which]
                best = int(tried[bad == bad.max()].min())
                if self._helps(which, start, best):
                    onward.add((which, best))
                elif which not in tops or self._helps(which, tops[which], start):
                    tops[which] = start
            climbing = {which for which, _ in onward}
            for which, top in tops.items():
                (worst,) = self._worst(which, 1)
                if which not in climbing and self._helps(which, top, worst):
                    onward.add((which, worst))
            if not onward:
                return
            starts = sorted(onward)

    def _together(self, which: int, start: int) -> Array:
        """Take all single moves that help at once, each quantity to the value that hurts most."""
        point, around = self._points[start].copy(), self._around(self._points[start])
        bad, least = self._bad[self._places_from(start), which], self._helps_from(which, start)
        hurt: dict[int, float] = {}
        for number in map(int, np.flatnonzero(bad > least)):
            place = int(around.moved[number])
            if bad[number] > hurt.get(place, -np.inf):
                point[place], hurt[place] = around.values[number], bad[number]
        return point

    def _helps(self, which: int, start: int, end: int) -> bool:
        return float(self._bad[end, which]) > self._helps_from(which, start)

    def _helps_from(self, which: int, start: int) -> float:
        """How bad a point must be at the least for a move to it to count."""
        before = float(self._bad[start, which])
        return before + (GAIN_SHARE * abs(before) if math.isfinite(before) else 0.0)

    def _worst(self, which: int, number: int) -> list[int]:
        if number == 1:
            return [int(self._bad[:, which].argmax())]
        return [int(place) for place in np.argsort(-self._bad[:, which], kind="stable")[:number]]

    def _telling(self, which: int, start: int) -> list[int]:
        """Name the quantities that change a requirement by a single move from a point."""
        point, here = self._points[start], self._bad[start, which]
        return sorted(
            {
                place
                for place, value in self.box.moves(point)
                if abs(self._at(_moved(point, place, value))[which] - here) > GAIN_SHARE * abs(here)
            }
        )

    def _jumps(self, which: int, start: int, places: list[int]) -> list[int]:
        """Name the quantities along which a requirement comes and goes, the most first."""
        least, found = JUMP_SHARE * abs(float(self._bad[start, which])), {}
        for place in places:
            course = [self._at(self._inside(start, place, share))[which] for share in QUARTERS]
            if not np.isfinite(course).all():
                continue
            bends = np.diff(course, 2)
            jump = float(np.abs(np.diff(bends)).max())
            if jump > max(least, BENT * float(np.abs(bends).sum())):
                found[place] = jump
        return sorted(found, key=lambda place: -found[place])

    def _apart(self, which: int, telling: list[int], moved: int) -> list[int]:
        """Give the worst points known that differ in more than what is moved and what does not tell."""
        others = [place for place in telling if place != moved]
        found: dict[bytes, int] = {}
        for start in self._worst(which, self.count):
            found.setdefault(self._points[start][others].tobytes(), start)
            if len(found) == FOLLOWED_FROM:
                break
        return list(found.values())

    def _inside(self, start: int, place: int, share: float) -> Array:
        low, high = self.box.low[place], self.box.high[place]
        return _moved(self._points[start], place, float(high if share == 1.0 else low + share * (high - low)))

    def _either_way(self, start: int, places: list[int], step: float) -> Iterator[Array]:
        for place in places:
            low, high = self.box.low[place], self.box.high[place]
            share = float((self._points[start][place] - low) / (high - low))
            for moved in (share - step, share + step):
                yield self._inside(start, place, min(max(moved, 0.0), 1.0))

    def _singles(self, point: Array) -> Array:
        return self._around(point).points

    def _from(self, start: int) -> Array:
        return self._singles(self._points[start])

    def _places_from(self, start: int) -> NDArray[np.int64]:
        """Where the single moves from a point stand among all points, once they were run."""
        keys = self._around(self._points[start]).keys
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

    def _at(self, point: Array) -> Array:
        bad: Array = self._bad[self._places[point.tobytes()]]
        return bad


def _moved(point: Array, place: int, value: float) -> Array:
    moved = point.copy()
    moved[place] = value
    return moved
