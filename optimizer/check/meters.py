"""Meters that watch a simulation go by and keep, for every case, what the requirements ask for."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from optimizer.check.certificate import Trace
from optimizer.check.equations import BOILING_C
from optimizer.check.integrate import Stretch
from optimizer.check.lethality import HYGIENE, soil_rate
from optimizer.check.worst_cases import Array, Cases
from optimizer.physics.water import density_kg_per_l, latent_heat_kj_per_kg
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.machine import Element
from optimizer.programme.constants import Constants
from optimizer.units import J_PER_KJ


class Meter(ABC):
    """Anything that watches a simulation."""

    def see(self, stretch: Stretch) -> None:
        """Count a stretch.

        Parameters
        ----------
        stretch : Stretch
            The stretch; they come in order.
        """
        self._see(stretch)

    @abstractmethod
    def _see(self, stretch: Stretch) -> None: ...


class DoseMeter(Meter):
    """Doses and hygiene.

    Parameters
    ----------
    goal : Goal
        What is asked for.
    constants : Constants
        The programme.
    cases : Cases
        The cases.
    """

    doses_s: dict[str, Array]
    """One value a case by name of the dose [s]."""
    hygiene_s: Array
    """A0 value or heat-unit equivalents, whichever the goal asks for [s]."""

    def __init__(self, goal: Goal, constants: Constants, cases: Cases) -> None:
        self._goal = goal
        self._constants = constants
        self.doses_s = {dose.name: np.zeros(cases.count) for dose in goal.dose}
        self.hygiene_s = np.zeros(cases.count)

    def _see(self, stretch: Stretch) -> None:
        if not stretch.phase.sprayed:
            return
        samples, row = stretch.samples, self._constants.rounds[stretch.phase.round]
        for dose in self._goal.dose:
            share = self._share(dose, stretch)
            if share > 0.0:
                detergent = row.kind == "wash" and row.detergent_dg > 0 and self._goal.detergent is not None
                rate = soil_rate(dose, detergent)
                self.doses_s[dose.name] += share * rate.integral_s(samples.time_s, samples.ware_c)
        if self._goal.hygiene.method != "none" and row.kind == "rinse":
            rate = HYGIENE[self._goal.hygiene.method]
            self.hygiene_s += rate.integral_s(samples.time_s, samples.ware_c)

    def _share(self, dose: Dose, stretch: Stretch) -> float:
        if self._constants.rounds[stretch.phase.round].kind not in dose.kinds:
            return 0.0
        return 1.0 if stretch.phase.outputs.wash_pump else dose.soak_share


class WaterMeter(Meter):
    """Water: what covers element and suction, what may run over, what a drain leaves.

    Parameters
    ----------
    cases : Cases
        The cases.
    by_level : bool
        Whether a level switch ends the fills.
    element : Element, optional
        The element, for the pool that it boils.

    Notes
    -----
    The film hangs on the ware and covers nothing. The hold-up counts on top of it: it may have been measured
    with dry ware or with wet.
    """

    element_l: Array
    """Least water while the element is on [l]; inf where it never is."""
    suction_l: Array
    """Least water at the suction while the wash pump is on [l]."""
    fullest_l: Array
    """Most water in the tank [l]."""
    filled_l: Array
    """Water run in, at inlet temperature [l]."""
    left_l: Array
    """Most water above the carry-over at the end of a drain [l]."""
    kept: list[Array]
    """Of each round, the share of its water that the drain left behind; of the first, the share of what was
    let in: the machine may have dried out before, whatever it holds after [1]."""

    uncovered_s: Array
    """Steam round: earliest time at which the boiling pool would uncover the element [s]; inf without one."""

    def __init__(self, cases: Cases, by_level: bool, element: Element | None = None) -> None:
        self._cases = cases
        self._element = element
        self.uncovered_s = np.full(cases.count, np.inf)
        self._by_level = by_level
        self._full_kg: Array = cases.carry_kg
        self.element_l = np.full(cases.count, np.inf)
        self.suction_l = np.full(cases.count, np.inf)
        self.fullest_l = np.full(cases.count, -np.inf)
        self.filled_l = np.zeros(cases.count)
        self.left_l = np.full(cases.count, -np.inf)
        self.kept = []

    def _see(self, stretch: Stretch) -> None:
        phase, samples = stretch.phase, stretch.samples
        if phase.name == "fill":
            self.filled_l += samples.lasted_s * self._cases.flow_kg_per_s / self._cases.cold_kg_per_l
        if phase.wet:
            self._levels(stretch)
        if phase.name == "drain" and phase.round >= 0:
            self._drained(stretch)

    def _levels(self, stretch: Stretch) -> None:
        cases, samples = self._cases, stretch.samples
        hung_kg = cases.hung_kg(stretch.phase.round)
        per_l = density_kg_per_l(np.minimum(samples.bath_c, BOILING_C))

        def litres(less_kg: Array) -> Array:
            return (samples.water_kg - less_kg[:, None]) / per_l

        ran = samples.lasted_s > 0.0
        spraying = stretch.phase.outputs.wash_pump
        pool_l = litres(hung_kg + cases.holdup_kg * spraying).min(axis=1)
        if stretch.phase.steam and self._element is not None:
            pool_l = pool_l - self._element.splash_l
            if not stretch.last:
                self._boils_dry(samples.lasted_s, pool_l, self._element)
        self.element_l = np.where(ran & stretch.element, np.minimum(self.element_l, pool_l), self.element_l)
        if spraying:
            self.suction_l = np.where(ran, np.minimum(self.suction_l, pool_l), self.suction_l)
        # A level switch sees the tank alone; a timed fill is taken to come on top of film and sump.
        self.fullest_l = np.maximum(self.fullest_l, litres(hung_kg * float(self._by_level)).max(axis=1))

    def _boils_dry(self, heating_s: Array, pool_l: Array, element: Element) -> None:
        """As if all of the element's power went into steam, and none of the steam came back."""
        steam_j_per_l = J_PER_KJ * latent_heat_kj_per_kg(BOILING_C) * density_kg_per_l(BOILING_C)
        spare_l = pool_l - element.cover_l
        self.uncovered_s = heating_s + spare_l * steam_j_per_l / np.maximum(self._cases.element_w, 1e-9)

    def _drained(self, stretch: Stretch) -> None:
        if not stretch.last:
            self._full_kg = stretch.samples.water_kg[:, 0]
            return
        end_kg = stretch.samples.end.water_kg
        first = stretch.phase.round == 0
        full_kg = self._full_kg - self._cases.carry_kg * self._cases.start_share * first
        kept = np.divide(end_kg, full_kg, out=np.ones_like(end_kg), where=full_kg > 0.0)
        self.kept.append(kept)
        above_l = np.maximum(end_kg - self._cases.carry_kg, 0.0) / self._cases.cold_kg_per_l
        self.left_l = np.maximum(self.left_l, above_l)


class HeatMeter(Meter):
    """Temperatures and times.

    Parameters
    ----------
    constants : Constants
        The programme.
    cases : Cases
        The cases.
    """

    hottest_c: Array
    """Hottest bath [°C]."""
    prerinse_c: Array
    """Hottest bath while spraying in a prerinse [°C]; -inf without one."""
    ware_heat_j: Array
    """Heat of the ware above the room at the end of the last drain [J]."""
    elapsed_s: Array
    """Time to the end of the last drain [s]."""

    def __init__(self, constants: Constants, cases: Cases) -> None:
        self._constants = constants
        self._cases = cases
        self.hottest_c = np.full(cases.count, -np.inf)
        self.prerinse_c = np.full(cases.count, -np.inf)
        self.ware_heat_j = np.zeros(cases.count)
        self.elapsed_s = np.zeros(cases.count)

    def _see(self, stretch: Stretch) -> None:
        phase, samples = stretch.phase, stretch.samples
        if phase.name == "stand":
            return
        bath_c = samples.bath_c.max(axis=1)
        self.hottest_c = np.maximum(self.hottest_c, bath_c)
        if phase.outputs.wash_pump and self._constants.rounds[phase.round].kind == "prerinse":
            self.prerinse_c = np.maximum(self.prerinse_c, bath_c)
        if phase.name == "drain":
            self.ware_heat_j = self._cases.ware_j_per_k * (samples.end.ware_c - self._cases.room_c)
        if phase.end == "time":
            # Whole seconds as written, not a sum of parts: a limit may be met to the second.
            self.elapsed_s += phase.longest_s * stretch.last
        else:
            self.elapsed_s += samples.lasted_s


class Recorder(Meter):
    """Keeps one case of a simulation.

    Parameters
    ----------
    case : int
        Which case [1].
    """

    def __init__(self, case: int) -> None:
        self._case = case
        self._end_s = 0.0
        self._samples: list[Array] = []
        self._starts_s: list[float] = []
        self._outputs: list[tuple[bool, bool, bool, bool]] = []

    def _see(self, stretch: Stretch) -> None:
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
        """Sample what was recorded.

        Returns
        -------
        Trace
            One sample a second [s], from 0 to the last whole second.
        """
        recorded = np.hstack(self._samples)
        time_s = np.arange(np.floor(self._end_s + 1e-6) + 1.0)
        bath_c, ware_c, water_kg = (np.interp(time_s, recorded[0], values) for values in recorded[1:])
        # A whole second belongs to what starts there, whatever rounding did to the sum of durations.
        part = np.searchsorted(np.array([*self._starts_s, self._end_s]), time_s + 1e-6, side="right") - 1
        inlet, element, wash_pump, drain_pump = np.array([*self._outputs, (False,) * 4])[part].T
        level_l = water_kg / density_kg_per_l(np.minimum(bath_c, BOILING_C))
        return Trace(time_s, bath_c, ware_c, level_l, inlet, element, wash_pump, drain_pump)
