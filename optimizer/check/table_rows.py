"""Requirements on numbers of the table that act only when something goes wrong, or are amounts.

No simulated run shows them. Each value is worked out at the worst end of every tolerance it depends on, and
changes in one direction with each of them, so that it is the guaranteed value as well as the worst.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from optimizer.check.certificate import EVERY_POINT, Row
from optimizer.check.detergent_rows import detergent_rows
from optimizer.check.fills import least_water_l, level_fill_least_s, level_fill_most_s, start_drain_left_l
from optimizer.check.worst_cases import tolerances
from optimizer.physics.water import WEATHER_K, boiling_c, steam_j_per_l
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import Element
from optimizer.programme.constants import Constants, Round
from optimizer.programme.lid import lid_shut_least_s
from optimizer.units import J_PER_KJ, S_PER_MIN, short, whole_tenths

HEAT_SHARE, HEAT_S = 1.1, 10.0
"""Longest heating over what the slowest point needs [1], and seconds on top of it [s]: a sensor that reads
cold heats for so long and no longer; *no source*, our choice."""

WATER_KJ_PER_L_K = 4.22
"""Heat that a litre of water holds for each kelvin, at the most between freezing and the boil [kJ/(l K)]
(handbook tables of water: 4.18 to 4.22 kJ/(kg K), and no more than 1 kg in a litre)."""


def table_rows(constants: Constants, machine: Machine, goal: Goal) -> list[Row]:
    """Judge start drain, longest fills, longest heatings, detergent, standing and lid."""
    return [
        _start_drain(constants, machine),
        *_level_fills(constants, machine),
        *_cold_sensor(constants, machine),
        *detergent_rows(constants, machine, goal),
        *_standing(constants, goal),
        *_lid(constants, goal),
    ]


def _start_drain(constants: Constants, machine: Machine) -> Row:
    left_l = start_drain_left_l(machine, constants.start_drain_s)
    what = "water of a full tank that the start drain leaves, after a power cut"
    return Row("start_drain.left_l", what, "l", "at most", 0.0, left_l, left_l, "slow drain, small residual")


def _level_fills(constants: Constants, machine: Machine) -> list[Row]:
    if machine.inlet.level_l is None:
        return []
    longest_s = [float(row.fill_s) for row in constants.rounds]
    least_s, most_s = level_fill_least_s(machine), level_fill_most_s(machine)
    short_s, long_s = min(longest_s), max(longest_s)
    reaches, stuck = "longest fill: the level switch must close in it", "longest fill: if the switch sticks"
    slow = f"slow inlet, high level, {_first(constants, 'fill_s', short_s)}"
    return [
        Row("fill.reaches_s", reaches, "s", "at least", least_s, short_s, short_s, slow),
        Row("fill.stuck_s", stuck, "s", "at most", most_s, long_s, long_s,
            _first(constants, "fill_s", long_s)),
    ]  # fmt: skip


def _first(constants: Constants, name: str, value: float) -> str:
    number = next(n for n, row in enumerate(constants.rounds, start=1) if getattr(row, name) == value)
    return _place(number, constants.rounds[number - 1])


def _place(number: int, row: Round) -> str:
    return f"{row.kind} (round {number})"


def cold_sensor_left_l(constants: Constants, machine: Machine) -> tuple[float, str] | None:
    """Water left where the sensor reads cold for as long as the table allows [l], and where; or None.

    ``V = V_fill - P t / (h_fg rho)``, as if all heat made steam from the first second on.
    """
    element = machine.element
    if element is None or constants.control != "thermostat":
        return None
    found = []
    for number, row in enumerate(constants.rounds, start=1):
        if row.setpoint_dc:
            needs_j_per_l = steam_j_per_l(boiling_c(machine.room.height_m))
            boiled_l = _highest_w(machine, element) * row.element_max_s / needs_j_per_l
            point = f"high voltage, slow inlet, {_place(number, row)}"
            found.append((least_water_l(machine, row, first=number == 1) - boiled_l, point))
    return min(found, default=None)


def _cold_sensor(constants: Constants, machine: Machine) -> list[Row]:
    found, element = cold_sensor_left_l(constants, machine), machine.element
    if found is None or element is None:
        return []
    left_l, point = found
    bare = f"bare under {short(element.cover_l)} l: float switch"
    what = f"water left in a heated round if the sensor reads cold ({bare})"
    return [Row("cold_sensor.left_l", what, "l", "at least", 0.0, left_l, left_l, point)]


def _highest_w(machine: Machine, element: Element) -> float:
    return element.rated_w.high * (machine.supply.voltage_v.high / element.rated_v) ** 2


def stand_least_s(goal: Goal) -> int:
    """Shortest standing after the last drain, as the goal's drying asks, in whole seconds [s]."""
    return round(goal.drying.standing_min * S_PER_MIN)


def _standing(constants: Constants, goal: Goal) -> list[Row]:
    asked_s = stand_least_s(goal)
    if not asked_s:
        return []
    asked_min, stand_min = asked_s / S_PER_MIN, constants.stand_s / S_PER_MIN
    what = "standing after the last drain: the load dries"
    return [Row("drying.stand_min", what, "min", "at least", asked_min, stand_min, stand_min, EVERY_POINT)]


def lid_span_s(constants: Constants, goal: Goal) -> tuple[int, int]:
    """Least and most time for which the lid stays shut after the last drain [s]: what is left dries ajar."""
    least_s = lid_shut_least_s(goal)
    return least_s, max(least_s, constants.stand_s) if least_s else 0


def _lid(constants: Constants, goal: Goal) -> list[Row]:
    (least_s, most_s), shut_s = lid_span_s(constants, goal), float(constants.lid_open_after_s)
    if not least_s and not shut_s:
        return []
    least = "lid shut after the last drain: steam must have settled"
    most = "lid shut after the last drain: the load dries with it ajar"
    return [
        Row("lid.shut_s", least, "s", "at least", float(least_s), shut_s, shut_s, EVERY_POINT),
        Row("lid.ajar_s", most, "s", "at most", float(most_s), shut_s, shut_s, EVERY_POINT),
    ]


def heating_row(constants: Constants, slowest_s: Mapping[int, float]) -> list[Row]:
    """Judge the longest heatings; ``slowest_s`` is by round, from 0, what the slowest point took [s]."""
    found = []
    for number, needed_s in slowest_s.items():
        row = constants.rounds[number]
        most_s = needed_s * HEAT_SHARE + HEAT_S
        found.append((most_s - row.heat_s, most_s, float(row.heat_s), _place(number + 1, row)))
    if not found:
        return []
    _, most_s, heat_s, place = min(found)
    what = "longest heating: if the sensor reads cold"
    return [Row("heat.cold_sensor_s", what, "s", "at most", most_s, heat_s, heat_s, place)]


def slowest_s_per_k(machine: Machine, row: Round) -> float:
    """Time that each kelvin below a round's setpoint takes to heat, at most [s/K]; inf where none is sure.

    ``C / (P - UA (T - T_room))`` with the most water, ware and tank, the weakest element, the greatest losses
    and the coldest room, at the hottest bath that the sensor may stop at.
    """
    element, inlet, ware = machine.element, machine.inlet, tolerances(machine)
    if element is None:
        return math.inf
    water_l = machine.tank.residual_l.high + row.fill_s / S_PER_MIN * inlet.flow_l_per_min.high
    if inlet.level_l is not None:
        water_l = inlet.level_l.high
    water_kj_per_k = (water_l + machine.ware.film_l.high) * WATER_KJ_PER_L_K
    held_j_per_k = (water_kj_per_k + ware.ware_kj_per_k.high + ware.tank_kj_per_k.high) * J_PER_KJ
    lowest_w = element.rated_w.low * (machine.supply.voltage_v.low / element.rated_v) ** 2
    bath_c = row.setpoint_dc / 10.0 + element.sensor_error_k - min(element.sensor_over_mean_k.low, 0.0)
    lost_w = machine.tank.loss_still_w_per_k.high * max(bath_c - machine.room.air_c.low, 0.0)
    return held_j_per_k / (lowest_w - lost_w) if lowest_w > lost_w else math.inf


def room_under_limit_k(constants: Constants, machine: Machine) -> float:
    """How far under the tank's limit the hottest bath has to stay [K].

    0 where nothing is heated but a pool for steam, or where the tank stands the boil.
    """
    heats = any(row.heated and row.kind != "steam" for row in constants.rounds)
    if machine.element is None or not heats or machine.tank.limit_c >= boiling_c(machine.room.height_m):
        return 0.0
    return machine.bath_room_k


def bath_most_c(constants: Constants, machine: Machine) -> float:
    """Hottest bath that there may be [°C]: by tank, room for a cut-out, and the boil unless steam dries."""
    limit_c = machine.tank.limit_c - room_under_limit_k(constants, machine)
    steams = any(row.kind == "steam" for row in constants.rounds)
    return limit_c if steams else min(limit_c, boiling_c(machine.room.height_m))


def bath_max_most_dc(constants: Constants, machine: Machine) -> int:
    """Highest reading that the watchdog may let pass [0.1 °C]; 0, none, where nothing reads the bath.

    The bath may be hotter than the sensor reads by its error, and heated with the pump off by its layers. A
    tank that stands the boil cannot get too hot under water; there a sound reading of boiling water passes.
    """
    element, limit_c = machine.element, machine.tank.limit_c
    if element is None or element.control != "thermostat":
        return 0
    over_k = element.sensor_error_k
    if any(row.heat_s and row.setpoint_dc for row in constants.rounds):
        over_k += max(element.top_over_mean_k.high - element.sensor_over_mean_k.low, 0.0)
    most_c = limit_c - over_k
    boils_c = boiling_c(machine.room.height_m)
    if limit_c >= boils_c:
        most_c = max(most_c, boils_c + WEATHER_K + element.sensor_error_k)
    return whole_tenths(max(most_c, 0.1))


def hysteresis_most_dk(machine: Machine) -> int:
    """Largest gap between off and on again that the machine was measured with [0.1 K]; 0 if it is timed."""
    element = machine.thermostat
    return round(element.hysteresis_k * 10.0) if element else 0
