"""The box of the tolerances: every measured quantity from its low to its high end, each on its own."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.check.worst_cases import (
    HOT_ENDS,
    MUCH_ENDS,
    QUANTITIES,
    Array,
    Bools,
    Cases,
    Tolerances,
    cases_at,
    tolerances,
)
from optimizer.profile.machine import Machine
from optimizer.units import short, with_unit

INTERIOR_SHARE = 1.0 / 3.0
"""Share of the quantities that an extreme draw takes from inside their tolerances [1]; the rest are ends."""

SENSED = ("sensor_error_k", "sensor_over_mean_k")
"""Quantities of what a sensor reads: high ends together, or low ends, in a corner."""

WORDS = {
    "voltage_v": ("low voltage", "high voltage", "V"),
    "rated_w": ("weak element", "strong element", "W"),
    "wash_pump_w": ("weak wash pump", "strong wash pump", "W"),
    "inlet_c": ("cold inlet", "warm inlet", "°C"),
    "room_c": ("cold room", "warm room", "°C"),
    "flow_l_per_min": ("slow inlet", "quick inlet", "l/min"),
    "drain_l_per_min": ("slow drain", "quick drain", "l/min"),
    "drain_lag_s": ("short run-off", "long run-off", "s"),
    "level_l": ("low level switch", "high level switch", "l"),
    "residual_l": ("little left in the sump", "much left in the sump", "l"),
    "film_l": ("thin film", "thick film", "l"),
    "holdup_l": ("little hold-up", "much hold-up", "l"),
    "ware_kj_per_k": ("light ware", "heavy ware", "kJ/K"),
    "tank_kj_per_k": ("light tank", "heavy tank", "kJ/K"),
    "loss_still_w_per_k": ("low losses at rest", "high losses at rest", "W/K"),
    "loss_spraying_w_per_k": ("low losses spraying", "high losses spraying", "W/K"),
    "response_spraying_s": ("quick ware spraying", "slow ware spraying", "s"),
    "response_still_s": ("quick ware at rest", "slow ware at rest", "s"),
    "sensor_error_k": ("sensor reads low", "sensor reads high", "K"),
    "sensor_over_mean_k": ("sensor in a cold layer", "sensor in a warm layer", "K"),
    "top_over_mean_k": ("flat layers", "steep layers", "K"),
    "humidity_pct": ("dry air", "damp air", "% of humidity"),
    "steam_share": ("little steam on the ware", "much steam on the ware", "of the steam on the ware"),
    "pipe_l": ("little in the pipe", "much in the pipe", "l"),
    "mechanics_factor": ("weak spray", "strong spray", "times the dose rate"),
    "start_share": ("dry start", "wet start", "of the carry-over at the start"),
    "start_chill_share": ("tank as the room", "tank chilled", "of the way to the inlet water"),
}
"""Words for the low and the high end of each quantity, and its unit."""


@dataclass(frozen=True)
class Box:
    """The quantities of a machine that have a tolerance; a point gives each of them a value.

    Attributes
    ----------
    names : tuple of str
        The quantities, by their names in `Tolerances`.
    low, nominal, high : ndarray
        Their ends, and the values to count with [units of the quantities].
    machine : Machine
        Whose quantities they are.
    """

    machine: Machine
    names: tuple[str, ...]
    low: Array
    nominal: Array
    high: Array

    @property
    def size(self) -> int:
        """How many quantities have a tolerance [1]."""
        return len(self.names)

    def vertices(self, high: Bools) -> Array:
        """Points at the ends: the high one where it is asked for, else the low one."""
        return np.where(high, self.high, self.low)

    def corners(self) -> Array:
        """Points that are hot or cold, full or nearly empty, with either reading and quick or slow ware.

        What hurts together in one of them may be a worst place that no single move leads to: a bath that a
        sensor stops is worst with another element than one that the time stops.
        """
        found = []
        for hot, much, reads_high, slow in itertools.product((0, 1), repeat=4):
            ends = {name: 1 - abs(hot - end) for name, end in HOT_ENDS.items()}
            ends |= {name: 1 - abs(much - end) for name, end in MUCH_ENDS.items()}
            ends |= dict.fromkeys(SENSED, reads_high)
            ends |= dict.fromkeys(("response_spraying_s", "response_still_s"), slow)
            found.append([ends.get(name, 1) == 1 for name in self.names])
        return self.vertices(np.array(found))

    def corners_by_reading(self, corners: Array) -> list[list[int]]:
        """Number the corners whose sensor reads low, then those whose sensor reads high.

        They are one list where nothing of a sensor has a tolerance.
        """
        sensed = [self.names.index(name) for name in SENSED if name in self.names]
        if not sensed:
            return [list(range(len(corners)))]
        high = corners[:, sensed[0]] == self.high[sensed[0]]
        return [np.flatnonzero(high == reads_high).tolist() for reads_high in (False, True)]

    def screening(self) -> Bools:
        """Lay out a two-level design, and its mirror image: each quantity high in half of the points.

        Between any two quantities all four pairs of ends come equally often, so that the mean effect of each
        can be told apart; with the mirror image, apart from what any two do together as well (a regular
        two-level design of resolution IV: Box, Hunter and Hunter, *Statistics for Experimenters*).
        """
        signs = np.ones((1, 1))
        while len(signs) <= self.size:
            signs = np.block([[signs, signs], [signs, -signs]])
        half: Bools = signs[:, 1 : self.size + 1] > 0.0
        return np.vstack([half, ~half])

    def draws(self, count: int, seed: int) -> Array:
        """Draw points at random, ends mixed with values from inside."""
        random = np.random.default_rng(seed)
        shape = (count, self.size)
        share = random.integers(0, 2, shape).astype(float)
        inside = random.uniform(size=shape)
        share = np.where(random.uniform(size=shape) < INTERIOR_SHARE, inside, share)
        return self.inside(share)

    def shares(self, points: Array) -> Array:
        """Say where points lie in the tolerances, from their low ends [1]."""
        shares: Array = (points - self.low) / (self.high - self.low)
        return shares

    def inside(self, shares: Array) -> Array:
        """Give the points of shares of the tolerances; ends exactly as measured."""
        # Rounding must make no difference.
        return np.where(shares == 1.0, self.high, self.low + shares * (self.high - self.low))

    def other_end(self, point: Array, place: int) -> float:
        """Give the end of a quantity that is further from a point."""
        low, high = float(self.low[place]), float(self.high[place])
        return low if point[place] - low > high - point[place] else high

    def moves(self, point: Array) -> Iterator[tuple[int, float]]:
        """Give the single moves from a point: each quantity to its ends and to nominal."""
        for place in range(self.size):
            for value in dict.fromkeys((self.low[place], self.high[place], self.nominal[place])):
                if value != point[place]:
                    yield place, float(value)

    def cases(self, points: Array) -> Cases:
        """Make cases of points."""
        return cases_at(self.machine, ("",) * len(points), len(points), self.tables(points))

    def tables(self, points: Array) -> dict[str, Array]:
        """Give every quantity of `Tolerances` its values at points."""
        every: Tolerances = tolerances(self.machine)
        table = {name: np.full(len(points), getattr(every, name).nominal) for name in QUANTITIES}
        return table | dict(zip(self.names, points.T.copy(), strict=True))

    def table(self, point: Array) -> dict[str, float]:
        """Give every quantity of `Tolerances` its value at a point."""
        return {name: float(values[0]) for name, values in self.tables(point[None]).items()}

    def words(self, point: Array, places: Iterable[int]) -> str:
        """Say where a point lies, by some of its quantities."""
        return ", ".join(self._word(place, float(point[place])) for place in places)

    def _word(self, place: int, value: float) -> str:
        low, high, unit = WORDS[self.names[place]]
        if value in (self.low[place], self.high[place]):
            return low if value == self.low[place] else high
        what = low if value < self.nominal[place] else high
        return f"{what} ({with_unit(short(value, 3), unit)})"


def box_of(machine: Machine) -> Box:
    """Collect the measured quantities of a machine that have a tolerance."""
    every = tolerances(machine)
    names = tuple(name for name in QUANTITIES if getattr(every, name).low < getattr(every, name).high)
    ends = (
        [float(getattr(getattr(every, name), end)) for name in names] for end in ("low", "nominal", "high")
    )
    return Box(machine, names, *map(np.array, ends))
