"""Water boils sooner above the sea: what a bath, a pool and a watchdog take from it.

Boiling points: IAPWS-IF97 at the pressure of the standard atmosphere (ISO 2533). 2000 m: 79.495 kPa, 93.3 °C.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from iapws import IAPWS97
from planner_cases import settings_of, tiny

from optimizer.check.certificate import Certificate
from optimizer.check.certify import check
from optimizer.check.table_rows import bath_max_most_dc
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import steam_refused
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Mode, Programme, Structure

BOILS_C = float(IAPWS97(P=0.079495, x=0).T) - 273.15
HIGH: dict[str, Any] = {"room.height_m": 2000.0}
STEEL = {"tank.material": "stainless", "tank.limit_c": 104.0}


def boiled(height_m: float) -> Certificate:
    """A pool of 8 l heated for an hour at 900 W, nominal."""
    rig = machine(STEEL | {"room.height_m": height_m, "element.rated_w": 1500.0}, tolerances=False)
    steam = a_round("steam", fill_s=90, heat_s=3600, spray_s=0, rest_s=60)
    return check(programme(a_round("rinse"), steam), rig, goal(), circuit(), draws=0)


def test_a_pool_boils_at_the_pressure_of_its_height() -> None:
    assert boiled(2000.0).trace.bath_c.max() == pytest.approx(BOILS_C, abs=0.05)
    assert boiled(0.0).trace.bath_c.max() == pytest.approx(100.0, abs=0.05)


def test_it_boils_earlier_and_off_more() -> None:
    high, low = boiled(2000.0), boiled(0.0)
    starts = [
        int(np.flatnonzero(found.trace.bath_c > found.trace.bath_c.max() - 0.05)[0]) for found in (high, low)
    ]
    assert starts[0] < starts[1] - 60
    assert high.trace.level_l[-200] < low.trace.level_l[-200]


def test_no_bath_is_hotter_than_the_boil() -> None:
    heated = programme(a_round("wash", heat_s=60))
    for height_m, limit_c in ((0.0, 100.0), (2000.0, BOILS_C)):
        rig = machine(STEEL | {"room.height_m": height_m}, tolerances=False)
        rows = {row.key: row for row in check(heated, rig, goal(), circuit(), draws=0).rows}
        assert rows["tank.bath_c"].limit == pytest.approx(limit_c, abs=0.05)


def test_the_planner_stays_as_far_below_the_boil() -> None:
    steel = {"machine__tank__material": "stainless", "machine__tank__limit_c": 104.0}
    at = {height_m: Assessor(tiny(**steel, machine__room__height_m=height_m)) for height_m in (0.0, 2000.0)}
    assert at[0.0].bath_limit_c == 97.0
    assert at[2000.0].bath_limit_c == pytest.approx(BOILS_C - 3.0, abs=0.05)


def test_the_planner_steams_at_the_boil_of_the_height() -> None:
    steel = {"machine__tank__material": "stainless", "machine__tank__limit_c": 104.0}
    ends = []
    for height_m in (0.0, 2000.0):
        inputs = tiny(**steel, machine__room__height_m=height_m)
        simulator = Simulator(inputs.machine, inputs.goal)
        settings = settings_of(fill_s=60.0, element_s=7200.0)
        runs = simulator.run(Programme(Structure((3,), (Mode.STEAM,)), settings))
        ends.append(float(runs.ware_end_c[0, simulator.corners.nominal]))
    assert ends == [pytest.approx(100.0, abs=0.1), pytest.approx(BOILS_C, abs=0.1)]


def test_a_tank_for_steam_needs_to_stand_the_boil_of_the_height_and_no_more() -> None:
    """97 °C: two kelvin over the boil at 2000 m, and too little at sea level."""
    drying = goal({"drying": {"method": "steam", "heat_factor": 0.6}})
    plastic = {"tank.material": "PP", "tank.limit_c": 97.0}
    refused = steam_refused(machine(plastic), drying)
    assert refused is not None
    assert "102 °C" in refused.asked
    assert steam_refused(machine(plastic | HIGH), drying) is None
    a_little_lower = steam_refused(machine(plastic | {"room.height_m": 1000.0}), drying)
    assert a_little_lower is not None
    assert "98.7 °C" in a_little_lower.asked


def test_a_watchdog_lets_boiling_water_pass_at_any_height() -> None:
    thermostat = {"element.control": "thermostat", "element.sensor_error_k": 1.5}
    # 95 °C are above the boil at 2000 m, so that a sensor that reads 1.5 K high must not stop the run, nor
    # weather that lets water boil 1 K later.
    rig = {"tank.material": "PP", "tank.limit_c": 95.0} | thermostat
    table = programme(a_round("wash"))
    assert bath_max_most_dc(table, machine(rig)) == 935
    assert bath_max_most_dc(table, machine(rig | HIGH)) == int(10.0 * (BOILS_C + 1.5 + 1.0))
