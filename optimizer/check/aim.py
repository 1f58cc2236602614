"""Aim at what a row of faults does not tell yet: its few cases may stay just within a limit.

From the case that comes nearest to a limit every quantity is moved to its other ends, each by itself; then
those that help are moved together, those that help most first. Only limits that lie within reach of what was
seen are aimed at. A search, and no bound: what it finds is told, of what it does not find nothing is said.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import Box
from optimizer.check.worst_cases import Array

Values = Mapping[str, Array]
"""By what may be told, how far each case is past the limit from which it is [any unit]; 0 or less: within."""

Asked = Sequence[tuple[int, Array]]
"""Courses, each with the points × quantities at which it is asked for its values."""

Run = Callable[[Asked], list[Values]]
"""From what is asked to the values of each."""

Moot = Callable[[set[str]], Collection[str]]
"""From what is told to what is of no matter then."""

REACH_SD = 5.0
"""A limit is within reach where it lies no more than so many standard deviations over the mean [1]: where 25
quantities matter alike, all of them at their worst ends lie there; *no source*, our choice."""

TOGETHER = 1.5
"""What helps together helps at most so many times as much as the sum of what each does [1]; our choice."""

SMALL, FEW = 0.01, 4
"""Moves that help less than this share of the best are left; past so many, one in so many is tried [1]."""

TURNS = 2
"""So often every quantity is moved by itself, and then what helps together [1]."""


@dataclass(frozen=True)
class Target:
    """What is aimed at: one value of one course."""

    course: int
    key: str


@dataclass(frozen=True)
class Near:
    """The point that comes nearest to a target so far, and how far it is past it; 0 or less: within."""

    point: Array
    past: float


def nothing_moot(_: set[str]) -> Collection[str]:
    """Let all that is not told matter."""
    return ()


def untold(seen: Mapping[int, Values], moot: Moot = nothing_moot) -> list[Target]:
    """Name what no case of any course tells although it lies within reach: in the nearest of the courses.

    ``seen`` are the values of courses that are told together, by their numbers.
    """
    found: list[Target] = []
    keys = list(dict.fromkeys(key for values in seen.values() for key in values))
    told = {
        key for key in keys if any((values[key] > 0.0).any() for values in seen.values() if key in values)
    }
    for key in keys:
        if key in told or key in moot(told):
            continue
        courses = {course: values[key] for course, values in seen.items() if key in values}
        nearest = max(courses, key=lambda course: float(courses[course].max()))
        if _reach(courses[nearest]) > 0.0:
            found.append(Target(nearest, key))
    return found


def _reach(values: Array) -> float:
    """Guess how far past its limit some point of the box may be, by the cases that were run."""
    known = values[np.isfinite(values)]
    return float(known.mean() + REACH_SD * known.std()) if len(known) else -np.inf


def stacked(asked: Asked) -> tuple[NDArray[np.int_], Array, list[slice]]:
    """Lay all that is asked into one batch: the course of each point, the points, and where each ask lies."""
    counts = [len(points) for _, points in asked]
    ends = [int(end) for end in np.cumsum(counts)]
    courses = np.repeat([course for course, _ in asked], counts)
    places = [slice(end - count, end) for count, end in zip(counts, ends, strict=True)]
    return courses, np.vstack([points for _, points in asked]), places


def aimed(box: Box, points: Array, seen: Mapping[int, Values], targets: Iterable[Target], run: Run) -> Array:
    """Find points at which a target is told; none where the search finds none.

    ``points`` are those of the cases of ``seen`` [points × quantities].
    """
    near = {target: _nearest(points, seen[target.course][target.key]) for target in dict.fromkeys(targets)}
    for _ in range(TURNS):
        left = {target: one for target, one in near.items() if one.past <= 0.0}
        if not left:
            break
        near = {target: one for target, one in near.items() if one.past > 0.0} | _turn(box, left, run)
    told = [one.point for one in near.values() if one.past > 0.0]
    return np.unique(np.array(told), axis=0) if told else np.empty((0, box.size))


def furthest(box: Box, points: Array, seen: Values, run: Callable[[Array], Values]) -> dict[str, float]:
    """Climb from the case that is furthest by each value, without a limit, and give how far it comes."""
    near = {Target(0, key): _nearest(points, values) for key, values in seen.items()}
    for _ in range(TURNS):
        near |= _turn(box, near, lambda asked: [run(some) for _, some in asked], gives_up=False)
    return {target.key: one.past for target, one in near.items()}


def _nearest(points: Array, values: Array) -> Near:
    case = int(values.argmax())
    return Near(points[case], float(values[case]))


def _turn(box: Box, left: Mapping[Target, Near], run: Run, *, gives_up: bool = True) -> dict[Target, Near]:
    """Move every quantity by itself, then what helps together; give the targets that came nearer.

    Those for which the single moves leave no hope are given up, if ``gives_up``.
    """
    singles = {target: _singles(box, one.point) for target, one in left.items()}
    gains = _asked(run, singles)
    going = {target: one for target, one in left.items() if not gives_up or _hopeful(one, gains[target])}
    joint = {target: _joint(one, singles[target], gains[target]) for target, one in going.items()}
    together, nearer = _asked(run, joint), {}
    for target, one in going.items():
        tried = np.vstack([singles[target], joint[target]])
        past = np.concatenate([gains[target], together[target]])
        best = int(past.argmax())
        if past[best] > one.past:
            nearer[target] = Near(tried[best], float(past[best]))
    return nearer


def _hopeful(near: Near, past: Array) -> bool:
    """Whether what helps by itself may, all together, pass the limit."""
    gain = past - near.past
    return near.past + TOGETHER * float(gain[gain > 0.0].sum()) > 0.0


def _singles(box: Box, point: Array) -> Array:
    """Move each quantity by itself: to its other end, from inside to both."""
    moved = []
    for place in range(box.size):
        for value in (box.low[place], box.high[place]):
            if value != point[place]:
                one = point.copy()
                one[place] = value
                moved.append(one)
    return np.array(moved)


def _joint(near: Near, singles: Array, past: Array) -> Array:
    """Take the moves that help together: the best two, three and some more, and all of them."""
    gain = past - near.past
    point, found = near.point.copy(), []
    for at in np.argsort(-gain, kind="stable"):
        if not gain[at] > SMALL * float(gain.max()):
            break
        # A quantity that both its ends help goes to the better one.
        point = np.where((singles[at] != near.point) & (point == near.point), singles[at], point)
        found.append(point)
    last = len(found) - 1
    tried = [at for at in range(1, len(found)) if at < FEW or at % FEW == 0 or at == last]
    return np.array([found[at] for at in tried]).reshape(-1, len(near.point))


def _asked(run: Run, tried: Mapping[Target, Array]) -> dict[Target, Array]:
    """Ask each course once for the points of all its targets."""
    by_course: dict[int, list[Target]] = {}
    for target, points in tried.items():
        if len(points):
            by_course.setdefault(target.course, []).append(target)
    asks = [(course, np.vstack([tried[one] for one in some])) for course, some in by_course.items()]
    found = {target: np.empty(0) for target in tried}
    for some, values in zip(by_course.values(), run(asks) if asks else [], strict=True):
        ends = np.cumsum([len(tried[one]) for one in some])
        for one, end in zip(some, ends, strict=True):
            found[one] = np.nan_to_num(values[one.key][end - len(tried[one]) : end], nan=-np.inf)
    return found
