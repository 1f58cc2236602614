"""Watch a run for harm: in each case when it begins, in which round, and for how long it lasts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.check.drain_wait import drain_stop_dc, read_least_c
from optimizer.check.equations import State
from optimizer.check.integrate import Stretch
from optimizer.check.meters import DrainedWater, Meter, hottest_water_c, pool_and_level_l
from optimizer.check.worst_cases import Array, Cases
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import SCALDING_C
from optimizer.programme.constants import Constants

HarmKind = Literal[
    "dry",
    "hot",
    "overflow",
    "overflow_hot",
    "pump_dry",
    "locked",
    "hot_element",
    "hot_drain",
    "unseen",
    "wash",
    "starts",
    "scalds",
    "sprays_out",
    "breaks",
    "breaks_cold",
    "unrinsed",
]

NOISE = 5e-3
"""Less than this beyond a limit is the noise of the integration, not harm [K, l]."""

ABOUT_TO_BOIL_K = 0.1
"""So little below its boiling point a bath counts as boiling [K]."""

MEASURED: tuple[HarmKind, ...] = ("dry", "hot", "overflow", "overflow_hot", "pump_dry", "hot_drain")
"""Kinds of harm that a run shows by itself, the worst first."""


@dataclass(frozen=True)
class Extremes:
    """The worst of one or several runs.

    Attributes
    ----------
    bath_c : float
        Hottest bath [°C], not above boiling.
    level_l : float
        Most water in the tank [l], not above its capacity.
    uncovered_s : float
        Longest time for which the element is on and not covered [s].
    """

    bath_c: float
    level_l: float
    uncovered_s: float


def worst_of(runs: Sequence[Extremes]) -> Extremes:
    """Take the largest of each value over several runs, at least one."""
    return Extremes(
        max(run.bath_c for run in runs),
        max(run.level_l for run in runs),
        max(run.uncovered_s for run in runs),
    )


@dataclass
class Tally:
    """When a harm begins in each case, in which round, and how long it lasts in all.

    Attributes
    ----------
    first_s : ndarray
        From the start of the run [s]; inf where it never begins.
    round : ndarray
        Round in which it begins [1], from 0; -1 before the first.
    total_s : ndarray
        How long it lasts [s].
    excess : ndarray
        The most that it was beyond its limit, negative on the safe side; -inf where nothing was looked at [K
        or l].
    """

    first_s: Array
    round: NDArray[np.int_]
    total_s: Array
    excess: Array

    def add(self, clock_s: Array, round_number: int, time_s: Array, excess: Array) -> None:
        """Count the time for which something exceeds its limit; samples are joined by straight lines.

        Parameters
        ----------
        clock_s : ndarray
            Start of the samples, one value a case [s].
        round_number : int
            Round they belong to [1], from 0; -1 before the first.
        time_s : ndarray
            Time of the samples, one row a case [s].
        excess : ndarray
            How far each sample is beyond the limit, negative on the safe side [K or l].
        """
        self.excess = np.maximum(self.excess, excess.max(axis=1))
        beyond, short = np.maximum(excess - NOISE, 0.0), np.maximum(NOISE - excess, 0.0)
        over, under = beyond[:, :-1] + beyond[:, 1:], short[:, :-1] + short[:, 1:]
        share = np.divide(over, over + under, out=np.zeros_like(over), where=over > 0.0)
        lasts_s = share * np.diff(time_s)
        self.total_s += lasts_s.sum(axis=1)
        interval = np.argmax(lasts_s > 0.0, axis=1)
        case = np.arange(len(interval))
        # An interval that begins on the safe side crosses the limit as long before its end as the harm lasts.
        late_s = np.where(
            beyond[case, interval] > 0.0, 0.0, time_s[case, interval + 1] - lasts_s[case, interval]
        )
        begins_s = clock_s + np.maximum(time_s[case, interval], late_s)
        new = (lasts_s[case, interval] > 0.0) & np.isinf(self.first_s)
        self.first_s = np.where(new, begins_s, self.first_s)
        self.round = np.where(new, round_number, self.round)


def scalding_c(kind: HarmKind, tally: Tally) -> float:
    """Give the hottest water that runs over, of the harm that tells it [°C]; 0 of any other."""
    return SCALDING_C + max(0.0, float(tally.excess.max())) if kind == "overflow_hot" else 0.0


@dataclass
class FaultMeter(Meter):
    """Watches for an element that is not covered, a bath too hot, a tank running over, a pump run dry.

    Attributes
    ----------
    tallies : dict
        By kind of harm; ``hot_element`` counts the time for which the element is not covered, on or off.
    hottest_c, fullest_l : ndarray
        Hottest bath [°C]; most water in the tank, also above its lip [l].
    clock_s : ndarray
        Time since the start of the run [s].
    begins_s : list of ndarray
        Start of each phase [s].
    ends : list of State
        Where the cases stand at the end of each phase.
    drained_c : ndarray
        Hottest water that a drain in its turn takes [°C]; -inf without any.
    passes_k : ndarray
        The least of two, in the drain in its turn where it is the most: water over what the drain pipe
        stands, and WASH_DRAIN_STOP_DC over what the sensor may read [K]; -inf without any.
    pool_l : float
        Least water that covers the element while it makes steam, splashes taken off [l]; inf without steam.
    let_pass_c : ndarray
        Hottest water above what the drain pipe stands that a drain in its turn takes although the sensor may
        read no more than WASH_DRAIN_STOP_DC as it begins [°C]; -inf without any.
    """

    constants: Constants
    machine: Machine
    cases: Cases
    tallies: dict[HarmKind, Tally] = field(init=False)
    hottest_c: Array = field(init=False)
    fullest_l: Array = field(init=False)
    clock_s: Array = field(init=False)
    begins_s: list[Array] = field(init=False)
    ends: list[State] = field(init=False)
    drained_c: Array = field(init=False)
    passes_k: Array = field(init=False)
    pool_l: float = field(init=False, default=np.inf)
    let_pass_c: Array = field(init=False)

    def __post_init__(self) -> None:
        self._drained = DrainedWater(self.constants, self.cases)
        self._read_least_c = self.cases.room_c
        count = self.cases.count
        self.tallies = {
            kind: Tally(
                np.full(count, np.inf), np.zeros(count, dtype=int), np.zeros(count), np.full(count, -np.inf)
            )
            for kind in (*MEASURED, "hot_element")
        }
        self.passes_k = np.full(count, -np.inf)
        self.let_pass_c = np.full(count, -np.inf)
        self.hottest_c = np.full(count, -np.inf)
        self.fullest_l = np.full(count, -np.inf)
        self.drained_c = np.full(count, -np.inf)
        self.clock_s = np.zeros(count)
        self.begins_s = [self.clock_s]
        self.ends = []

    def add(self, stretch: Stretch) -> None:
        """Count the harm of a stretch, by what the water covers, how warm it is and how full the tank."""
        samples, machine, on = stretch.samples, self.machine, stretch.phase.outputs
        number = stretch.phase.round
        pool_l, level_l = self._litres(stretch)
        # While it is drained or filled, a bath at the boil may warm on in the model, not in the tank.
        hottest_c = hottest_water_c(
            self.cases, stretch.element, stretch.phase.outputs.wash_pump, stretch.samples.bath_c
        )
        bath_c = np.minimum(hottest_c, self.cases.boils_c[:, None])
        self.hottest_c = np.maximum(self.hottest_c, bath_c.max(axis=1))
        self.fullest_l = np.maximum(self.fullest_l, level_l.max(axis=1))

        def count(kind: HarmKind, excess: Array) -> None:
            self.tallies[kind].add(self.clock_s, number, samples.time_s, excess)

        limit_c = np.where(stretch.element, self.harm_above_c(number), machine.tank.limit_c)
        count("hot", bath_c - limit_c[:, None])
        over_l = level_l - machine.tank.capacity_l
        count("overflow", over_l)
        count("overflow_hot", np.where(over_l > NOISE, bath_c - SCALDING_C, -np.inf))
        drained_c = self._drained.add(stretch)
        if drained_c is not None and on.drain_pump and not machine.drain_pump.stands_the_boil:
            wet = samples.water_kg > self.cases.carry_over_kg[:, None]
            drawn_c = np.minimum(drained_c, self.cases.boils_c[:, None])
            over_k = np.where(wet, drawn_c - machine.drain_pump.drain_limit_c, -np.inf)
            count("hot_drain", over_k)
            if number >= 0:
                self._pass(stretch, over_k.max(axis=1))
        if on.wash_pump:
            count("pump_dry", machine.wash_pump.prime_l - pool_l)
        if machine.element is not None:
            uncovered_l = machine.element.cover_l - pool_l
            if self._steams(number) and on.element:
                self.pool_l = min(self.pool_l, float(pool_l.min()))
            count("hot_element", uncovered_l)
            count("dry", np.where(stretch.element[:, None], uncovered_l, -np.inf))
        self.clock_s = self.clock_s + samples.lasted_s
        if stretch.last:
            self.begins_s.append(self.clock_s)
            self.ends.append(samples.end)

    def _pass(self, stretch: Stretch, over_k: Array) -> None:
        """See how hot a drain in its turn is, and what the look at the sensor as it begins lets pass."""
        if not stretch.last:
            self._read_least_c = read_least_c(self.machine, stretch.samples.bath_c[:, 0])
        drained_c = self.machine.drain_pump.drain_limit_c + over_k
        self.drained_c = np.maximum(self.drained_c, drained_c)
        reads_under_k = drain_stop_dc(self.machine) / 10.0 - self._read_least_c
        self.passes_k = np.maximum(self.passes_k, np.minimum(over_k, reads_under_k))
        unseen = (self._read_least_c <= drain_stop_dc(self.machine) / 10.0) & (over_k > NOISE)
        self.let_pass_c = np.maximum(self.let_pass_c, np.where(unseen, drained_c, -np.inf))

    def harm_above_c(self, number: int) -> float:
        """Bath temperature above which the element does harm in a round (-1: before the first) [°C].

        It is the limit of the tank or, in a round that is not for steam, the boil.
        """
        limit_c = self.machine.tank.limit_c
        return limit_c if self._steams(number) else min(limit_c, self._about_to_boil_c)

    @property
    def _about_to_boil_c(self) -> float:
        return float(self.cases.boils_c[0]) - ABOUT_TO_BOIL_K

    def _steams(self, number: int) -> bool:
        return number >= 0 and self.constants.rounds[number].kind == "steam"

    def too_hot(self, number: int, met: Extremes) -> str:
        """Say what a bath does that is too hot in this round: "boils", "up to 80 °C, above the 75 °C …"."""
        limit_c = self.machine.tank.limit_c
        if self.harm_above_c(number) < limit_c:
            return "boils"
        top = "boils" if met.bath_c >= self._about_to_boil_c else f"up to {met.bath_c:.0f} °C"
        return f"{top}, above the {limit_c:g} °C that the tank stands,"

    def extremes(self, pick: NDArray[np.int_] | None = None) -> Extremes:
        """Give the worst of the run, over all cases or those with the numbers of ``pick``."""
        cases = slice(None) if pick is None else pick
        return Extremes(
            float(self.hottest_c[cases].max()),
            min(float(self.fullest_l[cases].max()), self.machine.tank.capacity_l),
            float(self.tallies["dry"].total_s[cases].max()),
        )

    def _litres(self, stretch: Stretch) -> tuple[Array, Array]:
        """Litres that cover element and suction, and litres in the tank."""
        pool_l, level_l = pool_and_level_l(self.cases, stretch)
        steams = self._steams(stretch.phase.round)
        splash_l = self.machine.element.splash_l if steams and self.machine.element else 0.0
        return pool_l - splash_l, level_l
