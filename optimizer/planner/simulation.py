"""The planner's own fast simulation: a whole programme in closed form, many candidates and corners at once.

Axes: ``[candidate, corner, round]``. Inside a phase bath and ware follow the exact solution of
``C_bath dT_bath/dt = P − UA (T_bath − T_room) − G (T_bath − T_ware)`` and
``C_ware dT_ware/dt = G (T_bath − T_ware)`` (`physics.two_nodes`); only doses are summed over a grid, each
cell of it in closed form. The film on the ware is part of C_ware while the pump is off; a spray mixes it into
the bath, and leaves a new one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array, Real
from optimizer.physics.evaporation import Air, evaporation_kg_per_s_m2
from optimizer.physics.thermal import Flow, drained_c, filled_c, mixed_c, temperature_after_c
from optimizer.physics.two_nodes import TwoNodes
from optimizer.physics.water import BOILING_C, boiling_c, density_kg_per_l, steam_j_per_l
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K, Corners
from optimizer.planner.corners import corners_of
from optimizer.planner.structure import ALONE, TOGETHER, Mode, Programme
from optimizer.planner.targets import UNDISSOLVED, DoseTargets, dose_targets_of
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import GAP_S, KINDS, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN

GRID = np.linspace(0.0, 1.0, 15) ** 2
"""Nodes of the dose sum, as shares of a phase: dense at its start, where the ware lags behind."""

DRY_AIR = Air(humidity=0.0)
"""Air that takes up the most water [-]."""

BELOW_BOIL_K = 3.0
"""How far below its boiling point a bath stays that is not meant to boil [K]."""

BOIL_SAFETY_FACTOR = 1.1
"""Boiling time that the pool must last for, as a multiple of the time it is to boil [1]."""

DRAIN_EXTRA_S = 1.0
"""Draining beyond the time that the slowest drain and the longest lag need [s]: water is hottest, and needs
longest, at a point of the tolerances that need not be a corner."""


@dataclass(frozen=True)
class Runs:
    """What the candidates do, ``[candidate, corner, …]``.

    Attributes
    ----------
    dose_s : ndarray
        Equivalent seconds of every dose target, ``[candidate, corner, target]`` [s].
    peak_c : ndarray
        Highest bath temperature of a round [°C].
    spray_end_c : ndarray
        Coldest bath as the spray of a round ends, before a soak and after it [°C].
    filled_l : ndarray
        Water let in by a round [l].
    element_on_s : ndarray
        Element on in a round [s].
    round_s : ndarray
        Length of a round with its gaps [s].
    evaporated_l : ndarray
        Upper bound of the water evaporated by a round [l].
    over_k : ndarray
        Ware less bath as each spray of a round begins, before the film mixes into it, the stirring of a
        top-up as well; 0 without a spray; ``[candidate, corner, spray]`` [K].
    ware_end_c : ndarray
        Ware after the last drain, ``[candidate, corner]`` [°C].
    drain_s : ndarray
        Drain pump on in a round, ``[candidate, round]`` [s].
    rest_s : ndarray
        Everything off before the drain, ``[candidate, round]`` [s].
    topped_l : ndarray
        Water let in by a top-up [l].
    drained_c : ndarray
        Hottest water that the drain of a round takes [°C].
    """

    dose_s: Array
    peak_c: Array
    spray_end_c: Array
    filled_l: Array
    element_on_s: Array
    round_s: Array
    evaporated_l: Array
    over_k: Array
    ware_end_c: Array
    drain_s: Array
    rest_s: Array
    topped_l: Array
    drained_c: Array


class Simulator:
    """Simulates programmes on one machine for the doses of one goal, in the usual corners or those given."""

    def __init__(self, machine: Machine, goal: Goal, corners: Corners | None = None) -> None:
        self.machine = machine
        self.goal = goal
        self.corners: Corners = corners or corners_of(machine)
        self.targets: DoseTargets = dose_targets_of(goal)
        self.thermostat = machine.element is not None and machine.element.control == "thermostat"
        self.boils_c = boiling_c(machine.room.height_m)
        detergent = goal.detergent
        self.dissolving_s = detergent.dissolving_min * S_PER_MIN if detergent is not None else 0.0
        self.rest_s = float(machine.element.rest_s) if machine.element else 0.0
        self._drain_slow_l_per_s = machine.drain_pump.flow_l_per_min.low / S_PER_MIN
        self._drain_lag_s = machine.drain_pump.drain_lag_s.high
        self.start_drain_s = self.drain_s(machine.tank.capacity_l)
        self._film_j_per_k = self.corners.film_j_per_k
        self._under_spray = self.targets.under_spray(self.corners.mechanics)
        self._kept_j_per_k = self.corners.tank_j_per_k + self.corners.sump_j_per_k

    def run(self, programme: Programme) -> Runs:
        """Simulate all candidates of a programme."""
        candidates, corner_count = programme.settings.spray_s.shape[0], len(self.corners.room_c)
        bath_c = np.broadcast_to(self.corners.room_c, (candidates, corner_count))
        ware_c = bath_c
        dose_s = np.zeros((candidates, corner_count, len(self.targets.keys)))
        rounds: list[_RoundRun] = []
        for index in range(len(programme.structure.kinds)):
            done = self._round(programme, index, (bath_c, ware_c))
            dose_s = dose_s + done.dose_s
            bath_c, ware_c = done.bath_c, done.ware_c
            rounds.append(done)
        return Runs(
            dose_s=dose_s,
            peak_c=np.stack([done.peak_c for done in rounds], axis=-1),
            spray_end_c=np.stack([done.spray_end_c for done in rounds], axis=-1),
            filled_l=np.stack([done.filled_l for done in rounds], axis=-1),
            element_on_s=np.stack([done.element_on_s for done in rounds], axis=-1),
            round_s=np.stack([done.round_s for done in rounds], axis=-1),
            evaporated_l=np.stack([done.evaporated_l for done in rounds], axis=-1),
            over_k=np.stack([each for done in rounds for each in done.over_k], axis=-1),
            ware_end_c=ware_c,
            drain_s=np.stack([done.drain_s for done in rounds], axis=-1),
            rest_s=np.stack([done.rest_s for done in rounds], axis=-1),
            topped_l=np.stack([done.topped_l for done in rounds], axis=-1),
            drained_c=np.stack([done.drained_c for done in rounds], axis=-1),
        )

    def _round(self, programme: Programme, index: int, start_c: tuple[Array, Array]) -> _RoundRun:
        structure, settings = programme
        corners, kind, mode = self.corners, structure.kinds[index], structure.modes[index]
        bath_c, ware_c = start_c
        # Fill.
        carry_over_share = corners.wet_start if index == 0 else 1.0
        kept_j_per_k = corners.tank_j_per_k + corners.sump_j_per_k * carry_over_share
        film_j_per_k = self._film_j_per_k * carry_over_share
        fill_s, filled_l = self._fill(settings.fill_s[:, index, None], corners.sump_l * carry_over_share)
        inflow = Flow(corners.inlet_kg_per_s * WATER_J_PER_KG_K, corners.fed_c(np.maximum(filled_l, 1e-6)))
        bath_c = filled_c(bath_c, fill_s, kept_j_per_k, inflow, corners.loss_still_w_per_k, corners.room_c)
        water_j_per_k = corners.inlet_kg_per_s * fill_s * WATER_J_PER_KG_K
        bath = _Bath(kept_j_per_k + water_j_per_k, film_j_per_k, bath_c, ware_c)
        # Heat, alone or while spraying.
        element_s = settings.element_s[:, index, None]
        off_at_c = settings.setpoint_c[:, index, None] + corners.sensor_k
        soaks = index in structure.soaked
        soak_s = settings.soak_s[:, index, None]
        after_s = SPRAY_BY_SOAK_S * float(soaks)
        spray_s = settings.spray_s[:, index, None] - after_s
        dose_s = np.zeros((*bath_c.shape, len(self.targets.keys)))
        on_s = np.zeros_like(bath_c)
        heat_s = np.zeros_like(bath_c)
        rest_s = np.zeros_like(spray_s)
        boiled_l = np.zeros_like(bath_c)
        over = [np.zeros_like(bath_c)]
        peak_c = bath.bath_c
        sprayed_s = np.zeros_like(element_s)
        if mode in ALONE:
            heat_s = on_s = self._heat(bath, element_s, off_at_c - corners.sensor_over_mean_k)
            peak_c = np.maximum(peak_c, bath.bath_c + corners.top_over_mean_k)
            element_s = settings.while_s[:, index, None]
        if mode is not Mode.STEAM:
            over = [bath.ware_c - bath.bath_c]
        if mode in (*ALONE, Mode.WHILE_SPRAYING):
            bath.spray_begins()
            if mode in TOGETHER:
                while_s, dose_s, top_c = self._heat_spraying(bath, element_s, off_at_c, kind)
                sprayed_s = element_s
                on_s, peak_c = on_s + while_s, np.maximum(peak_c, top_c)
            rest_s = np.maximum(self.rest_s - (spray_s + after_s - element_s) - soak_s, 0.0)
        elif mode is Mode.STEAM:
            heat_s = on_s = np.broadcast_to(element_s, bath_c.shape)
            boiled_l = self._steam(bath, element_s)
            rest_s = np.full_like(spray_s, self.rest_s)
            element_s = np.zeros_like(element_s)
        else:
            element_s = np.zeros_like(element_s)
            bath.spray_begins()
        # Spray with the element off, rest, drain.
        peak_c = np.maximum(peak_c, bath.bath_c)
        coasting = _Spray(np.maximum(spray_s - element_s, 0.0), corners.pump_heat_w, sprayed_s)
        dose_s = dose_s + self._dissolving(bath, coasting, kind)
        peak_c = np.maximum(peak_c, bath.bath_c)
        spray_end_c = bath.bath_c
        if soaks:
            bath.spray_ends(self._film_j_per_k, corners.ware_j_per_k)
            dose_s = dose_s + self._soak(bath, soak_s + 2 * GAP_S, kind)
            bath.spray_begins()
            dose_s = dose_s + self._spray(bath, np.full_like(spray_s, after_s), corners.pump_heat_w, kind)
            spray_end_c = np.minimum(spray_end_c, bath.bath_c)
        if mode is not Mode.STEAM:
            bath.spray_ends(self._film_j_per_k, corners.ware_j_per_k)
        # The drain pumps litres, and warm water takes more of them.
        per_l = density_kg_per_l(np.minimum(bath.bath_c, BOILING_C))
        top_s, mix_s = settings.top_up_s[:, index, None], settings.mix_s[:, index, None]
        drained_l = corners.inlet_kg_per_s * (fill_s + top_s) / per_l
        drain_s = self.drain_s(drained_l.max(axis=1, keepdims=True))
        rest_s = np.maximum(rest_s, settings.cool_s[:, index, None])
        topped = index in structure.topped
        dose_s = dose_s + self._rest(bath, rest_s, rest_s if topped else rest_s + drain_s, kind)
        drained_c, topped_l = bath.bath_c, np.zeros_like(bath_c)
        if topped:
            drained_c, topped_l, stirred_over_k = self._top_up(bath, top_s, mix_s)
            over.append(stirred_over_k)
            # The pump that stirs sprays as well.
            spray_end_c = np.where(mix_s > 0.0, np.minimum(spray_end_c, bath.bath_c), spray_end_c)
            water_j_per_k = water_j_per_k + corners.inlet_kg_per_s * top_s * WATER_J_PER_KG_K
        self._drain(bath, drain_s, water_j_per_k)
        gaps_s = GAP_S * (3 + (mode in ALONE) + 2 * soaks + (rest_s > 0.0) + topped + (mix_s > 0.0))
        spray_s = spray_s + after_s
        return _RoundRun(
            bath_c=bath.bath_c,
            ware_c=bath.ware_c,
            dose_s=dose_s,
            peak_c=peak_c,
            spray_end_c=spray_end_c,
            filled_l=filled_l,
            element_on_s=on_s,
            round_s=fill_s + heat_s + spray_s + soak_s + rest_s + top_s + mix_s + drain_s + gaps_s,
            over_k=tuple(over),
            evaporated_l=boiled_l + self._evaporated_l(peak_c, heat_s + spray_s + soak_s),
            drain_s=drain_s[:, 0],
            rest_s=rest_s[:, 0],
            topped_l=topped_l,
            drained_c=drained_c,
        )

    def _fill(self, fill_s: Array, sump_l: Array) -> tuple[Array, Array]:
        """Time the inlet is open [s] and litres let in [l]."""
        flow = self.corners.inlet_l_per_s
        if self.machine.inlet.control == "level":
            filled_l = np.broadcast_to(self.corners.level_l - sump_l, (len(fill_s), len(flow)))
            return filled_l / flow, filled_l
        return np.broadcast_to(fill_s, (len(fill_s), len(flow))), fill_s * flow

    def drain_s(self, litres: Real) -> Real:
        """Drain time that the slowest drain needs, with the longest lag [s]."""
        return litres / self._drain_slow_l_per_s + self._drain_lag_s + DRAIN_EXTRA_S

    def _heat(self, bath: _Bath, element_s: Array, off_at_c: Array) -> Array:
        """Element alone; returns how long it was on [s]."""
        nodes = self._nodes(bath, self.corners.element_w, spraying=False)
        run = nodes.run(bath.bath_c, bath.ware_c)
        on_s = run.reached_s(off_at_c, np.broadcast_to(element_s, bath.bath_c.shape))
        bath.bath_c, bath.ware_c = run.at(on_s)
        return on_s

    def _steam(self, bath: _Bath, element_s: Array) -> Array:
        """Boil the pool: its steam heats the ware; returns what it may lose, splashes included [l].

        ``C_ware ΔT = share · (P − UA (T_boil − T_room)) · t``, the film in C_ware.
        """
        corners, element = self.corners, self.machine.element
        assert element is not None
        run = self._nodes(bath, corners.element_w, spraying=False).run(bath.bath_c, bath.ware_c)
        up_s = run.reached_s(np.array(self.boils_c), np.broadcast_to(element_s, bath.bath_c.shape))
        bath.bath_c, ware_c = run.at(up_s)
        boil_s = element_s - up_s
        net_w = np.maximum(
            corners.element_w - corners.loss_still_w_per_k * (self.boils_c - corners.room_c), 0.0
        )
        rise_k = corners.steam_share * net_w * boil_s / (corners.ware_j_per_k + bath.film_j_per_k)
        bath.ware_c = np.minimum(ware_c + rise_k, self.boils_c)
        # An upper bound: all of the power makes steam, and no condensate runs back.
        boiled_l = boil_s * corners.element_w / steam_j_per_l(self.boils_c)
        return np.asarray(element.splash_l + BOIL_SAFETY_FACTOR * boiled_l)

    def _heat_spraying(
        self, bath: _Bath, element_s: Array, off_at_c: Array, kind: int
    ) -> tuple[Array, Array, Array]:
        """Element from the start of the spray, then held; gives on-time [s], dose [s], hottest bath [°C].

        While held for a time t the element gives
        ``(UA (T_held − T_room) − P_pump) t + C_ware ΔT_ware + C_bath ΔT_bath``.
        """
        power_w = self.corners.element_w + self.corners.pump_heat_w
        run = self._nodes(bath, power_w, spraying=True).run(bath.bath_c, bath.ware_c)
        up_s = run.reached_s(off_at_c, np.broadcast_to(element_s, bath.bath_c.shape))
        dose_s = self._dissolving(bath, _Spray(up_s, power_w, np.zeros_like(up_s)), kind)
        top_c = bath.bath_c
        hold_s = element_s - up_s
        if not (hold_s > 0.0).any():
            return up_s, dose_s, top_c
        # The bath is held half a hysteresis under the switching point, the mean of its saw-tooth.
        held_c = np.where(hold_s > 0.0, off_at_c - 0.5 * self.corners.hysteresis_k, bath.bath_c)
        pull = self.corners.exchange_spraying_w_per_k / self.corners.ware_j_per_k
        at_s = GRID * hold_s[..., None]
        ware_c = held_c[..., None] + (bath.ware_c - held_c)[..., None] * np.exp(-pull[:, None] * at_s)
        held_j = (
            self.corners.loss_spraying_w_per_k * (held_c - self.corners.room_c) - self.corners.pump_heat_w
        ) * hold_s
        held_j = held_j + self.corners.ware_j_per_k * (ware_c[..., -1] - bath.ware_c)
        held_j = held_j + bath.j_per_k * (held_c - bath.bath_c)
        # It may end at the bottom of the saw-tooth.
        bath.bath_c = np.where(hold_s > 0.0, off_at_c - self.corners.hysteresis_k, bath.bath_c)
        bath.ware_c = ware_c[..., -1]
        on_s = up_s + np.clip(held_j / self.corners.element_w, 0.0, hold_s)
        cells_s = np.diff(at_s, axis=-1)
        held_s = self.targets.sum_cells(ware_c, cells_s, kind)
        if KINDS[kind] == "wash" and bool((up_s < self.dissolving_s).any()):
            undissolved_s = np.clip((self.dissolving_s - up_s)[..., None] - at_s[..., :-1], 0.0, cells_s)
            held_s = held_s - self.targets.sum_cells(ware_c, undissolved_s, kind)
            held_s = held_s + self.targets.sum_cells(ware_c, undissolved_s, UNDISSOLVED)
        return on_s, dose_s + held_s * self._under_spray, top_c

    def _dissolving(self, bath: _Bath, spray: _Spray, kind: int) -> Array:
        """Spray at constant heat, at first perhaps with undissolved detergent; gives the dose [s]."""
        dissolved = bool((spray.before_s >= self.dissolving_s).all())
        if KINDS[kind] != "wash" or dissolved:
            return self._spray(bath, spray.time_s, spray.power_w, kind)
        undissolved_s = np.clip(self.dissolving_s - spray.before_s, 0.0, spray.time_s)
        dose_s = self._spray(bath, undissolved_s, spray.power_w, UNDISSOLVED)
        return dose_s + self._spray(bath, spray.time_s - undissolved_s, spray.power_w, kind)

    def _spray(self, bath: _Bath, time_s: Array, power_w: Array, kind: int) -> Array:
        """Wash pump on at constant heat; moves the bath on and returns the dose [s]."""
        run = self._nodes(bath, power_w, spraying=True).run(bath.bath_c, bath.ware_c)
        end_s = np.broadcast_to(time_s, bath.bath_c.shape)
        if not self.targets.counts(kind):
            bath.bath_c, bath.ware_c = run.at(end_s)
            return np.zeros((*bath.bath_c.shape, len(self.targets.keys)))
        at_s = GRID[:, None, None] * end_s
        bath_c, ware_c = run.at(at_s)
        bath.bath_c, bath.ware_c = bath_c[-1], ware_c[-1]
        cells_s = np.moveaxis(np.diff(at_s, axis=0), 0, -1)
        return self.targets.sum_cells(np.moveaxis(ware_c, 0, -1), cells_s, kind) * self._under_spray

    def _soak(self, bath: _Bath, time_s: Array, kind: int) -> Array:
        """Everything off, the ware wet; moves the bath on and returns the dose [s]."""
        run = self._nodes(bath, 0.0, spraying=False).run(bath.bath_c, bath.ware_c)
        at_s = GRID[:, None, None] * np.broadcast_to(time_s, bath.bath_c.shape)
        bath_c, ware_c = run.at(at_s)
        bath.bath_c, bath.ware_c = bath_c[-1], ware_c[-1]
        cells_s = np.moveaxis(np.diff(at_s, axis=0), 0, -1)
        return self.targets.sum_cells(np.moveaxis(ware_c, 0, -1), cells_s, kind) * self.targets.soak_share

    def _rest(self, bath: _Bath, rest_s: Array, counts_s: Array, kind: int) -> Array:
        """Rest; what the ware soaks meanwhile, and in a drain after it, is returned as a dose [s]."""
        run = self._nodes(bath, 0.0, spraying=False).run(bath.bath_c, bath.ware_c)
        bath.bath_c, bath.ware_c = run.at(np.broadcast_to(rest_s, bath.bath_c.shape))
        return np.asarray(
            self.targets.rate(bath.ware_c, kind) * counts_s[..., None] * self.targets.soak_share
        )

    def _top_up(self, bath: _Bath, top_s: Array, mix_s: Array) -> tuple[Array, Array, Array]:
        """Let cold water in, and stir it in by the pump.

        Gives the hottest water then [°C], the litres [l], and ware less bath as the stirring begins [K].

        What stands in the pipe of a hot feed may still be hot. Not stirred, the hottest water is above the
        mean by a share of what the mean has fallen.
        """
        corners, before_c = self.corners, bath.bath_c
        litres = np.broadcast_to(top_s * corners.inlet_l_per_s, bath.bath_c.shape)
        fed_c = np.maximum(corners.fed_c(np.maximum(litres, 1e-6)), corners.inlet_c)
        inflow = Flow(corners.inlet_kg_per_s * WATER_J_PER_KG_K, fed_c)
        bath.bath_c = filled_c(
            before_c, top_s, bath.j_per_k, inflow, corners.loss_still_w_per_k, corners.room_c
        )
        bath.j_per_k = bath.j_per_k + corners.inlet_kg_per_s * top_s * WATER_J_PER_KG_K
        hottest_c = bath.bath_c + self.machine.inlet.unmixed_share * np.maximum(before_c - bath.bath_c, 0.0)
        over_k = np.where(mix_s > 0.0, bath.ware_c - bath.bath_c, 0.0)
        if mix_s.any():
            bath.spray_begins()
            run = self._nodes(bath, corners.pump_heat_w, spraying=True).run(bath.bath_c, bath.ware_c)
            bath.bath_c, bath.ware_c = run.at(np.broadcast_to(mix_s, bath.bath_c.shape))
            bath.spray_ends(self._film_j_per_k, corners.ware_j_per_k)
            hottest_c = bath.bath_c
        return np.asarray(hottest_c), np.asarray(litres), np.asarray(over_k)

    def _drain(self, bath: _Bath, drain_s: Array, water_j_per_k: Array) -> None:
        """Drain: what stays cools with the tank."""
        corners = self.corners
        kept, loss, room_c = self._kept_j_per_k, corners.loss_still_w_per_k, corners.room_c
        kg_per_l = density_kg_per_l(np.minimum(bath.bath_c, BOILING_C))
        flow_w_per_k = corners.drain_l_per_s * kg_per_l * WATER_J_PER_KG_K
        cooled_c = drained_c(bath.bath_c, water_j_per_k, kept, flow_w_per_k, loss, room_c)
        idle_s = np.maximum(drain_s - water_j_per_k / flow_w_per_k, 0.0)
        bath.bath_c = temperature_after_c(cooled_c, idle_s, kept, 0.0, loss, room_c)

    def _nodes(self, bath: _Bath, power_w: Array | float, *, spraying: bool) -> TwoNodes:
        corners = self.corners
        exchange = corners.exchange_spraying_w_per_k if spraying else corners.exchange_still_w_per_k
        loss = corners.loss_spraying_w_per_k if spraying else corners.loss_still_w_per_k
        ware_j_per_k = corners.ware_j_per_k + bath.film_j_per_k
        return TwoNodes(bath.j_per_k, ware_j_per_k, exchange, loss, power_w, corners.room_c)

    def _evaporated_l(self, peak_c: Array, time_s: Array) -> Array:
        flux = evaporation_kg_per_s_m2(np.minimum(peak_c, BOILING_C), DRY_AIR)
        return np.asarray(flux * self.machine.tank.vent_m2 * time_s)


@dataclass(frozen=True)
class _Spray:
    """A spray at constant heat: how long [s], heat into the bath [W], and how long it sprayed before [s]."""

    time_s: Array
    power_w: Array
    before_s: Array


@dataclass
class _Bath:
    """Bath, and ware with the film on it, while a round runs; moved on from phase to phase."""

    j_per_k: Array
    film_j_per_k: Array
    bath_c: Array
    ware_c: Array

    def spray_begins(self) -> None:
        """Mix the film with the bath."""
        self.bath_c = mixed_c(self.bath_c, self.j_per_k, self.ware_c, self.film_j_per_k)
        self.j_per_k = self.j_per_k + self.film_j_per_k
        self.film_j_per_k = np.zeros_like(self.film_j_per_k)

    def spray_ends(self, film_j_per_k: Array, ware_j_per_k: Array) -> None:
        """Leave a film of bath on the ware."""
        self.ware_c = mixed_c(self.ware_c, ware_j_per_k, self.bath_c, film_j_per_k)
        self.j_per_k, self.film_j_per_k = self.j_per_k - film_j_per_k, film_j_per_k


@dataclass(frozen=True)
class _RoundRun:
    bath_c: Array
    ware_c: Array
    dose_s: Array
    peak_c: Array
    spray_end_c: Array
    filled_l: Array
    element_on_s: Array
    round_s: Array
    evaporated_l: Array
    over_k: tuple[Array, ...]
    drain_s: Array
    rest_s: Array
    topped_l: Array
    drained_c: Array
