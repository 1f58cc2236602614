"""Meters that follow a simulation and keep, for every case, what the requirements ask for."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from optimizer.check import meters_kernel as kernel
from optimizer.check.certificate import Trace
from optimizer.check.integrate import Stretch
from optimizer.check.lethality import HYGIENE, dissolving_s, soil_dose_s
from optimizer.check.worst_cases import Array, Bools, Cases
from optimizer.physics.water import BOILING_C, density_kg_per_l, steam_j_per_l
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.machine_loads import Element
from optimizer.programme.constants import Constants, first_rinse, first_wash


class Meter(ABC):
    """Anything that follows a simulation."""

    @abstractmethod
    def add(self, stretch: Stretch) -> None:
        """Count a stretch; they come in order."""


class DoseMeter(Meter):
    """Doses and hygiene, by the temperature of the ware."""

    doses_s: dict[str, Array]
    """By name of the dose, one value a case [s]."""
    hygiene_s: Array
    """A0 value or heat-unit equivalents, whichever the goal asks for [s]."""

    def __init__(self, goal: Goal, constants: Constants, cases: Cases) -> None:
        self._goal = goal
        self._constants = constants
        self._mechanics = cases.mechanics_factor
        self.doses_s = {dose.name: np.zeros(cases.count) for dose in goal.dose}
        self.hygiene_s = np.zeros(cases.count)
        # How long the pump has sprayed in this round: detergent dissolves meanwhile.
        self._sprayed_s = np.zeros(cases.count)

    def add(self, stretch: Stretch) -> None:
        """Count doses from the first spray of a round to the end of its drain."""
        if stretch.phase.name == "held":
            return
        if not stretch.phase.sprayed:
            self._sprayed_s = np.zeros_like(self._sprayed_s)
            return
        samples, row = stretch.samples, self._constants.rounds[stretch.phase.round]
        sprays = stretch.phase.outputs.wash_pump
        left_s = dissolving_s(row, self._goal) - self._sprayed_s
        for dose in self._goal.dose:
            share = self._share(dose, stretch)
            if np.any(share > 0.0):
                dose_s = soil_dose_s(
                    dose, left_s, samples.time_s, samples.ware_c, spraying=sprays,
                    dissolves_from_c=self._goal.dissolves_from_c,
                )  # fmt: skip
                self.doses_s[dose.name] += share * dose_s
        if sprays:
            self._sprayed_s = self._sprayed_s + samples.lasted_s
        if self._goal.hygiene.method != "none" and row.kind == "rinse":
            rate = HYGIENE[self._goal.hygiene.method]
            self.hygiene_s += rate.integral_s(samples.time_s, samples.ware_c)

    def _share(self, dose: Dose, stretch: Stretch) -> Array:
        """What a second counts: by how strong the spray is; less while the ware soaks, whatever the spray."""
        if self._constants.rounds[stretch.phase.round].kind not in dose.kinds:
            return np.zeros(1)
        return self._mechanics if stretch.phase.outputs.wash_pump else np.array([dose.soak_share])


def pool_and_level_l(cases: Cases, stretch: Stretch) -> tuple[Array, Array]:
    """Litres that cover element and suction, and litres in the tank: one row a case, one column a sample.

    The film hangs on the ware and covers nothing, and yet it may drip into a tank that is full: a level
    switch sees the tank alone, so that the film comes on top of its level, as it does of a timed fill.
    """
    phase, samples = stretch.phase, stretch.samples
    film_kg = cases.film_at_start_kg(max(phase.round, 0))
    covers_nothing_kg = film_kg + cases.holdup_kg * phase.outputs.wash_pump
    return kernel.pools_and_levels(samples.water_kg, samples.bath_c, covers_nothing_kg)


class WaterMeter(Meter):
    """Water: what covers element and suction, what may run over, what a drain leaves.

    The film hangs on the ware and covers nothing. The hold-up counts on top of it, because it may have been
    measured with dry ware or with wet. Without an ``element`` no boiling pool is looked at.
    """

    element_l: Array
    """Least water while the element is on [l]; inf where it never is."""
    suction_l: Array
    """Least water at the suction while the wash pump is on [l]; inf where it never is."""
    fullest_l: Array
    """Most water in the tank [l]."""
    filled_l: Array
    """Water run in, at inlet temperature [l]."""
    undrained_l: Array
    """Most water above the carry-over at the end of a drain [l]."""
    full_kg: list[Array]
    """Water of each round as its drain begins, or a top-up before that, which is not counted to thin it: what
    is not stirred leaves first [kg]. Of the first round it is what was let in: the machine may have dried out
    before, whatever it holds after."""
    left_kg: list[Array]
    """Water that the drain of each round left behind [kg]."""
    uncovered_s: Array
    """Steam round: earliest time at which the boiling pool would uncover the element [s]; inf without one."""

    def __init__(self, cases: Cases, element: Element | None = None) -> None:
        self._cases = cases
        self._element = element
        self._full_kg: Array = cases.carry_over_kg
        self._topped_in = -1
        self.uncovered_s = np.full(cases.count, np.inf)
        self.element_l = np.full(cases.count, np.inf)
        self.suction_l = np.full(cases.count, np.inf)
        self.fullest_l = np.full(cases.count, -np.inf)
        self.filled_l = np.zeros(cases.count)
        self.undrained_l = np.full(cases.count, -np.inf)
        self.full_kg, self.left_kg = [], []

    def add(self, stretch: Stretch) -> None:
        """Count the water of a fill, the levels of a wet phase, and what a drain leaves."""
        phase, samples = stretch.phase, stretch.samples
        if phase.name in ("fill", "top_up"):
            self.filled_l += samples.lasted_s * self._cases.flow_kg_per_s / self._cases.cold_kg_per_l
        if phase.name == "top_up" and self._topped_in != phase.round:
            self._topped_in, self._full_kg = phase.round, samples.water_kg[:, 0]
        if phase.wet:
            self._levels(stretch)
        if phase.name == "drain" and phase.round >= 0:
            self._drained(stretch)

    def _levels(self, stretch: Stretch) -> None:
        samples, ran = stretch.samples, stretch.samples.lasted_s > 0.0
        pools_l, levels_l = pool_and_level_l(self._cases, stretch)
        pool_l = pools_l.min(axis=1)
        if stretch.phase.steam and self._element is not None:
            pool_l = pool_l - self._element.splash_l
            if not stretch.last:
                self._boils_dry(samples.lasted_s, pool_l, self._element)
        self.element_l = np.where(ran & stretch.element, np.minimum(self.element_l, pool_l), self.element_l)
        if stretch.phase.outputs.wash_pump:
            self.suction_l = np.where(ran, np.minimum(self.suction_l, pool_l), self.suction_l)
        self.fullest_l = np.maximum(self.fullest_l, levels_l.max(axis=1))

    def _boils_dry(self, heating_s: Array, pool_l: Array, element: Element) -> None:
        """Earliest: as if all of the element's power made steam, and no steam came back as water."""
        above_l = pool_l - element.cover_l
        needs_j_per_l = steam_j_per_l(float(self._cases.boils_c[0]))
        self.uncovered_s = heating_s + above_l * needs_j_per_l / np.maximum(self._cases.element_w, 1e-9)

    def _drained(self, stretch: Stretch) -> None:
        if not stretch.last:
            if self._topped_in != stretch.phase.round:
                self._full_kg = stretch.samples.water_kg[:, 0]
            return
        end_kg = stretch.samples.end.water_kg
        first = stretch.phase.round == 0
        self.full_kg.append(self._full_kg - self._cases.carry_over_kg * self._cases.start_share * first)
        self.left_kg.append(end_kg)
        above_l = np.maximum(end_kg - self._cases.carry_over_kg, 0.0) / self._cases.cold_kg_per_l
        self.undrained_l = np.maximum(self.undrained_l, above_l)


def hottest_water_c(cases: Cases, element: Bools, sprays: bool, bath_c: Array) -> Array:
    """Hottest water in the tank [°C] by the mean of its bath: one row a case, one column a sample.

    Heated with the pump off a bath is in layers: its top is hotter than the mean that is integrated, up to
    the boil.
    """
    layered = element & (not sprays)
    top_c = np.minimum(bath_c + cases.top_over_mean_k[:, None], np.maximum(bath_c, cases.boils_c[:, None]))
    return np.where(layered[:, None], top_c, bath_c)


class DrainedWater:
    """How hot the water is that a drain takes.

    A pump stirs what it sprays, and a bath that rests is stirred as it cools from above. Cold water that is
    let into it and not stirred lies under the hot, and the drain takes the bottom first: the hottest of it is
    as far above the mean as the measured share of what the mean has fallen by.
    """

    def __init__(self, constants: Constants, cases: Cases) -> None:
        self._constants = constants
        self._share = cases.unmixed_share[:, None]
        self._topped_in = -1
        self._before_c: Array = cases.room_c[:, None]

    def add(self, stretch: Stretch) -> Array | None:
        """Give the hottest water of a drain [°C], cases × samples; None of other phases."""
        phase, bath_c = stretch.phase, stretch.samples.bath_c
        if phase.name == "top_up" and self._topped_in != phase.round:
            self._topped_in, self._before_c = phase.round, bath_c[:, :1]
        if phase.name != "drain":
            return None
        if self._topped_in != phase.round or self._constants.rounds[phase.round].stirred:
            return bath_c
        fallen_k = np.maximum(self._before_c - bath_c, 0.0)
        return np.asarray(bath_c + self._share * fallen_k)


class HeatMeter(Meter):
    """Temperatures and times, up to the end of the last drain."""

    hottest_c: Array
    """Hottest water [°C]."""
    prerinse_c: Array
    """Hottest bath while spraying in a prerinse [°C]; -inf without one."""
    with_detergent_c: Array
    """Coldest bath as a spray with detergent ends [°C]; inf without one."""
    drained_with_detergent_c: Array
    """Coldest bath as the drain of a round with detergent begins [°C]; inf without one."""
    first_wash_c: Array
    """Bath as the first wash's spray begins, before the ware's film mixes into it [°C]; -inf without one."""
    first_rinse_c: Array
    """Bath as the spray of the first rinse ends [°C]; inf without one."""
    drained_c: Array
    """Hottest water that the drain of a round takes [°C]."""
    ware_heat_j: Array
    """Heat of the ware above the room at the end of the last drain [J]."""
    ware_end_c: Array
    """Ware at the end of the last drain [°C]."""
    elapsed_s: Array
    """Time to the end of the last drain [s]."""
    drop_k: Array
    """Most that the ware is hotter than the bath, before the film mixes into it, as a spray begins [K]."""
    rise_k: Array
    """Most that it is colder [K]."""

    def __init__(self, constants: Constants, cases: Cases) -> None:
        self._constants = constants
        self._cases = cases
        self._drained = DrainedWater(constants, cases)
        self.drained_c = np.full(cases.count, -np.inf)
        self.hottest_c = np.full(cases.count, -np.inf)
        self.prerinse_c = np.full(cases.count, -np.inf)
        # The bath as a spray with detergent last stood counts as the pump stops.
        self.with_detergent_c, self._sprayed_c = np.full((2, cases.count), np.inf)
        self.drained_with_detergent_c, self._drains = np.full(cases.count, np.inf), False
        self.first_wash_c, self._bath_c = np.full(cases.count, -np.inf), cases.room_c
        self._first_wash = first_wash(constants)
        self.first_rinse_c = np.full(cases.count, np.inf)
        self._first_rinse = first_rinse(constants)
        self.ware_heat_j = np.zeros(cases.count)
        self.ware_end_c = cases.room_c
        self.elapsed_s = np.zeros(cases.count)
        self.drop_k, self.rise_k = np.full(cases.count, -np.inf), np.full(cases.count, -np.inf)
        self._sprays, self._over_k = False, np.zeros(cases.count)

    def add(self, stretch: Stretch) -> None:
        """Count every phase but the standing at the end."""
        phase, samples = stretch.phase, stretch.samples
        if phase.name == "stand":
            return
        if phase.outputs.wash_pump and not self._sprays:
            self.drop_k = np.maximum(self.drop_k, self._over_k)
            self.rise_k = np.maximum(self.rise_k, -self._over_k)
            if phase.round == self._first_wash:
                # A spray after a soak is not the first any more.
                self.first_wash_c, self._first_wash = self._bath_c, None
        self._sprays = phase.outputs.wash_pump
        begins = phase.name == "drain" and phase.round >= 0 and not self._drains
        if begins and self._constants.rounds[phase.round].detergent_dg:
            self.drained_with_detergent_c = np.minimum(self.drained_with_detergent_c, self._bath_c)
        self._drains = phase.name == "drain"
        self._over_k, self._bath_c = samples.end.ware_c - samples.end.bath_c, samples.end.bath_c
        bath_c = samples.bath_c.max(axis=1)
        # No layer is the hotter the colder its bath is.
        hottest_c = hottest_water_c(self._cases, stretch.element, phase.outputs.wash_pump, bath_c[:, None])
        self.hottest_c = np.maximum(self.hottest_c, hottest_c[:, 0])
        if phase.outputs.wash_pump and self._constants.rounds[phase.round].kind == "prerinse":
            self.prerinse_c = np.maximum(self.prerinse_c, bath_c)
        if not phase.outputs.wash_pump:
            self.with_detergent_c = np.minimum(self.with_detergent_c, self._sprayed_c)
            self._sprayed_c = np.full_like(self._sprayed_c, np.inf)
        elif self._constants.rounds[phase.round].detergent_dg:
            self._sprayed_c = samples.end.bath_c
        if phase.name == "spray" and phase.round == self._first_rinse:
            self.first_rinse_c = samples.end.bath_c
        drained_c = self._drained.add(stretch)
        if drained_c is not None and phase.round >= 0:
            self.drained_c = np.maximum(self.drained_c, drained_c.max(axis=1))
        if phase.name == "drain":
            self.ware_end_c = samples.end.ware_c
            self.ware_heat_j = self._cases.ware_j_per_k * (samples.end.ware_c - self._cases.room_c)
        if phase.end == "time":
            # Whole seconds as written, not a sum of parts: a limit may be met to the second.
            self.elapsed_s += phase.longest_s * stretch.last
        else:
            self.elapsed_s += samples.lasted_s


class Recorder(Meter):
    """Keeps one case of a simulation for its trace."""

    def __init__(self, case: int) -> None:
        self._case = case
        self._end_s = 0.0
        self._samples: list[Array] = []
        self._starts_s: list[float] = []
        self._outputs: list[tuple[bool, bool, bool, bool]] = []

    def add(self, stretch: Stretch) -> None:
        """Keep the samples and outputs of a stretch."""
        samples, on = stretch.samples, stretch.phase.outputs
        columns = (samples.time_s, samples.bath_c, samples.ware_c, samples.water_kg)
        block = np.array([column[self._case] for column in columns])
        block[0] += self._end_s
        self._samples.append(block)
        if block[0, -1] > self._end_s:
            self._starts_s.append(self._end_s)
            self._outputs.append((on.inlet, bool(stretch.element[self._case]), on.wash_pump, on.drain_pump))
        self._end_s = float(block[0, -1])

    def trace(self) -> Trace:
        """Give what was kept as one sample a second, from 0 to the last whole second."""
        recorded = np.hstack(self._samples)
        time_s = np.arange(np.floor(self._end_s + 1e-6) + 1.0)
        # A whole second belongs to the phase that starts there, whatever rounding did to the summed times; as
        # the pump starts or stops the film makes temperatures jump.
        after_s = time_s + 1e-6
        bath_c, ware_c, water_kg = (np.interp(after_s, recorded[0], values) for values in recorded[1:])
        part = np.searchsorted(np.array([*self._starts_s, self._end_s]), after_s, side="right") - 1
        inlet, element, wash_pump, drain_pump = np.array([*self._outputs, (False,) * 4])[part].T
        level_l = water_kg / density_kg_per_l(np.minimum(bath_c, BOILING_C))
        return Trace(time_s, bath_c, ware_c, level_l, inlet, element, wash_pump, drain_pump)
