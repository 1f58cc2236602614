"""Run a programme between its bounds: the lower and the upper course of every box, phase after phase."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_heating import boil, heat_to_setpoint
from optimizer.check.bound_hold import EDGES, FINE_EDGES, Heated, Hold
from optimizer.check.bound_level_fill import fill_to_level
from optimizer.check.bound_sides import Acting, ends, flipped
from optimizer.check.bound_steps import Bounds, bounds_of, integrated
from optimizer.check.phases import Phase, phases
from optimizer.check.worst_cases import Array, Bools, start_bath_c
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants


@dataclass(frozen=True)
class End:
    """Where runs end: mixed, ware and bath temperature and water; and whether the last drain was complete.

    As a start it stands for that alone, or, if ``either``, for that as well as for a first run's.
    """

    state: Array
    drained: Bools
    either: bool = False

    def first(self, count: int) -> End:
        """The first boxes only."""
        return End(self.state[..., :count], self.drained[:count])

    def spread(self, count: int) -> End:
        """The end of one box for as many boxes inside it."""
        return End(np.repeat(self.state, count, axis=-1), np.repeat(self.drained, count))


def drained(bounds: Bounds, carry_kg: Array) -> Bools:
    """Whether a drain comes down to the carry-over at every point of a box."""
    return np.asarray((bounds.water_kg[0, 1] >= carry_kg[0]) & (bounds.water_kg[-1, 0] <= carry_kg[0]))


class BoundCourse:
    """A programme on a machine in boxes of its tolerances.

    A run begins with a load at room temperature, the tank so or chilled by an earlier run; or where another
    run ended, which has left its film on the ware: the last boxes, as many as have such a start. Where it may
    be either, a course bounds both. A held bath is looked at ``finely`` where that is asked; steps in time
    are so much ``finer`` than usual.
    """

    begins_over_k: Array
    """How much hotter than the tank the load is as the run begins, at the most [K]."""

    def __init__(
        self,
        constants: Constants,
        machine: Machine,
        boxes: Boxes,
        start: End | None = None,
        *,
        finely: bool = False,
        finer: float = 1.0,
    ) -> None:
        self._constants = constants
        self._edges = FINE_EDGES if finely else EDGES
        self._by_level = constants.fill_control == "level"
        self.bounding = Bounding(boxes, machine.tank.vent_m2, finer)
        eqs = self.bounding
        # Until the first spray the film is what is left of an earlier run, as much of it as of the sump.
        self._film_kg = self._apart_kg = eqs.start_share * eqs.all_film_kg
        self._sprays = False
        # Whether the last drain came down to the carry-over: then much film goes with much water.
        self._tied = np.ones(eqs.count, dtype=bool)
        water_kg = eqs.start_share * eqs.carry_kg
        chill_share, room_c = eqs.start_chill_share, eqs.room_c
        bath_c = start_bath_c(chill_share, eqs.inlet_c, room_c)
        self.begins_over_k = chill_share[0] * np.maximum(room_c[1] - eqs.inlet_c[0], 0.0)
        if start is not None and start.either:
            ends_c, ends_kg = start.state[2], start.state[3]
            water_kg = ends(np.maximum(water_kg[0], ends_kg[0]), np.minimum(water_kg[1], ends_kg[1]))
            bath_c = ends(np.minimum(bath_c[0], ends_c[0]), np.maximum(bath_c[1], ends_c[1]))
            self._tied = start.drained
            self.begins_over_k = np.maximum(self.begins_over_k, room_c[1] - ends_c[0])
        elif start is not None:
            first = eqs.count - len(start.drained)
            water_kg = np.concatenate([water_kg[:, :first], start.state[3]], axis=1)
            bath_c = np.concatenate([bath_c[:, :first], start.state[2]], axis=1)
            self._tied = np.concatenate([self._tied[:first], start.drained])
            self.begins_over_k[first:] = np.maximum(room_c[1] - bath_c[0], 0.0)[first:]
        mixed_c = eqs.mixed_from(self._still(), bath_c, room_c, water_kg)
        self._state: Array = np.stack([mixed_c, room_c, bath_c, water_kg])

    @property
    def end(self) -> End:
        """Where the run has come to."""
        return End(self._state, self._tied)

    def run(self, count: int | None = None) -> Iterator[Bounds]:
        """Give the bounds of one phase after the other, the standing at the end left out.

        With a ``count`` only so many phases of the programme, from the first on.
        """
        eqs, state = self.bounding, self._state
        filled_kg = state[3]
        for phase in phases(self._constants)[:count]:
            if phase.name == "stand":
                return
            if not phase.longest_s and phase.end == "time":
                continue
            state = self._film(phase, state)
            if phase.name == "top_up":
                state = self._run_back(state, filled_kg)
            bounds, state = self._phase(phase, state)
            self._state = state
            if phase.name == "fill":
                filled_kg = state[3]
            if phase.name == "drain" and phase.round >= 0:
                self._tied = drained(bounds, eqs.carry_kg)
            yield bounds

    def _run_back(self, state: Array, filled_kg: Array) -> Array:
        """Let what evaporated run back, as warm as the bath: the worst for level and drain."""
        _, ware_c, bath_c, water_kg = state
        water_kg = np.maximum(water_kg, filled_kg)
        mixed_c = self.bounding.mixed_from(self._still(), bath_c, ware_c, water_kg)
        return np.stack([mixed_c, ware_c, bath_c, water_kg])

    def _still(self) -> Acting:
        """Nothing on, the film where it is."""
        return Acting(np.zeros_like(self._film_kg), False, False, self._film_kg, self._apart_kg)

    def _film(self, phase: Phase, state: Array) -> Array:
        """Let the film change sides where the pump starts or stops."""
        eqs, sprays = self.bounding, phase.outputs.wash_pump
        before, self._sprays = self._sprays, sprays
        if sprays and not before:
            state = eqs.spray_begins(self._still(), state)
            self._film_kg = self._apart_kg = np.zeros_like(eqs.all_film_kg)
        elif before and not sprays:
            state = eqs.spray_ends(state)
            film_kg = eqs.all_film_kg
            self._film_kg = self._apart_kg = film_kg
            if phase.round == 0:
                # What was missing in the film at the start has come out of the fill.
                self._apart_kg = eqs.start_share * film_kg + (1.0 - eqs.start_share) * flipped(film_kg)
        if phase.name == "fill":
            self._apart_kg = self._film_kg
        self._apart_kg = np.where(self._tied, self._apart_kg, flipped(self._film_kg))
        return state

    def _phase(self, phase: Phase, state: Array) -> tuple[Bounds, Array]:
        eqs, on = self.bounding, phase.outputs
        acting = Acting(
            heat_w=eqs.element_w * on.element + eqs.pump_heat_w * on.wash_pump,
            spraying=on.wash_pump,
            wet=phase.wet,
            film_kg=self._film_kg,
            apart_kg=self._apart_kg,
        )
        if phase.steam:
            return boil(eqs, phase, acting, state)
        if phase.end == "setpoint":
            setpoint_c = 0.1 * self._constants.rounds[phase.round].setpoint_dc
            return heat_to_setpoint(eqs, phase, acting, state, setpoint_c)
        if phase.end == "level":
            return fill_to_level(eqs, phase, acting, state)
        if phase.cycles:
            row = self._constants.rounds[phase.round]
            off_c = 0.1 * row.setpoint_dc - eqs.error_k
            on_c = off_c[0] - 0.1 * self._constants.hysteresis_dk
            acting = replace(
                acting,
                heat_w=eqs.pump_heat_w * on.wash_pump,
                switched_w=eqs.element_w,
                on_below_c=on_c,
                cap_c=off_c[1],
                off_low_c=off_c[0],
            )
        whole = np.full(eqs.count, float(phase.longest_s))
        if phase.cycles:
            # Heated up to the highest threshold, and held there.
            always = replace(acting, on_below_c=acting.cap_c)
            colder = eqs.not_above(acting, state)
            samples, slopes, time_s = integrated(eqs, phase, always, colder)
            samples[0] = state
            held = Hold(eqs, acting, Heated(time_s, samples, slopes), self._edges).run()
            bounds = bounds_of(phase, held.samples, slopes, time_s, whole, whole)
            return replace(
                bounds, coldest_c=held.ware_c, coldest_slope=held.ware_slope, means=held.means
            ), held.samples[-1]
        samples, slopes, time_s = integrated(eqs, phase, acting, state)
        return bounds_of(phase, samples, slopes, time_s, whole, whole), samples[-1]
