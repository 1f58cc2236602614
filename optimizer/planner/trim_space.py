"""The numbers of one structure as variables of a search, with their margins."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.margins import Assessor
from optimizer.planner.objective import CAP
from optimizer.planner.structure import Mode, Settings, Structure
from optimizer.units import S_PER_MIN

Array = NDArray[np.float64]

FEASIBLE = -1e-9
"""Margin that counts as held [1]."""
TIMED_C = np.inf
"""Set point of an element that no thermostat stops [°C]."""
ROUNDED_INTO = ("limits.duration_min", "limits.water_l", CAP)
"""Limits that whole seconds, rounded up, may break."""
BY_LEVEL = ("rinse.residue", "cover.suction_l", "cover.element_l")
"""Requirements that a fuller round is never further from; the shortest heat and spray evaporate least."""
ENOUGH = 0.02
"""Margin of the requirement aimed at beyond which it is no longer of interest [1]."""
LONGEST_S = 54_000.0
"""Longest phase where the duration is not held: the most a goal may ask for [s]."""


class Space:
    """The numbers of one structure as a vector of variables, scaled to about 1.

    Parameters
    ----------
    assessor : Assessor
        Judges the candidates.
    structure : Structure
        Kinds and heat modes.
    aim : str
        Key of a requirement to bring as far as it goes instead of holding it; empty: make the cost least.
    drop : frozenset of str
        Requirements left out.
    """

    def __init__(
        self, assessor: Assessor, structure: Structure, aim: str = "", drop: frozenset[str] = frozenset()
    ) -> None:
        self.assessor, self.structure = assessor, structure
        self.aim, self.drop = aim, drop
        self.corners: tuple[int, ...] = ()
        self._back: dict[str, float] = {}
        machine = assessor.inputs.machine
        self.rounds = len(structure.kinds)
        every = list(range(self.rounds))
        heated = [i for i in every if structure.modes[i] is not Mode.UNHEATED]
        thermostat = machine.element is not None and machine.element.control == "thermostat"
        sprayed = [i for i in every if structure.modes[i] is not Mode.STEAM]
        self.slots: list[tuple[str, int]] = [("spray_s", i) for i in sprayed]
        self.slots += [("element_s", i) for i in heated]
        if machine.inlet.control == "timed":
            self.slots += [("fill_s", i) for i in every]
        if thermostat:
            self.slots += [("setpoint_c", i) for i in heated if i in sprayed]
        self.heated, self.thermostat = heated, thermostat
        self.scale = np.array(
            [{"setpoint_c": 50.0, "fill_s": 100.0}.get(name, 600.0) for name, _ in self.slots]
        )
        self.unit = np.array([0.1 if name == "setpoint_c" else 1.0 for name, _ in self.slots])
        self.low, self.high = self._bounds()

    def _bounds(self) -> tuple[Array, Array]:
        goal, machine = self.assessor.inputs.goal, self.assessor.inputs.machine
        held = "limits.duration_min" not in (self.aim, *self.drop)
        longest_s = goal.limits.duration_min * S_PER_MIN if held else LONGEST_S
        slowest = self.assessor.simulator.cases.inlet_l_per_s.min()
        low = {"element_s": 1.0, "fill_s": machine.wash_pump.prime_l / slowest / 4.0, "setpoint_c": 20.0}
        high = {
            "element_s": longest_s,
            "spray_s": longest_s,
            "fill_s": machine.tank.capacity_l / slowest,
            "setpoint_c": self.assessor.bath_limit_c,
        }
        lows = [
            self.assessor.spray_least_s(self.structure.kinds[i]) if name == "spray_s" else low[name]
            for name, i in self.slots
        ]
        # A phase that may not be as long as it must be leaves nothing to choose; the margins will say so.
        return np.array(lows), np.maximum([high[name] for name, _ in self.slots], lows)

    def settings(self, values: Array) -> Settings:
        """Unpack vectors of variables.

        Parameters
        ----------
        values : ndarray
            Candidates × variables, in their own units [s, °C].

        Returns
        -------
        Settings
            The candidates.
        """
        shape = (len(values), self.rounds)
        arrays = {
            "fill_s": np.zeros(shape),
            "element_s": np.zeros(shape),
            "spray_s": np.zeros(shape),
            "setpoint_c": np.full(shape, TIMED_C),
        }
        for column, (name, index) in enumerate(self.slots):
            arrays[name][:, index] = values[:, column]
        return Settings(**arrays)

    def pack(self, settings: Settings) -> Array:
        """Pack one candidate.

        Parameters
        ----------
        settings : Settings
            Settings with one candidate.

        Returns
        -------
        ndarray
            Its variables in their own units [s, °C].
        """
        values = np.array([getattr(settings, name)[0, index] for name, index in self.slots])
        return np.asarray(np.clip(values, self.low, self.high))

    def hopeless(self) -> bool:
        """Whether the levels can't do it even when full.

        Returns
        -------
        bool
            True where no numbers of this structure hold.
        """
        return bool(self.beyond())

    def beyond(self) -> list[str]:
        """Find the requirements that are short at full levels, whatever the other numbers.

        Returns
        -------
        list of str
            Their keys, without what is aimed at or left out.
        """
        full = self.low.copy()
        for column, (name, _) in enumerate(self.slots):
            if name == "fill_s":
                full[column] = self.high[column]
        margins, _ = self.assessor.run(self.structure, self.settings(full[None]))
        held = [key for key in BY_LEVEL if key in margins and key not in (self.aim, *self.drop)]
        return [key for key in held if margins[key].min() < 0.0]

    def look_at_worst(self, values: Array) -> None:
        """Narrow the search to the hot corners, the nominal one and those that bind at a point.

        Corners once looked at stay.

        Parameters
        ----------
        values : ndarray
            Variables of one candidate [s, °C].
        """
        cases = self.assessor.simulator.cases
        margins, _ = self.assessor.run(self.structure, self.settings(values[None]))
        cold = np.flatnonzero(cases.cold)
        # The last cold corner is the weakest one with the most to heat, the base of every other.
        keep = {*np.flatnonzero(cases.hot), cases.nominal, int(cold[-1]), *self.corners}
        for key in (*self.assessor.simulator.needs.keys, "drying.ware_heat"):
            if key in margins:
                keep |= {int(cold[i]) for i in margins[key][0].argsort()[:2]}
        # A thermostat heats for longest in one cold corner, and a slow inlet makes another the longest run.
        for key in ("limits.duration_min", "limits.water_l"):
            if key in margins:
                keep.add(int(margins[key][0].argmin()))
        self.corners = tuple(sorted(int(corner) for corner in keep))

    def holds(self, values: Array) -> bool:
        """Whether a candidate holds in every corner.

        Parameters
        ----------
        values : ndarray
            Its variables [s, °C].

        Returns
        -------
        bool
            True where it does.
        """
        narrow, self.corners = self.corners, ()
        margins, _ = self.run(values[None])
        self.corners = narrow
        return bool(margins.min() >= FEASIBLE)

    def keep_back(self, values: Array) -> None:
        """Keep back, from limits that rounding up eats into, what it takes on average.

        Parameters
        ----------
        values : ndarray
            Variables of the candidate that is to be rounded up [s, °C].
        """
        both = np.vstack([values, values + 0.5 * self.unit])
        margins, _ = self.assessor.run(self.structure, self.settings(both), self.corners)
        self._back = {
            key: max(float((margins[key][0] - margins[key][1]).max()), 0.0)
            for key in ROUNDED_INTO
            if key in margins
        }

    def run(self, values: Array, *, keep_back: bool = False) -> tuple[Array, Array]:
        """Margins and objective of candidates.

        Parameters
        ----------
        values : ndarray
            Candidates × variables [s, °C].
        keep_back : bool
            Whether to leave room for rounding up, if `keep_back` was called.

        Returns
        -------
        tuple of ndarray
            Margins, candidates × requirements [1]; what to make least: cost, or the negative margin of the
            requirement aimed at [currency or 1].
        """
        margins, bill = self.assessor.run(self.structure, self.settings(values), self.corners)
        objective = (
            -np.minimum(margins[self.aim].min(axis=1), ENOUGH) if self.aim else self.assessor.objective(bill)
        )
        back = self._back if keep_back else {}
        held = [
            margin - back.get(key, 0.0)
            for key, margin in margins.items()
            if key != self.aim and key not in self.drop
        ]
        return np.concatenate(held, axis=1), objective
