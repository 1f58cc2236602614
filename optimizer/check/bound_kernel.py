"""Compiled inner loops of the bounding courses: box by box, as `bound_equations` states them.

A box is an array of quantities × (lower course, upper course); `LOSS` and the like number its rows. The
state of a box is mixed, ware and bath temperature and water × (lower course, upper course). ``row`` is the
course, 0 or 1, and ``1 - row`` the other one, whose end of a tolerance is the other.
"""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_sides import (
    BEND_COEFFICIENTS,
    C0_J_PER_KG_K,
    CP_COEFFICIENTS,
    ENTHALPY_COEFFICIENTS,
)
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled
from optimizer.physics.water import BOILING_C, latent_heat_kj_per_kg, saturation_pressure_kpa
from optimizer.units import J_PER_KJ

QUANTITIES = 15
LOSS, LAG, QUICK, PASSES, WARE_FILM, TANK, WARE, ROOM = range(8)
INLET, INLET_J, INLET_BEND, AIR, HEAT, SWITCHED, APART = range(8, QUANTITIES)
"""Rows of a box: loss [W/K], slow and quick time of the ware [s], conductance bath to ware [W/K], heat
capacity of ware with film, of tank, of ware [J/K], room, inlet [°C], its enthalpy and bend [J/kg], vapour in
the room [kPa], steady and switched heat [W], water that is not in the bath [kg]."""

FLOWS = 4
OUT, IN, BEFORE, COLDER = range(FLOWS)
"""Rows of what flows during a step: out and in [kg/s], water before it [kg], by how much it is colder [K]."""

NEVER, BELOW, ALWAYS = range(3)
"""When a switched element is on in the lower course: there is none, below a bath, always."""


_saturation_kpa = compiled(saturation_pressure_kpa)
_latent_kj_per_kg = compiled(latent_heat_kj_per_kg)


@compiled
def specific_heat(temperature_c: float) -> float:
    """Specific heat of liquid water [J/(kg K)]."""
    total = 0.0
    for number in range(len(CP_COEFFICIENTS) - 1, -1, -1):
        total = total * temperature_c + J_PER_KJ * CP_COEFFICIENTS[number]
    return total


@compiled
def _powers(coefficients: tuple[float, ...], temperature_c: float) -> float:
    """Polynomial without a constant, its coefficients from the first power on."""
    total = 0.0
    for number in range(len(coefficients) - 1, -1, -1):
        total = (total + coefficients[number]) * temperature_c
    return total


@compiled
def evaporates(bath_c: float, air_kpa: float, vent_kw_per_kpa: float) -> float:
    """Water that evaporates [kg/s], as the equations of the check have it."""
    liquid_c = min(bath_c, BOILING_C)
    excess_kpa = max(_saturation_kpa(liquid_c) - air_kpa, 0.0)
    return float(vent_kw_per_kpa * excess_kpa / _latent_kj_per_kg(liquid_c))


@compiled
def edges(box: Array, state: Array, near: Array, far: Array) -> None:
    """Bath at the edge of the state: least (lower course) or most [°C], and the other way round."""
    # The most film and the least water may be those of two points: then there is more bath than none.
    bath_0 = C0_J_PER_KG_K * max(state[3, 0] - box[APART, 0], 0.0) + box[TANK, 0]
    bath_1 = C0_J_PER_KG_K * max(state[3, 1] - box[APART, 1], 0.0) + box[TANK, 1]
    share_0 = max(state[3, 0] - box[APART, 0], 0.0) / bath_0
    share_1 = max(state[3, 1] - box[APART, 1], 0.0) / bath_1
    # Much film and ware beside little bath make the bath differ much from the mixture.
    little_0, little_1 = box[WARE_FILM, 1] / bath_0, box[WARE_FILM, 0] / bath_1
    for row in range(2):
        mixed_c = state[0, row]
        over_k = mixed_c - state[1, row]
        little, much = (little_0, little_1) if row == 0 else (little_1, little_0)
        bend = _powers(BEND_COEFFICIENTS, mixed_c) - box[INLET_BEND, row]
        one, other = bend * share_0, bend * share_1
        most, least = max(one, other), min(one, other)
        warmer = over_k >= 0.0
        near[row] = (little if warmer else much) * over_k + mixed_c - (most if row == 0 else least)
        far[row] = (much if warmer else little) * over_k + mixed_c - (least if row == 0 else most)


@compiled
def least_near(box: Array, mixed_c: float, ware_c: float, most_kg: float, least_kg: float) -> float:
    """Least bath at the edge of a lower course, as in `edges` [°C]."""
    bath_0 = C0_J_PER_KG_K * max(most_kg - box[APART, 0], 0.0) + box[TANK, 0]
    bath_1 = C0_J_PER_KG_K * max(least_kg - box[APART, 1], 0.0) + box[TANK, 1]
    over_k = mixed_c - ware_c
    share = box[WARE_FILM, 1] / bath_0 if over_k >= 0.0 else box[WARE_FILM, 0] / bath_1
    bend = _powers(BEND_COEFFICIENTS, mixed_c) - box[INLET_BEND, 0]
    one = bend * max(most_kg - box[APART, 0], 0.0) / bath_0
    other = bend * max(least_kg - box[APART, 1], 0.0) / bath_1
    return float(share * over_k + mixed_c - max(one, other))


@compiled
def least_mixed(box: Array, bath_c: float, ware_c: float, most_kg: float, least_kg: float) -> float:
    """Mixed temperature of a lower course, as `mixed` [°C]."""
    most_kg, least_kg = max(most_kg - box[APART, 0], 0.0), max(least_kg - box[APART, 1], 0.0)
    most, least = C0_J_PER_KG_K * most_kg + box[TANK, 0], C0_J_PER_KG_K * least_kg + box[TANK, 1]
    over_k, ware, other = bath_c - ware_c, box[WARE_FILM, 0], box[WARE_FILM, 1]
    share = ware / (ware + least) if over_k >= 0.0 else other / (other + most)
    bend = _powers(BEND_COEFFICIENTS, bath_c) - box[INLET_BEND, 0]
    here, there = bend * most_kg / (most + ware), bend * least_kg / (least + other)
    return float(bath_c - share * over_k + min(here, there))


@compiled
def lower_slopes(
    box: Array,
    vent_kw_per_kpa: float,
    mixed_c: float,
    ware_c: float,
    bath_c: float,
    most_kg: float,
    upper_c: float,
    least_kg: float,
) -> tuple[float, float, float, float]:
    """Slopes of a lower course, as `box_slopes`: nothing flows, and no element is on.

    ``upper_c`` and ``least_kg`` are the bath and the water of the upper course.
    """
    pool_kg, other_kg = max(most_kg - box[APART, 0], 0.0), max(least_kg - box[APART, 1], 0.0)
    most, least = C0_J_PER_KG_K * pool_kg + box[TANK, 0], C0_J_PER_KG_K * other_kg + box[TANK, 1]
    little, much = box[WARE_FILM, 1] / most, box[WARE_FILM, 0] / least
    over_k = mixed_c - ware_c
    bend = _powers(BEND_COEFFICIENTS, mixed_c) - box[INLET_BEND, 0]
    one, other = bend * (pool_kg / most), bend * (other_kg / least)
    near_c = (little if over_k >= 0.0 else much) * over_k + mixed_c - max(one, other)
    far_c = (much if over_k >= 0.0 else little) * over_k + mixed_c - min(one, other)
    near_c, far_c = max(near_c, bath_c), min(far_c, upper_c)

    leaves = C0_J_PER_KG_K * (far_c - mixed_c) + _powers(BEND_COEFFICIENTS, far_c) - box[INLET_BEND, 0]
    over_k = far_c - box[ROOM, 0]
    net_w = box[HEAT, 0] - (box[LOSS, 0] if over_k > 0.0 else box[LOSS, 1]) * over_k
    gone_kg_per_s = 0.0
    if vent_kw_per_kpa != 0.0:
        net_w -= evaporates(far_c, box[AIR, 0], vent_kw_per_kpa) * leaves
        gone_kg_per_s = evaporates(bath_c, box[AIR, 0], vent_kw_per_kpa)
    row, kg = (0, most_kg) if net_w >= 0.0 else (1, least_kg)
    mixed_slope = net_w / (C0_J_PER_KG_K * kg + (box[TANK, row] + box[WARE, row]))

    above_k = near_c - ware_c
    ware_slope = above_k / (box[LAG, 0] if above_k >= 0.0 else box[QUICK, 0])

    over_k = bath_c - box[ROOM, 0]
    bath_w = box[HEAT, 0] - (box[LOSS, 0] if over_k > 0.0 else box[LOSS, 1]) * over_k
    over_k = bath_c - ware_c
    bath_w -= (box[PASSES, 0] if over_k >= 0.0 else box[PASSES, 1]) * over_k
    if bath_w >= 0.0:
        bath_j_per_k = specific_heat(min(bath_c, BOILING_C)) * pool_kg + box[TANK, 0]
    else:
        bath_j_per_k = specific_heat(min(upper_c, BOILING_C)) * other_kg + box[TANK, 1]
    return mixed_slope, ware_slope, bath_w / bath_j_per_k, -gone_kg_per_s


@compiled
def mixed(box: Array, state: Array, row: int) -> float:
    """Mixed temperature of a bath and a ware: the least for the lower course, the most for the upper."""
    other = 1 - row
    pool_kg = max(state[3, row] - box[APART, row], 0.0)
    other_kg = max(state[3, other] - box[APART, other], 0.0)
    bath = C0_J_PER_KG_K * pool_kg + box[TANK, row]
    other_bath = C0_J_PER_KG_K * other_kg + box[TANK, other]
    ware, other_ware = box[WARE_FILM, row], box[WARE_FILM, other]
    bath_c = state[2, row]
    over_k = bath_c - state[1, row]
    share = ware / (ware + other_bath) if over_k >= 0.0 else other_ware / (other_ware + bath)
    bend = _powers(BEND_COEFFICIENTS, bath_c) - box[INLET_BEND, row]
    here, there = bend * pool_kg / (bath + ware), bend * other_kg / (other_bath + other_ware)
    return float(bath_c - share * over_k + (min(here, there) if row == 0 else max(here, there)))


@compiled
def box_slopes(
    box: Array,
    flows: Array,
    state: Array,
    since_s: float,
    vent_kw_per_kpa: float,
    switched: int,
    on_below_c: float,
    found: Array,
    near: Array,
    far: Array,
) -> None:
    """Slopes of S [K/s], W [K/s], T [K/s] and the water's mass [kg/s] of one box.

    ``near`` and ``far`` are room to work in.
    """
    edges(box, state, near, far)
    near[0], near[1] = max(near[0], state[2, 0]), min(near[1], state[2, 1])
    far[0] = min(far[0], state[2, 1])
    if switched != ALWAYS:
        # Else the lower course is that of baths that are still heated, and others are colder.
        far[1] = max(far[1], state[2, 0])
    heat_0 = specific_heat(min(state[2, 0], BOILING_C))
    heat_1 = specific_heat(min(state[2, 1], BOILING_C))
    bath_0 = heat_0 * max(state[3, 0] - box[APART, 0], 0.0) + box[TANK, 0]
    bath_1 = heat_1 * max(state[3, 1] - box[APART, 1], 0.0) + box[TANK, 1]
    solid_0, solid_1 = box[TANK, 0] + box[WARE, 0], box[TANK, 1] + box[WARE, 1]
    total_0, total_1 = C0_J_PER_KG_K * state[3, 0] + solid_0, C0_J_PER_KG_K * state[3, 1] + solid_1
    fills = flows[IN, 0] > 0.0 or flows[IN, 1] > 0.0
    for row in range(2):
        other = 1 - row
        mixed_c, ware_c, bath_c, far_c = state[0, row], state[1, row], state[2, row], far[row]
        bath, other_bath = (bath_0, bath_1) if row == 0 else (bath_1, bath_0)
        total, other_total = (total_0, total_1) if row == 0 else (total_1, total_0)
        heat_w = bath_heat_w = box[HEAT, row]
        if switched != NEVER:
            surely = row == 1 or switched == ALWAYS
            heat_w += box[SWITCHED, row] if surely or far_c <= on_below_c else 0.0
            bath_heat_w += box[SWITCHED, row] if surely or bath_c <= on_below_c else 0.0

        leaves = C0_J_PER_KG_K * (far_c - mixed_c) + _powers(BEND_COEFFICIENTS, far_c) - box[INLET_BEND, row]
        over_k = far_c - box[ROOM, row]
        net_w = heat_w - (box[LOSS, row] if over_k > 0.0 else box[LOSS, other]) * over_k
        gone_kg_per_s = 0.0
        if vent_kw_per_kpa != 0.0:
            net_w -= evaporates(far_c, box[AIR, row], vent_kw_per_kpa) * leaves
            gone_kg_per_s = evaporates(bath_c, box[AIR, row], vent_kw_per_kpa)
        net_w -= (flows[OUT, row] if leaves >= 0.0 else flows[OUT, other]) * leaves
        mixed_slope = net_w / (total if net_w >= 0.0 else other_total)

        above_k = near[row] - ware_c
        found[1, row] = above_k / (box[LAG, row] if above_k >= 0.0 else box[QUICK, row])

        over_k = bath_c - box[ROOM, row]
        bath_w = bath_heat_w - (box[LOSS, row] if over_k > 0.0 else box[LOSS, other]) * over_k
        over_k = bath_c - ware_c
        bath_w -= (box[PASSES, row] if over_k >= 0.0 else box[PASSES, other]) * over_k
        bath_slope = bath_w / (bath if bath_w >= 0.0 else other_bath)

        if fills:
            # The share that the fill takes off grows with the flow, and falls with all that was there before.
            quick_kg = flows[BEFORE, row] + flows[IN, row] * since_s
            slow_kg = flows[BEFORE, other] + flows[IN, other] * since_s
            over_k = mixed_c - box[INLET, row] + flows[COLDER, row]
            solid, other_solid = (solid_0, solid_1) if row == 0 else (solid_1, solid_0)
            quick = flows[IN, row] / (quick_kg + other_solid / C0_J_PER_KG_K)
            slow = flows[IN, other] / (slow_kg + solid / C0_J_PER_KG_K)
            mixed_slope -= (quick if over_k >= 0.0 else slow) * over_k
            heat = heat_0 if row == 0 else heat_1
            over = (
                _powers(ENTHALPY_COEFFICIENTS, bath_c)
                - box[INLET_J, row]
                + C0_J_PER_KG_K * flows[COLDER, row]
            )
            quick = flows[IN, row] / (heat * max(quick_kg - box[APART, other], 0.0) + box[TANK, other])
            slow = flows[IN, other] / (heat * max(slow_kg - box[APART, row], 0.0) + box[TANK, row])
            bath_slope -= (quick if over >= 0.0 else slow) * over
        found[0, row], found[2, row] = mixed_slope, bath_slope
        found[3, row] = flows[IN, row] - gone_kg_per_s


@compiled
def box_held(
    box: Array,
    before: Array,
    state: Array,
    step_s: float,
    sprays: bool,
    vent_kw_per_kpa: float,
    on_below_c: float,
    cap_c: float,
) -> None:
    """Keep the courses of a box where a switched element keeps them: none is heated past its threshold.

    What the pump alone adds in a step the upper one may gain beyond it. The lower one is no use there: it is
    that of baths that have not been switched off yet.
    """
    near, far, found = np.empty(2), np.empty(2), np.empty((4, 2))
    highest_c, gains_k = max(cap_c, before[2, 1]), 0.0
    if sprays:
        edge = state.copy()
        edge[2, 0], edge[2, 1] = on_below_c, highest_c
        none = np.zeros((FLOWS, 2))
        box_slopes(box, none, edge, 0.0, vent_kw_per_kpa, NEVER, 0.0, found, near, far)
        gains_k = max(found[2, 1], 0.0) * step_s
    edges(box, state, near, far)
    past_k = max(far[0] - on_below_c, 0.0)
    state[2, 0] = min(state[2, 0], on_below_c)
    state[2, 1] = min(state[2, 1], highest_c + gains_k)
    most_mixed_c = mixed(box, state, 1)
    state[0, 0] -= past_k
    state[0, 1] = min(state[0, 1], most_mixed_c)
