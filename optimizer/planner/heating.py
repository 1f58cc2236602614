"""The heated part of an option: how long, how hot and what dose on the way, as lines of the carry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.dose import Ramp, ramp_dose_s
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.options import Frame, Line
from optimizer.planner.structure import Mode

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Heat:
    """The heated part of one option.

    Attributes
    ----------
    frame : Frame
        The frame of the table.
    kind : int
        Kind of round, index into `KINDS` [1].
    mode : Mode
        Heat mode.
    peak_c : float
        Ware temperature in the cold corner when the heating ends; nan where unheated [°C].
    cold, second : LumpedRound
        The corners of the two carried temperatures.
    """

    frame: Frame
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
        element = self.frame.assessor.inputs.machine.element
        return element.sensor_error_k if element is not None and self.frame.thermostat else 0.0

    def _time_s(self, lump: LumpedRound, carry_c: Array, peak_c: float) -> Array:
        return lump.alone_s(carry_c, peak_c) if self._alone else lump.while_spraying_s(carry_c, peak_c)

    def _carry_c(self) -> tuple[float, float]:
        return self.frame.carry_c[0], min(self.frame.carry_c[1], self.peak_c)

    def possible(self) -> bool:
        """Whether the peak is reached within the longest duration.

        Returns
        -------
        bool
            True where it is.
        """
        at_c = np.array(self._carry_c())
        in_time_s = float(self.frame.segments_s.sum())
        return bool((self._time_s(self.cold, at_c, self.peak_c) < in_time_s).all())

    def element_s(self) -> Line:
        """Element time in the cold corner.

        Returns
        -------
        Line
            Time [s], of the cold carry.
        """
        if self.mode is Mode.UNHEATED:
            return Line(0.0)
        return Line.over(
            lambda x: self._time_s(self.cold, x, self.peak_c), self._carry_c(), above=self.frame.above
        )

    def energy_on_s(self) -> Line:
        """Element time, nominal.

        Returns
        -------
        Line
            Time [s], of the cold carry for a timed element, of the second carry else.
        """
        if self.mode is Mode.UNHEATED or not self.frame.thermostat:
            return self.element_s()
        target_c = self.peak_c + self._sensor_k
        return Line.over(lambda y: self._time_s(self.second, y, target_c), self._carry_c(), above=None)

    def ramp_dose_s(self) -> tuple[Line, ...]:
        """Dose gathered while heating.

        Returns
        -------
        tuple of Line
            Dose of every need [s], of the cold carry.
        """
        needs = self.frame.assessor.simulator.needs
        if self.mode is not Mode.WHILE_SPRAYING:
            return tuple(Line(0.0) for _ in needs.keys)
        lump = self.cold
        ramp = Ramp(
            lump.all_j_per_k, lump.element_w + lump.pump_heat_w, lump.loss_spraying_w_per_k, lump.room_c
        )
        below = self.frame.below

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
        """Temperature when the heating ends, cold corner.

        Returns
        -------
        Line
            Temperature [°C], of the cold carry.
        """
        if self.mode is not Mode.UNHEATED:
            return Line(self.peak_c)
        return Line.over(self.cold.start_c, self.frame.carry_c, above=None)

    def second_end_c(self) -> Line:
        """Temperature when the heating ends, second corner; without what the element time adds.

        Returns
        -------
        Line
            Temperature [°C], of the second carry.
        """
        if self.mode is Mode.UNHEATED:
            return Line.over(self.second.start_c, self.frame.carry_c, above=None)
        if self.frame.thermostat:
            return Line(self.peak_c + self._sensor_k)
        carry_c, on_s = self._middle()
        slope = (self._second_after(carry_c + 1.0, on_s) - self._second_after(carry_c - 1.0, on_s)) / 2.0
        base = self._second_after(carry_c, on_s) - slope * carry_c - self.second_per_element() * on_s
        return Line(base, slope)

    def second_per_element(self) -> float:
        """Rise of the second temperature with the time of a timed element.

        Returns
        -------
        float
            Rise [K/s].
        """
        if self.mode is Mode.UNHEATED or self.frame.thermostat:
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
        """Temperature the second corner coasts from, about.

        Returns
        -------
        float
            Temperature [°C].
        """
        if self.mode is Mode.UNHEATED:
            return float(self.second.start_c(np.array(self.second.room_c)))
        return self.peak_c + self._sensor_k

    def setpoint_c(self) -> float:
        """Thermostat reading to stop at.

        Returns
        -------
        float
            Temperature; inf where timed [°C].
        """
        if self.mode is Mode.UNHEATED or not self.frame.thermostat:
            return math.inf
        target_c = self.peak_c
        if self._alone:
            target_c = float(self.cold.bath_peak_c(np.array(self.cold.inlet_c), self.peak_c))
        return target_c + self._sensor_k

    def hold_c(self) -> float:
        """Bath while a thermostat holds it, cold corner.

        Returns
        -------
        float
            Temperature; nan where nothing holds [°C].
        """
        if self.mode is not Mode.WHILE_SPRAYING or not self.frame.thermostat:
            return math.nan
        return self.peak_c - 0.5 * self.frame.assessor.simulator.cases.hysteresis_k

    def hold_share(self, nominal: LumpedRound) -> float:
        """Share of the time the element is on while it holds.

        Parameters
        ----------
        nominal : LumpedRound
            The nominal corner.

        Returns
        -------
        float
            Share [1].
        """
        held_c = self.hold_c()
        if math.isnan(held_c):
            return 0.0
        loss_w = nominal.loss_spraying_w_per_k * (held_c + self._sensor_k - nominal.room_c)
        return float(np.clip((loss_w - nominal.pump_heat_w) / nominal.element_w, 0.0, 1.0))
