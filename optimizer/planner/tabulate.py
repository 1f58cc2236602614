"""Tabulate: list every round the model may choose from, before it is built.

Two temperatures are handed on from round to round: the cold corner's, which the doses count with, and a
second one: the hot corner's for a timed element (the tank must stand it), the nominal one for a thermostat
(its energy depends on it).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from optimizer.physics import Array
from optimizer.physics.thermal import mixed_c
from optimizer.planner.cooling import Cooling
from optimizer.planner.heating import Heat
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.round_options import (
    FILL_STEPS,
    HEATED_STEPS,
    LEAST_FILL_L,
    PEAK_STEP_K,
    Line,
    Option,
    OptionTable,
    TableBasis,
)
from optimizer.planner.steam_pools import steam_options
from optimizer.planner.structure import Mode
from optimizer.planner.targets import UNDISSOLVED
from optimizer.programme.constants import GAP_S, KINDS

WARM_RINSE_C = 55.0
"""Hottest peak of a rinse that only keeps the ware from being chilled [°C]."""

PRERINSE = KINDS.index("prerinse")
BEFORE_SOAK_S = 300.0
"""Spray after the heating and before a soak that safe lines count with [s]."""


class Tabulator(TableBasis):
    """Lists the options."""

    def table(self) -> OptionTable:
        """All options by kind of round."""
        blocked = tuple(mode for mode in self._modes() if not self.assessor.heats(mode))
        return OptionTable(
            options=tuple(tuple(self._kind_options(kind, blocked)) for kind in range(len(KINDS))),
            segments_s=self.segments_s,
            thermostat=self.thermostat,
            start_c=(self._start_c(self.cold), self._start_c(self.second)),
            handed_on_range_c=self.handed_on_range_c,
            blocked=blocked,
        )

    def _start_c(self, index: int) -> float:
        """Tank and ware as a run begins, mixed; an optimistic model has the tank as warm as the room."""
        corners = self.assessor.simulator.corners
        room_c = corners.room_c[index]
        if not self.safe:
            return float(room_c)
        tank_c, ware_j_per_k = corners.start_bath_c[index], corners.ware_j_per_k[index]
        return float(mixed_c(tank_c, corners.tank_j_per_k[index], room_c, ware_j_per_k))

    def _modes(self) -> list[Mode]:
        heated = (
            [] if self.assessor.inputs.machine.element is None else [Mode.WHILE_SPRAYING, Mode.THEN_SPRAY]
        )
        return [Mode.UNHEATED, *heated]

    def _kind_options(self, kind: int, blocked: tuple[Mode, ...]) -> list[Option]:
        if KINDS[kind] == "steam":
            return steam_options(self, kind)
        options: list[Option] = []
        for mode in self._modes():
            if mode in blocked or not self._worth_heating(kind, mode):
                continue
            peaks = [math.nan] if mode is Mode.UNHEATED else self._peaks(kind)
            only_warm = mode is not Mode.UNHEATED and not self._heat_counts(kind)
            peaks = [peak_c for peak_c in peaks if not only_warm or peak_c <= WARM_RINSE_C]
            by_peak = [self.fills(kind, mode, peak_c)[: 1 if only_warm else None] for peak_c in peaks]
            for fill_s in max(by_peak, key=len, default=[]):
                fits = [peak_c for peak_c, fills in zip(peaks, by_peak, strict=True) if fill_s in fills]
                found = [self._option(kind, mode, fill_s, peak_c) for peak_c in fits]
                options += [option for fit in found for option in fit]
        return options

    def _worth_heating(self, kind: int, mode: Mode) -> bool:
        """Whether heat counts, or warms a bath before the spray so that the ware is not chilled."""
        warms = mode is Mode.THEN_SPRAY and KINDS[kind] == "rinse" and self.assessor.warms_first_rinse
        return mode is Mode.UNHEATED or warms or self._heat_counts(kind)

    def _heat_counts(self, kind: int) -> bool:
        return self.assessor.heat_counts(kind)

    def _peaks(self, kind: int) -> list[float]:
        machine, goal = self.assessor.inputs.machine, self.assessor.inputs.goal
        spread_k = 2.0 * machine.element.sensor_error_k if machine.element else 0.0
        top_c = self.assessor.bath_limit_c * (1.0 - self.assessor.backoff("tank.bath_c")) - spread_k
        if KINDS[kind] == "prerinse":
            limit_c = goal.prerinse.limit_c * (1.0 - self.assessor.backoff("prerinse.bath_c"))
            top_c = min(top_c, limit_c - spread_k)
        inlet_c = float(self.assessor.simulator.corners.inlet_c.max())
        low_c = PEAK_STEP_K * math.ceil(max(25.0, inlet_c + 1.0) / PEAK_STEP_K)
        peaks = [float(peak) for peak in np.arange(low_c, top_c - 1.0, PEAK_STEP_K)]
        return [*peaks, top_c] if self.thermostat and top_c > low_c else peaks

    def fills(self, kind: int, mode: Mode, peak_c: float) -> list[float]:
        """Inlet times to choose from: the least that covers, and some above it up to the lip [s]."""
        machine, corners = self.assessor.inputs.machine, self.assessor.simulator.corners
        if machine.inlet.level_l is not None:
            fits = machine.inlet.level_l.low >= self.cover_l(mode, kept_back=self.safe)
            if KINDS[kind] == "wash":
                fits = fits and self.assessor.dosing.shortest_fill_s(first=False) == 0.0
            lumped = LumpedRound.of(corners, corners.nominal, 0.0)
            return [lumped.filled_l / float(corners.inlet_l_per_s[corners.nominal])] if fits else []
        growth = 1.0 if mode is Mode.UNHEATED else float(self.assessor.water.growth(np.array(peak_c)))
        least_s = self._least_fill_s(kind, self.cover_l(mode))
        most_s = self.assessor.longest_fill_s(growth)
        if least_s >= most_s and not self.safe:
            least_s = self._least_fill_s(kind, self.cover_l(mode, kept_back=False))
        steps = FILL_STEPS[KINDS[kind]] if mode is Mode.UNHEATED else HEATED_STEPS
        fills = [least_s * step for step in steps if least_s * step < most_s]
        full = KINDS[kind] == "rinse" and mode is Mode.UNHEATED and most_s > least_s
        return [*fills, most_s] if full else fills

    def _least_fill_s(self, kind: int, cover_l: float) -> float:
        """Shortest fill after which there are so many litres for sure [s]."""
        first = kind == PRERINSE or (KINDS[kind] == "wash" and self.assessor.washes_first)
        # However much a drain leaves, a round has some fresh water.
        left_l = 0.0 if first else self.assessor.inputs.machine.tank.residual_l.low
        least_l = max(cover_l - left_l, LEAST_FILL_L)
        least_s = least_l / float(self.assessor.simulator.corners.inlet_l_per_s.min())
        dosing = self.assessor.dosing
        return max(least_s, dosing.shortest_fill_s(first=first)) if KINDS[kind] == "wash" else least_s

    def _fed_hot(self, fill_s: float) -> bool:
        """Whether the inlet alone makes a prerinse too hot."""
        corners, goal = self.assessor.simulator.corners, self.assessor.inputs.goal
        limit_c = goal.prerinse.limit_c * (1.0 - self.assessor.backoff("prerinse.bath_c"))
        hot = [LumpedRound.of(corners, int(index), fill_s) for index in np.flatnonzero(corners.hot)]
        return max(float(lumped.bath_start_c(np.array(lumped.room_c))) for lumped in hot) > limit_c

    def cover_l(self, mode: Mode, *, kept_back: bool = True) -> float:
        """Least litres in the tank, before the spray lifts its share, in the worst corner.

        Where that is too much, whether enough is left once some has evaporated is what a trim finds out.
        """
        pump, element = self.assessor.inputs.machine.wash_pump, self.assessor.inputs.machine.element
        factor = self.assessor.cover_factor if kept_back else 1.0
        cover_l = pump.prime_l * factor + pump.holdup_l.high
        if element is not None and mode is Mode.WHILE_SPRAYING:
            return max(cover_l, element.cover_l * factor + pump.holdup_l.high)
        if element is not None and mode is Mode.THEN_SPRAY:
            return max(cover_l, element.cover_l * factor)
        return cover_l

    def _option(self, kind: int, mode: Mode, fill_s: float, peak_c: float) -> list[Option]:
        """One option, or two ways of cooling it before its drain; none where the machine can't do it."""
        corners, machine = self.assessor.simulator.corners, self.assessor.inputs.machine
        cold, second, nominal = (
            LumpedRound.of(corners, index, fill_s) for index in (self.cold, self.second, corners.nominal)
        )
        heat = Heat(self, kind, mode, peak_c, cold, second)
        if mode is not Mode.UNHEATED and not heat.possible():
            return []
        if KINDS[kind] == "prerinse" and self._fed_hot(fill_s):
            return []
        low_c = float(cold.start_c(np.array(self.handed_on_range_c[0])))
        cold_from_c = low_c if mode is Mode.UNHEATED else peak_c
        second_from_c = heat.second_c()
        rates_from_c = cold_from_c
        if mode is Mode.UNHEATED and not self.safe:
            rates_from_c = float(cold.start_c(np.array(max(cold.inlet_c, cold.room_c))))
        rates = self._rates(kind, cold, rates_from_c)
        held = heat.hold_c()
        targets, under_spray = self.assessor.simulator.targets, self.under_spray
        growth = 1.0 if mode is Mode.UNHEATED else self.assessor.water.hot_growth
        drain_s = self.assessor.simulator.drain_s(growth * float(corners.inlet_l_per_s.max() * fill_s))
        rest_s = self.assessor.simulator.rest_s if mode is Mode.WHILE_SPRAYING else 0.0
        fill_s = nominal.filled_l / float(corners.inlet_l_per_s[corners.nominal])
        phases = 3 + (mode is Mode.THEN_SPRAY)
        carry_over_l = self.assessor.water.carry_over_high_l
        filled_l = [LumpedRound.of(corners, i, fill_s).filled_l for i in range(len(corners.room_c))]
        option = Option(
            kind=kind,
            mode=mode,
            fill_s=fill_s,
            peak_c=peak_c,
            setpoint_c=heat.setpoint_c(),
            element_s=heat.element_s(),
            energy_on_s=heat.energy_on_s(),
            ramp_dose_s=heat.ramp_dose_s(),
            cold_end_c=heat.cold_end_c(),
            second_end_c=heat.second_end_c(),
            second_per_element=heat.second_per_element(),
            second_mix=second.bath_j_per_k / second.all_j_per_k if mode is Mode.THEN_SPRAY else 1.0,
            undissolved_s=self._undissolved_s(kind, heat),
            cold_drop=self._drops(cold, cold_from_c),
            second_drop=self._drops(second, second_from_c),
            rates=rates,
            hold_rates=np.zeros(0) if math.isnan(held) else targets.rate(np.array(held), kind) * under_spray,
            soak_rates=self._soak_rates(kind, cold, cold_from_c),
            cold_soak_drop=self._soak_drop(cold, cold_from_c),
            second_soak_drop=self._soak_drop(second, second_from_c),
            hold_share=heat.hold_share(nominal),
            cold_handed_on_c=cold.handed_on_c(),
            second_handed_on_c=second.handed_on_c(),
            drop_k=None if mode is Mode.THEN_SPRAY else self._drop_k(second),
            before_spray_c=heat.before_spray_c(),
            hottest_c=heat.hottest_c(),
            step_share=heat.step_share(),
            other_s=fill_s + rest_s + drain_s + phases * GAP_S,
            other_j=machine.inlet.valve_w * fill_s + machine.drain_pump.power_w.nominal * drain_s,
            filled_l=nominal.filled_l,
            filled_high_l=max(filled_l),
            residue_decades=math.log10(
                carry_over_l / (min(filled_l) + (0.0 if self._may_be_dry(kind) else carry_over_l))
            ),
        )
        return Cooling(self).fit(option, heat.drained_c())

    def _undissolved_s(self, kind: int, heat: Heat) -> Array:
        """Dose that a wash in the cold corner falls short of while its detergent dissolves, by target [s]."""
        simulator, cold, low_c = self.assessor.simulator, heat.cold, self.handed_on_range_c[0]
        if KINDS[kind] != "wash" or not simulator.dissolving_s:
            return np.zeros(len(simulator.targets.keys))
        at_s = np.linspace(0.05, 0.95, 10) * simulator.dissolving_s
        if heat.mode is Mode.WHILE_SPRAYING:
            ware_c = np.array([min(cold.heated_c(low_c, s, alone=False), heat.peak_c) for s in at_s])
        else:
            from_c = float(cold.start_c(np.array(low_c))) if heat.mode is Mode.UNHEATED else heat.peak_c
            ware_c = cold.coasting_c(from_c, at_s)
        rates = [simulator.targets.rate(ware_c, counted).mean(axis=0) for counted in (kind, UNDISSOLVED)]
        return np.asarray((rates[0] - rates[1]) * self.under_spray * simulator.dissolving_s)

    def _drop_k(self, second: LumpedRound) -> Line:
        """Ware over the bath of an unheated fill, the inlet at its coldest."""
        coldest = replace(second, inlet_c=float(self.assessor.simulator.corners.inlet_c.min()))
        return Line.over(lambda y: y - coldest.bath_start_c(y), self.handed_on_range_c, above=None)

    def _may_be_dry(self, kind: int) -> bool:
        """Whether a round may be the first one, into a machine that has dried out."""
        return self.safe and KINDS[kind] == "wash" and self.assessor.washes_first

    def _rates(self, kind: int, lumped: LumpedRound, start_c: float) -> Array:
        """Dose rates of the segments; never rising, so that the model fills the segments in order."""
        edges_s = np.concatenate([[0.0], np.cumsum(self.segments_s)])
        at_s = edges_s[:-1, None] + np.linspace(0.05, 0.95, 10) * self.segments_s[:, None]
        targets = self.assessor.simulator.targets
        rates = targets.rate(lumped.coasting_c(start_c, at_s), kind).mean(axis=1) * self.under_spray
        if self.safe:
            return np.asarray(np.minimum.accumulate(rates, axis=0))
        from scipy.optimize import isotonic_regression

        # Where the pump warms the water the rate rises. The falling fit spreads it evenly over the segments,
        # so that no length of spray counts for less than it gives.
        weights = self.segments_s
        falling = [isotonic_regression(rate, weights=weights, increasing=False).x for rate in rates.T]
        return np.stack(falling, axis=-1)

    def _soak_rates(self, kind: int, lumped: LumpedRound, start_c: float) -> Array:
        """Dose rates of a soak of the longest time, which follows a spray; empty where the round has none."""
        if not self.assessor.soaking.pays(kind):
            return np.zeros(0)
        targets = self.assessor.simulator.targets
        from_c = float(lumped.coasting_c(start_c, np.array(BEFORE_SOAK_S * self.safe)))
        at_s = np.linspace(0.05, 0.95, 10) * self.assessor.soaking.longest_s
        rates = targets.rate(lumped.soaking_c(from_c, at_s), kind).mean(axis=0)
        return np.asarray(rates * targets.soak_share)

    def _soak_drop(self, lumped: LumpedRound, start_c: float) -> float:
        """Fall of the temperature in a soak of the longest time [K/s]."""
        longest_s = max(self.assessor.soaking.longest_s, 1.0)
        return float(start_c - lumped.soaking_c(start_c, np.array(longest_s))) / longest_s

    def _drops(self, lumped: LumpedRound, start_c: float) -> Array:
        edges_c = lumped.coasting_c(start_c, np.concatenate([[0.0], np.cumsum(self.segments_s)]))
        return -np.diff(edges_c) / self.segments_s
