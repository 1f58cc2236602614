"""A bath that is heated with the pump off lies in layers: its sensor and its top are warmer than its mean.

No published source: by how much is measured on the machine, the defaults are our choice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme
from planner_cases import settings_of, tiny

from optimizer.check.certificate import Certificate
from optimizer.check.certify import check
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import Mode, Programme, Structure
from optimizer.profile.machine import Machine

ALONE = a_round("wash", fill_s=200, heat_s=3200, spray_s=300, setpoint_dc=550)
SPRAYED = a_round("wash", fill_s=200, spray_s=2400, spray_element_s=2400, setpoint_dc=550)
BY_THERMOSTAT = {"control": "thermostat", "fill_control": "level", "hysteresis_dk": 10}


def certificate(rig: Machine, *, sprayed: bool = False) -> Certificate:
    table = programme(SPRAYED if sprayed else ALONE, **BY_THERMOSTAT)
    return check(table, rig, goal(), circuit(), draws=0)


def layered(sensor_k: Any, top_k: Any) -> Machine:
    changes = {"element.sensor_over_mean_k": sensor_k, "element.top_over_mean_k": top_k}
    return machine(THERMOSTAT | {"element.sensor_error_k": 0.0} | changes, tolerances=False)


def hottest_c(found: Certificate) -> float:
    return next(row.worst for row in found.rows if row.key == "tank.bath_c")


def test_a_sensor_in_warm_water_ends_the_heating_early() -> None:
    # Setpoint 55 °C, the sensor 3 K over the mean: 52 °C in the mean, and 55 + 4 - 3 at the top.
    found = certificate(layered(3.0, 4.0))
    assert found.trace.bath_c.max() == pytest.approx(52.0, abs=0.03)
    assert hottest_c(found) == pytest.approx(56.0, abs=0.01)


def test_a_sensor_in_cold_water_lets_the_bath_overshoot() -> None:
    found = certificate(layered(-2.0, 1.0))
    assert found.trace.bath_c.max() == pytest.approx(57.0, abs=0.03)
    assert hottest_c(found) == pytest.approx(58.0, abs=0.01)


def test_both_ends_are_held_against_the_worst() -> None:
    ends = {"nominal": 1.0, "low": 0.0, "high": 3.0}
    spread = certificate(layered(ends, {"nominal": 2.0, "low": 1.0, "high": 4.0}))
    assert hottest_c(spread) == pytest.approx(55.0 - 0.0 + 4.0, abs=0.01)
    coldest = certificate(layered(3.0, 4.0))
    doses = [{row.key: row.worst for row in found.rows}["dose.fat"] for found in (spread, coldest)]
    assert doses[0] == pytest.approx(doses[1], rel=1e-3)


def test_a_sprayed_bath_is_mixed() -> None:
    found, plain = (certificate(layered(*k), sprayed=True) for k in ((3.0, 4.0), (0.0, 0.0)))
    assert found.rows == plain.rows
    assert np.array_equal(found.trace.bath_c, plain.trace.bath_c)


def test_a_timed_element_makes_the_top_hotter_and_no_more() -> None:
    table = programme(a_round("wash", heat_s=1500))

    def found(top_k: float) -> dict[str, float]:
        rig = machine({"element.top_over_mean_k": top_k}, tolerances=False)
        return {row.key: row.worst for row in check(table, rig, goal(), circuit(), draws=0).rows}

    plain, hot = found(0.0), found(5.0)
    assert hot.pop("tank.bath_c") == pytest.approx(plain.pop("tank.bath_c") + 5.0, abs=1e-6)
    assert hot == plain


def test_what_is_not_measured_has_a_stated_default() -> None:
    element = machine({"element": {"rated_w": 900.0, "rated_v": 230.0, "cover_l": 7.5, "rest_s": 30,
                                   "control": "timed"}}).element  # fmt: skip
    assert element is not None
    sensor, top = element.sensor_over_mean_k, element.top_over_mean_k
    assert (sensor.low, sensor.nominal, sensor.high) == (0.0, 1.0, 2.0)
    assert (top.low, top.nominal, top.high) == (0.0, 2.0, 4.0)


def planned(sensor_k: dict[str, float]) -> tuple[Runs, Simulator]:
    inputs = tiny(machine__element__control="thermostat", machine__element__sensor_error_k=1.0,
                  machine__element__hysteresis_k=2.0, machine__element__sensor_over_mean_k=sensor_k,
                  machine__element__top_over_mean_k=4.0)  # fmt: skip
    simulator = Simulator(inputs.machine, inputs.goal)
    settings = settings_of(fill_s=60.0, element_s=3000.0, spray_s=600.0, setpoint_c=55.0)
    return simulator.run(Programme(Structure((1,), (Mode.THEN_SPRAY,)), settings)), simulator


def test_the_planner_counts_with_the_bad_ends() -> None:
    runs, simulator = planned({"nominal": 1.0, "low": 0.0, "high": 3.0})
    hot, cold = simulator.corners.hot, simulator.corners.cold
    # Hot: the sensor reads 1 K low and sits in the mean, 56 °C; its top is 4 K hotter.
    assert runs.peak_c[0, hot, 0] == pytest.approx(60.0, abs=1e-6)
    # Cold: the sensor reads 1 K high and sits 3 K over the mean, which is at 51 °C.
    assert runs.peak_c[0, cold, 0] - simulator.corners.top_over_mean_k[cold] == pytest.approx(51.0, abs=1e-6)
