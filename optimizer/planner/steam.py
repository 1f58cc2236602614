"""The steam round's options: pools that outlast the element's time, from shallow to deep."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.thermal import heating_time_s
from optimizer.physics.water import BOILING_C, STEAM_J_PER_L
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.margins import POOL_GROWTH
from optimizer.planner.options import Frame, Line, Option
from optimizer.planner.simulation import DRAIN_EXTRA_S, STEAM_SPARE
from optimizer.planner.structure import Mode
from optimizer.programme.constants import GAP_S

Array = NDArray[np.float64]

POOL_STEPS = (1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.4)
"""Pools to choose from, as multiples of what must be left of them [1]."""


@dataclass(frozen=True)
class Boil:
    """A pool that is brought to the boil and steams the ware.

    Attributes
    ----------
    lump : LumpedRound
        Corner and level.
    ware_c : float
        Temperature the ware must get to [°C].
    share : float
        Share of the steam that condenses on it, above 0 [1].
    """

    lump: LumpedRound
    ware_c: float
    share: float

    def heating_s(self, carry_c: Array) -> Array:
        """Time to the boil.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].

        Returns
        -------
        ndarray
            Time [s].
        """
        lump = self.lump
        start_c, loss = lump.bath_start_c(carry_c), lump.loss_still_w_per_k
        return heating_time_s(start_c, BOILING_C, lump.bath_j_per_k, lump.element_w, loss, lump.room_c)

    def element_s(self, carry_c: Array) -> Array:
        """Time until the steam has brought the ware to its temperature.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].

        Returns
        -------
        ndarray
            Time; inf where the element does not keep a pool boiling [s].
        """
        lump = self.lump
        net_w = lump.element_w - lump.loss_still_w_per_k * (BOILING_C - lump.room_c)
        heat_j = lump.ware_j_per_k * np.maximum(self.ware_c - carry_c, 0.0)
        boil_s = heat_j / (self.share * net_w) if net_w > 0.0 else np.full_like(carry_c, np.inf)
        return np.asarray(self.heating_s(carry_c) + boil_s)


def steam_options(frame: Frame, kind: int) -> list[Option]:
    """List the pools of a goal that is dried by steam.

    Parameters
    ----------
    frame : Frame
        The frame of the table.
    kind : int
        Index of the steam round into `KINDS` [1].

    Returns
    -------
    list of Option
        From shallow to deep; empty where steam is not asked for, or not possible.
    """
    assessor, machine = frame.assessor, frame.assessor.inputs.machine
    element = machine.element
    steams = assessor.inputs.goal.drying.method == "steam" and assessor.heats(Mode.STEAM)
    if element is None or not steams:
        return []
    flows = assessor.simulator.cases.inlet_l_per_s
    bare_l = element.cover_l * (1.01 + assessor.spare("cover.element_l")) + element.splash_l
    most_s = (machine.tank.capacity_l / POOL_GROWTH - assessor.left_high_l) / float(flows.max())
    fills = [(bare_l * step - machine.tank.residual_l.low) / float(flows.min()) for step in POOL_STEPS]
    if machine.inlet.level_l is not None:
        fills = [0.0]
    found = [_option(frame, kind, fill_s, bare_l) for fill_s in fills if fill_s <= most_s]
    return [option for option in found if option is not None]


def _option(frame: Frame, kind: int, fill_s: float, bare_l: float) -> Option | None:
    """One pool; None where it would boil down to the element before the ware is hot enough."""
    assessor, machine = frame.assessor, frame.assessor.inputs.machine
    cases, needs = assessor.simulator.cases, assessor.simulator.needs
    lumps = [LumpedRound.of(cases, index, fill_s) for index in range(len(cases.room_c))]
    hot, nominal = lumps[frame.hot], lumps[cases.nominal]
    boils = Boil(lumps[frame.cold], assessor.dry_c(), machine.ware.steam_share)
    longest_s = float(boils.element_s(np.array(frame.carry_c[0])))
    # Rinses are seldom heated before a steam round: the pool starts from water and room.
    soonest_s = float(Boil(hot, 0.0, 1.0).heating_s(np.array(max(hot.inlet_c, hot.room_c))))
    pool_l = min(lump.filled_l for lump in lumps) + machine.tank.residual_l.low
    boiled_l = STEAM_SPARE * (longest_s - soonest_s) * hot.element_w / STEAM_J_PER_L
    if not math.isfinite(longest_s) or pool_l - boiled_l < bare_l:
        return None
    carry_c = (frame.carry_c[0], min(frame.carry_c[1], boils.ware_c))
    line = Line.over(boils.element_s, carry_c, above=frame.above)
    drain_s = max(lump.filled_l for lump in lumps) / float(cases.drain_l_per_s.min()) + DRAIN_EXTRA_S
    inlet_s = nominal.filled_l / float(cases.inlet_l_per_s[cases.nominal])
    none, zeros = Line(0.0), np.zeros(len(frame.segments_s))
    return Option(
        kind=kind,
        mode=Mode.STEAM,
        fill_s=inlet_s,
        peak_c=BOILING_C,
        setpoint_c=math.inf,
        element_s=line,
        energy_on_s=line,
        ramp_dose_s=tuple(none for _ in needs.keys),
        cold_end_c=none,
        second_end_c=none,
        second_per_element=0.0,
        second_mix=1.0,
        cold_drop=zeros,
        second_drop=zeros,
        rates=np.zeros((len(zeros), len(needs.keys))),
        hold_rates=np.zeros(0),
        hold_share=0.0,
        cold_keep_c=none,
        second_keep_c=none,
        other_s=inlet_s + assessor.simulator.rest_s + drain_s + 4 * GAP_S,
        other_j=machine.inlet.valve_w * inlet_s + machine.drain_pump.power_w.nominal * drain_s,
        filled_l=nominal.filled_l,
        filled_high_l=max(
            LumpedRound.of(cases, index, fill_s).filled_l for index in range(len(cases.room_c))
        ),
        residue_decades=0.0,
    )
