"""Pools of steam rounds: how deep, how long until they boil, and until the ware is hot."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
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
        hottest_c=none,
        step_share=1.0,
        other_s=inlet_s + assessor.simulator.rest_s + drain_s + 4 * GAP_S,
        other_j=machine.inlet.valve_w * inlet_s + machine.drain_pump.power_w.nominal * drain_s,
        filled_l=nominal.filled_l,
        filled_high_l=filled_high_l,
        residue_decades=0.0,
    )
