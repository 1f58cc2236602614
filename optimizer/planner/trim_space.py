"""The numbers of one structure as variables of a search, with their margins."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from optimizer.physics import Array
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import CAP
from optimizer.planner.soaking import SOAK_LEAST_S
from optimizer.planner.structure import TOGETHER, Mode, Programme, Settings, Structure, over_reading_k
from optimizer.programme.constants import MIX_LEAST_S, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN

FEASIBLE = -1e-9
"""Margin that counts as held [1]."""
TIMED_C = np.inf
"""Set point of an element that no thermostat stops [°C]."""
HURT_BY_ROUNDING = ("limits.duration_min", "limits.water_l", CAP)
"""Limits that rounding up to whole seconds may break."""
HELPED_BY_LEVEL = ("rinse.residue", "rinse.soil", "cover.suction_l", "cover.element_l")
"""Requirements that a higher level never makes worse; with the shortest heat and spray least evaporates."""
AIM_ENOUGH = 0.02
"""Margin beyond which the requirement aimed at counts as reached [1]."""
SCALE = {"setpoint_c": 50.0, "fill_s": 100.0, "soak_s": 7200.0, "cool_s": 1800.0, "top_up_s": 100.0}
"""Size of a step of the search [unit of the number]: a second of soak changes a cost the least of all."""
UNIT = {"setpoint_c": 0.1, "soak_s": 5.0}
"""Steps in which numbers are chosen, whole seconds but for these [°C, s]."""
ELEMENT_LEAST_S = 120.0
"""Shortest time of the element in a heated round [s]: *no source*, nobody heats a bath for less."""
LONGEST_S = 54_000.0
"""Longest phase where the duration is not held: the most a goal may ask for [s]."""


class Space:
    """The numbers of one structure as a vector of variables.

    ``slots`` says which number of which round a variable is; ``least`` is what a trim that was given up came
    to at the least, inf where it found nothing that holds. With an ``aim``, the key of a requirement, that
    requirement is brought as far as it goes instead of the cost being made least; those in ``drop`` are left
    out.
    """

    def __init__(
        self, assessor: Assessor, structure: Structure, aim: str = "", drop: frozenset[str] = frozenset()
    ) -> None:
        self.assessor, self.structure = assessor, structure
        # Where a spray may end colder, so may a drain begin.
        colder = {"detergent.drain_c"} if "detergent.bath_c" in (aim, *drop) else set()
        self.aim, self.drop = aim, frozenset(drop) | colder
        self.corner_numbers: tuple[int, ...] = ()
        self.least = np.inf
        self._rounding_backoff: dict[str, float] = {}
        machine = assessor.inputs.machine
        self.rounds = len(structure.kinds)
        every = list(range(self.rounds))
        heated = [i for i in every if structure.modes[i] is not Mode.UNHEATED]
        sprayed = [i for i in every if structure.modes[i] is not Mode.STEAM]
        self.slots: list[tuple[str, int]] = [("spray_s", i) for i in sprayed]
        self.slots += [("element_s", i) for i in heated]
        if machine.inlet.control == "timed":
            self.slots += [("fill_s", i) for i in every]
        self.slots += [("while_s", i) for i in every if structure.modes[i] is Mode.BOTH_WAYS]
        self.slots += [("soak_s", i) for i in structure.soaked]
        self.slots += [("cool_s", i) for i in structure.rested]
        self.slots += [("top_up_s", i) for i in structure.topped]
        if assessor.thermostat:
            self.slots += [("setpoint_c", i) for i in heated if i in sprayed]
        self.scale = np.array([SCALE.get(name, 600.0) for name, _ in self.slots])
        self.unit = np.array([UNIT.get(name, 1.0) for name, _ in self.slots])
        self.low, self.high = self._bounds()

    def _bounds(self) -> tuple[Array, Array]:
        goal, machine = self.assessor.inputs.goal, self.assessor.inputs.machine
        held = "limits.duration_min" not in (self.aim, *self.drop)
        longest_s = goal.limits.duration_min * S_PER_MIN if held else LONGEST_S
        slowest = self.assessor.simulator.corners.inlet_l_per_s.min()
        low = {"element_s": ELEMENT_LEAST_S, "while_s": ELEMENT_LEAST_S}
        # Under the coldest water of the inlet nothing is ever heated.
        low |= {"setpoint_c": machine.inlet.water_c.low}
        low |= {"cool_s": 0.0, "top_up_s": 1.0}
        low |= {"soak_s": SOAK_LEAST_S, "fill_s": machine.wash_pump.prime_l / slowest / 4.0}
        high = {
            "element_s": longest_s,
            "spray_s": longest_s,
            "fill_s": machine.tank.capacity_l / slowest,
            "setpoint_c": self._setpoint_most_c(),
            "soak_s": self.assessor.soaking.longest_s,
            "while_s": longest_s,
            "cool_s": longest_s,
            "top_up_s": machine.tank.capacity_l / slowest,
        }
        lows = [self._spray_least_s(i) if name == "spray_s" else low[name] for name, i in self.slots]
        highs = [high[name] for name, _ in self.slots]
        for place, (name, index) in enumerate(self.slots):
            if name == "cool_s" and index not in self.structure.topped:
                # A top-up of a wash is stirred in: a spray after the rest.
                rest_s = self.assessor.soaking.rest_most_s(self.structure.kinds[index])
                highs[place] = min(highs[place], rest_s)
            highs[place] = min(highs[place], self._spray_most_s(name, index))
        # Where the longest phase allowed is shorter than the shortest asked, a margin falls short.
        return np.array(lows), np.maximum(highs, lows)

    def _setpoint_most_c(self) -> float:
        """Highest setpoint that the watchdog of the bath lets pass [°C], whether it is reached or not."""
        element, most_c = self.assessor.inputs.machine.element, self.assessor.bath_limit_c
        if element is None or not self.assessor.thermostat:
            return most_c
        most_c *= 1.0 - self.assessor.backoff("watchdog.reading_c")
        return most_c - over_reading_k(element, self.structure.modes)

    def _spray_least_s(self, index: int) -> float:
        """Shortest spray of a round: one that soaks has some before and some after it [s]."""
        least_s = self.assessor.spray_least_s(self.structure.kinds[index])
        return least_s + SPRAY_BY_SOAK_S if index in self.structure.soaked else least_s

    def _spray_most_s(self, name: str, index: int) -> float:
        """Longest that a number of a round may let it spray [s]; with the element on as well, half of it."""
        mode = self.structure.modes[index]
        sprays = {"spray_s"} | ({"element_s"} if mode is Mode.WHILE_SPRAYING else {"while_s"})
        most_s = self.assessor.spray_most_s(self.structure.kinds[index])
        return most_s / (2.0 if mode in TOGETHER else 1.0) if name in sprays else np.inf

    @property
    def whole_ends(self) -> tuple[Array, Array]:
        """Least and most of each number in whole steps of its unit [steps]."""
        return np.ceil(self.low / self.unit), np.floor(self.high / self.unit)

    def programme(self, values: Array) -> Programme:
        """Candidates of vectors of variables, with their structure."""
        return Programme(self.structure, self.settings(values))

    def settings(self, values: Array) -> Settings:
        """Candidates of vectors of variables, candidates × variables in their own units."""
        shape = (len(values), self.rounds)
        arrays = {
            "fill_s": np.zeros(shape),
            "element_s": np.zeros(shape),
            "spray_s": np.zeros(shape),
            "setpoint_c": np.full(shape, TIMED_C),
            "soak_s": np.zeros(shape),
            "while_s": np.zeros(shape),
            "cool_s": np.zeros(shape),
            "top_up_s": np.zeros(shape),
            "mix_s": np.zeros(shape),
        }
        for index in self.structure.topped:
            mixes = self.assessor.mixes(self.structure.kinds[index], last=index == self.rounds - 1)
            arrays["mix_s"][:, index] = MIX_LEAST_S * mixes
        for column, (name, index) in enumerate(self.slots):
            arrays[name][:, index] = values[:, column]
        return Settings(**arrays)

    def pack(self, settings: Settings) -> Array:
        """Variables of one candidate, held inside their bounds."""
        values = np.array([getattr(settings, name)[0, index] for name, index in self.slots])
        return np.asarray(np.clip(values, self.low, self.high))

    def short_when_full(self) -> list[str]:
        """Requirements held that are short at full levels, whatever the other numbers."""
        full = self.low.copy()
        for column, (name, _) in enumerate(self.slots):
            if name == "fill_s":
                full[column] = self.high[column]
        margins, _ = self.assessor.run(self.programme(full[None]))
        held = [key for key in HELPED_BY_LEVEL if key in margins and key not in (self.aim, *self.drop)]
        return [key for key in held if margins[key].min() < 0.0]

    def look_at_binding_corners(self, values: Array) -> None:
        """Look from now on at the hot corners, the nominal one and those that bind at a point.

        Corners once looked at stay.
        """
        corners = self.assessor.simulator.corners
        margins, _ = self.assessor.run(self.programme(values[None]))
        cold = np.flatnonzero(corners.cold)
        # The last cold corner is the weakest one with the most to heat, the base of every other.
        keep = {*np.flatnonzero(corners.hot | corners.stepped), corners.nominal, int(cold[-1])}
        keep |= set(self.corner_numbers)
        for key in (*self.assessor.simulator.targets.keys, "drying.ware_heat"):
            if key in margins:
                keep |= {int(cold[i]) for i in margins[key][0].argsort()[:2]}
        for key in ("detergent.bath_c", "detergent.drain_c", "first_rinse.bath_c"):
            if key in margins:
                by_corner = margins[key][0].reshape(len(cold), -1).min(axis=1)
                keep |= {int(cold[i]) for i in by_corner.argsort()[:2]}
        # A thermostat heats for longest in one cold corner, and a slow inlet makes another the longest run.
        for key in ("limits.duration_min", "limits.water_l"):
            if key in margins:
                keep.add(int(margins[key][0].argmin()))
        self.corner_numbers = tuple(sorted(int(corner) for corner in keep))

    def holds(self, values: Array) -> bool:
        """Whether one candidate holds in every corner."""
        narrow, self.corner_numbers = self.corner_numbers, ()
        margins, _ = self.run(values[None])
        self.corner_numbers = narrow
        return bool(margins.min() >= FEASIBLE)

    def back_off_for_rounding(self, values: Array) -> None:
        """Set a backoff from the limits that rounding up may break: what it takes on average."""
        both = np.vstack([values, values + 0.5 * self.unit])
        margins, _ = self.assessor.run(self.programme(both), self.corner_numbers)
        self._rounding_backoff = {
            key: max(float((margins[key][0] - margins[key][1]).max()), 0.0)
            for key in HURT_BY_ROUNDING
            if key in margins
        }

    def run(self, values: Array, *, backed_off: bool = False) -> tuple[Array, Array]:
        """Margins held, candidates × n, and what is made least: the cost, or minus the margin aimed at.

        What was run before is remembered: a quarter of all candidates are asked for more than once.
        """
        backoff = self._rounding_backoff if backed_off else {}
        known = self.assessor.remembered(
            (self.structure, self.aim, self.drop, self.corner_numbers, *backoff.items())
        )
        keys = [row.tobytes() for row in values]
        # Where it begins stays, as the others share with it what they begin with.
        new = [number for number, key in enumerate(keys) if not number or key not in known]
        if len(new) == 1 and keys[0] in known:
            new = []
        if new:
            margins, objective = self._run(values if len(new) == len(keys) else values[new], backoff)
            margins.flags.writeable = False
            known |= {keys[number]: one for number, *one in zip(new, margins, objective, strict=True)}
            if len(new) == len(keys):
                return margins, objective
        found = [known[key] for key in keys]
        return np.array([margins for margins, _ in found]), np.array([made for _, made in found])

    def _run(self, values: Array, backoff: Mapping[str, float]) -> tuple[Array, Array]:
        """The same of candidates that are all run."""
        margins, bill = self.assessor.run(self.programme(values), self.corner_numbers)
        objective = (
            -np.minimum(margins[self.aim].min(axis=1), AIM_ENOUGH)
            if self.aim
            else self.assessor.objective(bill)
        )
        held = [
            margin - backoff.get(key, 0.0)
            for key, margin in margins.items()
            if key != self.aim and key not in self.drop
        ]
        return np.concatenate(held, axis=1), objective
