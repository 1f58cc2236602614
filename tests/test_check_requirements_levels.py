"""Cover of element and suction, the lip, and drains: each holds at its limit and fails one step past it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from requirement_cases import (
    LITRES_SHARE,
    ROUNDING,
    STEPS_SHARE,
    WARM_KG_PER_L,
    holds,
    of_weighed_l,
    row,
    wash_of,
    worst,
)

from optimizer.check.box import box_of
from optimizer.check.certify import Runs, check
from optimizer.physics.water import density_kg_per_l


def test_weighed_litres_take_more_room_at_40_c() -> None:
    # Source: IAPWS-IF97, 998.2 kg/m³ at 20 °C and 992.22 at 40.
    assert density_kg_per_l(40.0) == pytest.approx(WARM_KG_PER_L, abs=2e-5)
    assert of_weighed_l(1.5) == pytest.approx(1.5 * 998.2 / 992.22, rel=3e-4)


def test_element_cover_of_a_dry_machine() -> None:
    # 0.1 l/s: 75 s bring 7.5 l; heating from 40 °C only makes it more.
    rig, put_off_l = {"element.cover_l": 7.5}, 7.5 * (STEPS_SHARE + LITRES_SHARE)
    at_limit = programme(a_round("wash", fill_s=75, heat_s=60))
    assert holds(row("cover.element_l", at_limit, rig=rig), put_off_l)
    past = row("cover.element_l", programme(a_round("wash", fill_s=74, heat_s=60)), rig=rig)
    assert not holds(past, put_off_l)
    assert not past.passed
    assert row("cover.element_l", at_limit, rig={"element.cover_l": 7.5 - put_off_l}).passed


def test_element_cover_while_spraying_lacks_the_holdup_and_gains_the_residual() -> None:
    first = programme(a_round("wash", fill_s=90, spray_element_s=100))
    later = programme(a_round("prerinse"), a_round("wash", fill_s=84, spray_element_s=100))
    rig = {"element.cover_l": 7.5, "element.rated_w": 50.0}
    # 9 l of 40 °C less the hold-up, 1.5 l weighed at 20 °C and 1.5087 l at 40: 7.4913 l by hand.
    found = worst("cover.element_l", first, rig=rig)
    assert found == pytest.approx(9.0 - of_weighed_l(1.5), abs=1e-6)
    assert found == pytest.approx(7.4913, abs=1e-4)
    # The sump keeps 0.6 l, which are 0.6035 l at 40 °C; the film of 0.2 l hangs on the ware.
    second = worst("cover.element_l", later, rig=rig)
    assert second == pytest.approx(8.4 + of_weighed_l(0.6) - of_weighed_l(1.5), abs=1e-3)
    cold = check(wash_of(), machine(tolerances=False), goal(), circuit(), draws=0)
    assert "cover.element_l" not in {found.key for found in cold.rows}


def test_an_element_that_comes_on_at_some_points_alone_has_to_be_covered() -> None:
    """A setpoint of 20 °C: a feed of 8 °C is heated, one of 40 °C is not. The fill lacks 2 l of 7.5."""
    wide = {"nominal": 20.0, "low": 8.0, "high": 40.0}
    rig = machine({"inlet.water_c": wide, "element.control": "thermostat", "element.sensor_error_k": 0.0,
                   "element.sensor_over_mean_k": 0.0, "room.air_c": 20.0})  # fmt: skip
    box = box_of(rig)
    ends = np.array([box.nominal, box.nominal])
    ends[:, box.names.index("inlet_c")] = 8.0, 40.0
    table = programme(
        a_round("wash", fill_s=49, heat_s=60, setpoint_dc=200), control="thermostat", hysteresis_dk=10
    )
    found = {one.key: one for one in Runs(table, rig, goal(), circuit(), box).run(ends).rows()}
    assert found["cover.element_l"].worst == pytest.approx(5.5, abs=0.02)
    assert not found["cover.element_l"].passed


@pytest.mark.parametrize("setpoint_dc", [50, 100, 300])
def test_a_setpoint_that_few_points_or_none_heat_to_is_judged_by_every_row(setpoint_dc: int) -> None:
    """Feed and room of 8 to 40 °C: at 5 °C no point is ever heated, at 10 °C a cold one, not the nominal."""
    wide = {"nominal": 20.0, "low": 8.0, "high": 40.0}
    rig = machine({"inlet.water_c": wide, "room.air_c": wide, "element.control": "thermostat",
                   "element.sensor_error_k": 0.0, "element.sensor_over_mean_k": 0.0})  # fmt: skip
    for fill_s, covered in ((49, setpoint_dc == 50), (120, True)):
        wash = a_round("wash", fill_s=fill_s, heat_s=60, setpoint_dc=setpoint_dc)
        table = programme(wash, control="thermostat", hysteresis_dk=10)
        (found,) = [one for one in check(table, rig, goal(), circuit()).rows if one.key == "cover.element_l"]
        assert np.isfinite(found.worst)
        assert (found.worst >= 7.5) == covered


def test_suction_cover() -> None:
    # 6.5 l of 40 °C less the hold-up of 1.5 l at 20 °C, 1.5087 l at 40: 4.9913 l by hand.
    least_l = 6.5 - of_weighed_l(1.5)
    assert least_l == pytest.approx(4.9913, abs=1e-4)
    rig, put_off_l = {"wash_pump.prime_l": least_l - ROUNDING}, 6.5 * LITRES_SHARE
    at_limit = row("cover.suction_l", programme(a_round("wash", fill_s=65)), rig=rig)
    assert at_limit.worst == pytest.approx(least_l, abs=ROUNDING)
    assert holds(at_limit, put_off_l)
    past = row("cover.suction_l", programme(a_round("wash", fill_s=64)), rig=rig)
    assert not holds(past, put_off_l)
    assert not past.passed
    rig = {"wash_pump.prime_l": least_l - put_off_l - ROUNDING}
    assert row("cover.suction_l", programme(a_round("wash", fill_s=65)), rig=rig).passed


def test_evaporation_lowers_the_cover() -> None:
    # Source: ASHRAE HVAC Applications (secondary): 40 °C water, 20 °C air of 50 %, 553 W/m² at 2406 kJ/kg.
    rig = {
        "room.air_c": 20.0,
        "tank.vent_m2": 0.5,
        "tank.loss_spraying_w_per_k": 0.2,
        "tank.loss_still_w_per_k": 0.2,
    }
    table = programme(a_round("wash", fill_s=200, spray_s=3600))
    wet = worst("cover.suction_l", table, rig=rig | {"tank.vent_m2": 0.0})
    dry = worst("cover.suction_l", table, rig=rig)
    assert wet - dry == pytest.approx(0.5 * 0.553 / 2406.0 * 3600.0, rel=0.1)


def test_overflow() -> None:
    # 10 l of 40 °C on 0.8 l that were weighed at 20 °C and are 0.8047 l at 40: 10.8047 l by hand.
    most_l = 10.0 + of_weighed_l(0.8)
    assert most_l == pytest.approx(10.8047, abs=1e-4)
    rig, put_off_l = {"tank.capacity_l": most_l + ROUNDING}, most_l * (STEPS_SHARE + LITRES_SHARE)
    at_limit = row("overflow.level_l", wash_of(fill_s=100), rig=rig)
    assert at_limit.worst == pytest.approx(most_l, abs=ROUNDING)
    assert holds(at_limit, put_off_l)
    past = row("overflow.level_l", wash_of(fill_s=101), rig=rig)
    assert not holds(past, put_off_l * 1.01)  # 1 % more water
    assert not past.passed
    rig = {"tank.capacity_l": most_l + put_off_l + ROUNDING}
    assert row("overflow.level_l", wash_of(fill_s=100), rig=rig).passed


def test_hot_water_takes_more_room() -> None:
    # Source: IAPWS-IF97: 992.2 kg/m³ at 40 °C, 977.8 at 70 °C.
    hot = worst("overflow.level_l", wash_of(heat_s=1500), rig={"tank.limit_c": 90.0})
    cold = worst("overflow.level_l", wash_of())
    assert 1.01 < hot / cold < 992.2 / 970.0


def test_the_film_comes_on_top_of_the_level_switch() -> None:
    """10.5 l at the switch and 0.2 l on the ware that may drip into the tank, by hand."""
    rig = {"inlet.control": "level", "inlet.level_l": 10.5, "tank.capacity_l": 10.7}
    filled = replace(wash_of(fill_s=110), fill_control="level")
    found = row("overflow.level_l", filled, rig=rig)
    assert found.worst == pytest.approx(10.7, abs=5e-3)
    assert not row("overflow.level_l", filled, rig=rig | {"tank.capacity_l": 10.69}).passed


def test_drain() -> None:
    # 10 l at 12 l/min: 50 s.
    # Water 0.05 K hotter is lighter, and the pump moves litres: as many litres more are to be pumped.
    put_off_l = 10.0 * LITRES_SHARE
    assert holds(row("drain.left_l", wash_of(drain_s=50)), put_off_l)
    assert row("drain.left_l", wash_of(drain_s=51)).passed
    failed = row("drain.left_l", wash_of(drain_s=49))
    assert not holds(failed, put_off_l)
    assert failed.worst == pytest.approx(0.2, abs=1e-6)
    assert not failed.passed


def test_a_slow_drain_pump_is_the_worst() -> None:
    # 12 l/min less 10 %: 10 l take 55.6 s.
    rig = {"drain_pump.flow_l_per_min": {"nominal": 12.0, "tolerance_pct": 10.0}}
    assert row("drain.left_l", wash_of(drain_s=56), rig=rig).passed
    assert worst("drain.left_l", wash_of(drain_s=55), rig=rig) == pytest.approx(0.1, abs=1e-6)


def test_a_drain_has_its_lag_beyond_volume_over_flow() -> None:
    """10 l at 12 l/min, and 8 s in which nothing is pumped: the longest lag is the worst."""
    rig = {"drain_pump.drain_lag_s": {"nominal": 6.0, "low": 3.0, "high": 8.0}}
    put_off_l = 10.0 * LITRES_SHARE
    assert holds(row("drain.left_l", wash_of(drain_s=58), rig=rig), put_off_l)
    assert row("drain.left_l", wash_of(drain_s=59), rig=rig).passed
    failed = row("drain.left_l", wash_of(drain_s=57), rig=rig)
    assert not holds(failed, put_off_l)
    assert failed.worst == pytest.approx(0.2, abs=1e-6)
    # All of a drain shorter than its lag: the whole fill stays.
    assert worst("drain.left_l", wash_of(drain_s=8), rig=rig) == pytest.approx(10.0, abs=1e-3)


def test_a_wet_drain_is_carried_over() -> None:
    wet = worst("overflow.level_l", wash_of(drain_s=40), rig={"tank.capacity_l": 13.0})
    # The carry-over of 0.8 l was weighed at 20 °C: 0.8047 l at 40, as in the overflow.
    assert wet == pytest.approx(10.0 + of_weighed_l(0.8) + 2.0, abs=1e-6)
