"""The planner's own fast simulation: a whole programme in closed form, many candidates and corners at once.

Axes: ``[candidate, corner, round]``. Inside a phase bath and ware follow the exact solution of
``C_bath dT_bath/dt = P − UA (T_bath − T_room) − G (T_bath − T_ware)`` and
``C_ware dT_ware/dt = G (T_bath − T_ware)`` (`physics.two_nodes`). The film on the ware is part of C_ware
while the pump is off; a spray mixes it into the bath, and leaves a new one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.water import BOILING_C, boiling_c, density_kg_per_l
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.corners import corners_of
from optimizer.planner.simulated_heat import HeatPhases, Spray
from optimizer.planner.simulated_water import WaterPhases
from optimizer.planner.structure import ALONE, TOGETHER, Mode, Programme
from optimizer.planner.targets import DoseTargets, dose_targets_of
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import GAP_S, KINDS, REST_BEFORE_DRAIN_S, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN

BELOW_BOIL_K = 3.0
"""How far below its boiling point a bath stays that is not meant to boil [K]."""


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
    before_drain_c : ndarray
        Bath as the drain of a round begins [°C].
    begin_c : ndarray
        Bath as the first spray of a round begins, before the film mixes into it [°C].
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
    before_drain_c: Array
    begin_c: Array
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
        self.water = WaterPhases(machine, self.corners)
        self.start_drain_s = self.water.drain_s(machine.tank.capacity_l)
        self._heat = HeatPhases(
            machine.element,
            self.corners,
            self.targets,
            boils_c=self.boils_c,
            dissolving_s=self.dissolving_s,
        )

    def run(self, programme: Programme) -> Runs:
        """Simulate all candidates of a programme."""
        candidates, corner_count = programme.settings.spray_s.shape[0], len(self.corners.room_c)
        bath_c = np.broadcast_to(self.corners.room_c, (candidates, corner_count))
        ware_c = bath_c
        dose_s = np.zeros((candidates, corner_count, len(self.targets.keys)))
        rounds: list[RoundRun] = []
        for index in range(len(programme.structure.kinds)):
            done = self._round(programme, index, (bath_c, ware_c))
            dose_s = dose_s + done.dose_s
            bath_c, ware_c = done.bath_c, done.ware_c
            rounds.append(done)
        return Runs(
            dose_s=dose_s,
            peak_c=np.stack([done.peak_c for done in rounds], axis=-1),
            spray_end_c=np.stack([done.spray_end_c for done in rounds], axis=-1),
            before_drain_c=np.stack([done.before_drain_c for done in rounds], axis=-1),
            begin_c=np.stack([done.begin_c for done in rounds], axis=-1),
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

    def count_for(self, targets: DoseTargets) -> None:
        """Count doses for other targets from now on."""
        self.targets = targets
        self._heat = HeatPhases(
            self.machine.element,
            self.corners,
            targets,
            boils_c=self.boils_c,
            dissolving_s=self.dissolving_s,
        )

    def round_alone(self, programme: Programme, start_c: tuple[Array, Array]) -> RoundRun:
        """Simulate the one round of each candidate from given temperatures of bath and ware [°C]."""
        return self._round(programme, 0, start_c)

    def _round(self, programme: Programme, index: int, start_c: tuple[Array, Array]) -> RoundRun:
        structure, settings = programme
        corners, kind, mode = self.corners, structure.kinds[index], structure.modes[index]
        bath, fill_s, filled_l = self.water.fill(settings.fill_s[:, index, None], start_c, first=index == 0)
        shape = bath.bath_c.shape
        # Heat, alone or while spraying.
        element_s = settings.element_s[:, index, None]
        off_at_c = settings.setpoint_c[:, index, None] + corners.sensor_k
        soaks = index in structure.soaked
        soak_s = settings.soak_s[:, index, None]
        after_s = SPRAY_BY_SOAK_S * float(soaks)
        spray_s = settings.spray_s[:, index, None] - after_s
        dose_s = np.zeros((*shape, len(self.targets.keys)))
        on_s = heat_s = boiled_l = np.zeros(shape)
        rest_s = np.zeros_like(spray_s)
        over = [np.zeros(shape)]
        peak_c = bath.bath_c
        sprayed_s = np.zeros_like(element_s)
        if mode in ALONE:
            heat_s = on_s = self._heat.heat(bath, element_s, off_at_c - corners.sensor_over_mean_k)
            peak_c = np.maximum(peak_c, bath.bath_c + corners.top_over_mean_k)
            element_s = settings.while_s[:, index, None]
        begin_c = bath.bath_c
        if mode is not Mode.STEAM:
            over = [bath.ware_c - bath.bath_c]
        if mode in (*ALONE, Mode.WHILE_SPRAYING):
            bath.spray_begins()
            if mode in TOGETHER:
                while_s, dose_s, top_c = self._heat.heat_spraying(bath, element_s, off_at_c, kind)
                sprayed_s = element_s
                on_s, peak_c = on_s + while_s, np.maximum(peak_c, top_c)
            rest_s = np.maximum(self.rest_s - (spray_s + after_s - element_s) - soak_s, 0.0)
        elif mode is Mode.STEAM:
            heat_s = on_s = np.broadcast_to(element_s, shape)
            boiled_l = self._heat.steam(bath, element_s)
            rest_s = np.full_like(spray_s, self.rest_s)
            element_s = np.zeros_like(element_s)
        else:
            element_s = np.zeros_like(element_s)
            bath.spray_begins()
        # Spray with the element off, rest, drain.
        peak_c = np.maximum(peak_c, bath.bath_c)
        coasting = Spray(np.maximum(spray_s - element_s, 0.0), corners.pump_heat_w, sprayed_s)
        dose_s = dose_s + self._heat.spray(bath, coasting, kind)
        peak_c = np.maximum(peak_c, bath.bath_c)
        spray_end_c = bath.bath_c
        if soaks:
            bath.spray_ends()
            dose_s = dose_s + self._heat.soak(bath, soak_s + 2 * GAP_S, kind)
            bath.spray_begins()
            dose_s = dose_s + self._heat.spray_as(
                bath, np.full_like(spray_s, after_s), corners.pump_heat_w, kind
            )
            spray_end_c = np.minimum(spray_end_c, bath.bath_c)
        if mode is not Mode.STEAM:
            bath.spray_ends()
        # The drain pumps litres, and warm water takes more of them.
        per_l = density_kg_per_l(np.minimum(bath.bath_c, BOILING_C))
        top_s, mix_s = settings.top_up_s[:, index, None], settings.mix_s[:, index, None]
        drained_l = corners.inlet_kg_per_s * (fill_s + top_s) / per_l
        drain_s = self.water.drain_s(drained_l.max(axis=1, keepdims=True))
        rest_s = np.maximum(rest_s, settings.cool_s[:, index, None])
        topped = index in structure.topped
        # A rest cools the bath for the drain; what is to soak for longer has a spray after it.
        counts_s = np.minimum(rest_s, REST_BEFORE_DRAIN_S) if KINDS[kind] == "wash" else rest_s
        dose_s = dose_s + self._heat.rest(bath, rest_s, counts_s if topped else counts_s + drain_s, kind)
        drained_c, topped_l = bath.bath_c, np.zeros(shape)
        if topped:
            drained_c, topped_l, stirred_over_k = self.water.top_up(bath, top_s, mix_s, drain_s)
            over.append(stirred_over_k)
            # The pump that stirs sprays as well.
            spray_end_c = np.where(mix_s > 0.0, np.minimum(spray_end_c, bath.bath_c), spray_end_c)
        before_drain_c = bath.bath_c
        self.water.drain(bath, drain_s)
        gaps_s = GAP_S * (3 + (mode in ALONE) + 2 * soaks + (rest_s > 0.0) + topped + (mix_s > 0.0))
        spray_s = spray_s + after_s
        return RoundRun(
            bath_c=bath.bath_c,
            ware_c=bath.ware_c,
            dose_s=dose_s,
            peak_c=peak_c,
            spray_end_c=spray_end_c,
            before_drain_c=before_drain_c,
            begin_c=begin_c,
            filled_l=filled_l,
            element_on_s=on_s,
            round_s=fill_s + heat_s + spray_s + soak_s + rest_s + top_s + mix_s + drain_s + gaps_s,
            over_k=tuple(over),
            evaporated_l=boiled_l + self.water.evaporated_l(peak_c, heat_s + spray_s + soak_s),
            drain_s=drain_s[:, 0],
            rest_s=rest_s[:, 0],
            topped_l=topped_l,
            drained_c=drained_c,
        )


@dataclass(frozen=True)
class RoundRun:
    """One round of the candidates, as in `Runs`, with bath and ware after its drain [°C]."""

    bath_c: Array
    ware_c: Array
    dose_s: Array
    peak_c: Array
    spray_end_c: Array
    before_drain_c: Array
    begin_c: Array
    filled_l: Array
    element_on_s: Array
    round_s: Array
    evaporated_l: Array
    over_k: tuple[Array, ...]
    drain_s: Array
    rest_s: Array
    topped_l: Array
    drained_c: Array
