"""Branch and bound over the tolerances: split the boxes that bound a requirement until they do it closely."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.check.bound_aims import FINE_LEAST, PASSES, Aim
from optimizer.check.bound_asked import Asked
from optimizer.check.bound_box import SPLITTABLE, Boxes, boxes_at, ends_of
from optimizer.check.bound_by_reading import hang_on_reading
from optimizer.check.bound_finer_steps import with_steps
from optimizer.check.bound_leaves import Leaves, gains_of, telling_of, tried_of
from optimizer.check.bound_rows import (
    Values,
    values_again,
    values_and_end,
    values_asked,
)
from optimizer.check.phases import phases
from optimizer.check.second_run import AGAIN
from optimizer.check.worst_cases import QUANTITIES, Array
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

BOXES = 192
"""Boxes that are made in each pass at the most [1]: with fewer each costs more."""

HALVINGS, HALVINGS_LATE, LATE = 2, 1, 400
"""Halvings of each box that is split, if there is room for them all; then of bounds that hold and are to be
nearer, once there are so many boxes [1]: 4 boxes come of one, then 2, as many bound alike. Of 16 most were
more than good enough, and others waited."""

SPAN = 5
"""Bounds, one after each batch, by whose gains that of one that is to be nearer is foreseen [1]."""

ALL_BUT = 5e-3
"""Share of a limit that may be missing of a bound that all but holds it [1]."""

EXACT = ("cover.", "overflow.", "rinse.", "drain.", "limits.water_l", "tank.", "prerinse.", "watchdog.",
         "detergent.", "ware.", "first_rinse.", "first_wash.")  # fmt: skip
"""Bounds that no course of temperatures comes into, or that have it counted already."""

AGAIN_ALSO = "again."
"""What the names of a second run's bounds begin with."""

LASTING = ("limits.duration_min", "limits.standing_min")
"""How long a run takes: exact where the time alone ends every phase."""


def guaranteed(
    constants: Constants,
    machine: Machine,
    goal: Goal,
    aims: Mapping[str, Aim],
    *,
    points: Array | None = None,
    brief: bool = False,
    at_once: bool = False,
) -> dict[str, float]:
    """Bound each requirement over the whole box of tolerances: what no point of it can break.

    At some ``points`` of it, points × `QUANTITIES`, steps are made finer to see how far they put a bound off.
    Where a programme fails, ``brief`` leaves out how closely the rest of it holds; ``at_once`` leaves all
    bounds as they are once one limit is out of reach.
    """
    sequence = phases(constants)
    by_time = all(phase.end == "time" for phase in sequence)
    exact = (*EXACT, *LASTING) if by_time else EXACT
    aims = {key: replace(aim, exact=key.startswith(exact), warmer=key in AGAIN) for key, aim in aims.items()}
    if points is not None and len(points):
        aims = with_steps(constants, machine, goal, aims, boxes_at(machine, np.stack([points, points], 2)))
    tries = boxes_at(machine, tried_of(_whole(machine)[0], _moving(machine)))
    start_boxes = boxes_at(machine, _whole(machine))
    tried, end = values_and_end(constants, machine, goal, tries)
    # The first of the boxes that are tried is the whole.
    start = end.first(1)
    # A second run, begun at once, is on a warm machine. It is bounded by itself, because it takes as long.
    second = {AGAIN_ALSO + key: aim for key, aim in aims.items() if key in AGAIN and key in tried}
    again: dict[str, float] = {}
    if second:
        values = _named_again(values_again(constants, machine, goal, start_boxes, start))
        values = {key: aim.less_steps(values.get(key, _none(aim))) for key, aim in second.items()}
        again = {key: aim.final(values[key]) for key, aim in second.items()}
    left = {key: aim for key, aim in second.items() if not aim.enough(key, again[key])}
    if left:
        # It begins wherever the first run of any box ended.
        tried |= _named_again(values_again(constants, machine, goal, tries, start.spread(tries.count)))

    def both(boxes: Boxes, asked: Asked) -> Values:
        if not left.keys() & set(asked.now):
            return values_asked(constants, machine, goal, boxes, asked)
        # At once: a course that begins where either of them may costs no more than one.
        asked = asked.without(AGAIN_ALSO)
        values = values_asked(constants, machine, goal, boxes, asked, start)
        return values | _named_again({key: values[key] for key in AGAIN if key in values})

    def twice(boxes: Boxes, _: Asked) -> Values:
        ended = values_and_end(constants, machine, goal, boxes)[1]
        return _named_again(values_again(constants, machine, goal, boxes, ended))

    search = _Search(machine, tried, both)
    # What is better bounded by what the sensors read has boxes of its own, split for that.
    kept = {key: aim.kept() for key, aim in aims.items()}
    read = _better_read(constants, machine, goal, aims.keys() & tried.keys())
    # Limits come first in every check: one that is asked for closeness as well must not fail for that.
    bounds = search.bounds({key: kept[key] for key in aims if key in read}, by_reading=True)
    others = {key: aim for key, aim in kept.items() if key not in bounds or aim.misses(bounds[key])}
    together = others | left
    found = search.bounds(together, brief=brief, at_once=at_once)
    if not at_once and len(together) > 1:
        found |= _once_more_alone(search, others, found)
    bounds = found | {key: aims[key].better(bound, found.get(key, bound)) for key, bound in bounds.items()}
    if not (brief or at_once) or not any(aims[key].misses(bounds[key]) for key in aims):
        nearer = {
            key: aim.nearer()
            for key, aim in aims.items()
            if not aim.misses(bounds[key]) and not aim.enough(key, bounds[key])
        }
        for by_reading in (True, False):
            some = {key: aim for key, aim in nearer.items() if (key in read) is by_reading}
            found = search.bounds(some, by_reading=by_reading)
            bounds |= {key: aims[key].better(bounds[key], near) for key, near in found.items()}
            found = search.finely({key: some[key] for key in found if not some[key].enough(key, bounds[key])})
            bounds |= {key: aims[key].better(bounds[key], near) for key, near in found.items()}
    again |= {key: bounds.pop(key) for key in left}
    left = {key: aim for key, aim in left.items() if not aim.enough(key, again[key])}
    failed = at_once and any(aims[key].misses(bound) for key, bound in bounds.items())
    if left and not failed:
        search = _Search(machine, twice(tries, Asked(left)), twice)
        again |= search.bounds(left, brief=brief, at_once=at_once)
    found = {key.removeprefix(AGAIN_ALSO): bound for key, bound in again.items()}
    return bounds | {key: aims[key].of_both(bounds[key], bound) for key, bound in found.items()}


def _once_more_alone(
    search: _Search, aims: Mapping[str, Aim], found: Mapping[str, float]
) -> dict[str, float]:
    """Bounds that do not hold though what was found does, looked for with boxes of their own.

    Boxes that others were split for are not the best ones: a programme was refused once another requirement
    had been made easier.
    """
    better: dict[str, float] = {}
    for key, aim in aims.items():
        if key in found and aim.misses(found[key]) and not aim.misses(aim.worst) and aim.rough >= PASSES:
            better |= {key: aim.better(found[key], search.bounds({key: aim})[key])}
    return better


def _better_read(constants: Constants, machine: Machine, goal: Goal, keys: Collection[str]) -> frozenset[str]:
    """What is bounded better by what the sensors read, if nothing but their error has a tolerance."""
    whole, error = _whole(machine), QUANTITIES.index("sensor_error_k")
    boxes = whole.copy()
    boxes[:] = whole.mean(axis=2, keepdims=True)
    boxes[:, error] = whole[:, error]
    at = boxes_at(machine, boxes)
    now = sorted(hang_on_reading(constants, goal, at).intersection(keys))
    if not now:
        return frozenset()
    as_is, read = (
        values_asked(constants, machine, goal, at, Asked(now, by_reading=by_reading))
        for by_reading in (False, True)
    )
    return frozenset(key for key in now if read[key][0] > as_is[key][0])


def _named_again(values: Values) -> Values:
    """Values of a second run, by names that differ from those of the first."""
    return {AGAIN_ALSO + key: value for key, value in values.items()}


def _none(aim: Aim) -> Array:
    """No bound, of one box."""
    return np.full(1, aim.sign * -math.inf)


def _whole(machine: Machine) -> Array:
    """The ends of all tolerances, as one box."""
    return np.array(list(ends_of(machine).values()))[None]


def _moving(machine: Machine) -> list[int]:
    """Quantities that have a tolerance to split."""
    whole = _whole(machine)[0]
    numbers = [QUANTITIES.index(name) for name in SPLITTABLE]
    return [number for number in numbers if whole[number, 0] < whole[number, 1]]


@dataclass(frozen=True)
class _Search:
    """A search on a machine: values of the whole box and its halves (`tried_of`), and those of any boxes."""

    machine: Machine
    tried: Values
    values_in: Callable[[Boxes, Asked], Values]
    nearest: dict[str, tuple[Leaves, bool]] = field(default_factory=dict)
    """The boxes that bound each requirement most closely so far, and whether by what the sensors read."""

    def finely(self, aims: Mapping[str, Aim]) -> dict[str, float]:
        """Split on where each requirement is bounded most closely, with a held bath in more parts.

        Requirements that have the same boxes take turns.
        """
        found: dict[str, float] = {}
        for key in aims:
            if key not in found:
                start, by_reading = self.nearest[key]
                some = {one: aim for one, aim in aims.items() if self.nearest[one][0] is start}
                some = {one: replace(aim, finely=True) for one, aim in some.items()}
                found |= self.bounds(some, start=start, by_reading=by_reading)
        return found

    def bounds(
        self,
        aims: Mapping[str, Aim],
        *,
        start: Leaves | None = None,
        by_reading: bool = False,
        brief: bool = False,
        at_once: bool = False,
    ) -> dict[str, float]:
        """Split the tolerances until each requirement is bounded closely enough, or the boxes are spent.

        Limits that no bound holds yet come first. Where one stays so, ``brief`` leaves the others as
        they are, and ``at_once`` all of them. ``by_reading`` asks for what the sensors read.
        """
        if not aims:
            return {}
        whole, moving = _whole(self.machine), _moving(self.machine)

        def good_of(values: Values) -> Values:
            """Each value the higher the better."""
            return {key: aims[key].sign * aims[key].less_steps(values[key]) for key in values if key in aims}

        tried = good_of(self.tried)
        leaves = start or Leaves(
            whole, np.zeros((1, len(QUANTITIES)), dtype=int), {key: tried[key][:1] for key in tried}
        )
        leaves = replace(leaves, good={key: good for key, good in leaves.good.items() if key in aims})
        gains = {key: gains_of(good, moving) for key, good in tried.items()}
        open_keys = list(tried)
        courses = {key: [float(good.min())] for key, good in leaves.good.items()}
        for number in itertools.count():
            reached = {key: leaves.bound(key, aims[key].sign) for key in open_keys}
            open_keys = [
                key
                for key, bound in reached.items()
                if number < aims[key].passes(bound) and not aims[key].enough(key, bound)
            ]
            if not open_keys:
                break
            missed = {key for key in leaves.good if aims[key].misses(leaves.bound(key, aims[key].sign))}
            now = [key for key in open_keys if key in missed] or ([] if missed and brief else open_keys)
            if not now:
                break
            # What waits, or was given up, takes part as far as it is known by then.
            also = [
                key for key in leaves.good if not aims[key].enough(key, leaves.bound(key, aims[key].sign))
            ]

            asked = Asked(tuple(now), tuple(also), by_reading=by_reading, finely=start is not None)

            def run(boxes: Array, asked: Asked = asked) -> Values:
                return good_of(self.values_in(boxes_at(self.machine, boxes), asked))

            if number or start:
                # What promised most in the whole box may promise little in the part that bounds it now.
                worst = [int(leaves.good[key].argmin()) for key in now]
                places = {leaf: place for place, leaf in enumerate(dict.fromkeys(worst))}
                telling = moving if number % 2 else telling_of([gains[key] for key in now], moving)
                tried = run(np.concatenate([tried_of(leaves.ends[leaf], telling) for leaf in places]))
                for key, leaf in zip(now, worst, strict=True):
                    part = np.split(tried[key], len(places))[places[leaf]]
                    found = gains_of(part, telling) * 2.0 ** leaves.halved[leaf]
                    gains[key][telling] = found[telling]
            picked = _picked(aims, now, leaves, gains)
            if not picked:
                open_keys = [key for key in open_keys if key not in now]
                continue
            leaves = leaves.split(picked, run)
            for key in now:
                courses[key].append(float(leaves.good[key].min()))
            open_keys = [
                key for key in open_keys if key not in now or _in_reach(courses[key], aims[key], key, number)
            ]
            given_up = [key for key in now if key not in open_keys]
            if at_once and any(aims[key].misses(leaves.bound(key, aims[key].sign)) for key in given_up):
                break
        for key, good in leaves.good.items():
            if key not in self.nearest or good.min() > self.nearest[key][0].good[key].min():
                self.nearest[key] = leaves, by_reading
        return {key: aims[key].final(aims[key].sign * good) for key, good in leaves.good.items()}


def _in_reach(course: list[float], aim: Aim, key: str, number: int) -> bool:
    """Whether a bound gets where it is wanted if it gains twice as much a batch as in the last two, or four.

    Gains differ from batch to batch, as requirements take turns: the last four count where little is missing.
    One that holds its limit, and is only to be nearer, is asked whether it gets there if its gains fall off
    as those of most do, as one over the number of batches. One that is looked at finely has its least number
    of batches anyway.
    """
    soon = len(course) < (FINE_LEAST if aim.finely else 3)
    if soon or not math.isfinite(course[-1]):
        return True
    passes, gained = aim.passes(aim.sign * course[-1]), course[-1] - course[-3]
    of_some = 2.0 * (course[-1] - course[-SPAN:][0]) / (len(course[-SPAN:]) - 1)
    if aim.sign * aim.limit - course[-1] <= ALL_BUT * abs(aim.limit):
        gained = max(gained, of_some)
    more = (passes - 1 - number) * gained
    if course[-1] >= aim.sign * aim.limit:
        more = 0.7 * of_some * (number + 1) * math.log(passes / (number + 1))
    return course[-1] + more >= aim.sign * aim.wanted(key)


def _picked(
    aims: Mapping[str, Aim], keys: Iterable[str], leaves: Leaves, gains: Mapping[str, Array]
) -> dict[int, Array]:
    """Boxes to split, with how often in each quantity; those that bound a requirement worst come first."""
    missed = any(aims[key].misses(leaves.bound(key, aims[key].sign)) for key in keys)
    most = BOXES // 2 ** (HALVINGS if missed or len(leaves.ends) < LATE else HALVINGS_LATE)
    waiting = []
    for key in keys:
        if gains[key].any():
            aim, good = aims[key], leaves.good[key]
            short = good < aim.sign * aim.wanted(key)
            worst = np.argsort(good, kind="stable")[: min(int(short.sum()), most)].tolist()
            waiting += [(place, leaf, key) for place, leaf in enumerate(worst)]
    # All worst ones, then all second ones, each in the order of the requirements.
    waiting.sort(key=lambda one: one[0])
    picked: dict[int, list[str]] = {}
    for _, leaf, key in waiting:
        if leaf in picked or len(picked) < most:
            picked.setdefault(leaf, []).append(key)
    halvings = int(math.log2(BOXES // max(len(picked), 1)))
    return {
        leaf: _times([gains[key] for key in its], leaves.halved[leaf], halvings)
        for leaf, its in picked.items()
    }


def _times(gains: list[Array], halved: Array, halvings: int) -> Array:
    """How often to halve a box in each quantity.

    The requirements take turns, each with the quantity that promises most for it then.
    """
    times = np.zeros_like(halved)
    for turn in range(halvings):
        times[int(np.argmax(gains[turn % len(gains)] * 0.5 ** (halved + times)))] += 1
    return times
