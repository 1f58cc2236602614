"""Heated options: how long a round is heated, how hot it gets, what dose it gathers.

All are straight lines of the temperature handed on (`round_options.Line`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.dose import Ramp, ramp_dose_s
from optimizer.physics.two_nodes import TwoNodes, after, course_of
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.round_options import Line, TableBasis
from optimizer.planner.structure import Mode, over_reading_k

LOOKS = 1001
"""Moments of the longest duration at which a bath is looked at [1]: 14 s apart in four hours."""


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
        One that a thermostat stops rises for as long as the second corner takes, slower and slower.
        """
        if not self._alone:
            return 1.0
        at_c, on_s = self._middle()
        if self.basis.thermostat:
            return self._share_at(at_c, self.before_spray_c().base)
        slow_s = self.basis.assessor.inputs.machine.ware.response_still_s.high
        lags = max(on_s, 1.0) / slow_s
        return -math.expm1(-lags) / lags

    def _share_at(self, handed_on_c: float, bath_c: float) -> float:
        """The same share as the bath of the second corner comes to a temperature [1]."""
        lumped, assessor = self.second, self.basis.assessor
        # Heat goes over by the ware's own mass; its film is only warmed with it.
        ware_j_per_k = float(assessor.simulator.corners.ware_j_per_k[self.basis.second])
        nodes = TwoNodes(
            bath_j_per_k=lumped.bath_j_per_k,
            ware_j_per_k=lumped.ware_j_per_k,
            exchange_w_per_k=ware_j_per_k / assessor.inputs.machine.ware.response_still_s.high,
            loss_w_per_k=lumped.loss_still_w_per_k,
            power_w=lumped.element_w,
            room_c=lumped.room_c,
        )
        course = course_of(nodes, float(lumped.bath_start_c(np.array(handed_on_c))), handed_on_c)
        looks_s = np.linspace(0.0, float(self.basis.segments_s.sum()), LOOKS)
        baths_c, ware_c = map(np.asarray, after(course, looks_s))
        # A bath that never gets so hot has gone as far as it goes.
        reached = min(int(np.searchsorted(baths_c, bath_c)), LOOKS - 1)
        ahead_k = max(float(baths_c[reached] - ware_c[reached]), 0.0)
        return min(ahead_k / max(float(baths_c[reached]) - handed_on_c, 1e-3), 1.0)

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

    def hottest_c(self) -> Line:
        """Hottest bath that a thermostat lets heating alone come to, of the cold temperature handed on [°C].

        It is the hotter the more heat the ware is to take from it; 0 °C where the tank is not in question.
        """
        element = self.basis.assessor.inputs.machine.element
        if element is None or not (self._alone and self.basis.thermostat):
            return Line(0.0)
        over_k = self._sensor_k + over_reading_k(element, [self.mode])
        return Line.over(
            lambda x: self.cold.bath_peak_c(x, self.peak_c) + over_k, self._range_c(), above=None
        )

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
