"""Bounds of a drain: how hot the water is that it takes, and how much it leaves to be thinned."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.bound_course import drained
from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import WIDER, lightest_kg_per_l
from optimizer.check.bound_step_errors import STEPS_K, hottest_bath_c
from optimizer.check.bound_steps import Bounds
from optimizer.check.residue import Rinsing
from optimizer.check.worst_cases import Array
from optimizer.programme.constants import Constants


class BoundDrains:
    """Follows the bounds of one course, one value a box.

    ``hottest_c`` is the hottest water that a drain takes, ``undrained_l`` the most that one leaves over the
    carry-over, ``carried`` whether the last came down to it.
    """

    def __init__(self, constants: Constants, boxes: Boxes, eqs: Bounding) -> None:
        self._constants, self._boxes, self._eqs = constants, boxes, eqs
        self._by_level = constants.fill_control == "level"
        count = boxes.count
        self.undrained_l = np.zeros(count)
        # What came with a round and what its drain leaves over its bath, at the most; and the least bath.
        self._came: list[Array] = []
        self._kept: list[Array] = []
        self._least_kg: list[Array] = []
        self._left_kg = np.zeros(count)
        self.carried = np.ones(count, dtype=bool)
        self.hottest_c = np.full(count, -np.inf)
        # Round that a top-up was last let into, and what its bath was before: hottest, and least water.
        self._topped_in, self._before_c, self._before_kg = -1, np.zeros(count), np.zeros(count)

    def add(self, bounds: Bounds) -> None:
        """Count a top-up, or the drain of a round."""
        phase = bounds.phase
        if phase.name == "top_up":
            self._topped_in, self._before_kg = phase.round, bounds.water_kg[0, 1]
            self._before_c = bounds.bath_c[0, 1] + STEPS_K
        if phase.name == "drain" and phase.round >= 0:
            self._drained(bounds)

    def rinsing(self) -> Rinsing:
        """Give what came with each round and stayed of it."""
        return Rinsing(self._constants, self._came, self._kept, self._least_kg)

    def _drained(self, bounds: Bounds) -> None:
        eqs, first = self._eqs, bounds.phase.round == 0
        carry_kg, share = eqs.carry_kg, eqs.start_share
        most_kg, least_kg = bounds.water_kg[0, 0], bounds.water_kg[0, 1]
        # What a drain has to take: the carry-over is in the water already, with the same end, if the drain
        # before came down to it.
        if self._by_level:
            to_take_kg = most_kg - eqs.all_film_kg[0] - eqs.residual_kg[1]
            full_kg = least_kg - eqs.all_film_kg[1] + eqs.all_film_kg[0]
            if first:
                to_take_kg = most_kg - share[1] * (eqs.all_film_kg[1] + eqs.residual_kg[1])
                full_kg = least_kg - share[1] * eqs.all_film_kg[1] - share[0] * eqs.residual_kg[0]
        else:
            to_take_kg = most_kg - carry_kg[0] * (share[0] if first else 1.0)
            full_kg = least_kg - carry_kg[1] + carry_kg[0]
            if first:
                full_kg = least_kg - share[1] * carry_kg[1]
        if not first:
            to_take_kg = np.where(self.carried, to_take_kg, most_kg - carry_kg[1])
            full_kg = np.where(self.carried, full_kg, least_kg)
        if self._topped_in == bounds.phase.round:
            # A top-up is not counted to thin what stays.
            thick_kg = np.minimum(least_kg, self._before_kg)
            full_kg, least_kg = full_kg - least_kg + thick_kg, thick_kg
        self.carried = drained(bounds, carry_kg)
        self.hottest_c = np.maximum(self.hottest_c, self._drawn_c(bounds))
        kg_per_l = lightest_kg_per_l(*(bounds.bath_c[0] - WIDER * STEPS_K))
        least_kg_per_s = eqs.drain_l_per_s[1] * kg_per_l
        pumps_s = np.maximum(bounds.phase.longest_s - eqs.drain_lag_s[0], 0.0)
        left_kg = np.maximum(to_take_kg - least_kg_per_s * pumps_s, 0.0)
        self.undrained_l = np.maximum(self.undrained_l, left_kg / self._boxes.least.cold_kg_per_l)
        kept = np.divide(carry_kg[0] + left_kg, full_kg, out=np.ones_like(full_kg), where=full_kg > 0.0)
        self._kept.append(kept)
        # What came is what the last drain left, in the bath with the same end: much of it is in a full bath.
        came_kg = np.zeros_like(left_kg) if first else carry_kg[0] + self._left_kg
        self._came.append(np.divide(came_kg, full_kg, out=np.ones_like(full_kg), where=full_kg > 0.0))
        self._least_kg.append(full_kg if first else least_kg)
        self._left_kg = left_kg

    def _drawn_c(self, bounds: Bounds) -> Array:
        """Hottest water that a drain takes: above the mean where a top-up is not stirred in."""
        hottest_c = hottest_bath_c(bounds, counted=False)
        row = self._constants.rounds[bounds.phase.round]
        if self._topped_in != bounds.phase.round or row.stirred:
            return hottest_c
        share = self._boxes.most.unmixed_share
        return np.asarray(hottest_c + share * np.maximum(self._before_c - hottest_c, 0.0))
