"""Bounds of doses and hygiene: the least that ware gets at any point of a box, by its lower courses."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.bound_steps import Bounds
from optimizer.check.lethality import HYGIENE, dissolving_s, soil_dose_s
from optimizer.check.worst_cases import Array
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants

BETWEEN = 6
"""Points of a step at which the ware's course is read between its samples [1]."""

BETWEEN_HELD = 3
"""The same where a thermostat holds the bath: its steps are shorter [1]."""


class BoundDoses:
    """Follows the bounds of one course; ``doses_s`` by name and ``hygiene_s``, one value a box [s]."""

    def __init__(self, constants: Constants, goal: Goal, boxes: Boxes) -> None:
        self._constants, self._goal, self._boxes = constants, goal, boxes
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
        counts = [dose for dose in self._goal.dose if row.kind in dose.kinds]
        hygiene = self._goal.hygiene.method if row.kind == "rinse" else "none"
        if not counts and hygiene == "none":
            return
        time_s, ware_c = _coldest_ware(bounds)
        left_s = dissolving_s(row, self._goal) - self._sprayed_s
        mechanics = self._boxes.least.mechanics_factor
        for dose in counts:
            share = mechanics if phase.outputs.wash_pump else np.array([dose.soak_share])
            if np.any(share > 0.0):
                dose_s = soil_dose_s(
                    dose, left_s, time_s, ware_c, spraying=phase.outputs.wash_pump,
                    dissolves_from_c=self._goal.dissolves_from_c,
                )  # fmt: skip
                self.doses_s[dose.name] += share * dose_s.min(axis=0)
        if hygiene != "none":
            self.hygiene_s += HYGIENE[hygiene].integral_s(time_s, ware_c).min(axis=0)


def _coldest_ware(bounds: Bounds) -> tuple[Array, Array]:
    """Lower courses of the ware, read between samples by cubics: times, courses × boxes × times [s, °C]."""
    between = BETWEEN if bounds.coldest_c.shape[1] == 1 else BETWEEN_HELD
    u = np.arange(between) / between
    step_s = np.diff(bounds.time_s)[:, None, None, None]
    start_c, end_c = bounds.coldest_c[:-1, ..., None], bounds.coldest_c[1:, ..., None]
    start, end = bounds.coldest_slope[:-1, ..., None], bounds.coldest_slope[1:, ..., None]
    within = (
        (2 * u**3 - 3 * u**2 + 1) * start_c
        + (u**3 - 2 * u**2 + u) * step_s * start
        + (3 * u**2 - 2 * u**3) * end_c
        + (u**3 - u**2) * step_s * end
    )
    ware_c = np.moveaxis(within, 0, 2).reshape(*bounds.coldest_c.shape[1:], -1)
    ware_c = np.concatenate([ware_c, bounds.coldest_c[-1, ..., None]], axis=2)
    time_s = np.append(
        (bounds.time_s[:-1, None] + np.diff(bounds.time_s)[:, None] * u).ravel(), bounds.time_s[-1]
    )
    return time_s[None, None], ware_c
