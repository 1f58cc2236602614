"""Heated options: how long a round is heated, how hot it gets, what dose it gathers; pools of steam rounds.

All are straight lines of the temperature handed on (`round_options.Line`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.dose import Ramp, ramp_dose_s
from optimizer.physics.thermal import heating_time_s
from optimizer.physics.water import steam_j_per_l
from optimizer.planner.cooling import Cooling
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.round_options import Line, Option, TableBasis
from optimizer.planner.simulated_heat import BOIL_SAFETY_FACTOR
from optimizer.planner.structure import Mode
from optimizer.planner.water_margins import POOL_GROWTH
from optimizer.programme.constants import GAP_S

POOL_STEPS = (1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.4)
"""Pools of a steam round to choose from, as multiples of what must be left of them [1]."""


@dataclass(frozen=True)
class Heat:
    """The heated part of one sprayed option; ``cold`` and ``second`` are the corners of its two temperatures.

    ``peak_c`` is the ware's in the cold corner when the heating ends; nan where unheated.
    """

    basis: TableBasis
    kind: int
    mode: Mode
    peak_c: float
    cold: LumpedRound
    second: LumpedRound

    @property
    def _alone(self) -> bool:
        return self.mode is Mode.THEN_SPRAY

    @property
    def _sensor_k(self) -> float:
        """Cold corner: what the sensor reads above the bath where it stops the element [K]."""
        corners = self.basis.assessor.simulator.corners
        layered_k = float(corners.sensor_over_mean_k[self.basis.cold]) if self._alone else 0.0
        return layered_k - float(corners.sensor_k[self.basis.cold]) if self.basis.thermostat else 0.0

    @property
    def _later_k(self) -> float:
        """Second corner: bath where the thermostat stops the element, less that in the cold corner [K]."""
        corners, second = self.basis.assessor.simulator.corners, self.basis.second
        if not self.basis.thermostat:
            return 0.0
        layered_k = float(corners.sensor_over_mean_k[second]) if self._alone else 0.0
        return self._sensor_k + float(corners.sensor_k[second]) - layered_k

    def _time_s(self, lumped: LumpedRound, handed_on_c: Array, peak_c: float) -> Array:
        return (
            lumped.alone_s(handed_on_c, peak_c)
            if self._alone
            else lumped.while_spraying_s(handed_on_c, peak_c)
        )

    def _range_c(self) -> tuple[float, float]:
        return self.basis.handed_on_range_c[0], min(self.basis.handed_on_range_c[1], self.peak_c)

    def possible(self) -> bool:
        """Whether the peak is reached within the longest duration."""
        at_c = np.array(self._range_c())
        in_time_s = float(self.basis.segments_s.sum())
        return bool((self._time_s(self.cold, at_c, self.peak_c) < in_time_s).all())

    def element_s(self) -> Line:
        """Element time in the cold corner, of the cold temperature handed on [s]."""
        if self.mode is Mode.UNHEATED:
            return Line(0.0)
        return Line.over(
            lambda x: self._time_s(self.cold, x, self.peak_c), self._range_c(), above=self.basis.safe
        )

    def energy_on_s(self) -> Line:
        """Element time, nominal: of the cold temperature for a timed element, else of the second [s]."""
        if self.mode is Mode.UNHEATED or not self.basis.thermostat:
            return self.element_s()
        target_c = self.peak_c + self._later_k
        return Line.over(lambda y: self._time_s(self.second, y, target_c), self._range_c(), above=None)

    def ramp_dose_s(self) -> tuple[Line, ...]:
        """Dose gathered while heating, of the cold temperature handed on; one line a target."""
        targets = self.basis.assessor.simulator.targets
        if self.mode is not Mode.WHILE_SPRAYING:
            return tuple(Line(0.0) for _ in targets.keys)
        cold = self.cold
        power_w = cold.element_w + cold.pump_heat_w
        ramp = Ramp(cold.all_j_per_k, power_w, cold.loss_spraying_w_per_k, cold.room_c)

        def line(target: int) -> Line:
            share = float(targets.share[self.kind, target] * self.basis.under_spray[target])
            spec = targets.spec(target, self.kind)
            if share == 0.0:
                return Line(0.0)
            return Line.over(
                lambda x: share * ramp_dose_s(cold.start_c(x), self.peak_c, ramp, spec),
                self._range_c(),
                above=not self.basis.safe,
            )

        return tuple(line(target) for target in range(len(targets.keys)))

    def cold_end_c(self) -> Line:
        """Cold corner: temperature when the heating ends [°C]."""
        if self.mode is not Mode.UNHEATED:
            return Line(self.peak_c)
        return Line.over(self.cold.start_c, self.basis.handed_on_range_c, above=None)

    def second_end_c(self) -> Line:
        """Second corner: temperature when the heating ends, without what the element time adds [°C]."""
        if self.mode is Mode.UNHEATED:
            return Line.over(self.second.start_c, self.basis.handed_on_range_c, above=None)
        if self.basis.thermostat:
            return Line(self.peak_c + self._later_k)
        at_c, on_s = self._middle()
        slope = (self._second_after(at_c + 1.0, on_s) - self._second_after(at_c - 1.0, on_s)) / 2.0
        base = self._second_after(at_c, on_s) - slope * at_c - self.second_per_element() * on_s
        return Line(base, slope)

    def before_spray_c(self) -> Line:
        """Second corner: bath heated alone, as the spray begins, without what the element time adds [°C]."""
        if not self._alone:
            return Line(0.0)
        corners, second = self.basis.assessor.simulator.corners, self.basis.second
        if self.basis.thermostat:
            return Line(self.setpoint_c() - self._sensor_k + self._later_k)
        line = self.second_end_c()
        # The tank must stand the top; what is sprayed is the mean.
        return Line(line.base - float(corners.top_over_mean_k[second]), line.slope)

    def step_share(self) -> float:
        """Share of the difference between ware and a bath heated alone that is left after the heating [1].

        Of a bath that rises evenly for a time t the ware makes up all but ``(1 - exp(-t / tau)) tau / t``.
        """
        if not self._alone:
            return 1.0
        slow_s = self.basis.assessor.inputs.machine.ware.response_still_s.high
        _, on_s = self._middle()
        lags = max(on_s, 1.0) / slow_s
        return -math.expm1(-lags) / lags

    def second_per_element(self) -> float:
        """Rise of the second temperature with the time of a timed element [K/s]."""
        if self.mode is Mode.UNHEATED or self.basis.thermostat:
            return 0.0
        at_c, on_s = self._middle()
        longer_c, shorter_c = self._second_after(at_c, on_s * 1.02), self._second_after(at_c, on_s * 0.98)
        return (longer_c - shorter_c) / (0.04 * on_s)

    def _middle(self) -> tuple[float, float]:
        """A temperature handed on [°C] and an element time [s] in the middle of what this option meets."""
        handed_on_c = 0.5 * (self.second.inlet_c + self.second.room_c)
        return handed_on_c, float(self._time_s(self.cold, np.array(self.cold.room_c), self.peak_c))

    def _second_after(self, handed_on_c: float, on_s: float) -> float:
        """Second corner: the bath at its hottest, which the tank must stand [°C]."""
        corners = self.basis.assessor.simulator.corners
        top_k = float(corners.top_over_mean_k[self.basis.second]) if self._alone else 0.0
        return self.second.heated_c(handed_on_c, on_s, alone=self._alone) + top_k

    def second_c(self) -> float:
        """Second corner: about the temperature that the spray cools from [°C]."""
        if self.mode is Mode.UNHEATED:
            return float(self.second.start_c(np.array(self.second.room_c)))
        return self.peak_c + self._later_k

    def drained_c(self) -> float:
        """About the hottest bath, mixed with the ware, that a drain may have to take [°C]."""
        assessor, element = self.basis.assessor, self.basis.assessor.inputs.machine.element
        if self.mode is Mode.UNHEATED or element is None:
            return -math.inf
        if self.basis.thermostat:
            # The sensor may be off either way, and sit in water hotter than the mean by more or less.
            layers = element.sensor_over_mean_k
            off_k = 2.0 * element.sensor_error_k + self._alone * (layers.high - layers.low)
            return min(self.peak_c + off_k, assessor.bath_limit_c)
        at_c, on_s = self._middle()
        bath_c = self.second.heated_c(at_c, on_s, alone=self._alone)
        share = self.second.bath_j_per_k / self.second.all_j_per_k if self._alone else 1.0
        return max(share * bath_c + (1.0 - share) * at_c, self.peak_c)

    def setpoint_c(self) -> float:
        """Thermostat reading to stop at; inf where timed [°C]."""
        if self.mode is Mode.UNHEATED or not self.basis.thermostat:
            return math.inf
        target_c = self.peak_c
        if self._alone:
            target_c = float(self.cold.bath_peak_c(np.array(self.cold.inlet_c), self.peak_c))
        return target_c + self._sensor_k

    def hold_c(self) -> float:
        """Cold corner: bath while a thermostat holds it; nan where nothing holds [°C]."""
        if self.mode is not Mode.WHILE_SPRAYING or not self.basis.thermostat:
            return math.nan
        return self.peak_c - 0.5 * float(self.basis.assessor.simulator.corners.hysteresis_k)

    def hold_share(self, nominal: LumpedRound) -> float:
        """Share of the time the element is on while it holds, nominal: the losses over its power [1]."""
        held_c = self.hold_c()
        if math.isnan(held_c):
            return 0.0
        loss_w = nominal.loss_spraying_w_per_k * (held_c + self._later_k - nominal.room_c)
        return float(np.clip((loss_w - nominal.pump_heat_w) / nominal.element_w, 0.0, 1.0))


@dataclass(frozen=True)
class Boil:
    """A pool that is brought to the boil and steams the ware to a temperature.

    ``share`` is the share of the steam that condenses on the ware, above 0; ``boils_c`` the boiling point.
    """

    lumped: LumpedRound
    ware_c: float
    share: float
    boils_c: float

    def heating_s(self, handed_on_c: Array) -> Array:
        """Time to the boil [s]."""
        lumped = self.lumped
        start_c, loss = lumped.bath_start_c(handed_on_c), lumped.loss_still_w_per_k
        return heating_time_s(
            start_c, self.boils_c, lumped.bath_j_per_k, lumped.element_w, loss, lumped.room_c
        )

    def element_s(self, handed_on_c: Array) -> Array:
        """Time until the ware has its temperature; inf where the element does not keep a pool boiling [s].

        ``t = t_boil + C_ware (T_ware − T_handed_on) / (share · (P − UA (T_boil − T_room)))``.
        """
        lumped = self.lumped
        net_w = lumped.element_w - lumped.loss_still_w_per_k * (self.boils_c - lumped.room_c)
        heat_j = lumped.ware_j_per_k * np.maximum(self.ware_c - handed_on_c, 0.0)
        boil_s = heat_j / (self.share * net_w) if net_w > 0.0 else np.full_like(handed_on_c, np.inf)
        return np.asarray(self.heating_s(handed_on_c) + boil_s)


def steam_options(basis: TableBasis, kind: int) -> list[Option]:
    """Pools from shallow to deep; none where steam is not asked for, or not possible."""
    assessor, machine = basis.assessor, basis.assessor.inputs.machine
    element = machine.element
    steams = assessor.inputs.goal.drying.method == "steam" and assessor.heats(Mode.STEAM)
    if element is None or not steams:
        return []
    flows = assessor.simulator.corners.inlet_l_per_s
    least_left_l = element.cover_l * assessor.cover_factor + element.splash_l
    most_s = (machine.tank.capacity_l / POOL_GROWTH - assessor.water.carry_over_high_l) / float(flows.max())
    fills = [(least_left_l * step - machine.tank.residual_l.low) / float(flows.min()) for step in POOL_STEPS]
    if machine.inlet.level_l is not None:
        fills = [0.0]
    found = [_pool(basis, kind, fill_s, least_left_l) for fill_s in fills if fill_s <= most_s]
    cooling = Cooling(basis)
    boils_c = assessor.simulator.boils_c
    return [fit for option in found if option is not None for fit in cooling.fit(option, boils_c)]


def _pool(basis: TableBasis, kind: int, fill_s: float, least_left_l: float) -> Option | None:
    """One pool; None where it would boil down to the element before the ware is hot enough."""
    assessor, machine = basis.assessor, basis.assessor.inputs.machine
    corners, targets = assessor.simulator.corners, assessor.simulator.targets
    lumped_rounds = [LumpedRound.of(corners, index, fill_s) for index in range(len(corners.room_c))]
    hot, nominal = lumped_rounds[basis.hot], lumped_rounds[corners.nominal]
    boils_c = assessor.simulator.boils_c
    share = float(corners.steam_share[basis.cold])
    boils = Boil(lumped_rounds[basis.cold], assessor.dry_c(), share, boils_c)
    longest_s = float(boils.element_s(np.array(basis.handed_on_range_c[0])))
    # Rinses are seldom heated before a steam round: the pool starts from water and room.
    soonest_s = float(Boil(hot, 0.0, 1.0, boils_c).heating_s(np.array(max(hot.inlet_c, hot.room_c))))
    pool_l = min(lumped.filled_l for lumped in lumped_rounds) + machine.tank.residual_l.low
    boiled_l = BOIL_SAFETY_FACTOR * (longest_s - soonest_s) * hot.element_w / steam_j_per_l(boils_c)
    if not math.isfinite(longest_s) or pool_l - boiled_l < least_left_l:
        return None
    range_c = (basis.handed_on_range_c[0], min(basis.handed_on_range_c[1], boils.ware_c))
    line = Line.over(boils.element_s, range_c, above=basis.safe)
    filled_high_l = max(lumped.filled_l for lumped in lumped_rounds)
    drain_s = assessor.simulator.drain_s(filled_high_l)
    inlet_s = nominal.filled_l / float(corners.inlet_l_per_s[corners.nominal])
    none, zeros = Line(0.0), np.zeros(len(basis.segments_s))
    return Option(
        kind=kind,
        mode=Mode.STEAM,
        fill_s=inlet_s,
        peak_c=boils_c,
        setpoint_c=math.inf,
        element_s=line,
        energy_on_s=line,
        ramp_dose_s=tuple(none for _ in targets.keys),
        cold_end_c=none,
        second_end_c=none,
        second_per_element=0.0,
        second_mix=1.0,
        undissolved_s=np.zeros(len(targets.keys)),
        cold_drop=zeros,
        second_drop=zeros,
        rates=np.zeros((len(zeros), len(targets.keys))),
        hold_rates=np.zeros(0),
        soak_rates=np.zeros(0),
        cold_soak_drop=0.0,
        second_soak_drop=0.0,
        hold_share=0.0,
        cold_handed_on_c=none,
        second_handed_on_c=none,
        drop_k=None,
        before_spray_c=none,
        step_share=1.0,
        other_s=inlet_s + assessor.simulator.rest_s + drain_s + 4 * GAP_S,
        other_j=machine.inlet.valve_w * inlet_s + machine.drain_pump.power_w.nominal * drain_s,
        filled_l=nominal.filled_l,
        filled_high_l=filled_high_l,
        residue_decades=0.0,
    )
