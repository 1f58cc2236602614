"""Branch and bound over the tolerances: split the boxes that bound a requirement until they do it closely."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.bound_box import SPLITTABLE, Boxes, boxes_at, ends_of
from optimizer.check.bound_rows import Values, hottest_again, values_of
from optimizer.check.certificate import Sense
from optimizer.check.phases import phases
from optimizer.check.worst_cases import QUANTITIES, Array
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

PASSES = 4
"""Batches of boxes after the first [1]."""

SPLIT_MOST = (64, 256, 256, 256)
"""Boxes that are made in each pass at the most [1]."""

CLOSE = 0.005
"""A bound this close to the worst value found is close enough, a share of it [1]."""

HALVED = 4
"""Quantities in which a box is halved at once, those that promise most; 16 boxes come of one [1]."""

FIRST_HALVED = 6
"""The same for the first box [1]."""


STEPS_SHARE = 2e-3
"""How far the steps of the courses may put a bound off [1]: at random points without tolerance it differed
from the check's own integration by 0.16 % of a dose at the most, one of less than three minutes."""

LITRES = ("cover.", "overflow.")
"""Levels: a fill is chosen to the second, which is 1 % of it, so that their bounds are wanted to a tenth of a
per cent; it is the inlet's temperature that is split for it, and little else."""

EXACT = (*LITRES, "rinse.", "drain.", "limits.water_l", "tank.", "prerinse.", "watchdog.")
"""Bounds that no course of temperatures comes into, or that have it counted already."""

LASTING = ("limits.duration_min", "limits.standing_min")
"""How long a run takes: exact where the time alone ends every phase."""

AGAIN = ("tank.bath_c", "prerinse.bath_c")
"""Requirements that hold in a second run as well."""


@dataclass(frozen=True)
class Aim:
    """What a bound is looked for: its requirement's sense, limit and worst value found so far.

    An ``exact`` bound is not put off by the steps of a course.
    """

    sense: Sense
    limit: float
    worst: float
    exact: bool = False

    @property
    def sign(self) -> float:
        """1 where more is better, else -1."""
        return 1.0 if self.sense == "at least" else -1.0

    def worse(self, one: float, other: float) -> float:
        """The worse of two values."""
        return self.sign * min(self.sign * one, self.sign * other)

    def less_steps(self, values: Array) -> Array:
        """Take off what the steps of a course may have put a bound off."""
        return values if self.exact else values - self.sign * STEPS_SHARE * np.abs(values)

    def final(self, values: Array) -> float:
        """The bound of the worst box, never better than what was found; a limit met exactly is met."""
        bound = self.sign * float((self.sign * values).min())
        if math.isclose(bound, self.limit, rel_tol=1e-12):
            bound = self.limit
        return self.worse(bound, self.worst)

    def enough(self, key: str, bound: float) -> bool:
        """Whether a bound need not be closer: it holds the limit, or lies close to the worst value found."""
        good, worst, limit = (self.sign * value for value in (bound, self.worst, self.limit))
        # A level that holds wherever it was run is worth finding out to the end.
        open_end = key.startswith(LITRES) and worst >= limit
        return good >= limit or (not open_end and good >= worst - CLOSE * abs(self.worst))


def guaranteed(
    constants: Constants, machine: Machine, goal: Goal, aims: Mapping[str, Aim]
) -> dict[str, float]:
    """Bound each requirement over the whole box of tolerances: what no point of it can break."""
    by_time = all(phase.end == "time" for phase in phases(constants))
    exact = (*EXACT, *LASTING) if by_time else EXACT
    aims = {key: replace(aim, exact=key.startswith(exact)) for key, aim in aims.items()}
    bounds = _bounds(machine, aims, lambda boxes: values_of(constants, machine, goal, boxes))
    # A second run, begun at once, is on a warm machine. It is bounded by itself, because it takes as long.
    twice = {key: aim for key, aim in aims.items() if key in AGAIN and key in bounds}
    again = _bounds(machine, twice, lambda boxes: hottest_again(constants, machine, goal, boxes))
    return bounds | {key: aims[key].worse(bounds[key], again[key]) for key in again}


def _bounds(
    machine: Machine, aims: Mapping[str, Aim], values_in: Callable[[Boxes], Values]
) -> dict[str, float]:
    """Split the tolerances until each requirement is bounded closely enough, or the boxes are spent."""
    ends = ends_of(machine)
    moving = [name for name in SPLITTABLE if ends[name][0] < ends[name][1]]
    numbers = [QUANTITIES.index(name) for name in moving]
    whole = np.array(list(ends.values()))[None]
    width = np.where(whole[0, :, 1] > whole[0, :, 0], whole[0, :, 1] - whole[0, :, 0], 1.0)

    def run(ends_in: Array) -> Values:
        values = values_in(boxes_at(machine, ends_in))
        return {key: aims[key].less_steps(value) for key, value in values.items() if key in aims}

    values = run(whole)
    keys = list(values)
    if all(aims[key].enough(key, float(values[key][0])) for key in keys):
        return {key: aims[key].final(values[key]) for key in keys}
    values = run(np.concatenate([whole, *(_halves(whole[0], number) for number in numbers)]))
    gains = {key: _gains(aims[key].sign * values[key], numbers) for key in keys}
    leaves, found = whole, {key: values[key][:1] for key in keys}
    for passed in range(PASSES):
        picked = _picked(aims, keys, found, gains, leaves, width, passed)
        if not picked:
            break
        split = np.concatenate([_split(leaves[leaf], names) for leaf, names in picked.items()])
        new = run(split)
        stay = np.array([leaf not in picked for leaf in range(len(leaves))])
        # A part's bound may come out worse than that of the whole, which holds for it as well.
        parents = np.repeat(list(picked), [2 ** len(names) for names in picked.values()])
        for key in keys:
            better = np.maximum if aims[key].sign > 0.0 else np.minimum
            found[key] = np.concatenate([found[key][stay], better(new[key], found[key][parents])])
        leaves = np.concatenate([leaves[stay], split])
    return {key: aims[key].final(found[key]) for key in keys}


def _picked(
    aims: Mapping[str, Aim], keys: Iterable[str], found: Values, gains: Mapping[str, Array],
    leaves: Array, width: Array, passed: int,
) -> dict[int, tuple[int, ...]]:  # fmt: skip
    """Boxes to split, each with the quantities that promise most for the requirement that it bounds."""
    open_keys = [
        key for key in keys
        if not aims[key].enough(key, float((aims[key].sign * found[key]).min() * aims[key].sign))
    ]  # fmt: skip
    picked: dict[int, tuple[int, ...]] = {}
    halved = FIRST_HALVED if passed == 0 else HALVED
    room = SPLIT_MOST[passed] // 2**halved
    for place in range(len(leaves)):
        for key in open_keys:
            order = np.argsort(aims[key].sign * found[key], kind="stable")
            if place >= len(order) or len(picked) >= room:
                continue
            leaf = int(order[place])
            if leaf in picked or aims[key].enough(key, float(found[key][leaf])):
                continue
            shares = (leaves[leaf][:, 1] - leaves[leaf][:, 0]) / width
            promise = gains[key] * shares
            best = np.argsort(-promise, kind="stable")[:halved]
            names = tuple(int(number) for number in best if promise[number] > 0.0)
            if names:
                picked[leaf] = names
        if len(picked) >= room:
            break
    return picked


def _halves(box: Array, number: int) -> Array:
    """The lower and the upper half of a box in one quantity."""
    low, high = box.copy(), box.copy()
    low[number, 1] = high[number, 0] = 0.5 * (box[number, 0] + box[number, 1])
    return np.stack([low, high])


def _split(box: Array, numbers: Iterable[int]) -> Array:
    """All parts of a box that is halved in several quantities."""
    parts = box[None]
    for number in numbers:
        parts = np.concatenate([_halves(part, number) for part in parts])
    return parts


def _gains(good: Array, numbers: list[int]) -> Array:
    """By how much the bound gets better as each quantity alone is halved; the whole box comes first."""
    gains = np.zeros(len(QUANTITIES))
    for place, number in enumerate(numbers):
        halves = good[1 + 2 * place : 3 + 2 * place]
        if np.isfinite(good[0]) and np.isfinite(halves).all():
            gains[number] = max(float(halves.min() - good[0]), 0.0)
    return gains
