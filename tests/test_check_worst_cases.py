"""Measured quantities as the cases of a run: their ends, and what becomes of them in the run's units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, a_round, machine, programme
from iapws import IAPWS97

from optimizer.check.box import box_of
from optimizer.check.integrate import Simulation
from optimizer.check.worst_cases import QUANTITIES, Cases, cases_at, fault_cases, repeated, tolerances
from optimizer.profile.measured import Measured

ENDS = {
    "voltage_v": (220.0, 230.0, 240.0), "rated_w": (855.0, 900.0, 945.0), "wash_pump_w": (80.75, 85.0, 89.25),
    "inlet_c": (8.0, 12.0, 18.0), "room_c": (14.0, 18.0, 25.0), "flow_l_per_min": (5.7, 6.0, 6.3),
    "drain_l_per_min": (10.8, 12.0, 13.2), "level_l": (10.0, 10.5, 11.0), "residual_l": (0.5, 0.6, 0.8),
    "film_l": (0.15, 0.2, 0.25), "holdup_l": (1.2, 1.5, 1.8), "ware_kj_per_k": (3.36, 4.2, 5.04),
    "tank_kj_per_k": (4.05, 4.5, 4.95), "loss_still_w_per_k": (5.1, 6.0, 6.9),
    "loss_spraying_w_per_k": (7.65, 9.0, 10.35), "response_spraying_s": (30.0, 45.0, 60.0),
    "response_still_s": (1200.0, 1800.0, 3000.0), "sensor_error_k": (-1.0, 0.0, 1.0),
    "sensor_over_mean_k": (0.2, 0.5, 1.5), "top_over_mean_k": (0.5, 1.0, 2.0), "pipe_l": (0.2, 0.3, 0.5),
    "humidity_pct": (30.0, 40.0, 70.0), "steam_share": (0.2, 0.4, 0.7), "start_share": (0.0, 1.0, 1.0),
    "mechanics_factor": (0.8, 1.1, 1.3), "drain_lag_s": (2.0, 5.0, 9.0), "start_chill_share": (0.0, 0.0, 1.0),
}  # fmt: skip
"""The test rig's profile by hand: each quantity at its low end, nominal and at its high end."""
LAYERS: dict[str, Any] = {
    "element.sensor_over_mean_k": {"nominal": 0.5, "low": 0.2, "high": 1.5},
    "element.top_over_mean_k": {"nominal": 1.0, "low": 0.5, "high": 2.0},
    "inlet.pipe_l": {"nominal": 0.3, "low": 0.2, "high": 0.5},
    "room.humidity_pct": {"nominal": 40.0, "low": 30.0, "high": 70.0},
    "ware.steam_share": {"nominal": 0.4, "low": 0.2, "high": 0.7},
    "tank.vent_m2": 0.01,
    "drain_pump.drain_lag_s": {"nominal": 5.0, "low": 2.0, "high": 9.0},
    "wash_pump.mechanics_factor": {"nominal": 1.1, "low": 0.8, "high": 1.3},
    "tank.material": "stainless",
    "tank.limit_c": 100.0,
}


def ends(measured: Measured) -> tuple[float, float, float]:
    return measured.low, measured.nominal, measured.high


@pytest.mark.parametrize("name", QUANTITIES)
def test_both_ends_of_every_quantity(name: str) -> None:
    found = tolerances(machine(THERMOSTAT | LAYERS))
    assert ends(getattr(found, name)) == pytest.approx(ENDS[name])
    box = box_of(machine(THERMOSTAT | LAYERS))
    place = box.names.index(name)
    assert (box.low[place], box.nominal[place], box.high[place]) == pytest.approx(ENDS[name])


SENSED = {"element.sensor_error_k": 1.5}
"""Of a sensor that nothing is switched by."""


def test_what_a_machine_does_not_have_has_no_tolerance() -> None:
    timed, cold = tolerances(machine(LAYERS | SENSED)), tolerances(machine({"element": None}))
    for name in ("sensor_error_k", "sensor_over_mean_k"):
        assert ends(getattr(timed, name)) == (0.0, 0.0, 0.0)
    assert ends(timed.top_over_mean_k) == (0.5, 1.0, 2.0)
    assert timed.level_l.low == timed.level_l.high > 1e6
    for name in ("rated_w", "sensor_error_k", "sensor_over_mean_k", "top_over_mean_k"):
        assert ends(getattr(cold, name)) == (0.0, 0.0, 0.0)
    # Nothing evaporates, nothing steams: one value for all points.
    sealed = tolerances(machine(LAYERS | {"tank.vent_m2": 0.0, "tank.limit_c": 75.0}))
    assert ends(sealed.humidity_pct) == (40.0, 40.0, 40.0)
    assert ends(sealed.steam_share) == (0.4, 0.4, 0.4)


@pytest.mark.parametrize(("error_k", "bath_c"), [(-1.0, 56.0), (0.0, 55.0), (1.0, 54.0)])
def test_a_sensor_that_reads_high_ends_the_heating_early(error_k: float, bath_c: float) -> None:
    """A setpoint of 55 °C, and what the bath comes to."""
    box = box_of(machine(THERMOSTAT))
    point = box.nominal.copy()
    point[box.names.index("sensor_error_k")] = error_k
    table = programme(
        a_round("wash", heat_s=3600, setpoint_dc=550),
        control="thermostat",
        hysteresis_dk=10,
        fill_control="level",
    )
    hottest_c = [s.samples.bath_c.max() for s in Simulation(table, box.cases(point[None]), 0.0).run()]
    assert max(hottest_c) == pytest.approx(bath_c, abs=0.02)


def test_units_of_a_case() -> None:
    """Density of the inlet's water at 8 °C by IAPWS-IF97 (package iapws); the scales' litre is 0.998 kg."""
    rig = machine(THERMOSTAT | LAYERS)
    low = cases_at(rig, ("low",), 1, {name: np.array([values[0]]) for name, values in ENDS.items()})
    cold = float(IAPWS97(T=281.15, P=0.101325).rho) / 1000.0
    expected = {
        "element_w": 855.0 * (220.0 / 230.0) ** 2, "pump_heat_w": 80.75 * 0.5, "inlet_c": 8.0, "room_c": 14.0,
        "flow_kg_per_s": 5.7 / 60.0 * cold, "drain_l_per_s": 10.8 / 60.0, "level_kg": 10.0 * cold,
        "residual_kg": 0.5 * 0.998, "film_kg": 0.15 * 0.998, "holdup_kg": 1.2 * 0.998, "ware_j_per_k": 3360.0,
        "tank_j_per_k": 4050.0, "loss_still_w_per_k": 5.1, "loss_spraying_w_per_k": 7.65,
        "response_spraying_s": 30.0, "response_still_s": 1200.0, "sensor_error_k": -1.0,
        "sensor_over_mean_k": 0.2, "top_over_mean_k": 0.5, "pipe_l": 0.2, "start_share": 0.0,
        "mechanics_factor": 0.8, "drain_lag_s": 2.0, "start_chill_share": 0.0,
        "humidity": 0.3, "steam_share": 0.2, "cold_kg_per_l": cold,
    }  # fmt: skip
    found = {name: float(getattr(low, name)[0]) for name in expected}
    assert found == pytest.approx(expected, rel=2e-5)
    assert low.boils_c[0] == pytest.approx(100.0, abs=0.05)
    assert low.flow_l_per_s[0] == pytest.approx(5.7 / 60.0)
    assert low.carry_over_kg[0] == pytest.approx(0.65 * 0.998)


def test_a_dry_start_is_without_a_film_in_the_first_round_alone() -> None:
    rig = machine()
    table = {name: np.array([values[1]] * 2) for name, values in ENDS.items()} | {
        "start_share": np.array([0.0, 1.0])
    }
    cases = cases_at(rig, ("dry", "wet"), 2, table)
    assert cases.film_at_start_kg(0) == pytest.approx([0.0, 0.2 * 0.998])
    assert cases.film_at_start_kg(1) == pytest.approx([0.2 * 0.998] * 2)


@pytest.mark.parametrize(("inlet_c", "begins_c"), [(8.0, [14.0, 11.0, 8.0]), (55.0, [14.0, 14.0, 14.0])])
def test_a_tank_begins_between_the_room_and_colder_inlet_water(inlet_c: float, begins_c: list[float]) -> None:
    """An earlier run's cold rinses leave it there; no water that is warmer than the room does."""
    changes = {"inlet_c": inlet_c, "room_c": 14.0}
    table = {name: np.array([changes.get(name, values[1])] * 3) for name, values in ENDS.items()}
    cases = cases_at(machine(), ("",) * 3, 3, table | {"start_chill_share": np.array([0.0, 0.5, 1.0])})
    assert cases.start_bath_c == pytest.approx(begins_c)
    run = Simulation(programme(a_round("wash", fill_s=100), start_drain_s=20), cases, 0.0).run()
    first = next(iter(run)).samples
    assert first.bath_c[:, 0] == pytest.approx(begins_c)
    assert first.ware_c[:, 0] == pytest.approx([14.0] * 3)


def test_where_no_inlet_is_colder_than_any_room_no_start_is_chilled() -> None:
    feeds = ({"nominal": 25.0, "low": low_c, "high": 30.0} for low_c in (21.9, 22.0))
    rooms = {"nominal": 18.0, "low": 14.0, "high": 22.0}
    rigs = [machine({"inlet.water_c": feed, "room.air_c": rooms}) for feed in feeds]
    assert [tolerances(rig).start_chill_share.high for rig in rigs] == [1.0, 0.0]


def ratio(cases: Cases, name: str) -> list[float]:
    values = getattr(cases, name)
    return [float(value) for value in values]


def test_corners_for_faults() -> None:
    """Hot with much water, hot with little, cold with much, cold with little, nominal: by the names."""
    cases = fault_cases(machine(THERMOSTAT | LAYERS))
    assert cases.names == (
        "hot, much water",
        "hot, little water",
        "cold, much water",
        "cold, little water",
        "nominal",
    )
    hot_high = {
        "inlet_c",
        "room_c",
        "response_spraying_s",
        "response_still_s",
        "top_over_mean_k",
        "steam_share",
    }
    hot_low = {
        "loss_still_w_per_k",
        "loss_spraying_w_per_k",
        "sensor_error_k",
        "sensor_over_mean_k",
        "pipe_l",
    }
    for name in hot_high | hot_low:
        low, nominal, high = ENDS[name]
        hot, cold = (high, low) if name in hot_high else (low, high)
        assert ratio(cases, name) == pytest.approx([hot, hot, cold, cold, nominal]), name
    assert ratio(cases, "ware_j_per_k") == pytest.approx([3360.0, 3360.0, 5040.0, 5040.0, 4200.0])
    assert ratio(cases, "tank_j_per_k") == pytest.approx([4050.0, 4050.0, 4950.0, 4950.0, 4500.0])
    powers = [945.0 * (240 / 230) ** 2] * 2 + [855.0 * (220 / 230) ** 2] * 2 + [900.0]
    assert ratio(cases, "element_w") == pytest.approx(powers)
    assert ratio(cases, "pump_heat_w") == pytest.approx([44.625, 44.625, 40.375, 40.375, 42.5])
    # Much water: quick inlet, slow drain, high level, much in sump and film, wet; the hold-up high in all.
    assert cases.flow_l_per_s * 60.0 == pytest.approx([6.3, 5.7, 6.3, 5.7, 6.0])
    assert cases.drain_l_per_s * 60.0 == pytest.approx([10.8, 13.2, 10.8, 13.2, 12.0])
    assert cases.level_kg / cases.cold_kg_per_l == pytest.approx([11.0, 10.0, 11.0, 10.0, 10.5])
    assert cases.carry_over_kg / 0.998 == pytest.approx([1.05, 0.65, 1.05, 0.65, 0.8])
    assert ratio(cases, "start_share") == [1.0, 0.0, 1.0, 0.0, 1.0]
    assert ratio(cases, "start_chill_share") == [0.0, 0.0, 1.0, 1.0, 0.0]
    assert ratio(cases, "humidity") == pytest.approx([0.7, 0.3, 0.7, 0.3, 0.4])
    assert cases.holdup_kg / 0.998 == pytest.approx([1.8, 1.8, 1.8, 1.8, 1.5])
    assert ratio(cases, "mechanics_factor") == pytest.approx([0.8, 0.8, 0.8, 0.8, 1.1])


def test_repeated_cases_keep_their_order() -> None:
    twice = repeated(fault_cases(machine()), 2)
    assert twice.count == 10
    assert twice.names[:5] == twice.names[5:]
    assert twice.room_c.tolist() == [25.0, 25.0, 14.0, 14.0, 18.0] * 2
