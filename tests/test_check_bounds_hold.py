"""Bounds of a bath that a thermostat holds while the pump sprays: sawteeth worked out by hand, and points.

By hand: with next to no ware a bath follows Newton's law, of any text-book, towards
``T_end = T_room + P / UA`` with the time constant ``C / UA``. *No published source* for the rest: an
inequality between two programs, held at points chosen because an earlier draft of the bound broke there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from bound_cases import Numbers, allowed, boxes_of, broken, everything, judged, points, random_case, sub_boxes
from check_cases import THERMOSTAT, a_round, machine, programme
from test_check_bounds_by_hand import NO_WARE

from optimizer.check.bound_course import BoundCourse
from optimizer.check.bound_rows import values_of
from optimizer.check.bound_steps import Bounds
from optimizer.check.box import box_of
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

ROOM_C, LOSS_W_PER_K, ELEMENT_W, PUMP_W = 18.0, 12.0, 900.0, 2.0
STEP_S = 30.0
"""The longest step of these holds: as long as the ware's time constant in `NO_WARE` [s]."""
NEAR_K = 0.03
"""How far a course may lie from the exponential: specific heat varies, and there is a trace of ware [K]."""


def rig_of(changes: Mapping[str, Any] | None = None) -> Machine:
    """A machine without tolerances, and next to no ware."""
    fixed: dict[str, Any] = {
        "room.air_c": ROOM_C,
        "inlet.water_c": 30.0,
        "tank.loss_spraying_w_per_k": LOSS_W_PER_K,
        "element.rated_w": ELEMENT_W,
        "element.sensor_error_k": 0.0,
        "wash_pump.power_w": PUMP_W,
        "wash_pump.heat_share": 1.0,
        "inlet.level_l": 10.5,
    }
    return machine(THERMOSTAT | NO_WARE | fixed | dict(changes or {}), tolerances=False)


def table_of(spray_s: int, *, setpoint_dc: int = 400, hysteresis_dk: int = 20) -> Constants:
    row = a_round("wash", fill_s=200, spray_s=spray_s, spray_element_s=spray_s - 2, setpoint_dc=setpoint_dc)
    return programme(row, control="thermostat", fill_control="level", hysteresis_dk=hysteresis_dk)


def held(table: Constants, rig: Machine) -> Bounds:
    """The bounds of the hold, of the whole box."""
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    return next(one for one in BoundCourse(table, rig, boxes).run() if one.phase.cycles)


def j_per_k_of(hold: Bounds, at_c: float) -> float:
    """Heat capacity of bath and tank."""
    return 1000.0 * float(specific_heat_kj_per_kg_k(np.array(at_c))) * float(hold.water_kg[0, 0, 0]) + 4500.0


def newton_c(start_c: float, heat_w: float, loss_w_per_k: float, j_per_k: float, time_s: Numbers) -> Numbers:
    end_c = ROOM_C + heat_w / loss_w_per_k
    return np.asarray(end_c + (start_c - end_c) * np.exp(-loss_w_per_k / j_per_k * time_s))


def reached_s(start_c: float, heat_w: float, loss_w_per_k: float, j_per_k: float, at_c: float) -> float:
    end_c = ROOM_C + heat_w / loss_w_per_k
    return float(-j_per_k / loss_w_per_k * np.log((at_c - end_c) / (start_c - end_c)))


def test_a_held_bath_rises_and_falls_by_the_exponential_and_is_kept_at_the_lower_threshold() -> None:
    hold = held(table_of(2500), rig_of())
    time_s, bath_c = hold.time_s, hold.bath_c[:, 0, 0]
    start_c, j_per_k = float(bath_c[0]), j_per_k_of(hold, 38.0)
    off_s = reached_s(start_c, ELEMENT_W + PUMP_W, LOSS_W_PER_K, j_per_k, 40.0)
    fall_s = reached_s(40.0, PUMP_W, LOSS_W_PER_K, j_per_k, 38.0)
    rising, kept = time_s <= off_s - STEP_S, time_s >= off_s + fall_s
    falling = (time_s >= off_s + STEP_S) & (time_s <= off_s + fall_s)
    assert (rising.sum(), falling.sum(), kept.sum()) > (15, 5, 15)
    by_hand_c = newton_c(start_c, ELEMENT_W + PUMP_W, LOSS_W_PER_K, j_per_k, time_s[rising])
    assert bath_c[rising] == pytest.approx(by_hand_c, abs=NEAR_K)
    # It falls from 40 °C, and may do so a step too early.
    late_c, early_c = (
        newton_c(40.0, PUMP_W, LOSS_W_PER_K, j_per_k, time_s[falling] - off_s + early_s)
        for early_s in (0.0, 2.0 * STEP_S)
    )
    assert (bath_c[falling] <= late_c + NEAR_K).all()
    assert (bath_c[falling] >= np.maximum(early_c, 38.0) - NEAR_K).all()
    assert bath_c[kept] == pytest.approx(38.0, abs=1e-6)


def test_a_box_falls_from_the_first_switching_off_by_the_greatest_loss() -> None:
    loss = {"nominal": 12.0, "low": 9.0, "high": 15.0}
    element_w = {"nominal": 900.0, "low": 850.0, "high": 950.0}
    hold = held(table_of(2500), rig_of({"tank.loss_spraying_w_per_k": loss, "element.rated_w": element_w}))
    time_s, bath_c = hold.time_s, hold.bath_c[:, 0, 0]
    start_c, j_per_k = float(bath_c[0]), j_per_k_of(hold, 38.0)
    first_s = reached_s(start_c, 950.0 + PUMP_W, 9.0, j_per_k, 40.0)
    last_s = reached_s(start_c, 850.0 + PUMP_W, 15.0, j_per_k, 40.0)
    assert last_s - first_s > 100.0
    rising, falling = time_s <= first_s, (time_s > last_s + STEP_S) & (bath_c > 38.1)
    assert (rising.sum(), falling.sum()) > (15, 3)
    by_hand_c = newton_c(start_c, 850.0 + PUMP_W, 15.0, j_per_k, time_s[rising])
    assert bath_c[rising] == pytest.approx(by_hand_c, abs=NEAR_K)
    late_c, early_c = (
        newton_c(40.0, PUMP_W, 15.0, j_per_k, time_s[falling] - first_s + early_s)
        for early_s in (0.0, 2.0 * STEP_S)
    )
    assert (bath_c[falling] <= late_c + NEAR_K).all()
    assert (bath_c[falling] >= early_c - NEAR_K).all()


def test_an_element_too_weak_to_hold_the_bath_lets_it_cool_past_the_threshold() -> None:
    """On at 43 °C, but 300 W keep only 30 °C: from there the bath cools towards that."""
    weak = {"element.rated_w": 300.0, "tank.loss_spraying_w_per_k": 25.0, "inlet.water_c": 50.0}
    hold = held(table_of(3600, setpoint_dc=450), rig_of(weak))
    time_s, bath_c = hold.time_s, hold.bath_c[:, 0, 0]
    j_per_k = j_per_k_of(hold, 42.0)
    on_s = reached_s(float(bath_c[0]), PUMP_W, 25.0, j_per_k, 43.0)
    assert on_s > 100.0
    cools = time_s > on_s + 2.0 * STEP_S
    by_hand_c = newton_c(43.0, 300.0 + PUMP_W, 25.0, j_per_k, time_s[cools] - on_s)
    assert by_hand_c[-1] < 38.0
    assert (bath_c[cools] <= by_hand_c + NEAR_K).all()
    # A step later than the threshold at the latest is it taken to be on.
    assert (bath_c[cools] >= by_hand_c - 300.0 / j_per_k * STEP_S - NEAR_K).all()


ONE_FALL = {
    "tank.loss_spraying_w_per_k": {"nominal": 30.0, "low": 27.0, "high": 33.0},
    "element.rated_w": {"nominal": 900.0, "low": 870.0, "high": 930.0},
    "inlet.water_c": {"nominal": 30.0, "low": 26.0, "high": 34.0},
}


@pytest.mark.parametrize("spray_s", [1400, 1700])
def test_a_box_is_bounded_closely_by_its_first_fall(spray_s: int) -> None:
    """One heating and one fall, no time for more: less than 1 % under the worst of vertices and draws."""
    table, rig, aim = table_of(spray_s, hysteresis_dk=50), rig_of(ONE_FALL), everything()
    box = box_of(rig)
    found = judged(table, rig, aim, np.vstack([box.vertices(box.screening()), box.draws(200, 1)]))
    bounds = values_of(table, rig, aim, boxes_of(box, box.low[None], box.high[None]))
    for key in ("dose.milk", "dose.egg"):
        worst = float(found[key][0].min())
        assert 0.99 * worst <= bounds[key][0] <= worst


def test_no_point_of_a_box_breaks_the_bound_by_its_first_fall() -> None:
    rig = rig_of(ONE_FALL)
    box = box_of(rig)
    for quantity in range(box.size):
        low, high = np.tile(box.nominal, (3, 1)), np.tile(box.nominal, (3, 1))
        low[:, quantity] = box.low[quantity] + np.array([0.0, 0.4, 0.8]) * (box.high - box.low)[quantity]
        high[:, quantity] = low[:, quantity] + 0.2 * (box.high - box.low)[quantity]
        for table in (table_of(900, hysteresis_dk=50), table_of(1400, hysteresis_dk=20)):
            assert broken(table, rig, everything(), low, high, each=12, seed=7) == []


WIDE_SENSOR = ONE_FALL | {"element.sensor_error_k": 1.5}
WARM_PUMP = ONE_FALL | {"wash_pump.power_w": 700.0, "element.sensor_error_k": 1.0}


@pytest.mark.parametrize(
    ("changes", "table", "wide"),
    [
        # While some are still heated others fall already.
        (WIDE_SENSOR, table_of(1400, hysteresis_dk=50), ("sensor_error_k",)),
        # The pump warms some before others are switched off; those fall from a lower bath.
        (WARM_PUMP, table_of(1400, setpoint_dc=360, hysteresis_dk=15), ("sensor_error_k", "inlet_c")),
        (WARM_PUMP, table_of(900, setpoint_dc=330, hysteresis_dk=15), ("sensor_error_k",)),
    ],
    ids=["sensor", "pump and sensor", "hot pump"],
)
def test_no_point_of_a_thin_box_breaks_the_bound(
    changes: Mapping[str, Any], table: Constants, wide: tuple[str, ...]
) -> None:
    rig = rig_of(changes)
    box = box_of(rig)
    low = box.draws(12, seed=2)
    high = low.copy()
    for place, name in enumerate(box.names):
        if name in wide:
            low[:, place], high[:, place] = box.low[place], box.high[place]
    assert broken(table, rig, everything(), low, high, each=12, seed=9) == []


COOLING_WARE = {
    "room.air_c": {"nominal": 24.0, "low": 20.0, "high": 28.0},
    "inlet.water_c": {"nominal": 16.0, "low": 14.0, "high": 18.0},
    "ware.response_spraying_s": {"nominal": 60.0, "low": 35.0, "high": 80.0},
}


@pytest.mark.parametrize("setpoint_dc", [180, 200, 220, 400])
def test_a_box_without_width_is_not_above_its_point(setpoint_dc: int) -> None:
    """Of ware that is warmer than the bath as that is switched off, or colder."""
    table = table_of(900, setpoint_dc=setpoint_dc, hysteresis_dk=15)
    rig, aim = machine(THERMOSTAT | COOLING_WARE), everything()
    box = box_of(rig)
    at = box.draws(24, seed=setpoint_dc)
    bounds = values_of(table, rig, aim, points(rig, box.tables(at)))
    for key, (values, sign) in judged(table, rig, aim, at).items():
        if key.startswith("dose"):
            better = sign * (bounds[key] - values)
            assert (better <= allowed(key, bounds[key])).all(), key
            # 2.4 % at the most in 400 points drawn like these.
            assert (better >= -0.03 * values).all(), key


@pytest.mark.parametrize(("seed", "drawn"), [(1005, 1006), (135, 135)])
def test_no_point_of_a_box_switched_within_a_step_breaks_the_bound(seed: int, drawn: int) -> None:
    # A bath that begins above its upper threshold; one that is heated at the lower one for long.
    table, rig, aim = random_case(seed)
    low, high = sub_boxes(box_of(rig), 24, seed=drawn)
    assert broken(table, rig, aim, low, high, each=4, seed=drawn) == []


WARMED: dict[str, tuple[dict[str, Any], int]] = {
    "by the room": ({"room.air_c": 26.0, "inlet.water_c": 10.0}, 140),
    "by the pump": ({"room.air_c": 18.0, "inlet.water_c": 20.0, "wash_pump.power_w": 300.0}, 300),
    "by its inlet": ({"room.air_c": 18.0, "inlet.water_c": 16.0}, 100),
}
"""What warms a bath past its set point without the element, which is the second number [0.1 °C]."""


@pytest.mark.parametrize("how", WARMED)
@pytest.mark.parametrize("response_s", [30.0, 200.0])
def test_a_bath_that_something_else_warms_past_its_set_point_is_heated_no_further(
    how: str, response_s: float
) -> None:
    """By hand: it goes on to T_room + P / UA without the element, and ware and both courses with it."""
    changes, setpoint_dc = WARMED[how]
    changes = {**changes, "ware.response_spraying_s": response_s, "ware.porcelain_kg": 3.0}
    rig = rig_of(changes)
    hold = held(table_of(7200, setpoint_dc=setpoint_dc), rig)
    end_c = rig.room.air_c.nominal + rig.wash_pump.power_w.nominal / LOSS_W_PER_K
    for lower, upper in (
        (hold.bath_c[:, 0, 0], hold.bath_c[:, 1, 0]),
        (hold.ware_c[:, 0, 0], hold.ware_c[:, 1, 0]),
    ):
        assert (lower <= upper + 1e-6).all()
        # Some heat is left to lose or gain after two time constants of the bath.
        assert lower[-1] <= end_c + 0.2 * abs(end_c - 0.1 * setpoint_dc)
        assert upper[-1] >= end_c - 0.2 * abs(end_c - 0.1 * setpoint_dc)
    tolerant = machine(THERMOSTAT | {"wash_pump.heat_share": 1.0} | changes)
    box = box_of(tolerant)
    low, high = sub_boxes(box, 10, seed=setpoint_dc)
    low, high = np.vstack([low, box.nominal]), np.vstack([high, box.nominal])
    assert broken(table_of(2400, setpoint_dc=setpoint_dc), tolerant, everything(), low, high, 4, seed=1) == []
