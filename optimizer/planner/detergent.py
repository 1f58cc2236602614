"""Detergent that a wash gets: by the load, but strong enough for its fullest bath; and how strong that is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.units import S_PER_MIN

MG_PER_G = 1000.0


@dataclass(frozen=True)
class Dosing:
    """How detergent is dosed on one machine for one goal; nothing without detergent."""

    machine: Machine
    goal: Goal

    @property
    def _harder(self) -> float:
        """What the hardness of the water makes of a dose [1]."""
        detergent = self.goal.detergent
        return detergent.more_by(self.machine.inlet.hardness_mmol_per_l.high) if detergent else 0.0

    def bath_l(self, fill_s: Array, end: str, *, first: bool = False) -> Array:
        """Bath of a wash at the ``low`` or the ``high`` end of what it may be, the film in it [l]."""
        inlet, tank, film_l = self.machine.inlet, self.machine.tank, self.machine.ware.film_l
        if inlet.level_l is not None:
            switched_l = getattr(inlet.level_l, end) + (film_l.high if end == "high" else 0.0)
            return np.full_like(fill_s, switched_l)
        there_l = 0.0 if first and end == "low" else getattr(tank.residual_l, end) + getattr(film_l, end)
        return np.asarray(fill_s / S_PER_MIN * getattr(inlet.flow_l_per_min, end) + there_l)

    def dosed_g(self, fill_s: Array) -> Array:
        """Detergent of a wash: grams of the load, and no less than the goal asks for in a litre [g]."""
        detergent = self.goal.detergent
        if detergent is None:
            return np.zeros_like(fill_s)
        by_load_g = detergent.g_per_setting * self.machine.ware.settings
        by_litre_g = detergent.least_g_per_l * self.bath_l(fill_s, "high")
        return np.asarray(self._harder * np.maximum(by_load_g, by_litre_g))

    def strongest_g_per_l(self, fill_s: Array, *, first: bool = False) -> Array:
        """Detergent in a litre of the smallest bath [g/l]."""
        least_l = np.maximum(self.bath_l(fill_s, "low", first=first), 1e-9)
        return np.asarray(self.dosed_g(fill_s) / least_l)

    def shortest_fill_s(self, *, first: bool) -> float:
        """Fill under which the load's detergent is too strong; inf where no fill thins it enough [s]."""
        detergent, inlet = self.goal.detergent, self.machine.inlet
        if detergent is None:
            return 0.0
        if inlet.level_l is not None:
            return 0.0 if float(self.strongest_g_per_l(np.array(0.0))) <= detergent.most_g_per_l else np.inf
        most, least = detergent.most_g_per_l, self._harder * detergent.least_g_per_l
        low, high = (getattr(inlet.flow_l_per_min, end) / S_PER_MIN for end in ("low", "high"))
        there = {end: float(self.bath_l(np.array(0.0), end, first=first)) for end in ("low", "high")}
        by_load_g = self._harder * detergent.g_per_setting * self.machine.ware.settings
        by_load_s = (by_load_g / most - there["low"]) / low
        # least (there + high t) <= most (there + low t)
        room = most * low - least * high
        short = least * there["high"] - most * there["low"]
        by_litre_s = 0.0 if short <= 0.0 <= room else (short / room if room > 0.0 else np.inf)
        return float(max(by_load_s, by_litre_s, 0.0))
