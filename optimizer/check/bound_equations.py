"""Bounding equations: a course below and a course above every course that a box of tolerances allows.

The two nodes are cooperative: each temperature rises with the other. So the course whose slopes are, at each
state, the least that any point of the box gives stays below all others, and that of the greatest slopes
above them (Müller 1927, Kamke 1932; Scott and Barton, Automatica 49 (2013) 93). But for heat capacities the
points may even wander within their box during a run; not from one box into another: the worst box is taken.

How close the bound comes hangs on what is taken for the state. With bath and ware, the heat that passes
between them counts twice: as much as may be leaves the bath, as little as may be reaches the ware. Here the
state is the *mixed* temperature S, that of bath and ware brought together, and the ware's W. What passes
between them does not change S, and every jump at a fill, a drain or a film of water is monotone in both. With
m kg of water, film f of it on the ware, heat capacities C, h(T) the enthalpy of water above that of the inlet
water at B, and c0 a constant near the specific heat of water::

    (c0 m + C_tank + C_ware) (S - B) = (m - f) h(T) + f h(W) + C_tank (T - B) + C_ware (W - B)
    (c0 m + C_tank + C_ware) dS/dt = P - UA (T - T_room) - (m'_out + w) (h(T) - c0 (S - B))
                                     - m'_in c0 (S - B)
    dW/dt = (T - W) C_ware / tau / (C_ware + c f)

The bath T follows from S and W. It is bounded once more by its own equation, because there the water's mass
wanders without harm; of the two bounds the better one counts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.bound_sides import (
    C0_J_PER_KG_K,
    WIDER,
    Acting,
    Exchange,
    bend_j_per_kg,
    ends,
    enthalpy_j_per_kg,
    flipped,
    specific_heat_j_per_kg_k,
)
from optimizer.check.equations import STILL_AIR_KW_PER_M2_KPA
from optimizer.check.worst_cases import Array
from optimizer.physics.water import (
    BOILING_C,
    density_kg_per_l,
    latent_heat_kj_per_kg,
    saturation_pressure_kpa,
)

JUMP_K = 0.004
"""Width given to a jump of the film between ware and bath [K]: the check mixes with specific heats, here it
is enthalpies; 0.3 kg of film and 60 K make 0.002 K of it."""


class Bounding:
    """The two bounding courses of all boxes: slopes of mixed, ware and bath temperature and of the mass.

    Arrays have two rows, the lower course and the upper, and a column a box. Of quantities of which much
    makes the bath cold (masses, heat capacities, losses, time constants) the high end stands in the first
    row: the *averse* end. `flipped` gives the other one.
    """

    def __init__(self, boxes: Boxes, vent_m2: float) -> None:
        least, most = boxes.least, boxes.most

        def averse(name: str) -> Array:
            return ends(getattr(most, name), getattr(least, name))

        self.count = boxes.count
        self.boils_c = float(most.boils_c[0])
        self.steam_share = least.steam_share, most.steam_share
        self.element_w = ends(least.element_w, most.element_w)
        self.pump_heat_w = ends(least.pump_heat_w, most.pump_heat_w)
        self.inlet_c = ends(boxes.inlet_low_c, boxes.inlet_high_c)
        self.room_c = ends(least.room_c, most.room_c)
        self.error_k = averse("sensor_error_k")
        self.over_mean_k = averse("sensor_over_mean_k")
        self.tank = averse("tank_j_per_k")
        self.ware = averse("ware_j_per_k")
        self.loss = (averse("loss_still_w_per_k"), averse("loss_spraying_w_per_k"))
        self.response_s = (averse("response_still_s"), averse("response_spraying_s"))
        self.flow = averse("flow_kg_per_s")
        self.drain_l_per_s = averse("drain_l_per_s")
        self.drain_lag_s = averse("drain_lag_s")
        # What stood in the pipe comes in first, as warm as the room.
        self.pipe_kg_per_s = averse("flow_l_per_s") * density_kg_per_l(np.stack([least.room_c, most.room_c]))
        self.pipe_s = averse("pipe_l") / flipped(averse("flow_l_per_s"))
        self.level_kg = averse("level_kg")
        self.residual_kg = averse("residual_kg")
        self.all_film_kg = averse("film_kg")
        self.start_share = averse("start_share")
        self.carry_kg = self.residual_kg + self.all_film_kg
        self._inlet_j_per_kg = enthalpy_j_per_kg(self.inlet_c)
        self._inlet_bend_j_per_kg = bend_j_per_kg(self.inlet_c)
        self._solid = self.tank + self.ware
        self._exchange: tuple[Array | None, bool, Exchange | None] = None, False, None
        self._vent_kw_per_kpa = vent_m2 * STILL_AIR_KW_PER_M2_KPA
        # Damp air leaves the most water, which goes with the lower course.
        damp, dry = (each.humidity * saturation_pressure_kpa(each.room_c) for each in (most, least))
        self._air_kpa = ends(damp, dry)

    def exchange(self, acting: Acting) -> Exchange:
        """What stays the same during a phase; kept as long as the film stays where it is."""
        known_kg, sprays, found = self._exchange
        if known_kg is acting.film_kg and sprays == acting.spraying and found is not None:
            return found
        spraying = int(acting.spraying)
        response_s, film = self.response_s[spraying], C0_J_PER_KG_K * acting.film_kg
        ware, passes = self.ware + film, self.ware / flipped(response_s)
        found = Exchange(
            loss=self.loss[spraying],
            less=flipped(self.loss[spraying]),
            lag_s=response_s * (1.0 + film / flipped(self.ware)),
            quick_s=flipped(response_s) * (1.0 + flipped(film) / self.ware),
            passes=passes,
            less_passes=flipped(passes),
            ware=ware,
            other_ware=flipped(ware),
        )
        self._exchange = acting.film_kg, acting.spraying, found
        return found

    def slopes(self, acting: Acting, time_s: float, state: Array) -> Array:
        """Slopes of S [K/s], W [K/s], T [K/s] and the water's mass [kg/s], at a time of the phase."""
        mixed_c, ware_c, bath_c, water_kg = state
        fixed, found = self.exchange(acting), np.empty_like(state)
        near, far = self.bath_from(acting, state)
        np.maximum(near[0], bath_c[0], out=near[0])
        np.minimum(near[1], bath_c[1], out=near[1])
        np.minimum(far[0], bath_c[1], out=far[0])
        np.maximum(far[1], bath_c[0], out=far[1])
        heat_w = acting.heat_w
        bath_heat_w = heat_w
        if acting.switched_w is not None:
            heat_w = heat_w + acting.switched_w * self._on(acting, far)
            bath_heat_w = bath_heat_w + acting.switched_w * self._on(acting, bath_c)

        leaves = C0_J_PER_KG_K * (far - mixed_c) + self._bend(far)
        over_k = far - self.room_c
        net_w = heat_w - np.where(over_k > 0.0, fixed.loss, fixed.less) * over_k
        if self._evaporates(acting):
            net_w -= self.evaporation(far, acting.wet) * leaves
        if acting.outflow is not None:
            net_w -= np.where(leaves >= 0.0, acting.outflow, flipped(acting.outflow)) * leaves
        total = C0_J_PER_KG_K * water_kg + self._solid
        mixed_slope = net_w / np.where(net_w >= 0.0, total, flipped(total))

        above_k = near - ware_c
        np.divide(above_k, np.where(above_k >= 0.0, fixed.lag_s, fixed.quick_s), out=found[1])

        over_k = bath_c - self.room_c
        bath_w = bath_heat_w - np.where(over_k > 0.0, fixed.loss, fixed.less) * over_k
        over_k = bath_c - ware_c
        bath_w -= np.where(over_k >= 0.0, fixed.passes, fixed.less_passes) * over_k
        heat_j_per_kg_k = specific_heat_j_per_kg_k(np.minimum(bath_c, BOILING_C))
        bath = heat_j_per_kg_k * (water_kg - acting.apart_kg) + self.tank
        bath_slope = bath_w / np.where(bath_w >= 0.0, bath, flipped(bath))

        if self._evaporates(acting):
            np.negative(self.evaporation(bath_c, acting.wet), out=found[3])
        else:
            found[3] = 0.0
        if acting.inflow is not None:
            let_in, apart_kg = acting.inflow, acting.apart_kg
            found[3] += let_in.kg_per_s
            # The share that the fill takes off grows with the flow, and falls with all that was there before.
            quick_kg = let_in.before_kg + let_in.kg_per_s * (time_s - let_in.from_s)
            slow_kg = flipped(quick_kg)
            quick = let_in.kg_per_s / (quick_kg + (flipped(self.tank) + flipped(self.ware)) / C0_J_PER_KG_K)
            slow = flipped(let_in.kg_per_s) / (slow_kg + (self.tank + self.ware) / C0_J_PER_KG_K)
            over_k = mixed_c - self.inlet_c + let_in.cold_k
            mixed_slope -= np.where(over_k >= 0.0, quick, slow) * over_k
            over = enthalpy_j_per_kg(bath_c) - self._inlet_j_per_kg + C0_J_PER_KG_K * let_in.cold_k
            quick_j = heat_j_per_kg_k * (quick_kg - flipped(apart_kg)) + flipped(self.tank)
            slow_j = heat_j_per_kg_k * (slow_kg - apart_kg) + self.tank
            quick, slow = let_in.kg_per_s / quick_j, flipped(let_in.kg_per_s) / slow_j
            bath_slope -= np.where(over >= 0.0, quick, slow) * over
        found[0], found[2] = mixed_slope, bath_slope
        return found

    def _evaporates(self, acting: Acting) -> bool:
        return acting.wet and self._vent_kw_per_kpa != 0.0

    def evaporation(self, bath_c: Array, wet: bool) -> Array:
        """Water that evaporates [kg/s], as the equations of the check have it."""
        if not wet or self._vent_kw_per_kpa == 0.0:
            return np.zeros_like(bath_c)
        liquid_c = np.minimum(bath_c, BOILING_C)
        excess_kpa = np.maximum(saturation_pressure_kpa(liquid_c) - self._air_kpa, 0.0)
        return np.asarray(self._vent_kw_per_kpa * excess_kpa / latent_heat_kj_per_kg(liquid_c))

    def bath_from(self, acting: Acting, state: Array) -> tuple[Array, Array]:
        """Bath at the edge of the state: least (lower course) or most [°C], and the other way round."""
        mixed_c, ware_c, _, water_kg = state
        over_k = mixed_c - ware_c
        pool_kg = water_kg - acting.apart_kg
        bath = C0_J_PER_KG_K * pool_kg + self.tank
        # Much film and ware beside little bath make the bath differ much from the mixture.
        little = self.exchange(acting).other_ware / bath
        much = flipped(little)
        bend, pool_share = self._bend(mixed_c), pool_kg / bath
        share, other = bend * pool_share, bend * flipped(pool_share)
        most, least = np.maximum(share, other), np.minimum(share, other)
        warmer = over_k >= 0.0
        near, far = np.where(warmer, little, much), np.where(warmer, much, little)
        for edge in (near, far):
            edge *= over_k
            edge += mixed_c
        near[0] -= most[0]
        near[1] -= least[1]
        far[0] -= least[0]
        far[1] -= most[1]
        return near, far

    def not_above(self, acting: Acting, state: Array) -> Array:
        """The lower course no warmer than the cap of what acts."""
        assert acting.cap_c is not None
        found = state.copy()
        found[2, 0] = np.minimum(state[2, 0], acting.cap_c)
        found[0, 0] = np.minimum(state[0, 0], self.mixed_from(acting, found[2], state[1], state[3])[0])
        return found

    def least_bath(self, acting: Acting, mixed_c: Array, ware_c: Array, water_kg: Array) -> Array:
        """Least bath at the edge of lower courses alone, as in `bath_from`; the last axis are the boxes."""
        ware = self.ware + C0_J_PER_KG_K * acting.film_kg
        pool_kg = water_kg - acting.apart_kg
        bath = C0_J_PER_KG_K * pool_kg + self.tank
        over_k = mixed_c - ware_c
        bend = (
            enthalpy_j_per_kg(mixed_c) - self._inlet_j_per_kg[0] - C0_J_PER_KG_K * (mixed_c - self.inlet_c[0])
        )
        share = pool_kg / bath
        most = bend * np.where(bend >= 0.0, share.max(axis=0), share.min(axis=0))
        return np.asarray(
            mixed_c + np.where(over_k >= 0.0, ware[1] / bath[0], ware[0] / bath[1]) * over_k - most
        )

    def least_mixed(self, acting: Acting, bath_c: Array, ware_c: Array, water_kg: Array) -> Array:
        """Least mixed temperature of lower courses alone, as in `mixed_from`; the last axis are the boxes."""
        most_kg, least_kg = water_kg[0] - acting.apart_kg[0], water_kg[1] - acting.apart_kg[1]
        ware = self.ware + C0_J_PER_KG_K * acting.film_kg
        most, least = C0_J_PER_KG_K * most_kg + self.tank[0], C0_J_PER_KG_K * least_kg + self.tank[1]
        over_k = bath_c - ware_c
        share = np.where(over_k >= 0.0, ware[0] / (ware[0] + least), ware[1] / (ware[1] + most))
        bend = (
            enthalpy_j_per_kg(bath_c) - self._inlet_j_per_kg[0] - C0_J_PER_KG_K * (bath_c - self.inlet_c[0])
        )
        one, other = most_kg / (most + ware[0]), least_kg / (least + ware[1])
        return np.asarray(bath_c - share * over_k + np.minimum(bend * one, bend * other))

    def least_ware_slope(self, acting: Acting, near_c: Array, ware_c: Array) -> Array:
        """Slope of the ware of a lower course alone beside a bath, while the pump sprays [K/s]."""
        above_k = near_c - ware_c
        slow_s, quick_s = self.response_s[int(acting.spraying)]
        return np.asarray(above_k / np.where(above_k >= 0.0, slow_s, quick_s))

    def mixed_from(self, acting: Acting, bath_c: Array, ware_c: Array, water_kg: Array) -> Array:
        """Mixed temperature of a bath and a ware: the least for the lower course, the most for the upper."""
        pool_kg = water_kg - acting.apart_kg
        bath = C0_J_PER_KG_K * pool_kg + self.tank
        ware = self.ware + C0_J_PER_KG_K * acting.film_kg
        over_k = bath_c - ware_c
        much, little = ware / (ware + flipped(bath)), flipped(ware) / (flipped(ware) + bath)
        bend = self._bend(bath_c) * pool_kg / (bath + ware)
        other = self._bend(bath_c) * flipped(pool_kg) / flipped(bath + ware)
        high, low = np.maximum(bend, other), np.minimum(bend, other)
        return bath_c - np.where(over_k >= 0.0, much, little) * over_k + ends(low[0], high[1])

    def pipe_k(self) -> Array:
        """By how much the pipe's water is colder than the inlet's, as enthalpy over c0 [K]."""
        return np.asarray((self._inlet_j_per_kg - enthalpy_j_per_kg(self.room_c)) / C0_J_PER_KG_K)

    def spray_begins(self, acting: Acting, state: Array) -> Array:
        """Mix the film with the bath; ``acting`` is what was before. The mixed temperature stays."""
        mixed_c, ware_c, bath_c, water_kg = state
        film = C0_J_PER_KG_K * acting.film_kg
        bath_j_per_k = specific_heat_j_per_kg_k(np.minimum(bath_c, BOILING_C)) * (water_kg - acting.apart_kg)
        bath_j_per_k = bath_j_per_k + self.tank
        much, little = film / (film + flipped(bath_j_per_k)), flipped(film) / (flipped(film) + bath_j_per_k)
        over_k = bath_c - ware_c
        bath_c = bath_c - np.where(over_k >= 0.0, much, little) * over_k
        return np.stack([mixed_c - WIDER * JUMP_K, ware_c, bath_c, water_kg])

    def spray_ends(self, state: Array) -> Array:
        """Leave a film of the bath on the ware. The mixed temperature stays."""
        mixed_c, ware_c, bath_c, water_kg = state
        film = C0_J_PER_KG_K * self.all_film_kg
        much, little = film / (film + flipped(self.ware)), flipped(film) / (flipped(film) + self.ware)
        over_k = bath_c - ware_c
        ware_c = ware_c + np.where(over_k >= 0.0, little, much) * over_k
        return np.stack([mixed_c - WIDER * JUMP_K, ware_c, bath_c, water_kg])

    def _bend(self, temperature_c: Array) -> Array:
        """By how much the enthalpy of water above the inlet's is more than c0 times the difference [J/kg]."""
        return bend_j_per_kg(temperature_c) - self._inlet_bend_j_per_kg

    def _on(self, acting: Acting, bath_c: Array) -> Array:
        """Whether a thermostat's element is on: surely (lower course), or perhaps (upper course).

        Where it holds a bath the lower course is that of baths that have not been switched off yet.

        The upper course has it on up to its cap and there as well: `held` keeps it at the cap. Switched off
        there, it would fall below baths that are still on their way.
        """
        assert acting.on_below_c is not None
        if acting.off_low_c is not None:
            return np.ones((2, self.count))
        return np.stack([bath_c[0] <= acting.on_below_c, np.ones(self.count)])

    def held(self, acting: Acting, before: Array, state: Array, step_s: float) -> Array:
        """Keep the courses where a switched element keeps them: neither may be heated past its threshold.

        What the pump alone adds in a step they may gain beyond it.
        """
        if acting.on_below_c is None or acting.cap_c is None:
            return state
        gains_k = np.zeros_like(state[2])
        if acting.spraying:
            edge_c = ends(acting.on_below_c, np.maximum(acting.cap_c, before[2, 1]))
            off = self.slopes(replace(acting, switched_w=None), 0.0, np.stack([*state[:2], edge_c, state[3]]))
            gains_k = np.maximum(off[2], 0.0) * step_s
        mixed_c, ware_c, bath_c, water_kg = state
        _, far_before = self.bath_from(acting, before)
        _, far = self.bath_from(acting, state)
        low_c = acting.on_below_c
        most_c = low_c + gains_k[0]
        past_k = np.where(far_before[0] <= low_c + 1e-9, np.maximum(far[0] - most_c, 0.0), 0.0)
        low = np.where(before[2, 0] <= low_c + 1e-9, np.minimum(bath_c[0], most_c), bath_c[0])
        bath_c = ends(low, np.minimum(bath_c[1], np.maximum(acting.cap_c, before[2, 1]) + gains_k[1]))
        most = self.mixed_from(acting, bath_c, ware_c, water_kg)[1]
        return np.stack([ends(mixed_c[0] - past_k, np.minimum(mixed_c[1], most)), ware_c, bath_c, water_kg])
