"""Bounds of doses and hygiene: the least that ware gets at any point of a box, by its lower courses."""

from __future__ import annotations

import math
from collections.abc import Container
from dataclasses import replace

import numpy as np

from optimizer.check.bound_aims import STEPS_SHARE
from optimizer.check.bound_box import Boxes
from optimizer.check.bound_kernel_doses import Rates, coldest_doses_s
from optimizer.check.bound_kernel_swing import KINDS, NUMBERS
from optimizer.check.bound_steps import SHARED_LEAST, Bounds, Means
from optimizer.check.lethality import HYGIENE, SOON_S, Rate, dissolving_s, soil_rate
from optimizer.check.worst_cases import Array, Bools
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants
from optimizer.second_thread import in_halves

DOSE = "dose."
"""What the key of a dose begins with [1]."""

HYGIENE_KEY = "hygiene."
"""What that of hygiene begins with [1]."""

BETWEEN = 6
"""Points of a step at which the ware's course is read between its samples [1]."""

BETWEEN_HELD = 3
"""The same where a thermostat holds the bath: its steps are shorter [1]."""


FLOOR_K = 0.05
"""How far the steps may put a ware off that turns at the floor of a rate [K]: there a hundredth of a kelvin
is minutes, no share of a dose. It was off by 0.046 K at the most, where floors were put to it on purpose."""

STEPS_Z_K = 10.0
"""`STEPS_SHARE` is what the steps put doses off down to this z [K]; at 3.5 K it was 0.201 % at the most, in
3,000 random machines."""

SLOW_K_PER_S = 1e-3
"""Ware as slow as this near a floor is as good as turning there [K/s]: a hundredth of a kelvin is ten seconds
and more. Ware that only just comes over its floor at the end of a heating had 40 % of a dose too much."""

TURNS = 0.15
"""A cubic that rises at one end of a step and falls at the other goes past both by less than this, as a share
of the step times the steeper slope: 4/27, where the other is level [1]."""


class BoundDoses:
    """Follows the bounds of one course; ``doses_s`` by name and ``hygiene_s``, one value a box [s].

    Where keys of requirements are ``asked`` for, nothing else is counted.
    """

    def __init__(
        self, constants: Constants, goal: Goal, boxes: Boxes, asked: Container[str] | None = None
    ) -> None:
        self._constants, self._goal, self._boxes, self._asked = constants, goal, boxes, asked
        self.doses_s = {dose.name: np.zeros(boxes.count) for dose in goal.dose}
        self.hygiene_s = np.zeros(boxes.count)
        # How long the pump has sprayed in this round; every spray is as long as it is written.
        self._sprayed_s = 0.0

    def add(self, bounds: Bounds) -> None:
        """Count from the first spray of a round to the end of its drain."""
        phase = bounds.phase
        if not phase.sprayed:
            self._sprayed_s = 0.0
            return
        self._count(bounds)
        self._sprayed_s += phase.longest_s * phase.outputs.wash_pump

    def _count(self, bounds: Bounds) -> None:
        phase = bounds.phase
        row = self._constants.rounds[phase.round]
        counts = [
            dose
            for dose in self._goal.dose
            if row.kind in dose.kinds and (self._asked is None or DOSE + dose.name in self._asked)
        ]
        hygiene = self._goal.hygiene.method if row.kind == "rinse" else "none"
        if self._asked is not None and HYGIENE_KEY + hygiene not in self._asked:
            hygiene = "none"
        if not counts and hygiene == "none":
            return
        left_s = dissolving_s(row, self._goal) - self._sprayed_s
        sprays = phase.outputs.wash_pump
        for dose in counts:
            share = self._boxes.least.mechanics_factor if sprays else np.array([dose.soak_share])
            if np.any(share > 0.0):
                bare, full = soil_rate(dose, False), soil_rate(dose, True, self._goal.dissolves_from_c)
                # With the pump off nothing goes on dissolving.
                part_s = left_s if sprays or left_s <= SOON_S else math.inf
                dose_s = _doses_s(bounds, part_s if part_s > SOON_S else -math.inf, bare, full)
                # The steps put a temperature off: a dose by more where it changes more with that.
                steep = STEPS_SHARE * max(STEPS_Z_K / dose.z_k - 1.0, 0.0)
                self.doses_s[dose.name] += share * (1.0 - steep) * dose_s.min(axis=0)
        if hygiene != "none":
            rate = HYGIENE[hygiene]
            self.hygiene_s += _doses_s(bounds, -math.inf, rate, rate).min(axis=0)


def _doses_s(bounds: Bounds, part_s: float, first: Rate, then: Rate) -> Array:
    """Doses of the lower courses, by the first rate up to a time of the phase: courses × boxes [s].

    Where ware turns about the floor of a rate, or crosses it slowly, the floor is taken to be higher.
    """
    turns = _turns_about(bounds, first.floor_c)
    if then.floor_c != first.floor_c:
        turns |= _turns_about(bounds, then.floor_c)
    if not turns.any():
        return _counted_s(bounds, part_s, first, then, least=True)
    found_s = _counted_s(bounds, part_s, first, then, least=False)
    higher = (replace(rate, floor_c=min(rate.floor_c + FLOOR_K, rate.ceiling_c)) for rate in (first, then))
    return np.where(turns, np.minimum(found_s, _counted_s(bounds, part_s, *higher, least=False)), found_s)


def _numbers(rate: Rate) -> Rates:
    """A rate as the compiled loops have it."""
    return rate.ln_at_0c, rate.per_k, rate.floor_c, rate.ceiling_c, rate.share


def _turns_about(bounds: Bounds, floor_c: float) -> Bools:
    """Whether a course stops rising, or falling, within what the steps may put it off a floor, or all but."""
    ware_c, slope = bounds.coldest_c, bounds.coldest_slope
    if not ware_c.min() - 1.0 < floor_c < ware_c.max() + 1.0:
        return np.zeros(ware_c.shape[1:], dtype=bool)
    step_s = np.diff(bounds.time_s)[:, None, None]
    past_k = FLOOR_K + TURNS * step_s * np.maximum(np.abs(slope[1:]), np.abs(slope[:-1]))
    near = (floor_c > np.minimum(ware_c[1:], ware_c[:-1]) - past_k) & (
        floor_c < np.maximum(ware_c[1:], ware_c[:-1]) + past_k
    )
    if not near.any():
        return np.asarray(near.any(axis=0))
    slow = np.minimum(np.abs(slope[1:]), np.abs(slope[:-1])) < SLOW_K_PER_S
    return np.asarray((near & (slow | (slope[1:] * slope[:-1] < 0.0))).any(axis=0))


def _counted_s(bounds: Bounds, part_s: float, first: Rate, then: Rate, *, least: bool) -> Array:
    """Doses of the courses as they are, or no more of each than tells the least: courses × boxes [s]."""
    means, shape = bounds.means, bounds.coldest_c.shape[1:]
    if means is None:
        means = Means(np.full((KINDS, *shape), -1), np.zeros((NUMBERS, KINDS, *shape)))
    found = np.empty(shape)

    def half(begin: int, end: int) -> None:
        some = slice(begin, end)
        found[:, some] = coldest_doses_s(
            bounds.time_s,
            np.ascontiguousarray(bounds.coldest_c[..., some]),
            np.ascontiguousarray(bounds.coldest_slope[..., some]),
            BETWEEN if shape[0] == 1 else BETWEEN_HELD,
            part_s,
            _numbers(first),
            _numbers(then),
            np.ascontiguousarray(means.begins[..., some]),
            np.ascontiguousarray(means.numbers[..., some]),
            least,
        )

    # One course of each box is soon followed.
    in_halves(half, 0, shape[1], SHARED_LEAST if shape[0] > 1 else shape[1] + 1)
    return found
