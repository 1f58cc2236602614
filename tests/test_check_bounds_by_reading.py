"""Boxes counted from what the sensor reads: how water varies, and that no point is below their bounds."""

from __future__ import annotations

import numpy as np
import pytest
from bound_cases import allowed, boxes_of, everything, inside, judged, random_case, sub_boxes
from check_cases import a_round, programme
from exploring import TIMES
from iapws import IAPWS97

from optimizer.check.bound_asked import Asked
from optimizer.check.bound_by_reading import PRESSURE_PER_K, VARIES_PER_K, by_reading, hang_on_reading
from optimizer.check.bound_rows import values_asked
from optimizer.check.box import box_of

THERMOSTATS = [seed for seed in range(40) if random_case(seed)[0].control == "thermostat"]


def test_water_varies_by_no_more_in_a_kelvin() -> None:
    """IAPWS-IF97: specific heat and density within 1 K at 0.2 MPa, pressure of saturation."""
    for low_c in (0.5, 5.0, 20.0, 50.0, 80.0, 98.5):
        cold, hot = (IAPWS97(T=273.15 + low_c + k, P=0.2) for k in (0.0, 1.0))
        assert abs(hot.cp / cold.cp - 1.0) <= VARIES_PER_K
        assert abs(hot.rho / cold.rho - 1.0) <= VARIES_PER_K
        cold, hot = (IAPWS97(T=273.15 + low_c + k, x=0) for k in (0.0, 1.0))
        assert np.exp(PRESSURE_PER_K) >= hot.P / cold.P


def test_by_hand_a_sensor_that_may_read_low_puts_room_and_inlet_as_much_lower() -> None:
    box = box_of(random_case(THERMOSTATS[0])[1])
    boxes = boxes_of(box, box.low[None], box.high[None])
    wide_k = boxes.most.sensor_error_k[0] - boxes.least.sensor_error_k[0]
    found = by_reading(boxes)
    assert found.least.sensor_error_k[0] == found.most.sensor_error_k[0] == boxes.most.sensor_error_k[0]
    assert found.least.room_c[0] == pytest.approx(boxes.least.room_c[0] - wide_k)
    assert found.inlet_low_c[0] == pytest.approx(boxes.inlet_low_c[0] - wide_k)
    assert found.most.room_c[0] == boxes.most.room_c[0]
    assert found.most.level_kg[0] == pytest.approx(boxes.most.level_kg[0] * (1.0 + VARIES_PER_K * wide_k))
    assert found.least.level_kg[0] == pytest.approx(boxes.least.level_kg[0] * (1.0 - VARIES_PER_K * wide_k))


def test_nothing_hangs_on_a_reading_that_is_exact_or_where_a_pool_boils() -> None:
    _, rig, _ = random_case(THERMOSTATS[0])
    box, aim = box_of(rig), everything()
    whole, point = (boxes_of(box, low[None], box.high[None]) for low in (box.low, box.high))
    washes = programme(a_round("wash", spray_s=300, spray_element_s=200, setpoint_dc=450))
    steams = programme(*washes.rounds, a_round("steam", heat_s=600))
    assert {"dose.milk"} <= hang_on_reading(washes, aim, whole)
    assert not any(key.startswith("hygiene") for key in hang_on_reading(washes, aim, whole))
    assert hang_on_reading(washes, aim, point) == frozenset()
    assert hang_on_reading(steams, aim, whole) == frozenset()
    assert hang_on_reading(programme(a_round("wash", spray_s=300)), aim, whole) == frozenset()


@pytest.mark.hypothesis
@pytest.mark.parametrize("seed", THERMOSTATS[: 6 + 6 * TIMES])
def test_no_point_is_below_what_its_reading_bounds(seed: int) -> None:
    """By the check's own integration; the boxes are bounded by their reading alone."""
    table, rig, aim = random_case(seed)
    box = box_of(rig)
    low, high = sub_boxes(box, 6, seed)
    boxes = boxes_of(box, low, high)
    keys = hang_on_reading(table, aim, boxes)
    if not keys:
        return
    bounds = values_asked(table, rig, aim, boxes, Asked(sorted(keys), by_reading=True))
    assert bounds.keys() == keys
    points, own = inside(low, high, 8, seed)
    for key, (values, _) in judged(table, rig, aim, points).items():
        if key in keys:
            assert (bounds[key][own] - values <= allowed(key, bounds[key][own])).all(), key
