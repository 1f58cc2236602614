"""How a hot round is made fit for the drain pipe: the same option with a rest, and with a cold top-up.

Both are sized for the hottest bath that the option may have; trimming finds what is needed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.physics.water import density_kg_per_l
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.round_options import Line, Option, TableBasis
from optimizer.planner.water_margins import DENSEST_C
from optimizer.programme.constants import GAP_S, MIX_LEAST_S
from optimizer.units import S_PER_MIN

REST_STEPS = 7
"""Temperatures down to which a bath may rest before a top-up that is tried in the table of options [1]."""

OPTIMISTIC_S = 600.0
"""Longest rest of an option where lines are optimistic: trimming finds how long it has to be [s]."""


class Cooling:
    """Options that are cooled before their drain."""

    def __init__(self, basis: TableBasis) -> None:
        self._assessor = assessor = basis.assessor
        self._hot, self._cold, self._second = basis.hot, basis.cold, basis.second
        self._longest_s = math.inf if basis.safe else OPTIMISTIC_S
        self._limit_c = assessor.drain_limit_c * (1.0 - assessor.backoff("drain.bath_c"))

    def fit(self, option: Option, hottest_c: float) -> list[Option]:
        """Give the option as it is where the drain pipe stands it, else with a rest or with a top-up.

        One of the two, the cheaper, keeps the model small; the neighbours of what it chooses try the other.
        Ware that is to dry by its heat must not rest beside a bath that cools.
        """
        if not self._assessor.may_drain_hot or hottest_c <= self._limit_c:
            return [option]
        topped = list(self._topped(option, hottest_c))
        rested = [
            one
            for one in self._rested(option, hottest_c, self._limit_c)
            if one.cool_s <= self._assessor.soaking.rest_most_s(option.kind)
        ]
        if topped and not self._assessor.mixes(option.kind, last=True):
            return topped
        return sorted([*topped, *rested], key=self._price)[:1]

    def _price(self, option: Option) -> float:
        """What the option takes beside heat and spray [currency]."""
        prices = self._assessor.unit_prices()
        a_s = (prices.waiting_per_min + prices.tie_per_min) / S_PER_MIN
        return option.topped_l * prices.per_l + option.other_s * a_s

    def _lumped(self, index: int, option: Option) -> LumpedRound:
        corners = self._assessor.simulator.corners
        return LumpedRound.of(corners, index, option.fill_s)

    def _rested(self, option: Option, hottest_c: float, to_c: float) -> Iterator[Option]:
        """``t = C / UA ln((T - T_room) / (T_to - T_room))``, of bath and ware together."""
        hot = self._lumped(self._hot, option)
        if to_c <= hot.room_c or hot.loss_still_w_per_k <= 0.0:
            return
        fallen = math.log((hottest_c - hot.room_c) / (to_c - hot.room_c))
        cool_s = min(hot.all_j_per_k / hot.loss_still_w_per_k * fallen, self._longest_s)
        lines = []
        for each in (self._lumped(index, option) for index in (self._cold, self._second)):
            kept = math.exp(-cool_s * each.loss_still_w_per_k / each.all_j_per_k)
            lines.append(Line(each.room_c * (1.0 - kept), kept))
        yield replace(
            option,
            cool_s=cool_s,
            other_s=option.other_s + cool_s + GAP_S,
            cold_handed_on_c=_after(option.cold_handed_on_c, lines[0]),
            second_handed_on_c=_after(option.second_handed_on_c, lines[1]),
        )

    def _topped(self, option: Option, hottest_c: float) -> Iterator[Option]:
        """Top up at once or, where the tank cannot hold so much, once it has rested as far as needed."""
        for share in np.linspace(0.0, 0.9, REST_STEPS):
            from_c = hottest_c - share * (hottest_c - self._limit_c)
            rested = [option] if share == 0.0 else list(self._rested(option, hottest_c, from_c))
            found = [topped for one in rested for topped in self._topped_from(one, from_c)]
            if found:
                yield from found
                return

    def _topped_from(self, option: Option, from_c: float) -> Iterator[Option]:
        """``V = C (T - T_mean) / (rho c (T_mean - T_inlet))``, with the ware where it is stirred in."""
        assessor, machine = self._assessor, self._assessor.inputs.machine
        corners, hot = assessor.simulator.corners, self._lumped(self._hot, option)
        mixes = assessor.mixes(option.kind, last=True)
        unmixed = 0.0 if mixes else machine.inlet.unmixed_share
        if unmixed >= 1.0:
            return
        mean_c = (self._limit_c - unmixed * from_c) / (1.0 - unmixed)
        if mean_c <= hot.inlet_c:
            return
        heat = hot.all_j_per_k if mixes else hot.bath_j_per_k
        top_j_per_k = heat * (from_c - mean_c) / (mean_c - hot.inlet_c)
        flow = corners.inlet_l_per_s
        top_s = top_j_per_k / WATER_J_PER_KG_K / float(flow.min())
        top_high_l = top_s * float(flow.max())
        most_l = machine.tank.capacity_l if mixes else assessor.dry_top_up_most_l
        if self._full_l(option, top_high_l) > most_l:
            return
        mix_s = float(MIX_LEAST_S * mixes)
        drain_s = top_high_l / (machine.drain_pump.flow_l_per_min.low / S_PER_MIN)
        pump_j = machine.wash_pump.power_w.nominal * mix_s + machine.inlet.valve_w * top_s
        lines = [Line(0.0, 1.0), Line(0.0, 1.0)]
        if mixes:
            both = [self._lumped(index, option) for index in (self._cold, self._second)]
            parts = [top_j_per_k / (top_j_per_k + each.all_j_per_k) for each in both]
            lines = [Line(one.inlet_c * part, 1.0 - part) for one, part in zip(both, parts, strict=True)]
        yield replace(
            option,
            top_up_s=top_s,
            topped_l=top_s * float(flow[corners.nominal]),
            filled_high_l=option.filled_high_l + top_high_l,
            other_s=option.other_s + top_s + mix_s + drain_s + GAP_S * (1 + mixes),
            other_j=option.other_j + pump_j + machine.drain_pump.power_w.nominal * drain_s,
            cold_handed_on_c=_after(option.cold_handed_on_c, lines[0]),
            second_handed_on_c=_after(option.second_handed_on_c, lines[1]),
        )

    def _full_l(self, option: Option, top_high_l: float) -> float:
        """Most water of a round that is topped up, as warm as it may be by then [l]."""
        assessor, machine = self._assessor, self._assessor.inputs.machine
        growth = float(density_kg_per_l(DENSEST_C) / density_kg_per_l(self._limit_c))
        full_l = option.filled_high_l + assessor.water.carry_over_high_l
        if machine.inlet.level_l is not None:
            full_l = machine.inlet.level_l.high + machine.ware.film_l.high
        return (full_l + top_high_l) * growth


def _after(handed_on_c: Line, cooled_c: Line) -> Line:
    """The temperature handed on, of one that was cooled before the drain."""
    return Line(handed_on_c.base + handed_on_c.slope * cooled_c.base, handed_on_c.slope * cooled_c.slope)
