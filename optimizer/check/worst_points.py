"""The worst points of a box of tolerances by search, each quantity on its own.

A two-level design and single moves from the nominal point say which way each quantity hurts each requirement;
with the box's corners and random draws they give the points to start from. From a requirement's start every
single move is tried, and all that help are taken at once, until none helps. All points of all requirements
that a pass asks for are run as one batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

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
"""Places inside a tolerance that `WorstPoints.look_inside` tries, from its low end [1]."""

LOOKS_INSIDE = 4
"""Most passes of moves to the inside [1]."""

SAME_SHARE = 1e-3
"""Values that differ by less than this share count as the same [1]."""


class WorstPoints:
    """All points of a box that were run, and how bad each is for each requirement."""

    def __init__(self, box: Box, badness: Badness) -> None:
        self.box = box
        self._badness = badness
        self._places: dict[bytes, int] = {}
        self._points: list[Array] = []
        self._bad: list[Array] = []

    @property
    def count(self) -> int:
        """How many points were run [1]."""
        return len(self._points)

    def find(self, draws: int, seed: int) -> None:
        """Search from the design, the single moves from nominal and the draws."""
        box = self.box
        screened = box.vertices(box.screening())
        corners = box.corners()
        self.run([box.nominal, *self._singles(box.nominal), *screened, *box.draws(draws, seed), *corners])
        guesses = {which: self._guesses(which, screened) for which in self.touched()}
        self.run(guess for some in guesses.values() for guess in some)
        places = [self._places[corner.tobytes()] for corner in corners]
        starts = []
        for which in guesses:
            corner = places[int(np.argmax([self._bad[place][which] for place in places]))]
            starts += [(which, start) for start in dict.fromkeys([*self._worst(which, STARTS), corner])]
        self._climb(starts)

    def climb(self, requirements: Iterable[int]) -> None:
        """Search for some requirements from the worst points that were run."""
        self._climb([(which, self._worst(which, 1)[0]) for which in requirements])

    def look_inside(self, which: int) -> None:
        """Move from a requirement's worst point to the inside of tolerances, one a pass, while that hurts.

        What hangs on where a thermostat's wave stands as something ends may be worst between the ends.
        """
        for _ in range(LOOKS_INSIDE):
            (start,) = self._worst(which, 1)
            point, low, high = self._points[start], self.box.low, self.box.high
            self.run(
                _moved(point, place, float(low[place] + share * (high[place] - low[place])))
                for place in range(self.box.size)
                for share in INSIDE_SHARES
            )
            (worst,) = self._worst(which, 1)
            if not self._helps(which, start, worst):
                return

    def touched(self) -> list[int]:
        """Find the requirements whose value differs from point to point."""
        bad = np.array(self._bad)
        return [int(which) for which in np.flatnonzero(~np.all(bad == bad[0], axis=0))]

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
        self._bad += list(np.nan_to_num(self._badness(batch), nan=np.inf, posinf=np.inf, neginf=-np.inf))

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
            self.run(one for _, start in starts for one in self._singles(self._points[start]))
            joint = [(which, start, self._together(which, start)) for which, start in starts]
            self.run(one for _, _, point in joint for one in (point, *self._singles(point)))
            onward = set()
            for which, start, point in joint:
                tried = [self._places[one.tobytes()] for one in (point, *self._singles(self._points[start]))]
                best = max(tried, key=lambda place: (self._bad[place][which], -place))
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
        point = self._points[start].copy()
        hurt: dict[int, float] = {}
        for place, value in self.box.moves(self._points[start]):
            moved = self._places[_moved(self._points[start], place, value).tobytes()]
            bad = self._bad[moved][which]
            if self._helps(which, start, moved) and bad > hurt.get(place, -np.inf):
                point[place], hurt[place] = value, bad
        return point

    def _helps(self, which: int, start: int, end: int) -> bool:
        before, after = float(self._bad[start][which]), float(self._bad[end][which])
        least = GAIN_SHARE * abs(before) if math.isfinite(before) else 0.0
        return after > before + least

    def _worst(self, which: int, number: int) -> list[int]:
        values = np.array([bad[which] for bad in self._bad])
        return [int(place) for place in np.argsort(-values, kind="stable")[:number]]

    def _singles(self, point: Array) -> list[Array]:
        return [_moved(point, place, value) for place, value in self.box.moves(point)]

    def _at(self, point: Array) -> Array:
        return self._bad[self._places[point.tobytes()]]


def _moved(point: Array, place: int, value: float) -> Array:
    moved = point.copy()
    moved[place] = value
    return moved
