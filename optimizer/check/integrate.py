"""Run a programme: step the controller through its phases and integrate each, for all cases at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.equations import (
    RTOL,
    SAMPLES_PER_STEP,
    Drive,
    Samples,
    State,
    StopAt,
    advance,
    spray_begins,
    spray_ends,
)
from optimizer.check.phases import Phase, phases
from optimizer.check.worst_cases import Array, Bools, Cases
from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.programme.constants import Constants


@dataclass(frozen=True)
class Stretch:
    """A phase, or a part of one between two switchings of the element.

    Attributes
    ----------
    last : bool
        Whether it is the last stretch of its phase.
    element : ndarray of bool
        Whether the element is on, one value a case; a thermostat switches each case by itself.
    """

    phase: Phase
    last: bool
    element: Bools
    samples: Samples


@dataclass(frozen=True)
class Simulation:
    """A programme on a machine, ready to run.

    Attributes
    ----------
    vent_m2 : float
        Opening through which water evaporates [m2].
    rtol : float
        Relative tolerance of the integration [1].
    cover_kg : float
        With less water than this at the start of a stretch the element heats itself and not the bath [kg].
    lip_kg : float
        Water above this at the end of a stretch has run over and is gone [kg].
    samples_per_step : int
        Samples of a step of the integrator, 1 or more [1].
    """

    constants: Constants
    cases: Cases
    vent_m2: float
    rtol: float = RTOL
    cover_kg: float = 0.0
    lip_kg: float = np.inf
    samples_per_step: int = SAMPLES_PER_STEP

    def run(self, delivered: Iterable[Phase] | None = None, start: State | None = None) -> Iterator[Stretch]:
        """Run the programme, and give one stretch after the other, the standing at the end included.

        Parameters
        ----------
        delivered : iterable of Phase, optional
            What the machine does, where a broken part makes that differ from what the controller asks.
        start : State, optional
            Where the cases start, the pump off; if left out, the ware at room temperature,
            the tank so or chilled by an earlier run, drained or dried out.
        """
        cases = self.cases
        left_kg, film_kg = cases.start_share * cases.carry_over_kg, cases.start_share * cases.film_kg
        state = start or State(cases.start_bath_c, cases.room_c, left_kg, film_kg)
        sprays, filled_kg = False, state.water_kg
        for phase in phases(self.constants) if delivered is None else delivered:
            if phase.outputs.wash_pump and not sprays:
                state = spray_begins(state, cases.tank_j_per_k)
            elif sprays and not phase.outputs.wash_pump:
                state = spray_ends(state, cases.film_kg, cases.ware_j_per_k)
            sprays = phase.outputs.wash_pump
            if phase.name == "top_up":
                # The worst for level and drain: what boiled away has condensed, and all of it runs back.
                state = replace(state, water_kg=np.maximum(state.water_kg, filled_kg))
            for stretch in self._phase(phase, state):
                yield stretch
                end = stretch.samples.end
                state = replace(end, water_kg=np.minimum(end.water_kg, self.lip_kg))
            if phase.name == "fill":
                filled_kg = state.water_kg

    def _phase(self, phase: Phase, state: State) -> Iterator[Stretch]:
        if phase.name == "drain" or phase.outputs.drain_pump or phase.leak_share:
            return self._drain(phase, state)
        if phase.name in ("fill", "top_up"):
            return self._fill(phase, state)
        if phase.steam:
            return self._boil(phase, state)
        if phase.end == "setpoint":
            return self._heat_to_setpoint(phase, state)
        if phase.cycles:
            return self._hold(phase, state)
        return iter([self._stretch(phase, state, self._longest(phase))])

    def _fill(self, phase: Phase, state: State) -> Iterator[Stretch]:
        """Let in what stood in the pipe, as warm as the room, then water as warm as the inlet's.

        A top-up has to cool: what a hot feed left in the pipe shortly before may not have cooled yet.
        """
        cases, on, inlet = self.cases, self._all(phase.outputs.element), phase.outputs.inlet
        pipe_c = np.maximum(cases.room_c, cases.inlet_c) if phase.name == "top_up" else cases.room_c
        pipe_kg_per_s = cases.flow_l_per_s * density_kg_per_l(cases.room_c)
        pipe_s, open_s = self._fill_s(phase, state, pipe_kg_per_s)
        if pipe_s.any():
            drive = self._drive(phase, state, on)
            drive = replace(drive, inlet_c=pipe_c, inflow_kg_per_s=pipe_kg_per_s * inlet)
            flushed = self._advance(state, drive, pipe_s)
            yield Stretch(phase, False, on, flushed)
            state = flushed.end
        yield self._stretch(phase, state, open_s - pipe_s)

    def _fill_s(self, phase: Phase, state: State, pipe_kg_per_s: Array) -> tuple[Array, Array]:
        """How long the pipe runs cold, and how long the inlet is open: as written, or by level switch [s]."""
        cases, longest_s = self.cases, self._longest(phase)
        pipe_s = np.minimum(cases.pipe_l / cases.flow_l_per_s, longest_s)
        if phase.end == "time":
            return pipe_s, longest_s
        missing_kg = np.maximum(cases.level_kg + cases.film_at_start_kg(phase.round) - state.water_kg, 0.0)
        pipe_s = np.minimum(pipe_s, missing_kg / pipe_kg_per_s)
        fed_s = (missing_kg - pipe_s * pipe_kg_per_s) / cases.flow_kg_per_s
        return pipe_s, np.minimum(pipe_s + np.maximum(fed_s, 0.0), longest_s)

    def _drain(self, phase: Phase, state: State) -> Iterator[Stretch]:
        """Pump until only the carry-over is left, then run dry for the rest of the time.

        A drain takes its lag beyond volume over flow: that much of its time pumps nothing, the last of it.
        The pump moves litres; the hotter they are the less they weigh.
        """
        cases, element = self.cases, self._all(phase.outputs.element)
        drive = self._drive(phase, state, element)
        kg_per_l = density_kg_per_l(np.minimum(state.bath_c, BOILING_C))
        pumps_kg_per_s = cases.drain_l_per_s * kg_per_l * (phase.outputs.drain_pump + phase.leak_share)
        net_kg_per_s = pumps_kg_per_s - drive.inflow_kg_per_s
        above_kg = np.maximum(state.water_kg - cases.carry_over_kg, 0.0)
        longest_s = self._longest(phase)
        pumping_s = np.divide(above_kg, net_kg_per_s, out=longest_s.copy(), where=net_kg_per_s > 0.0)
        ends_s = longest_s
        if phase.name == "drain":
            ends_s = np.maximum(longest_s - cases.drain_lag_s, 0.0)
        pumping_s = np.minimum(pumping_s, ends_s)
        drive = replace(drive, outflow_kg_per_s=pumps_kg_per_s)
        pumped = self._advance(state, drive, pumping_s)
        yield Stretch(phase, False, element, pumped)
        # What is left is known exactly: rounding in the integration must not look like water left behind.
        drained = pumping_s < ends_s
        left_kg = np.where(drained, np.minimum(state.water_kg, cases.carry_over_kg), pumped.end.water_kg)
        left = replace(pumped.end, water_kg=left_kg)
        # Run dry, the pump takes what still comes in.
        drive = self._drive(phase, left, element)
        drive = replace(drive, outflow_kg_per_s=drive.inflow_kg_per_s)
        samples = self._advance(left, drive, longest_s - pumping_s)
        yield Stretch(phase, True, element, samples)

    def _heat_to_setpoint(self, phase: Phase, state: State) -> Iterator[Stretch]:
        """Heat with the pump off until the sensor reads its setpoint, in water hotter than the mean."""
        reached = StopAt(self._setpoint_c(phase) - self.cases.sensor_over_mean_k, np.ones(self.cases.count))
        colder = reached.beyond_k(state.bath_c) < 0.0
        yield self._stretch(phase, state, self._longest(phase) * colder, self._all(True), reached)

    def _boil(self, phase: Phase, state: State) -> Iterator[Stretch]:
        """Bring the pool to the boil, then let it boil for the rest of the time."""
        on = self._all(phase.outputs.element)
        boils = StopAt(self.cases.boils_c, np.ones(self.cases.count))
        stretch = self._stretch(phase, state, self._longest(phase), on, boils)
        yield replace(stretch, last=False)
        left_s = np.maximum(phase.longest_s - stretch.samples.lasted_s, 0.0)
        end = stretch.samples.end
        drive = replace(self._drive(phase, end, on), steam_share=self.cases.steam_share)
        yield Stretch(phase, True, on, self._advance(end, drive, left_s))

    def _hold(self, phase: Phase, state: State) -> Iterator[Stretch]:
        """Let the thermostat hold the bath: in one stretch every case runs up to its own next switching."""
        off_c = self._setpoint_c(phase)
        on_c = off_c - 0.1 * self.constants.hysteresis_dk
        element: Bools = state.bath_c < off_c
        left_s = self._longest(phase)
        while True:
            switches = StopAt(np.where(element, off_c, on_c), np.where(element, 1.0, -1.0))
            stretch = self._stretch(phase, state, left_s, element, switches)
            left_s = np.maximum(left_s - stretch.samples.lasted_s, 0.0)
            state = stretch.samples.end
            done = not left_s.any()
            yield replace(stretch, last=done)
            if done:
                return
            element = element ^ (left_s > 0.0)

    def _stretch(
        self,
        phase: Phase,
        state: State,
        duration_s: Array,
        element: Bools | None = None,
        stop: StopAt | None = None,
    ) -> Stretch:
        on = self._all(phase.outputs.element) if element is None else element
        samples = self._advance(state, self._drive(phase, state, on), duration_s, stop)
        return Stretch(phase, True, on, samples)

    def _advance(self, state: State, drive: Drive, duration_s: Array, stop: StopAt | None = None) -> Samples:
        return advance(state, drive, duration_s, stop, self.rtol, self.samples_per_step)

    def _drive(self, phase: Phase, state: State, element: Bools) -> Drive:
        cases, spraying = self.cases, phase.outputs.wash_pump
        covered = state.water_kg >= self.cover_kg
        return Drive(
            heat_w=cases.element_w * phase.element_share * (element & covered) + cases.pump_heat_w * spraying,
            loss_w_per_k=cases.loss_spraying_w_per_k if spraying else cases.loss_still_w_per_k,
            response_s=cases.response_spraying_s if spraying else cases.response_still_s,
            ware_j_per_k=cases.ware_j_per_k,
            film_kg=state.film_kg,
            tank_j_per_k=cases.tank_j_per_k,
            room_c=cases.room_c,
            humidity=cases.humidity,
            inlet_c=cases.inlet_c,
            inflow_kg_per_s=cases.flow_kg_per_s * phase.outputs.inlet,
            outflow_kg_per_s=np.zeros(cases.count),
            vent_m2=self.vent_m2 if phase.wet else 0.0,
        )

    def _setpoint_c(self, phase: Phase) -> Array:
        """Temperature where the sensor sits at which it reads the setpoint [°C]."""
        return 0.1 * self.constants.rounds[phase.round].setpoint_dc - self.cases.sensor_error_k

    def _longest(self, phase: Phase) -> Array:
        return np.full(self.cases.count, float(phase.longest_s))

    def _all(self, on: bool) -> Bools:
        return np.full(self.cases.count, on)
