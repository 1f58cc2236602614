"""Tabulate: list every round the planner may choose from, corner by corner, before the model is built.

Two temperatures are carried from round to round: the cold corner's, which the doses count with, and a
second one: the hot corner's for a timed element (the tank must stand it), the nominal one for a thermostat
(its energy depends on it).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.dose import Ramp, ramp_dose_s
from optimizer.physics.thermal import heating_time_s
from optimizer.physics.water import density_kg_per_l, latent_heat_kj_per_kg
from optimizer.planner.lump import Lump
from optimizer.planner.options import Line, Option, Table
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import BOILING_C, DRAIN_EXTRA_S, HOTTEST_BATH_C, STEAM_SPARE, Mode
from optimizer.programme.table import GAP_S, KINDS
from optimizer.units import J_PER_KJ, S_PER_MIN

Array = NDArray[np.float64]

SEGMENTS_S = (180.0, 300.0, 600.0, 1200.0, 2400.0)
"""Lengths of the pieces a spray is made of; one more fills the rest of the longest duration [s]."""

PEAK_STEP_K = 5.0
"""Step of the peak temperatures [K]."""

FILL_STEPS = {"prerinse": (1.0,), "wash": (1.0, 1.35), "rinse": (1.0, 1.3, 1.7, 2.2, 2.9)}
"""Levels to choose from, as multiples of the least fill that covers pump and element [1]."""

HEATED_STEPS = (1.0, 1.35)
"""The same for heated rounds, where more water is more to heat [1]."""

POOL_STEPS, POOL_GROWTH = (1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.4), 1.045
"""Pools to choose from, as multiples of what must be left of them, and their growth at the boil [1]."""

HOT_GROWTH = 1.03
"""Room a heated bath takes over a cold one: 2.9 % from 4 to 80 °C (IAPWS-IF97) [1]."""


@dataclass(frozen=True)
class Tabulator:
    """Lists options.

    Attributes
    ----------
    assessor : Assessor
        Machine, goal and circuit with their corners.
    safe : bool
        Lines on the safe side; False: half-way, to find structures the safe lines miss by a hair.
    """

    assessor: Assessor
    safe: bool = True

    def table(self) -> Table:
        """List all options.

        Returns
        -------
        Table
            The options by kind of round.
        """
        cases = self.assessor.simulator.cases
        blocked = tuple(mode for mode in self._modes() if not self.assessor.heats(mode))
        options = tuple(tuple(self._kind_options(kind, blocked)) for kind in range(len(KINDS)))
        start_c = (float(cases.room_c[self._cold]), float(cases.room_c[self._second]))
        return Table(options, self._segments_s, self._thermostat, start_c, self._carry_c, blocked)

    @property
    def _thermostat(self) -> bool:
        element = self.assessor.inputs.machine.element
        return element is not None and element.control == "thermostat"

    @property
    def _cold(self) -> int:
        """Cold corner with the weakest heat and the most to heat."""
        cases = self.assessor.simulator.cases
        weak = np.flatnonzero(cases.cold & (cases.element_w == cases.element_w.min()))
        return int(weak[-1])

    @property
    def _second(self) -> int:
        cases = self.assessor.simulator.cases
        return cases.nominal if self._thermostat else int(np.flatnonzero(cases.hot)[0])

    @property
    def _segments_s(self) -> Array:
        longest_s = self.assessor.inputs.goal.limits.duration_min * S_PER_MIN
        return np.array([*SEGMENTS_S, max(longest_s - sum(SEGMENTS_S), 60.0)])

    @property
    def _carry_c(self) -> tuple[float, float]:
        cases = self.assessor.simulator.cases
        low_c = min(float(cases.inlet_c.min()), float(cases.room_c.min()))
        return low_c, self.assessor.inputs.machine.tank.limit_c

    def _modes(self) -> list[Mode]:
        heated = (
            [] if self.assessor.inputs.machine.element is None else [Mode.WHILE_SPRAYING, Mode.THEN_SPRAY]
        )
        return [Mode.UNHEATED, *heated]

    def _kind_options(self, kind: int, blocked: tuple[Mode, ...]) -> list[Option]:
        if KINDS[kind] == "steam":
            return self._steam_options(kind)
        options: list[Option] = []
        for mode in self._modes():
            if mode in blocked or (mode is not Mode.UNHEATED and not self._worth_heating(kind)):
                continue
            peaks = [math.nan] if mode is Mode.UNHEATED else self._peaks(kind)
            for fill_s in self._fills(kind, mode):
                found = [self._option(kind, mode, fill_s, peak_c) for peak_c in peaks]
                options += [option for option in found if option is not None]
        return options

    def _worth_heating(self, kind: int) -> bool:
        """Heat where a dose counts, or where the last rinse must dry the ware."""
        dries = KINDS[kind] == "rinse" and self.assessor.inputs.goal.drying.method == "hot_rinse"
        return dries or self.assessor.simulator.needs.counts(kind)

    def _peaks(self, kind: int) -> list[float]:
        machine, goal = self.assessor.inputs.machine, self.assessor.inputs.goal
        spread_k = 2.0 * machine.element.sensor_error_k if machine.element else 0.0
        limit_c = min(machine.tank.limit_c, HOTTEST_BATH_C)
        top_c = limit_c * (1.0 - self.assessor.spare("tank.bath_c")) - spread_k
        if KINDS[kind] == "prerinse":
            limit_c = goal.prerinse.limit_c * (1.0 - self.assessor.spare("prerinse.bath_c"))
            top_c = min(top_c, limit_c - spread_k)
        inlet_c = float(self.assessor.simulator.cases.inlet_c.max())
        low_c = PEAK_STEP_K * math.ceil(max(25.0, inlet_c + 1.0) / PEAK_STEP_K)
        peaks = [float(peak) for peak in np.arange(low_c, top_c - 1.0, PEAK_STEP_K)]
        return [*peaks, top_c] if self._thermostat and top_c > low_c else peaks

    def _fills(self, kind: int, mode: Mode) -> list[float]:
        """Inlet times to choose from: the least that covers, and some above it up to the lip [s]."""
        machine, cases = self.assessor.inputs.machine, self.assessor.simulator.cases
        cover_l = self._cover_l(mode)
        if machine.inlet.level_l is not None:
            fits = machine.inlet.level_l.low >= cover_l
            lump = Lump.of(cases, cases.nominal, 0.0)
            return [lump.filled_l / float(cases.inlet_l_per_s[cases.nominal])] if fits else []
        first = kind == 0 or (kind == 1 and self.assessor.inputs.goal.prerinse.rounds_min == 0)
        least_l = cover_l - (0.0 if first else machine.tank.residual_l.low)
        least_s = least_l / float(cases.inlet_l_per_s.min())
        growth = 1.0 if mode is Mode.UNHEATED else HOT_GROWTH
        most_l = machine.tank.capacity_l * (1.0 - self.assessor.spare("overflow.level_l")) / growth
        most_s = (most_l - self.assessor.left_high_l) / float(cases.inlet_l_per_s.max())
        steps = FILL_STEPS[KINDS[kind]] if mode is Mode.UNHEATED else HEATED_STEPS
        fills = [least_s * step for step in steps if least_s * step < most_s]
        full = KINDS[kind] == "rinse" and mode is Mode.UNHEATED and most_s > least_s
        return [*fills, most_s] if full else fills

    def _cover_l(self, mode: Mode) -> float:
        """Least litres of a round in the worst corner, the planner's spare and some evaporation in."""
        pump, element = self.assessor.inputs.machine.wash_pump, self.assessor.inputs.machine.element
        spare = 1.01 + self.assessor.spare("cover.element_l")
        cover_l = pump.prime_l * spare + pump.holdup_l.high
        if element is not None and mode is Mode.WHILE_SPRAYING:
            return max(cover_l, element.cover_l * spare + pump.holdup_l.high)
        if element is not None and mode is Mode.THEN_SPRAY:
            return max(cover_l, element.cover_l * spare)
        return cover_l

    def _option(self, kind: int, mode: Mode, fill_s: float, peak_c: float) -> Option | None:
        """One option; None where the machine can't do it."""
        cases, machine = self.assessor.simulator.cases, self.assessor.inputs.machine
        cold, second, nominal = (
            Lump.of(cases, index, fill_s) for index in (self._cold, self._second, cases.nominal)
        )
        heat = _Heat(self, kind, mode, peak_c, cold, second)
        if mode is not Mode.UNHEATED and not heat.possible():
            return None
        low_c = float(cold.start_c(np.array(self._carry_c[0])))
        cold_from_c = low_c if mode is Mode.UNHEATED else peak_c
        second_from_c = heat.second_c()
        rates = self._rates(kind, cold, cold_from_c)
        held = heat.hold_c()
        needs = self.assessor.simulator.needs
        drain_s = float(cases.inlet_l_per_s.max() * fill_s / cases.drain_l_per_s.min()) + DRAIN_EXTRA_S
        rest_s = self.assessor.simulator.rest_s if mode is Mode.WHILE_SPRAYING else 0.0
        fill_s = nominal.filled_l / float(cases.inlet_l_per_s[cases.nominal])
        phases = 3 + (mode is Mode.THEN_SPRAY)
        left_l = self.assessor.left_high_l
        filled_low_l = min(Lump.of(cases, i, fill_s).filled_l for i in range(len(cases.room_c)))
        return Option(
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
            cold_drop=self._drops(cold, cold_from_c),
            second_drop=self._drops(second, second_from_c),
            rates=rates,
            hold_rates=needs.rate(np.array(held), kind) if not math.isnan(held) else np.zeros(0),
            hold_share=heat.hold_share(nominal),
            cold_keep_c=cold.keep_c(),
            second_keep_c=second.keep_c(),
            other_s=fill_s + rest_s + drain_s + phases * GAP_S,
            other_j=machine.inlet.valve_w * fill_s + machine.drain_pump.power_w.nominal * drain_s,
            filled_l=nominal.filled_l,
            residue_decades=math.log10(left_l / (left_l + filled_low_l)),
        )

    def _steam_options(self, kind: int) -> list[Option]:
        """Pools that last: as shallow as may be, and deeper."""
        machine = self.assessor.inputs.machine
        element = machine.element
        if element is None or self.assessor.inputs.goal.drying.method != "steam":
            return []
        if not self.assessor.heats(Mode.STEAM):
            return []
        cases = self.assessor.simulator.cases
        slowest, fastest = float(cases.inlet_l_per_s.min()), float(cases.inlet_l_per_s.max())
        bare_l = element.cover_l * (1.01 + self.assessor.spare("cover.element_l")) + element.splash_l
        most_s = (machine.tank.capacity_l / POOL_GROWTH - self.assessor.left_high_l) / fastest
        fills = [(bare_l * step - machine.tank.residual_l.low) / slowest for step in POOL_STEPS]
        if machine.inlet.level_l is not None:
            fills = [0.0]
        found = [self._steam_option(kind, fill_s, bare_l) for fill_s in fills if fill_s <= most_s]
        return [option for option in found if option is not None]

    def _steam_option(self, kind: int, fill_s: float, bare_l: float) -> Option | None:
        """One pool; None where it would boil down to the element before the ware is hot enough."""
        machine, cases, needs = (
            self.assessor.inputs.machine,
            self.assessor.simulator.cases,
            self.assessor.simulator.needs,
        )
        cold, hot, nominal = (
            Lump.of(cases, index, fill_s)
            for index in (self._cold, int(np.flatnonzero(cases.hot)[0]), cases.nominal)
        )
        boils = _Boil(cold, self.assessor.dry_c(), machine.ware.steam_share)
        longest_s = float(boils.element_s(np.array(self._carry_c[0])))
        boil_s = longest_s - float(_Boil(hot, 0.0, 1.0).heating_s(np.array(max(hot.inlet_c, hot.room_c))))
        pool_l = (
            min(Lump.of(cases, i, fill_s).filled_l for i in range(len(cases.room_c)))
            + machine.tank.residual_l.low
        )
        litres_per_s = hot.element_w / (
            J_PER_KJ * latent_heat_kj_per_kg(BOILING_C) * density_kg_per_l(BOILING_C)
        )
        if not math.isfinite(longest_s) or pool_l - STEAM_SPARE * boil_s * litres_per_s < bare_l:
            return None
        carry_c = (self._carry_c[0], min(self._carry_c[1], boils.ware_c))
        line = Line.over(boils.element_s, carry_c, above=True if self.safe else None)
        drain_s = float(cases.inlet_l_per_s.max()) * fill_s / float(cases.drain_l_per_s.min()) + DRAIN_EXTRA_S
        fill_s = nominal.filled_l / float(cases.inlet_l_per_s[cases.nominal])
        zeros, rest_s = np.zeros(len(self._segments_s)), self.assessor.simulator.rest_s
        return Option(
            kind=kind,
            mode=Mode.STEAM,
            fill_s=fill_s,
            peak_c=BOILING_C,
            setpoint_c=math.inf,
            element_s=line,
            energy_on_s=line,
            ramp_dose_s=tuple(Line(0.0) for _ in needs.keys),
            cold_end_c=Line(0.0),
            second_end_c=Line(0.0),
            second_per_element=0.0,
            second_mix=1.0,
            cold_drop=zeros,
            second_drop=zeros,
            rates=np.zeros((len(zeros), len(needs.keys))),
            hold_rates=np.zeros(0),
            hold_share=0.0,
            cold_keep_c=Line(0.0),
            second_keep_c=Line(0.0),
            other_s=fill_s + rest_s + drain_s + 4 * GAP_S,
            other_j=machine.inlet.valve_w * fill_s + machine.drain_pump.power_w.nominal * drain_s,
            filled_l=nominal.filled_l,
            residue_decades=0.0,
        )

    def _rates(self, kind: int, lump: Lump, start_c: float) -> Array:
        """Dose rates of the segments; never rising, so that the model fills the segments in order."""
        edges_s = np.concatenate([[0.0], np.cumsum(self._segments_s)])
        at_s = edges_s[:-1, None] + np.linspace(0.05, 0.95, 10) * self._segments_s[:, None]
        rates = self.assessor.simulator.needs.rate(lump.coasting_c(start_c, at_s), kind).mean(axis=1)
        return np.asarray(np.minimum.accumulate(rates, axis=0))

    def _drops(self, lump: Lump, start_c: float) -> Array:
        edges_c = lump.coasting_c(start_c, np.concatenate([[0.0], np.cumsum(self._segments_s)]))
        return -np.diff(edges_c) / self._segments_s


@dataclass(frozen=True)
class _Boil:
    """A pool that is brought to the boil and steams the ware."""

    lump: Lump
    ware_c: float
    share: float

    def heating_s(self, carry_c: Array) -> Array:
        """Time to the boil [s]."""
        lump = self.lump
        start_c, loss = lump.bath_start_c(carry_c), lump.loss_still_w_per_k
        return heating_time_s(start_c, BOILING_C, lump.bath_j_per_k, lump.element_w, loss, lump.room_c)

    def element_s(self, carry_c: Array) -> Array:
        """Time until the steam has brought the ware to its temperature [s]."""
        lump = self.lump
        net_w = lump.element_w - lump.loss_still_w_per_k * (BOILING_C - lump.room_c)
        heat_j = lump.ware_j_per_k * np.maximum(self.ware_c - carry_c, 0.0)
        boil_s = heat_j / (self.share * net_w) if net_w > 0.0 else np.full_like(carry_c, np.inf)
        return np.asarray(self.heating_s(carry_c) + boil_s)


@dataclass(frozen=True)
class _Heat:
    """The heated part of one option."""

    tab: Tabulator
    kind: int
    mode: Mode
    peak_c: float
    cold: Lump
    second: Lump

    @property
    def _above(self) -> bool | None:
        return True if self.tab.safe else None

    @property
    def _alone(self) -> bool:
        return self.mode is Mode.THEN_SPRAY

    @property
    def _sensor_k(self) -> float:
        element = self.tab.assessor.inputs.machine.element
        return element.sensor_error_k if element is not None and self.tab._thermostat else 0.0

    def _time_s(self, lump: Lump, carry_c: Array, peak_c: float) -> Array:
        return lump.alone_s(carry_c, peak_c) if self._alone else lump.while_spraying_s(carry_c, peak_c)

    def _carry_c(self) -> tuple[float, float]:
        return self.tab._carry_c[0], min(self.tab._carry_c[1], self.peak_c)

    def possible(self) -> bool:
        """Whether the peak is reached at all, and the bath stays under the limit for a cold ware."""
        at_c = np.array(self._carry_c())
        in_time_s = float(self.tab._segments_s.sum())
        return bool((self._time_s(self.cold, at_c, self.peak_c) < in_time_s).all())

    def element_s(self) -> Line:
        if self.mode is Mode.UNHEATED:
            return Line(0.0)
        return Line.over(
            lambda x: self._time_s(self.cold, x, self.peak_c), self._carry_c(), above=self._above
        )

    def energy_on_s(self) -> Line:
        if self.mode is Mode.UNHEATED or not self.tab._thermostat:
            return self.element_s()
        target_c = self.peak_c + self._sensor_k
        return Line.over(lambda y: self._time_s(self.second, y, target_c), self._carry_c(), above=None)

    def ramp_dose_s(self) -> tuple[Line, ...]:
        needs = self.tab.assessor.simulator.needs
        if self.mode is not Mode.WHILE_SPRAYING:
            return tuple(Line(0.0) for _ in needs.keys)
        lump = self.cold
        ramp = Ramp(
            lump.all_j_per_k, lump.element_w + lump.pump_heat_w, lump.loss_spraying_w_per_k, lump.room_c
        )
        below = False if self.tab.safe else None

        def line(need: int) -> Line:
            share, spec = float(needs.share[self.kind, need]), needs.spec(need, self.kind)
            if share == 0.0:
                return Line(0.0)
            return Line.over(
                lambda x: share * ramp_dose_s(lump.start_c(x), self.peak_c, ramp, spec),
                self._carry_c(),
                above=below,
            )

        return tuple(line(need) for need in range(len(needs.keys)))

    def cold_end_c(self) -> Line:
        if self.mode is not Mode.UNHEATED:
            return Line(self.peak_c)
        return Line.over(self.cold.start_c, self.tab._carry_c, above=None)

    def second_end_c(self) -> Line:
        if self.mode is Mode.UNHEATED:
            return Line.over(self.second.start_c, self.tab._carry_c, above=None)
        if self.tab._thermostat:
            return Line(self.peak_c + self._sensor_k)
        carry_c, on_s = self._middle()
        slope = (self._second_after(carry_c + 1.0, on_s) - self._second_after(carry_c - 1.0, on_s)) / 2.0
        base = self._second_after(carry_c, on_s) - slope * carry_c - self.second_per_element() * on_s
        return Line(base, slope)

    def second_per_element(self) -> float:
        if self.mode is Mode.UNHEATED or self.tab._thermostat:
            return 0.0
        carry_c, on_s = self._middle()
        return (self._second_after(carry_c, on_s * 1.02) - self._second_after(carry_c, on_s * 0.98)) / (
            0.04 * on_s
        )

    def _middle(self) -> tuple[float, float]:
        """A carry and an element time in the middle of what this option meets."""
        carry_c = 0.5 * (self.second.inlet_c + self.second.room_c)
        return carry_c, float(self._time_s(self.cold, np.array(self.cold.room_c), self.peak_c))

    def _second_after(self, carry_c: float, on_s: float) -> float:
        """Hot corner: the bath at its hottest, which the tank must stand."""
        return self.second.heated_c(carry_c, on_s, alone=self._alone)[0]

    def second_c(self) -> float:
        if self.mode is Mode.UNHEATED:
            return float(self.second.start_c(np.array(self.second.room_c)))
        return self.peak_c + self._sensor_k

    def setpoint_c(self) -> float:
        if self.mode is Mode.UNHEATED or not self.tab._thermostat:
            return math.inf
        target_c = self.peak_c
        if self._alone:
            target_c = float(self.cold.bath_peak_c(np.array(self.cold.inlet_c), self.peak_c))
        return target_c + self._sensor_k

    def hold_c(self) -> float:
        """Bath while a thermostat holds it; nan where nothing holds."""
        if self.mode is not Mode.WHILE_SPRAYING or not self.tab._thermostat:
            return math.nan
        return self.peak_c - 0.5 * self.tab.assessor.simulator.cases.hysteresis_k

    def hold_share(self, nominal: Lump) -> float:
        held_c = self.hold_c()
        if math.isnan(held_c):
            return 0.0
        loss_w = nominal.loss_spraying_w_per_k * (held_c + self._sensor_k - nominal.room_c)
        return float(np.clip((loss_w - nominal.pump_heat_w) / nominal.element_w, 0.0, 1.0))
