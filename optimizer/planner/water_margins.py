"""Margins that hang on litres: what is left of soil and detergent, what water covers, and the tank's lip."""

from __future__ import annotations

import math

import numpy as np

from optimizer.physics import Array
from optimizer.physics.water import density_kg_per_l
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.detergent import MG_PER_G, Dosing
from optimizer.planner.simulation import Runs
from optimizer.planner.structure import Mode, Structure, marks_of
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import KINDS

POOL_GROWTH = 1.045
"""Volume of a pool at the boil over that of a cold one: 4.3 % from 4 to 100 °C (IAPWS-IF97) [1]."""

DENSEST_C = 4.0
"""Temperature at which water is densest [°C]."""

GROWTH_ROOM_K = 2.0
"""What the check's bound of a bath may be hotter than the planner's hottest corner [K]: 0.1 % of volume."""

BY_LITRES = ("cover.", "overflow.", "rinse.")
"""How keys of requirements begin that hang on amounts of water alone: planner and check sum them alike."""

NEVER_BINDS = 9.0
"""Margin of a requirement that does not concern a round [1]."""


class WaterMargins:
    """Margins of one machine and goal by the litres of each round; no bath is above ``hottest_c``."""

    def __init__(self, machine: Machine, goal: Goal, dosing: Dosing, hottest_c: float) -> None:
        self._machine, self._goal, self._dosing = machine, goal, dosing
        self._hottest_c = hottest_c

    @property
    def carry_over_high_l(self) -> float:
        """Largest carry-over [l]."""
        return self._machine.tank.residual_l.high + self._machine.ware.film_l.high

    @property
    def hot_growth(self) -> float:
        """Volume of the hottest bath over that of a cold one [1]."""
        return float(self.growth(np.array(self._hottest_c)))

    def growth(self, peak_c: Array) -> Array:
        """Volume of baths at their hottest over that of cold ones, a little room for the check kept [1]."""
        hot_c = np.minimum(peak_c + GROWTH_ROOM_K, self._hottest_c)
        return np.asarray(density_kg_per_l(DENSEST_C) / density_kg_per_l(hot_c))

    def residue(self, structure: Structure, runs: Runs, fill_s: Array) -> dict[str, Array]:
        """What is left under its limits, in decades per decade; detergent of a wash and of the last film.

        Each rinse thins what came with it to ``carry-over / (carry-over + fill)``; the drain
        of the last wash leaves as large a share of the soil.
        """
        carry_over_l, rinse = self.carry_over_high_l, self._goal.rinse
        last_wash, end = structure.last_wash, sum(mode is not Mode.STEAM for mode in structure.modes)
        full_l = carry_over_l + runs.filled_l.min(axis=1)
        # The machine may have dried out before the first round.
        full_l[:, 0] -= carry_over_l
        decades = np.log10(carry_over_l / full_l)
        out = {
            "rinse.residue": _decades_under(rinse.residue_max, decades[:, last_wash + 1 : end]),
        }
        if rinse.soil_max is not None:
            out["rinse.soil"] = _decades_under(rinse.soil_max, decades[:, last_wash:end])
        detergent = self._goal.detergent
        if detergent is None:
            return out
        film_g_per_l, strongest_g_per_l = np.zeros(len(fill_s)), np.zeros(len(fill_s))
        for index, kind in enumerate(structure.kinds[:end]):
            film_g_per_l = film_g_per_l * carry_over_l / full_l[:, index] * (index > 0)
            if KINDS[kind] == "wash":
                dosed = self._dosing.strongest_g_per_l(fill_s[:, index], first=index == 0)
                film_g_per_l, strongest_g_per_l = film_g_per_l + dosed, np.maximum(strongest_g_per_l, dosed)
        out["detergent.most_g_per_l"] = 1.0 - strongest_g_per_l[:, None] / detergent.most_g_per_l
        if rinse.film_mg_per_l is not None:
            out["rinse.film_mg_per_l"] = 1.0 - film_g_per_l[:, None] * MG_PER_G / rinse.film_mg_per_l
        return out

    def levels(self, structure: Structure, runs: Runs, corners: Corners) -> dict[str, Array]:
        """Cover of element and pump suction, and distance to the lip; least water is that of a corner."""
        machine = self._machine
        pump, element = machine.wash_pump, machine.element
        # The film hangs on the ware and covers nothing; a machine that stood for long starts bone dry.
        sump_l = np.repeat(corners.sump_l[:, None], len(structure.kinds), axis=1)
        sump_l[:, 0] = 0.0
        least_l = (runs.filled_l + sump_l - runs.evaporated_l).min(axis=1)
        topped_l = runs.topped_l.max(axis=1)
        most_l = runs.filled_l.max(axis=1) + self.carry_over_high_l
        if machine.inlet.level_l is not None:
            least_l = (corners.level_l[:, None] - runs.evaporated_l).min(axis=1)
            most_l = np.full_like(least_l, machine.inlet.level_l.high + machine.ware.film_l.high)
        spraying_l = least_l - pump.holdup_l.high
        marks = marks_of(structure)
        steams = marks.steams
        out = {"cover.suction_l": np.where(steams, NEVER_BINDS, spraying_l / pump.prime_l - 1.0)}
        if element is not None:
            alone = marks.then_spray | steams
            covering_l = np.where(alone, least_l, np.where(marks.together, spraying_l, np.inf))
            out["cover.element_l"] = np.minimum(covering_l / element.cover_l - 1.0, NEVER_BINDS)
        heated = np.where(marks.heated, self.growth(runs.peak_c.max(axis=1)), 1.0)
        growth = np.where(steams, POOL_GROWTH, heated)
        # Topped up, a bath is no hotter in its mean than what the drain pipe stands.
        mean_c = min(machine.drain_pump.drain_limit_c, self._hottest_c)
        cooled = float(density_kg_per_l(DENSEST_C) / density_kg_per_l(mean_c))
        topped_l = (most_l + topped_l) * np.where(topped_l > 0.0, cooled, 0.0)
        dries = self._goal.drying.method != "none"
        if dries and structure.topped[-1:] == (len(structure.kinds) - 1,):
            # The last round's top-up is not stirred in, and would cool the ware that it reaches.
            out["drying.top_up_l"] = 1.0 - topped_l[:, -1:] / machine.tank.ware_begins_l
        out["overflow.level_l"] = 1.0 - np.maximum(most_l * growth, topped_l) / machine.tank.capacity_l
        return out


def _decades_under(limit: float, decades: Array) -> Array:
    """Decades by which a product, decades of its factors given, is under its limit, per decade of that."""
    most = math.log10(limit)
    return np.asarray((most - decades.sum(axis=-1, keepdims=True)) / -most)
