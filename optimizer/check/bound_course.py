"""Run a programme between its bounds: the lower and the upper course of every box, phase after phase."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.bound_box import Boxes, together
from optimizer.check.bound_equations import C0_J_PER_KG_K, Acting, Bounding, Inflow, ends, flipped
from optimizer.check.bound_hold import PARTS, Heated, Hold
from optimizer.check.phases import Phase, phases
from optimizer.check.worst_cases import Array, Bools
from optimizer.physics.water import boiling_c, density_kg_per_l, latent_heat_kj_per_kg
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.units import J_PER_KJ

SPRAY_STEPS = (1 / 6, 1.5)
"""First and longest step while spraying, shares of the ware's quickest time constant [1]: what is quick dies
out at first; Runge and Kutta's method is stable up to some 2.3 of it."""

SWITCHED_STEPS = 1.0
"""Longest step while a thermostat switches, in the same unit [1]."""

MOST_SWITCHED_S = 40.0
"""The same in seconds [s]."""

STILL_STEPS_S, FILL_STEPS_S, DRAIN_STEPS_S = (30.0, 120.0), (2.0, 12.0), (4.0, 8.0)
"""First and longest step at rest, and while water runs in and out [s]."""

ALWAYS_C = 1e3
"""A threshold that no bath reaches [°C]."""

STEP_GROWS = 1.5
"""Each step over the one before, up to the longest [1]."""


@dataclass(frozen=True)
class Bounds:
    """A phase between its bounds; arrays are samples × (lower course, upper course) × boxes.

    Attributes
    ----------
    time_s : ndarray
        Times of the samples from the start of the phase [s].
    bath_c, ware_c : ndarray
        Bath and ware [°C].
    coldest_c, coldest_slope : ndarray
        Lower course of the ware and its slope, one or more that bound all points together: samples × courses
        × boxes [°C, K/s].
    water_kg : ndarray
        Most and least water; the lower, colder course goes with the most [kg].
    least_s, most_s : ndarray
        How long the phase lasts at least and at most, one a box [s].
    cap_c : ndarray or None
        Bath at which the phase stops heating, one a box [°C].
    """

    phase: Phase
    time_s: Array
    bath_c: Array
    ware_c: Array
    coldest_c: Array
    coldest_slope: Array
    water_kg: Array
    least_s: Array
    most_s: Array
    cap_c: Array | None = None


@dataclass(frozen=True)
class End:
    """Where runs end: mixed, ware and bath temperature and water; and whether the last drain was complete."""

    state: Array
    drained: Bools

    def first(self, count: int) -> End:
        """The first boxes only."""
        return End(self.state[..., :count], self.drained[:count])


def drained(bounds: Bounds, carry_kg: Array) -> Bools:
    """Whether a drain comes down to the carry-over at every point of a box."""
    return np.asarray((bounds.water_kg[0, 1] >= carry_kg[0]) & (bounds.water_kg[-1, 0] <= carry_kg[0]))


class BoundCourse:
    """A programme on a machine in boxes of its tolerances."""

    def __init__(self, constants: Constants, machine: Machine, boxes: Boxes) -> None:
        self._constants = constants
        self._by_level = constants.fill_control == "level"
        self._steam_share = boxes.least.steam_share, boxes.most.steam_share
        self._boils_c = boiling_c(machine.room.height_m)
        self.bounding = Bounding(boxes, machine.tank.vent_m2)
        self._many = Bounding(functools.reduce(together, [boxes] * PARTS), machine.tank.vent_m2)
        eqs = self.bounding
        # Until the first spray the film is what is left of an earlier run, as much of it as of the sump.
        self._film_kg = self._apart_kg = eqs.start_share * eqs.all_film_kg
        self._sprays = False
        self._state: Array = np.zeros((4, 2, boxes.count))
        # Whether the last drain came down to the carry-over: then much film goes with much water.
        self._tied = np.ones(eqs.count, dtype=bool)

    @property
    def end(self) -> End:
        """Where the run has come to."""
        return End(self._state, self._tied)

    def run(self, start: End | None = None) -> Iterator[Bounds]:
        """Give the bounds of one phase after the other, the standing at the end left out.

        A run begins with a load at room temperature, and with all else so; or where another run ended, which
        has left its film on the ware.
        """
        eqs = self.bounding
        room_c = eqs.room_c
        water_kg, bath_c = eqs.start_share * eqs.carry_kg, room_c
        if start is not None:
            water_kg, bath_c, self._tied = start.state[3], start.state[2], start.drained
            self._film_kg = self._apart_kg = eqs.all_film_kg
        mixed_c = eqs.mixed_from(self._still(), bath_c, room_c, water_kg)
        self._state = state = np.stack([mixed_c, room_c, bath_c, water_kg])
        for phase in phases(self._constants):
            if phase.name == "stand":
                return
            if not phase.longest_s and phase.end == "time":
                continue
            state = self._film(phase, state)
            bounds, state = self._phase(phase, state)
            self._state = state
            if phase.name == "drain" and phase.round >= 0:
                self._tied = drained(bounds, eqs.carry_kg)
            yield bounds

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
            return self._boil(phase, acting, state)
        if phase.end == "setpoint":
            return self._heat(phase, acting, state)
        if phase.end == "level":
            return self._fill_to_level(phase, acting, state)
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
            samples, slopes, time_s = self._integrate(phase, always, colder, phase.longest_s)
            samples[0] = state
            held = Hold(eqs, self._many, acting, Heated(time_s, samples, slopes)).run()
            bounds = self._bounds(phase, held.samples, slopes, time_s, whole, whole)
            return replace(bounds, coldest_c=held.ware_c, coldest_slope=held.ware_slope), held.samples[-1]
        samples, slopes, time_s = self._integrate(phase, acting, state, phase.longest_s)
        return self._bounds(phase, samples, slopes, time_s, whole, whole), samples[-1]

    def _integrate(
        self, phase: Phase, acting: Acting, state: Array, lasts_s: float
    ) -> tuple[Array, Array, Array]:
        """Runge and Kutta's fourth-order method in steps that grow: samples, their slopes, times."""
        eqs, fills = self.bounding, phase.name == "fill" and phase.end == "time"
        first_s, most_s = STILL_STEPS_S
        if acting.spraying:
            quick_s = float(eqs.response_s[1].min())
            first_s, most_s = SPRAY_STEPS[0] * quick_s, SPRAY_STEPS[1] * quick_s
            if acting.on_below_c is not None:
                most_s = min(SWITCHED_STEPS * quick_s, MOST_SWITCHED_S)
        elif phase.name in ("drain", "fill"):
            first_s, most_s = FILL_STEPS_S if fills else DRAIN_STEPS_S
        start_kg = state[3]
        # The pump moves litres, of water as dense as it was when the drain began.
        liquid_c = np.clip(state[2], 4.0, self._boils_c)
        drain = eqs.drain_l_per_s * density_kg_per_l(liquid_c)
        # The slowest drain runs longest, and may be as quick as the quickest until then.
        above_kg = np.maximum(start_kg - eqs.carry_kg, 0.0)
        running_s = np.minimum(above_kg / flipped(drain), lasts_s)
        if phase.name == "drain":
            # All that still runs has run out by then; after it the tank is at rest.
            times_s = _times_s(float(running_s.max()), first_s, most_s)
            rest_s = _times_s(lasts_s - times_s[-1], most_s, STILL_STEPS_S[1])
            times_s = np.concatenate([times_s, times_s[-1] + rest_s[1:]])
        else:
            times_s = _times_s(lasts_s, first_s, most_s)

        def left_kg(time_s: float) -> Array:
            """What is left is known as a whole: by slowest and quickest drain, down to the carry-over."""
            gone_kg = flipped(drain) * time_s
            return np.asarray(np.maximum(np.minimum(start_kg, eqs.carry_kg), start_kg - gone_kg))

        def placed(time_s: float, at: Array) -> Array:
            if phase.name != "drain":
                return at
            # Straight between the times of the samples, as the outflow is even there.
            number = min(int(np.searchsorted(times_s, time_s, side="right")), len(times_s) - 1)
            early_s, late_s = times_s[number - 1], times_s[number]
            share = (time_s - early_s) / (late_s - early_s)
            now_kg = left_kg(early_s) + share * (left_kg(late_s) - left_kg(early_s))
            after = at.copy()
            after[3] = now_kg
            return after

        def slope(time_s: float, at: Array) -> Array:
            return eqs.slopes(acting, time_s, placed(time_s, at))

        samples, slopes = [state], []
        for time_s, step_s in zip(times_s[:-1], np.diff(times_s), strict=True):
            at = samples[-1]
            if phase.name == "drain":
                share = np.clip((running_s - time_s) / step_s, 0.0, 1.0)
                acting = replace(acting, outflow=ends(drain[0] * share[0], drain[1] * share[1]))
            if fills:
                acting = replace(acting, inflow=self._inflow(start_kg, time_s, step_s))
            first = slope(time_s, at)
            second = slope(time_s + 0.5 * step_s, at + 0.5 * step_s * first)
            third = slope(time_s + 0.5 * step_s, at + 0.5 * step_s * second)
            fourth = slope(time_s + step_s, at + step_s * third)
            after = at + step_s / 6.0 * (first + 2.0 * (second + third) + fourth)
            slopes.append(first)
            samples.append(eqs.held(acting, at, placed(time_s + step_s, after), step_s))
        slopes.append(slope(lasts_s, samples[-1]))
        return np.array(samples), np.array(slopes), times_s

    def _inflow(self, start_kg: Array, time_s: float, step_s: float) -> Inflow:
        """Water let in during a step: of the pipe, perhaps of the pipe, of the inlet."""
        eqs = self.bounding
        cold_k = eqs.pipe_k()
        # The pipe is surely not flushed before the second of these times, and surely after the first.
        surely_s, perhaps_s = eqs.pipe_s[1], eqs.pipe_s[0]
        most_kg_per_s = np.maximum(eqs.pipe_kg_per_s[0], eqs.flow[0])
        least_kg_per_s = np.minimum(eqs.pipe_kg_per_s[1], eqs.flow[1])
        kg_per_s = (eqs.pipe_kg_per_s, ends(most_kg_per_s, least_kg_per_s), eqs.flow)
        perhaps_k = ends(np.maximum(cold_k[0], 0.0), np.minimum(cold_k[1], 0.0))
        colder_k = (cold_k, perhaps_k, np.zeros_like(cold_k))

        def parts(until_s: float) -> tuple[Array, ...]:
            early, late = np.minimum(until_s, surely_s), np.minimum(until_s, perhaps_s)
            return early, late - early, until_s - late

        before, after = parts(time_s), parts(time_s + step_s)
        let_in = [(late - early) * flow for early, late, flow in zip(before, after, kg_per_s, strict=True)]
        had = sum(early * flow for early, flow in zip(before, kg_per_s, strict=True))
        total = np.maximum(sum(let_in), 1e-12)
        cold = sum(part * over for part, over in zip(let_in, colder_k, strict=True)) / total
        return Inflow(total / step_s, time_s, flipped(start_kg) + had, cold)

    def _bounds(
        self, phase: Phase, samples: Array, slopes: Array, time_s: Array, least_s: Array, most_s: Array
    ) -> Bounds:
        return Bounds(
            phase=phase,
            time_s=time_s,
            bath_c=samples[:, 2],
            ware_c=samples[:, 1],
            coldest_c=samples[:, 1, :1],
            coldest_slope=slopes[:, 1, :1],
            water_kg=samples[:, 3],
            least_s=least_s,
            most_s=most_s,
        )

    def _heat(self, phase: Phase, acting: Acting, state: Array) -> tuple[Bounds, Array]:
        """Heat to a setpoint: every point of a box stops when its own sensor reads it, or at the longest."""
        eqs = self.bounding
        stop_c = 0.1 * self._constants.rounds[phase.round].setpoint_dc - eqs.error_k - eqs.over_mean_k
        acting = replace(
            acting,
            heat_w=np.zeros_like(acting.heat_w),
            switched_w=eqs.element_w,
            on_below_c=np.full(eqs.count, ALWAYS_C),
            cap_c=np.maximum(stop_c[1], state[2, 1]),
        )
        samples, slopes, time_s = self._integrate(phase, acting, state, phase.longest_s)
        bath_c = samples[:, 2]
        # The first may stop where the upper course meets the lowest stop, the last where the lower one meets
        # the highest.
        first_s = _reached_s(time_s, bath_c[:, 1], stop_c[0], slopes[:, 2, 1])
        last_s = _reached_s(time_s, bath_c[:, 0], stop_c[1])
        least, most = _at(time_s, samples, first_s), _at(time_s, samples, last_s)
        water_kg = ends(least[3, 0], most[3, 1])
        # Some stop by the sensor, with a bath that is known; others by the time, with their heat known. What
        # bounds both is the worse of the two, not the coldest bath with the coldest ware.
        may_stop, may_last = bath_c[:, 1].max(axis=0) >= stop_c[0], bath_c[-1, 0] < stop_c[1]
        stops_c = self._ware_at_stop(acting, state, samples, time_s, stop_c)
        lasts_c = samples[-1, 1]
        ware_c = ends(
            np.minimum(np.where(may_stop, stops_c[0], np.inf), np.where(may_last, lasts_c[0], np.inf)),
            np.where(
                may_last,
                np.maximum(lasts_c[1], least[1, 1]),
                np.minimum(stops_c[1], np.maximum(most[1, 1], least[1, 1])),
            ),
        )
        bath_at_stop = ends(np.maximum(stop_c[0], state[2, 0]), np.maximum(stop_c[1], state[2, 1]))
        stopped = eqs.mixed_from(acting, bath_at_stop, ends(stops_c[0], ware_c[1]), water_kg)
        lasted = samples[-1, 0]
        mixed_c = ends(
            np.minimum(np.where(may_stop, stopped[0], np.inf), np.where(may_last, lasted[0], np.inf)),
            stopped[1],
        )
        bath_c = ends(
            np.where(may_last, np.minimum(bath_at_stop[0], bath_c[-1, 0]), bath_at_stop[0]),
            np.minimum(bath_at_stop[1], bath_c[:, 1].max(axis=0)),
        )
        end = np.stack([mixed_c, ware_c, bath_c, water_kg])
        return replace(self._bounds(phase, samples, slopes, time_s, first_s, last_s), cap_c=acting.cap_c), end

    def _ware_at_stop(
        self, acting: Acting, state: Array, samples: Array, time_s: Array, stop_c: Array
    ) -> Array:
        """Ware where the sensor ends the heating: by the bath's rise in place of the time."""
        bath_c, water_kg = samples[:, 2], ends(samples[0, 3, 0], samples[-1, 3, 1])
        # Every bath has passed the warmest start by the time at which the lower course does.
        crossed_s = _reached_s(time_s, bath_c[:, 0], state[2, 1])
        until = np.where(time_s[:, None] <= crossed_s, samples[:, 1, 0], np.inf).min(axis=0)
        until = np.minimum(until, _at(time_s, samples, crossed_s)[1, 0])
        from_c = ends(state[2, 1], state[2, 0])
        start_c = ends(until, state[1, 1])
        rising = self.bounding.ware_as_bath_rises(acting, from_c, start_c, stop_c, water_kg)
        # A ware that is hotter than the bath cools meanwhile: coldest at the last stop, hottest at the first.
        from_c, to_c = ends(state[2, 1], state[2, 1]), ends(stop_c[1], stop_c[0])
        cooling = self.bounding.ware_as_bath_rises(acting, from_c, start_c, to_c, water_kg)
        return ends(np.minimum(rising[0], cooling[0]), np.maximum(rising[1], cooling[1]))

    def _fill_to_level(self, phase: Phase, acting: Acting, state: Array) -> tuple[Bounds, Array]:
        """Fill to a level switch: the level is known, the time hangs on what is missing."""
        eqs = self.bounding
        film_kg = eqs.all_film_kg * (eqs.start_share if phase.round == 0 else 1.0)
        level_kg = eqs.level_kg + film_kg
        longest = float(phase.longest_s)
        missing_kg = ends(
            np.maximum(level_kg[0] - state[3, 1], 0.0), np.maximum(level_kg[1] - state[3, 0], 0.0)
        )
        # The pipe's water is of another density: where that brings more, most of it stood in the pipe.
        let_in_kg = ends(self._let_in_kg(0, longest), self._let_in_kg(1, longest))
        least_s = self._level_s(missing_kg[1], 0, longest)
        most_s = self._level_s(missing_kg[0], 1, longest)
        whole_kg = np.maximum(state[3], np.minimum(level_kg, state[3] + let_in_kg))
        mixed_c, ware_c, bath_c, _ = self._mixed(state, whole_kg, acting.apart_kg)
        # All water in one moment, and for the whole time the most that the fill may lose or gain beside that:
        # the bath stays between what it was and the inlet.
        mixed_c, bath_c = (
            mixed_c + self._from_pipe(whole_kg),
            bath_c + self._from_pipe(whole_kg, bath_only=True),
        )
        warmest = np.maximum(eqs.inlet_c, eqs.room_c)[0], np.minimum(eqs.inlet_c, eqs.room_c)[1]
        _, far = eqs.bath_from(acting, state)
        far = ends(np.minimum(far[0], state[2, 1]), np.maximum(far[1], state[2, 0]))
        edge_c = ends(np.maximum(far[0], warmest[0]), np.minimum(far[1], warmest[1]))
        sign = np.array([[1.0], [-1.0]])
        lost_j = (
            most_s * np.where(sign * (edge_c - eqs.room_c) > 0.0, eqs.loss[0], 0.0) * (edge_c - eqs.room_c)
        )
        over_k = np.where(sign * (edge_c - state[1]) > 0.0, edge_c - state[1], 0.0)
        passed_j = most_s * eqs.ware / flipped(eqs.response_s[0]) * over_k
        bath_j_per_k = flipped(C0_J_PER_KG_K * (whole_kg - acting.apart_kg) + eqs.tank) * 0.99
        bath_c = bath_c - (lost_j + passed_j) / bath_j_per_k
        mixed_c = mixed_c - lost_j / (bath_j_per_k + flipped(eqs.ware))
        coldest = np.minimum(eqs.inlet_c, eqs.room_c)[0], np.maximum(eqs.inlet_c, eqs.room_c)[1]
        other_c = ends(np.minimum(far[1], coldest[0]), np.maximum(far[0], coldest[1]))
        share = -np.expm1(-most_s / flipped(eqs.response_s[0]))
        below_k = np.where(sign * (ware_c - other_c) > 0.0, ware_c - other_c, 0.0)
        end = np.stack([mixed_c, ware_c - share * below_k, bath_c, whole_kg])
        samples = np.stack([state, end])
        slopes = np.zeros_like(samples)
        return self._bounds(phase, samples, slopes, np.array([0.0, longest]), least_s, most_s), end

    def _piped_s(self, end: int, *, more: bool) -> Array:
        """How long the pipe runs at the quickest (0) or slowest (1) inlet, for more or for less water [s]."""
        eqs = self.bounding
        heavier = eqs.pipe_kg_per_s[end] > eqs.flow[end]
        return np.asarray(np.where(heavier == more, eqs.pipe_s[0], eqs.pipe_s[1]))

    def _let_in_kg(self, end: int, longest_s: float) -> Array:
        """Most (0) or least (1) water that the inlet lets in before the time ends the fill [kg]."""
        eqs = self.bounding
        piped_s = np.minimum(self._piped_s(end, more=end == 0), longest_s)
        return np.asarray(piped_s * eqs.pipe_kg_per_s[end] + (longest_s - piped_s) * eqs.flow[end])

    def _level_s(self, missing_kg: Array, end: int, longest_s: float) -> Array:
        """Time that the quickest (0) or slowest (1) inlet takes for what is missing at a level switch [s]."""
        eqs = self.bounding
        piped_s = np.minimum(self._piped_s(end, more=end == 0), missing_kg / eqs.pipe_kg_per_s[end])
        fed_s = np.maximum(missing_kg - piped_s * eqs.pipe_kg_per_s[end], 0.0) / eqs.flow[end]
        return np.asarray(np.minimum(piped_s + fed_s, longest_s))

    def _from_pipe(self, whole_kg: Array, *, bath_only: bool = False) -> Array:
        """What the water of the pipe does to the mixture of a whole fill [K]."""
        eqs = self.bounding
        pipe_kg = eqs.pipe_kg_per_s * eqs.pipe_s
        total_kg = whole_kg + (eqs.tank + eqs.ware) / C0_J_PER_KG_K
        if bath_only:
            total_kg = whole_kg - self._apart_kg + eqs.tank / C0_J_PER_KG_K
        cold_k = eqs.pipe_k()
        most, least = pipe_kg / flipped(total_kg), flipped(pipe_kg) / total_kg
        return np.asarray(-np.where(cold_k >= 0.0, most, least) * cold_k)

    def _mixed(self, state: Array, whole_kg: Array, apart_kg: Array) -> Array:
        """Let in all water of a fill in one moment: what was there keeps its heat, the inlet brings none."""
        eqs = self.bounding
        mixed_c, ware_c, bath_c, before_kg = state
        # Of the heat above the inlet's the share stays that tank, ware and old water are of the whole; the
        # least where much is let in onto little.
        little, much = flipped(before_kg), before_kg
        added, less = np.maximum(whole_kg - little, 0.0), np.maximum(flipped(whole_kg) - much, 0.0)
        bare = (flipped(eqs.tank) + flipped(eqs.ware)) / C0_J_PER_KG_K + little
        heavy = (eqs.tank + eqs.ware) / C0_J_PER_KG_K + much
        over_k = mixed_c - eqs.inlet_c
        mixed_c = eqs.inlet_c + over_k * np.where(
            over_k >= 0.0, bare / (bare + added), heavy / (heavy + less)
        )
        bare = flipped(eqs.tank) / C0_J_PER_KG_K + little - flipped(apart_kg)
        heavy = eqs.tank / C0_J_PER_KG_K + much - apart_kg
        over_k = bath_c - eqs.inlet_c
        bath_c = eqs.inlet_c + over_k * np.where(over_k >= 0.0, bare / (bare + added), heavy / (heavy + less))
        return np.stack([mixed_c, ware_c, bath_c, whole_kg])

    def _boil(self, phase: Phase, acting: Acting, state: Array) -> tuple[Bounds, Array]:
        """Bring the pool to the boil and let it boil: from when on lies between the two courses."""
        eqs = self.bounding
        longest = float(phase.longest_s)
        boils_c = self._boils_c
        acting = replace(
            acting,
            heat_w=np.zeros_like(acting.heat_w),
            switched_w=eqs.element_w,
            on_below_c=np.full(eqs.count, ALWAYS_C),
            cap_c=np.full(eqs.count, boils_c),
        )
        samples, slopes, time_s = self._integrate(phase, acting, state, longest)
        bath_c = np.minimum(samples[:, 2], boils_c)
        first_s = _reached_s(time_s, bath_c[:, 1], np.full(eqs.count, boils_c), slopes[:, 2, 1])
        last_s = _reached_s(time_s, bath_c[:, 0], np.full(eqs.count, boils_c))
        # Where nothing has a tolerance both are the same moment, but for rounding.
        first_s, last_s = np.minimum(first_s, last_s), np.maximum(first_s, last_s)
        steam_j_per_kg = J_PER_KJ * float(latent_heat_kj_per_kg(boils_c))
        net_w = np.maximum(eqs.element_w - eqs.loss[0] * (boils_c - eqs.room_c), 0.0)
        left_s = ends(longest - last_s, longest - first_s)
        # The ware is warmed by the bath until that boils, then by steam. When it boils is not known: the
        # coldest ware is that of the worst moment, the hottest that of the latest ware and the earliest boil.
        may_boil = (time_s[1:, None] >= first_s) & (time_s[:-1, None] <= last_s)
        wet_ware = eqs.ware + C0_J_PER_KG_K * acting.film_kg
        steamed_k = self._steam_share[0] * net_w[0] / wet_ware[0] * (longest - time_s[1:, None])
        coldest_c = np.minimum(samples[:-1, 1, 0] + steamed_k, np.maximum(boils_c - 1.0, samples[:-1, 1, 0]))
        coldest_c = np.where(may_boil, coldest_c, np.inf).min(axis=0)
        lasts_c = np.where(last_s >= longest, samples[-1, 1, 0], np.inf)
        most = _at(time_s, samples, last_s)
        least = _at(time_s, samples, first_s)
        warmed_k = self._steam_share[1] * net_w[1] / eqs.ware[1] * left_s[1]
        ware_c = ends(np.minimum(coldest_c, lasts_c), np.minimum(most[1, 1] + warmed_k, boils_c))
        gone_kg = net_w / steam_j_per_kg * left_s
        water_kg = np.maximum(ends(most[3, 0], least[3, 1]) - gone_kg, 0.0)
        bath_c = np.stack([bath_c[-1, 0], bath_c[-1, 1]])
        mixed_c = eqs.mixed_from(acting, bath_c, ware_c, water_kg)
        end = np.stack([mixed_c, ware_c, bath_c, water_kg])
        samples = np.concatenate([samples, end[None]])
        whole_s = np.full(eqs.count, longest)
        bounds = self._bounds(
            phase,
            samples,
            np.concatenate([slopes, slopes[-1:]]),
            np.append(time_s, longest),
            first_s,
            whole_s,
        )
        return replace(bounds, cap_c=acting.cap_c), end


def _times_s(lasts_s: float, first_s: float, most_s: float) -> Array:
    """Times of steps that grow from the first to the longest and end at the end of a phase [s]."""
    if lasts_s <= 0.0:
        return np.zeros(1)
    steps_s = [min(first_s, lasts_s)]
    while sum(steps_s) < lasts_s:
        steps_s.append(min(steps_s[-1] * STEP_GROWS, most_s))
    times_s = np.concatenate([[0.0], np.cumsum(steps_s)])
    return np.asarray(times_s * (lasts_s / times_s[-1]))


def _reached_s(time_s: Array, bath_c: Array, threshold_c: Array, slope: Array | None = None) -> Array:
    """When a rising course (samples × boxes) first is at a temperature, else the last time [s].

    A bath that is heated rises ever more slowly. So the chord between two samples is late, and the tangent
    at the first of them, by its ``slope``, is early.
    """
    there = bath_c >= threshold_c
    after = np.where(there.any(axis=0), there.argmax(axis=0), len(time_s) - 1)
    before = np.maximum(after - 1, 0)
    box = np.arange(bath_c.shape[1])
    short_k, over_k = threshold_c - bath_c[before, box], bath_c[after, box] - threshold_c
    whole_k = short_k + over_k
    if slope is not None:
        whole_k = slope[before, box] * (time_s[after] - time_s[before])
    share = np.where(
        there.any(axis=0) & (whole_k > 0.0), short_k / np.where(whole_k > 0.0, whole_k, 1.0), 1.0
    )
    share = np.clip(np.where(after == 0, 0.0, share), 0.0, 1.0)
    return np.asarray(time_s[before] + share * (time_s[after] - time_s[before]))


def _at(time_s: Array, samples: Array, when_s: Array) -> Array:
    """Samples (times × numbers × courses × boxes) at a time of each box, by straight lines."""
    after = np.clip(np.searchsorted(time_s, when_s), 1, len(time_s) - 1)
    share = (when_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1])
    box = np.arange(len(when_s))
    early, late = samples[after - 1][box, :, :, box], samples[after][box, :, :, box]
    return np.asarray(np.moveaxis(early + share[:, None, None] * (late - early), 0, -1))
