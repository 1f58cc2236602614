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

import numpy as np

from optimizer.check import bound_kernel as kernel
from optimizer.check import bound_kernel_batch as batch
from optimizer.check.bound_box import Boxes
from optimizer.check.bound_sides import (
    C0_J_PER_KG_K,
    WIDER,
    Acting,
    bend_j_per_kg,
    ends,
    enthalpy_j_per_kg,
    flipped,
    heaviest_kg_per_l,
    lightest_kg_per_l,
    specific_heat_j_per_kg_k,
)
from optimizer.check.equations import STILL_AIR_KW_PER_M2_KPA
from optimizer.check.worst_cases import Array
from optimizer.physics.water import (
    BOILING_C,
    saturation_pressure_kpa,
)

JUMP_K = 0.004
"""Width given to a jump of the film between ware and bath [K]: the check mixes with specific heats, here it
is enthalpies; 0.3 kg of film and 60 K make 0.002 K of it."""


class Bounding:
    """The two bounding courses of all boxes: slopes of mixed, ware and bath temperature and of the mass.

    Arrays have two rows, the lower course and the upper, and a column a box. Of quantities of which much
    makes the bath cold (masses, heat capacities, losses, time constants) the high end stands in the first
    row: the *averse* end. `flipped` gives the other one. Steps in time are so much ``finer`` than usual.
    """

    def __init__(self, boxes: Boxes, vent_m2: float, finer: float = 1.0) -> None:
        least, most = boxes.least, boxes.most

        def averse(name: str) -> Array:
            return ends(getattr(most, name), getattr(least, name))

        self.count, self.finer = boxes.count, finer
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
        room_c = least.room_c, most.room_c
        kg_per_l = np.stack([heaviest_kg_per_l(*room_c), lightest_kg_per_l(*room_c)])
        self.pipe_kg_per_s = averse("flow_l_per_s") * kg_per_l
        self.pipe_s = averse("pipe_l") / flipped(averse("flow_l_per_s"))
        self.level_kg = averse("level_kg")
        self.residual_kg = averse("residual_kg")
        self.all_film_kg = averse("film_kg")
        self.start_share = averse("start_share")
        self.start_chill_share = averse("start_chill_share")
        self.carry_kg = self.residual_kg + self.all_film_kg
        self._inlet_j_per_kg = enthalpy_j_per_kg(self.inlet_c)
        self._inlet_bend_j_per_kg = bend_j_per_kg(self.inlet_c)
        self._packed: tuple[Acting | None, Array] = None, np.empty(0)
        self._vent_kw_per_kpa = vent_m2 * STILL_AIR_KW_PER_M2_KPA
        # Damp air leaves the most water, which goes with the lower course.
        damp, dry = (each.humidity * saturation_pressure_kpa(each.room_c) for each in (most, least))
        self._air_kpa = ends(damp, dry)

    def packed(self, acting: Acting) -> Array:
        """What stays the same during a phase, as `bound_kernel` has it: boxes × quantities × courses."""
        known, found = self._packed
        if known is acting:
            return found
        spraying = int(acting.spraying)
        response_s, film = self.response_s[spraying], C0_J_PER_KG_K * acting.film_kg
        nothing = np.zeros((2, self.count))
        rows = {
            kernel.LOSS: self.loss[spraying],
            kernel.LAG: response_s * (1.0 + film / flipped(self.ware)),
            kernel.QUICK: flipped(response_s) * (1.0 + flipped(film) / self.ware),
            kernel.PASSES: self.ware / flipped(response_s),
            kernel.WARE_FILM: self.ware + film,
            kernel.TANK: self.tank,
            kernel.WARE: self.ware,
            kernel.ROOM: self.room_c,
            kernel.INLET: self.inlet_c,
            kernel.INLET_J: self._inlet_j_per_kg,
            kernel.INLET_BEND: self._inlet_bend_j_per_kg,
            kernel.AIR: self._air_kpa,
            kernel.HEAT: acting.heat_w,
            kernel.SWITCHED: nothing if acting.switched_w is None else acting.switched_w,
            kernel.APART: acting.apart_kg,
        }
        found = np.empty((self.count, kernel.QUANTITIES, 2))
        for number, row in rows.items():
            found[:, number] = row.T
        self._packed = acting, found
        return found

    def vent_kw_per_kpa(self, acting: Acting) -> float:
        """What the vents let out while the tank holds the water of a round [kW/kPa]."""
        return self._vent_kw_per_kpa if acting.wet else 0.0

    def flowing(self, acting: Acting) -> Array:
        """What flows in, as `bound_kernel` has it: boxes × flows × courses.

        Of flows of many steps, steps × courses × boxes, it is steps × boxes × flows × courses.
        """
        there: dict[int, Array] = {}
        if acting.inflow is not None:
            let_in = acting.inflow
            there = {
                kernel.IN: let_in.kg_per_s,
                kernel.BEFORE: let_in.before_kg,
                kernel.COLDER: let_in.cold_k,
            }
        shape = np.broadcast_shapes((2, self.count), *(flow.shape for flow in there.values()))
        found = np.zeros((*shape[:-2], self.count, kernel.FLOWS, 2))
        for number, flow in there.items():
            found[..., number, :] = np.swapaxes(np.broadcast_to(flow, shape), -1, -2)
        return found

    def switching(self, acting: Acting) -> tuple[int, Array]:
        """When a switched element is on in the lower course, and under which bath [°C].

        Where it holds a bath the lower course is that of baths that have not been switched off yet. The upper
        course has it on up to its cap and there as well: `held` keeps it at the cap. Switched off there, it
        would fall below baths that are still on their way.
        """
        if acting.switched_w is None:
            return kernel.NEVER, np.zeros(self.count)
        assert acting.on_below_c is not None
        when = kernel.BELOW if acting.off_low_c is None else kernel.ALWAYS
        return when, np.broadcast_to(acting.on_below_c, self.count).astype(float)

    def slopes(self, acting: Acting, time_s: float, state: Array) -> Array:
        """Slopes of S [K/s], W [K/s], T [K/s] and the water's mass [kg/s], at a time of the phase."""
        since_s = time_s - acting.inflow.from_s if acting.inflow is not None else 0.0
        when, on_below_c = self.switching(acting)
        vent = self.vent_kw_per_kpa(acting)
        return batch.all_slopes(
            self.packed(acting), self.flowing(acting), state, since_s, vent, when, on_below_c
        )

    def evaporation(self, bath_c: Array, wet: bool) -> Array:
        """Water that evaporates [kg/s], as the equations of the check have it."""
        if not wet or self._vent_kw_per_kpa == 0.0:
            return np.zeros_like(bath_c)
        return batch.all_evaporate(bath_c, self._air_kpa, self._vent_kw_per_kpa)

    def bath_from(self, acting: Acting, state: Array) -> tuple[Array, Array]:
        """Bath at the edge of the state: least (lower course) or most [°C], and the other way round."""
        return batch.all_edges(self.packed(acting), state)

    def not_above(self, acting: Acting, state: Array) -> Array:
        """The lower course no warmer than the cap of what acts."""
        assert acting.cap_c is not None
        found = state.copy()
        found[2, 0] = np.minimum(state[2, 0], acting.cap_c)
        found[0, 0] = np.minimum(state[0, 0], self.mixed_from(acting, found[2], state[1], state[3])[0])
        return found

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

    def mixed_from(self, acting: Acting, bath_c: Array, ware_c: Array, water_kg: Array) -> Array:
        """Mixed temperature of a bath and a ware: the least for the lower course, the most for the upper."""
        return batch.all_mixed(self.packed(acting), np.stack([bath_c, ware_c, bath_c, water_kg]))

    def pipe_k(self) -> Array:
        """By how much the pipe's water is colder than the inlet's, as enthalpy over c0 [K]."""
        return np.asarray((self._inlet_j_per_kg - enthalpy_j_per_kg(self.room_c)) / C0_J_PER_KG_K)

    def spray_begins(self, acting: Acting, state: Array) -> Array:
        """Mix the film with the bath; ``acting`` is what was before. The mixed temperature stays."""
        mixed_c, ware_c, bath_c, water_kg = state
        film = C0_J_PER_KG_K * acting.film_kg
        pool_kg = np.maximum(water_kg - acting.apart_kg, 0.0)
        bath_j_per_k = specific_heat_j_per_kg_k(np.minimum(bath_c, BOILING_C)) * pool_kg
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

    def held(self, acting: Acting, before: Array, state: Array, step_s: float) -> Array:
        """Keep the courses where a switched element keeps them: neither may be heated past its threshold.

        What the pump alone adds in a step they may gain beyond it.
        """
        if acting.on_below_c is None or acting.cap_c is None:
            return state
        vent = self.vent_kw_per_kpa(acting)
        limits_c = acting.on_below_c, acting.cap_c
        return batch.all_held(self.packed(acting), before, state, step_s, acting.spraying, vent, *limits_c)
