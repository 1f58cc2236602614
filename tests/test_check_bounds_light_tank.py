"""Bounds at machines that are quick or cold: little water in a light tank, steep doses, water below 4 °C.

*No published source*: the bound of a point, or of a box around it, against the check's own integration.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import NEAR_SHARE, Numbers, allowed, boxes_of, everything, judged, points
from check_cases import THERMOSTAT, a_round, machine, programme

from optimizer.check.bound_rows import values_of
from optimizer.check.bound_sides import heaviest_kg_per_l, lightest_kg_per_l
from optimizer.check.box import box_of
from optimizer.physics.water import density_kg_per_l
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

LIGHT = THERMOSTAT | {
    "inlet.water_c": 6.26, "inlet.flow_l_per_min": 10.0, "room.air_c": 9.48,
    "tank.capacity_l": 100.0, "tank.limit_c": 100.0, "tank.heat_capacity_kj_per_k": 0.324,
    "tank.loss_still_w_per_k": 8.5, "tank.loss_spraying_w_per_k": 13.07, "tank.residual_l": 0.06,
    "tank.vent_m2": 0.0036, "ware.porcelain_kg": 14.8, "ware.film_l": 0.014,
    "ware.response_spraying_s": 51.6, "ware.response_still_s": 283.0,
    "wash_pump.prime_l": 0.3, "wash_pump.power_w": 66.2, "wash_pump.heat_share": 0.565,
    "wash_pump.holdup_l": 0.1, "element.cover_l": 0.4, "element.rated_w": 362.0,
    "element.sensor_error_k": 0.0, "element.hysteresis_k": 0.3, "element.sensor_over_mean_k": 3.818,
    "element.top_over_mean_k": 6.818, "drain_pump.flow_l_per_min": 18.0, "drain_pump.drain_lag_s": 1.0,
    "drain_pump.drain_limit_c": 100.0,
}  # fmt: skip
"""0.06 l are left in a tank of 0.3 kJ/K: in the first second as much again runs in."""
STEEP = LIGHT | {
    "inlet.water_c": 20.776, "room.air_c": 5.197, "tank.heat_capacity_kj_per_k": 4.369,
    "tank.loss_still_w_per_k": 16.552, "tank.loss_spraying_w_per_k": 46.39, "tank.residual_l": 0.09,
    "ware.film_l": 0.016, "ware.porcelain_kg": 7.948, "ware.response_spraying_s": 39.685,
    "ware.response_still_s": 2142.8, "element.rated_w": 728.75, "wash_pump.power_w": 56.656,
    "element.hysteresis_k": 5.0, "element.sensor_over_mean_k": -0.29, "element.top_over_mean_k": 2.5,
}  # fmt: skip
TOPS: dict[str, Any] = {"control": "thermostat", "bath_max_dc": 1000, "start_drain_s": 20}


def light() -> tuple[Constants, Machine]:
    held: dict[str, Any] = {"fill_s": 38, "drain_s": 47}
    rounds = (
        a_round("rinse", spray_s=9039, spray_element_s=9000, setpoint_dc=793, **held),
        a_round("wash", heat_s=5257, spray_s=2479, spray_element_s=2479, setpoint_dc=760, **held),
        a_round("rinse", spray_s=3875, spray_element_s=3875, setpoint_dc=793, **held),
    )
    return programme(*rounds, hysteresis_dk=3, **TOPS), machine(LIGHT, tolerances=False)


def better_than_points(table: Constants, rig: Machine, aim: Goal) -> list[str]:
    """Rows whose bound of a point is better than what the point gets."""
    box = box_of(rig)
    at = np.unique(box.vertices(box.screening()), axis=0)
    bounds = values_of(table, rig, aim, points(rig, box.tables(at)))
    return [
        f"{key}: {bounds[key]} for {values}"
        for key, (values, sign) in judged(table, rig, aim, at).items()
        if not (sign * (bounds[key] - values) <= allowed(key, bounds[key])).all()
    ]


def dose(**changes: float) -> dict[str, Any]:
    base = {"name": "soil", "reference_c": 40.0, "z_k": 30.0, "floor_c": 0.0, "ceiling_c": 120.0}
    return {"dose": [base | {"minutes": 5.0, "kinds": ["wash", "rinse"]} | changes]}


def test_a_light_tank_is_followed_from_the_start_of_its_fill() -> None:
    """In steps of 2 s and more the ware's drop was bounded 0.08 K too low, a dose 0.33 % too high."""
    assert better_than_points(*light(), everything(dose(z_k=27.0))) == []


@pytest.mark.parametrize("floor_c", [40.0, 40.02])
def test_ware_that_only_just_comes_over_its_floor(floor_c: float) -> None:
    """The wash ends as its ware is at 40.03 °C, rising by 0.01 mK/s: 40 min for 24, and 37 for none."""
    assert better_than_points(*light(), everything(dose(floor_c=floor_c, z_k=12.9))) == []


def test_a_steep_dose_is_bounded_with_more_for_the_steps() -> None:
    """0.2 % of a dose are 0.009 K at a z of 10 K, and 0.003 K at one of 3.5: that was not quite enough."""
    held: dict[str, Any] = {"fill_s": 16, "drain_s": 29}
    table = programme(
        a_round("wash", heat_s=109, spray_s=9045, spray_element_s=9000, setpoint_dc=240, **held),
        a_round("wash", heat_s=789, spray_s=9000, spray_element_s=9000, setpoint_dc=566, **held),
        a_round("wash", spray_s=7522, spray_element_s=7522, setpoint_dc=240, **held),
        hysteresis_dk=50,
        **TOPS,
    )
    rig = machine(STEEP, tolerances=False)
    assert better_than_points(table, rig, everything(dose(z_k=3.5, reference_c=10.0))) == []


@pytest.mark.parametrize(
    ("low_c", "high_c", "heaviest_c", "lightest_c"),
    [(1.0, 3.0, 3.0, 1.0), (1.0, 6.0, 4.0, 1.0), (3.0, 20.0, 4.0, 20.0), (5.0, 20.0, 5.0, 20.0)],
)
def test_water_is_densest_at_4_c(low_c: float, high_c: float, heaviest_c: float, lightest_c: float) -> None:
    """A handbook's best-known number: density of water has its maximum at 3.98 °C (from memory)."""
    one, other = np.array([low_c]), np.array([high_c])
    assert heaviest_kg_per_l(one, other)[0] == pytest.approx(density_kg_per_l(heaviest_c), rel=1e-9)
    assert lightest_kg_per_l(one, other)[0] == density_kg_per_l(lightest_c)


def test_litres_of_an_inlet_below_4_c_are_bounded() -> None:
    """Water of 1 °C is lighter than that of 5 °C: litres let in were counted 0.1 g/kg too heavy."""
    rig = machine(LIGHT | {"inlet.water_c": {"nominal": 3.0, "low": 1.0, "high": 6.0}}, tolerances=False)
    table = programme(a_round("wash", fill_s=60, spray_s=300, drain_s=60), **(TOPS | {"control": "timed"}))
    outside = outside_of(table, rig)
    assert outside == []


def test_water_that_swells_and_evaporates_is_fullest_in_between() -> None:
    """Of 5 l heated by 20 K some 8 ml evaporate: the level was bounded 0.2 ml too low between two samples."""
    hot = LIGHT | {
        "inlet.water_c": 44.38137, "room.air_c": 15.76124, "tank.vent_m2": 0.01321375,
        "tank.heat_capacity_kj_per_k": 5.699934, "tank.loss_still_w_per_k": 18.22854,
        "tank.loss_spraying_w_per_k": 6.36648, "tank.residual_l": 0.05652089, "ware.porcelain_kg": 0.5730173,
        "ware.film_l": 0.9403764, "ware.response_spraying_s": 208.8498, "ware.response_still_s": 3635.187,
        "wash_pump.power_w": 8.513447, "wash_pump.heat_share": 0.9685216, "element.rated_w": 3075.196,
        "element.sensor_over_mean_k": 0.1275978, "element.top_over_mean_k": 3.127598,
        "element.hysteresis_k": 0.8,
    }  # fmt: skip
    table = programme(
        a_round("wash", fill_s=23, heat_s=7, spray_s=613, spray_element_s=558, setpoint_dc=440, drain_s=34),
        a_round(
            "rinse", fill_s=23, heat_s=181, spray_s=689, spray_element_s=689, setpoint_dc=773, drain_s=34
        ),
        a_round("wash", fill_s=23, spray_s=688, spray_element_s=688, setpoint_dc=440, drain_s=34),
        hysteresis_dk=8,
        **TOPS,
    )
    assert outside_of(table, machine(hot, tolerances=False)) == []


def outside_of(table: Constants, rig: Machine) -> list[str]:
    """Litres of points that the whole box does not bound."""
    box = box_of(rig)
    at: Numbers = np.vstack([np.unique(box.vertices(box.screening()), axis=0), box.draws(30, 1)])
    bounds = values_of(table, rig, everything(), boxes_of(box, box.low[None], box.high[None]))
    return [
        f"{key}: {bounds[key][0]} for {worst}"
        for key, (values, sign) in judged(table, rig, everything(), at).items()
        if key.startswith(("cover.", "overflow."))
        and not sign * (bounds[key][0] - (worst := sign * (sign * values).min())) <= NEAR_SHARE
    ]
