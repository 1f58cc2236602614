"""The planner's own fast simulation: a whole programme in closed form, many candidates and corners at once.

Axes: ``[candidate, corner, round]``; the loops over them are compiled (`simulated_rounds.py`). Inside a phase
bath and ware follow the exact solution of
``C_bath dT_bath/dt = P − UA (T_bath − T_room) − G (T_bath − T_ware)`` and
``C_ware dT_ware/dt = G (T_bath − T_ware)`` (`physics.two_nodes`). The film on the ware is part of C_ware
while the pump is off; a spray mixes it into the bath, and leaves a new one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.compiled import is_ready
from optimizer.physics import Array, Real
from optimizer.physics.evaporation import Air, evaporation_kg_per_s_m2
from optimizer.physics.water import BOILING_C, boiling_c, density_kg_per_l, steam_j_per_l
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.corners import corners_of
from optimizer.planner.simulated_bath import Fixed, machine_rows
from optimizer.planner.simulated_heat import rate_rows
from optimizer.planner.simulated_rounds import (
    ALONE_S,
    BEFORE_DRAIN_C,
    BEGIN_C,
    BOILED_L,
    DRAINED_C,
    ELEMENT_ON_S,
    FILLED_L,
    FOUND,
    NUMBERS,
    PEAK_C,
    ROUND_S,
    SPRAY_END_C,
    TOPPED_L,
    WET_S,
    Found,
    all_rounds,
)
from optimizer.planner.simulated_water import slowest_drain_s
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.planner.targets import DoseTargets, dose_targets_of
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import KINDS
from optimizer.second_thread import in_halves
from optimizer.units import S_PER_MIN

SHARED_LEAST = 12
"""Candidates at the least whose loop runs on two cores [1]."""

BELOW_BOIL_K = 3.0
"""How far below its boiling point a bath stays that is not meant to boil [K]."""


DRY_AIR = Air(humidity=0.0)
"""Air that takes up the most water [-]."""


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
    alone_s : ndarray
        The same before its spray begins [s].
    round_s : ndarray
        Length of a round with its gaps [s].
    evaporated_l : ndarray
        Upper bound of the water evaporated by a round [l].
    over_k : ndarray
        Ware less bath as each spray of a round begins, before the film mixes into it, the stirring of a
        top-up as well; 0 without a spray; ``[candidate, corner, spray]`` [K].
    bath_end_c, ware_end_c : ndarray
        Bath and ware after the last drain, ``[candidate, corner]`` [°C].
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
    alone_s: Array
    round_s: Array
    evaporated_l: Array
    over_k: Array
    bath_end_c: Array
    ware_end_c: Array
    drain_s: Array
    rest_s: Array
    topped_l: Array
    drained_c: Array


def _density_spread_s(machine: Machine) -> float:
    """How much longer a drain lasts so that its bound holds too [s]: what a switch lets in, heated by time.

    The bound takes the heaviest water that may be there, and lets the pump take the lightest: where a time
    ends the heating a bath may be of many temperatures, where a level ends the fill of many litres as well.
    """
    element, level_l = machine.element, machine.inlet.level_l
    if element is None or element.control != "timed" or level_l is None:
        return 0.0
    coldest_c = min(machine.inlet.water_c.low, machine.room.air_c.low)
    hottest_c = min(machine.tank.limit_c, BOILING_C)
    more = density_kg_per_l(coldest_c) / density_kg_per_l(hottest_c) - 1.0
    return float(more * level_l.high / (machine.drain_pump.flow_l_per_min.low / S_PER_MIN))


class Simulator:
    """Simulates programmes on one machine for the doses of one goal, in the usual corners or those given."""

    def __init__(self, machine: Machine, goal: Goal, corners: Corners | None = None) -> None:
        self.machine = machine
        self.goal = goal
        self.corners: Corners = corners or corners_of(machine)
        self.targets: DoseTargets = dose_targets_of(goal)
        element, detergent = machine.element, goal.detergent
        self.thermostat = machine.thermostat is not None
        self.boils_c = boiling_c(machine.room.height_m)
        self.dissolving_s = detergent.dissolving_min * S_PER_MIN if detergent is not None else 0.0
        self.rest_s = float(element.rest_s) if element else 0.0
        self.fixed = self._fixed_of(machine)
        self.start_drain_s = float(min(self.drain_s(machine.tank.capacity_l), machine.start_drain_most_s))
        self._rows = machine_rows(self.corners)
        self.count_for(self.targets)

    def _fixed_of(self, machine: Machine) -> Fixed:
        element, pump = machine.element, machine.drain_pump
        return Fixed(
            dissolving_s=float(self.dissolving_s),
            rest_s=self.rest_s,
            boils_c=float(self.boils_c),
            steam_j_per_l=steam_j_per_l(self.boils_c),
            splash_l=float(element.splash_l) if element else 0.0,
            drain_slow_l_per_s=pump.flow_l_per_min.low / S_PER_MIN,
            drain_lag_s=float(pump.drain_lag_s.high) + _density_spread_s(machine),
            to_a_level=machine.inlet.control == "level",
            unmixed_share=float(machine.inlet.unmixed_share),
        )

    def drain_s(self, litres: Real) -> Real:
        """Drain time that the slowest drain needs, with the longest lag [s]."""
        return slowest_drain_s(self.fixed, litres)

    @property
    def is_ready(self) -> bool:
        """Whether a run begins at once; else it compiles first, for some ten seconds."""
        return is_ready(all_rounds)

    def get_ready(self) -> None:
        """Compile, by simulating a short wash."""
        one = np.full((1, 1), 60.0)
        settings = Settings(one, one, one, one, one, one)
        self.run(Programme(Structure((KINDS.index("wash"),), (Mode.UNHEATED,)), settings))

    def run(self, programme: Programme) -> Runs:
        """Simulate all candidates of a programme."""
        return self.run_from(programme, (self.corners.start_bath_c, self.corners.room_c))

    def run_from(self, programme: Programme, start_c: tuple[Array, Array]) -> Runs:
        """Simulate all candidates from given temperatures of bath and ware [°C]."""
        structure, settings = programme
        candidates, corners, rounds = len(settings.spray_s), len(self._rows), len(structure.kinds)
        numbers = np.empty((candidates, rounds, len(NUMBERS)))
        for number, name in enumerate(NUMBERS):
            numbers[:, :, number] = getattr(settings, name)[:, :rounds]
        made = [
            (kind, int(mode), index in structure.soaked, index in structure.topped)
            for index, (kind, mode) in enumerate(zip(structure.kinds, structure.modes, strict=True))
        ]
        to = Found(
            rounds=np.empty((candidates, rounds, corners, FOUND)),
            dose_s=np.empty((candidates, rounds, corners, len(self.targets.keys))),
            over_k=np.empty((candidates, rounds + len(structure.topped), corners)),
            at_c=np.empty((candidates, rounds + 1, corners, 2)),
            drain_s=np.empty((candidates, rounds)),
            rest_s=np.empty((candidates, rounds)),
        )
        to.at_c[:, 0, :, 0], to.at_c[:, 0, :, 1] = start_c
        rows, made_of = self._rows, np.array(made)

        def simulate(begin: int, end: int) -> None:
            all_rounds(rows, self.fixed, self._rates, self._under_spray, made_of, numbers, to, begin, end)

        simulate(0, 1)
        if candidates > 1:
            in_halves(simulate, 1, candidates, SHARED_LEAST)
        found = np.ascontiguousarray(np.transpose(to.rounds, (3, 0, 2, 1)))
        # No bath evaporates more than one as hot as its peak.
        flux = evaporation_kg_per_s_m2(np.minimum(found[PEAK_C], BOILING_C), DRY_AIR)
        return Runs(
            dose_s=to.dose_s.sum(axis=1),
            peak_c=found[PEAK_C],
            spray_end_c=found[SPRAY_END_C],
            before_drain_c=found[BEFORE_DRAIN_C],
            begin_c=found[BEGIN_C],
            filled_l=found[FILLED_L],
            element_on_s=found[ELEMENT_ON_S],
            alone_s=found[ALONE_S],
            round_s=found[ROUND_S],
            evaporated_l=found[BOILED_L] + flux * self.machine.tank.vent_m2 * found[WET_S],
            over_k=to.over_k.swapaxes(1, 2),
            bath_end_c=to.at_c[:, -1, :, 0],
            ware_end_c=to.at_c[:, -1, :, 1],
            drain_s=to.drain_s,
            rest_s=to.rest_s,
            topped_l=found[TOPPED_L],
            drained_c=found[DRAINED_C],
        )

    def count_for(self, targets: DoseTargets) -> None:
        """Count doses for other targets from now on."""
        self.targets, self._rates = targets, rate_rows(targets)
        self._under_spray = np.ascontiguousarray(targets.under_spray(self.corners.mechanics))
