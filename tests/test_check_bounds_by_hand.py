"""Bounding equations against closed forms and balances worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of, split
from check_cases import THERMOSTAT, a_round, machine, programme
from iapws import IAPWS97
from numpy.polynomial import Polynomial

from optimizer.check.bound_course import BoundCourse
from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import (
    C0_J_PER_KG_K,
    CP_COEFFICIENTS,
    Acting,
    enthalpy_j_per_kg,
    specific_heat_j_per_kg_k,
)
from optimizer.check.bound_steps import Bounds
from optimizer.check.box import box_of
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.profile.machine import Machine
from optimizer.profile.machine_ware import HEAT_CAPACITY_KJ_PER_KG_K
from optimizer.programme.constants import Constants

AT_C = np.linspace(1.0, 99.0, 50)
NO_WARE = {"ware.porcelain_kg": 1e-3, "ware.film_l": 0.005, "ware.response_spraying_s": 30.0,
           "ware.response_still_s": 120.0}  # fmt: skip
NO_LOSS = {"tank.loss_still_w_per_k": 0.2}


def courses(table: Constants, rig: Machine) -> dict[str, Bounds]:
    """Bounds of the whole box of a machine: the last phase of each name and round."""
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    return {f"{one.phase.name} {one.phase.round}": one for one in BoundCourse(table, rig, boxes).run()}


def test_specific_heat_is_that_of_the_water() -> None:
    assert specific_heat_j_per_kg_k(AT_C) == pytest.approx(
        1000.0 * specific_heat_kj_per_kg_k(AT_C), rel=1e-12
    )
    # Its coefficients too: a polynomial of degree four goes through any five points of it once.
    fitted = Polynomial.fit(AT_C, specific_heat_kj_per_kg_k(AT_C), 4).convert().coef
    assert np.array(CP_COEFFICIENTS) == pytest.approx(fitted, rel=1e-5)


def test_enthalpy_is_the_integral_of_the_specific_heat_and_that_of_the_tables() -> None:
    slope = (enthalpy_j_per_kg(AT_C + 1e-3) - enthalpy_j_per_kg(AT_C - 1e-3)) / 2e-3
    assert slope == pytest.approx(1000.0 * specific_heat_kj_per_kg_k(AT_C), rel=1e-7)
    # IAPWS-IF97 at 101.325 kPa, above 10 °C.
    for at_c in (25.0, 50.0, 75.0, 95.0):
        over = 1e3 * (IAPWS97(T=273.15 + at_c, P=0.101325).h - IAPWS97(T=283.15, P=0.101325).h)
        have = enthalpy_j_per_kg(np.array(at_c)) - enthalpy_j_per_kg(np.array(10.0))
        assert have == pytest.approx(over, rel=5e-4)


@pytest.mark.parametrize("wide", [False, True])
def test_a_bath_without_ware_cools_by_the_exponential(wide: bool) -> None:
    """Newton's law of cooling, of any text-book: ``T = T_room + (T_0 - T_room) exp(-UA t / C)``."""
    loss = {"nominal": 12.0, "low": 9.0, "high": 15.0} if wide else 12.0
    changes: dict[str, Any] = {"inlet.water_c": 50.0, "room.air_c": 18.0, "tank.loss_still_w_per_k": loss}
    rig = machine(NO_WARE | changes, tolerances=False)
    table = programme(a_round("wash", fill_s=100, spray_s=2, rest_s=3600))
    rest = courses(table, rig)["rest 0"]
    start_c, end_c, water_kg = rest.bath_c[0, :, 0], rest.bath_c[-1, :, 0], rest.water_kg[-1, :, 0]
    ends = (15.0, 9.0) if wide else (12.0, 12.0)
    for course, loss_w_per_k in enumerate(ends):
        # The colder course loses most; it holds most water where it is warmer than the other end makes it.
        middle_c = 0.5 * (start_c[course] + end_c[course])
        kg = water_kg[1 - course]
        j_per_k = 1000.0 * specific_heat_kj_per_kg_k(middle_c) * kg + 4500.0
        by_hand_c = 18.0 + (start_c[course] - 18.0) * np.exp(-loss_w_per_k * 3600.0 / j_per_k)
        assert end_c[course] == pytest.approx(by_hand_c, abs=0.05)


def test_two_bounds_of_one_unknown_are_the_closed_forms_at_its_ends() -> None:
    """Müller and Kamke on a scalar: ``y' = -k y``, k from 1 to 2 a time, lies between two exponentials.

    The bath is y, the loss k: with a loss that wanders between its ends each course is still between the
    closed forms at the ends, and they are what the bounds come to.
    """
    loss = {"nominal": 20.0, "low": 10.0, "high": 20.0}
    changes: dict[str, Any] = {"inlet.water_c": 60.0, "room.air_c": 10.0, "tank.loss_still_w_per_k": loss}
    rig = machine(NO_WARE | changes, tolerances=False)
    rest = courses(programme(a_round("wash", fill_s=100, spray_s=2, rest_s=1800)), rig)["rest 0"]
    # Of a loss that jumps between its ends every minute, and so of all that are in between.
    for course in (0, 1):
        kg = rest.water_kg[0, 1 - course, 0]
        bath_c = rest.bath_c[0, course, 0]
        for minute in range(30):
            loss_w_per_k = 10.0 if minute % 2 else 20.0
            j_per_k = 1000.0 * specific_heat_kj_per_kg_k(bath_c) * kg + 4500.0
            bath_c = 10.0 + (bath_c - 10.0) * np.exp(-loss_w_per_k * 60.0 / j_per_k)
            place = np.searchsorted(rest.time_s, 60.0 * (minute + 1))
            if place < len(rest.time_s) and rest.time_s[place] == 60.0 * (minute + 1):
                assert rest.bath_c[place, 0, 0] - 0.01 <= bath_c <= rest.bath_c[place, 1, 0] + 0.01
        assert rest.bath_c[-1, 0, 0] < bath_c < rest.bath_c[-1, 1, 0]


@pytest.mark.parametrize("by_level", [False, True])
def test_a_fill_mixes_as_a_balance_of_heat_says(by_level: bool) -> None:
    """*No source*: a balance. Sump and tank at the room's temperature, the fill at the inlet's, no ware."""
    changes: dict[str, Any] = {"inlet.water_c": 50.0, "room.air_c": 20.0}
    if by_level:
        changes |= THERMOSTAT | {"inlet.level_l": 10.0, "element.sensor_error_k": 0.0}
    rig = machine(NO_WARE | NO_LOSS | changes, tolerances=False)
    tops = {"control": "thermostat", "fill_control": "level", "hysteresis_dk": 10} if by_level else {}
    table = programme(a_round("wash", fill_s=120 if by_level else 100, spray_s=60), **tops)
    # What follows a fill begins where it ended.
    gap = courses(table, rig)["gap 0"]
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    after = [one for one in BoundCourse(table, rig, boxes).run() if one.phase.round == 0][1]
    assert gap.phase.name == after.phase.name == "gap"
    at_20, at_50 = (IAPWS97(T=273.15 + t, P=0.101325) for t in (20.0, 50.0))
    for course, sump_l in ((0, 0.6), (1, 0.0)):
        # A machine that dried out is the warm end, fed hot: nothing cold is there but the tank.
        sump_kg = 0.998 * sump_l
        fed_kg = 10.0 * at_50.rho / 1000.0 - by_level * sump_kg
        low_c, high_c = 20.0, 50.0
        for _ in range(40):
            middle_c = 0.5 * (low_c + high_c)
            h = IAPWS97(T=273.15 + middle_c, P=0.101325).h
            over = sump_kg * (h - at_20.h) + 4.5 * (middle_c - 20.0) - fed_kg * (at_50.h - h)
            low_c, high_c = (low_c, middle_c) if over > 0.0 else (middle_c, high_c)
        outside_c = (middle_c - after.bath_c[0, course, 0]) * (1.0 if course == 0 else -1.0)
        # The bound takes the worst of what stood there before and of what is let in: it may lie outside.
        assert -0.03 <= outside_c <= 0.5


def test_a_bath_is_heated_to_its_setpoint_in_the_time_that_a_balance_gives() -> None:
    """*No source*: a balance. ``t = C (T_set - T_0) / P`` without loss; the sensor may be off by 1 K."""
    changes: dict[str, Any] = {"inlet.water_c": 12.0, "room.air_c": 12.0,
                               "inlet.level_l": 10.0}  # fmt: skip
    rig = machine(NO_WARE | NO_LOSS | THERMOSTAT | changes, tolerances=False)
    table = programme(
        a_round("wash", fill_s=120, heat_s=4000, setpoint_dc=500, spray_s=60),
        control="thermostat", fill_control="level", hysteresis_dk=10,
    )  # fmt: skip
    bounds = courses(table, rig)
    heat = bounds["heat 0"]
    kg = 10.0 * IAPWS97(T=285.15, P=0.101325).rho / 1000.0
    for stop_c, taken_s in ((49.0, heat.least_s[0]), (51.0, heat.most_s[0])):
        j = 1e3 * kg * (IAPWS97(T=273.15 + stop_c, P=0.101325).h - IAPWS97(T=285.15, P=0.101325).h)
        assert taken_s == pytest.approx((j + 4500.0 * (stop_c - 12.0)) / 900.0, rel=0.005)
    after = bounds["spray 0"]
    assert after.bath_c[0, :, 0] == pytest.approx([49.0, 51.0], abs=0.1)


def test_the_film_changes_sides_as_a_balance_of_heat_says() -> None:
    """*No source*: ``T' = (C_1 T_1 + c m T_2) / (C_1 + c m)``, at ends picked by hand."""
    film = {"nominal": 0.2, "low": 0.1, "high": 0.3}
    rig = machine({"ware.film_l": film}, tolerances=False)
    box = box_of(rig)
    bounding = Bounding(boxes_of(box, box.low[None], box.high[None]), 0.0)
    states = ([[10.0], [50.0]], [[20.0], [20.0]], [[50.0], [50.0]], [[10.3], [10.1]])
    cold_ware = np.array(states)
    acting = Acting(np.zeros((2, 1)), False, True, bounding.all_film_kg, bounding.all_film_kg)
    begun = bounding.spray_begins(acting, cold_ware)
    # 10 kg in the bath whatever the film, 4.5 kJ/K of tank: most film cools most.
    bath = 1000.0 * specific_heat_kj_per_kg_k(50.0) * 10.0 + 4500.0
    for course, litres in ((0, 0.3), (1, 0.1)):
        c_film = C0_J_PER_KG_K * 0.998 * litres
        by_hand_c = (bath * 50.0 + c_film * 20.0) / (bath + c_film)
        assert begun[2, course, 0] == pytest.approx(by_hand_c, abs=0.01)
    ended = bounding.spray_ends(cold_ware)
    ware = 4.0 * HEAT_CAPACITY_KJ_PER_KG_K["porcelain"] * 1000.0
    for course, litres in ((0, 0.1), (1, 0.3)):
        c_film = C0_J_PER_KG_K * 0.998 * litres
        by_hand_c = (ware * 20.0 + c_film * 50.0) / (ware + c_film)
        assert ended[1, course, 0] == pytest.approx(by_hand_c, abs=0.01)


@pytest.mark.parametrize(("bath_c", "ware_c"), [(20.5, 20.0), (30.0, 50.0), (20.0, 20.5)])
def test_the_film_that_stays_warms_or_cools_the_ware(bath_c: float, ware_c: float) -> None:
    """*No source*: the same balance; a bath that is colder cools most with the thickest film."""
    rig = machine({"ware.film_l": {"nominal": 0.2, "low": 0.1, "high": 0.3}}, tolerances=False)
    box = box_of(rig)
    bounding = Bounding(boxes_of(box, box.low[None], box.high[None]), 0.0)
    state = np.array([[[value], [value]] for value in (25.0, ware_c, bath_c, 10.0)])
    ended = bounding.spray_ends(state)
    ware = 4.0 * HEAT_CAPACITY_KJ_PER_KG_K["porcelain"] * 1000.0
    for course, litres in enumerate((0.1, 0.3) if bath_c > ware_c else (0.3, 0.1)):
        c_film = C0_J_PER_KG_K * 0.998 * litres
        by_hand_c = (ware * ware_c + c_film * bath_c) / (ware + c_film)
        assert ended[1, course, 0] == pytest.approx(by_hand_c, abs=0.001)
    # The mixture stays, but for a width of 0.004 K.
    assert ended[0, :, 0] == pytest.approx([25.0 - 0.004, 25.0 + 0.004], abs=1e-9)


def test_the_pump_heats_past_the_setpoint_and_no_course_stays_below_it() -> None:
    """The upper course stays at its cap while others still come up to it: the lower one is never above it."""
    rig = machine(THERMOSTAT | {"element.rated_w": 500.0, "tank.loss_still_w_per_k": 9.0}, tolerances=False)
    table = programme(
        a_round("wash", fill_s=120, heat_s=4000, setpoint_dc=480, spray_s=600, spray_element_s=600),
        control="thermostat", fill_control="level", hysteresis_dk=10,
    )  # fmt: skip
    for one in courses(table, rig).values():
        ended = one.phase.end == "setpoint"
        low_c = np.minimum(one.bath_c[:, 0, 0], 49.0) if ended else one.bath_c[:, 0, 0]
        assert (low_c <= one.bath_c[:, 1, 0] + 0.01).all()


def test_boxes_fill_the_whole_one() -> None:
    rig = machine()
    whole = split(rig, {})
    parts = split(rig, {"rated_w": 2, "room_c": 3})
    assert (whole.count, parts.count) == (1, 6)
    for name in ("room_c", "element_w", "tank_j_per_k", "film_kg"):
        assert getattr(parts.least, name).min() == getattr(whole.least, name)[0]
        assert getattr(parts.most, name).max() == getattr(whole.most, name)[0]
    rooms = sorted(set(zip(parts.least.room_c.tolist(), parts.most.room_c.tolist(), strict=True)))
    assert [low for low, _ in rooms[1:]] == [high for _, high in rooms[:-1]]
    two = split(rig, {"room_c": 2})
    # 14 to 25 °C: the middle is 19.5 °C.
    assert two.least.room_c.tolist() == [14.0, 19.5]
    assert two.most.room_c.tolist() == [19.5, 25.0]
