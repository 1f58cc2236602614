"""The two nodes against closed forms, water tables and the first law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from check_cases import (
    THERMOSTAT,
    a_round,
    five_rounds_by_thermostat,
    machine,
    programme,
    sample_cases,
)
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.integrate import trapezoid
from scipy.linalg import expm

from optimizer.check.equations import Drive, State, StopAt, advance, slopes
from optimizer.check.integrate import Simulation
from optimizer.check.worst_cases import Array
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.programme.constants import Constants


def one(*values: float) -> Array:
    return np.array(values)


def drive(**changes: object) -> Drive:
    """A sealed 900 W kettle without loss and, but for a thousandth of a joule, without ware."""
    kettle = Drive(
        heat_w=one(900.0), loss_w_per_k=one(0.0), response_s=one(60.0), ware_j_per_k=one(1e-3),
        film_kg=one(0.0), tank_j_per_k=one(0.0), room_c=one(20.0), humidity=one(0.5), inlet_c=one(15.0),
        inflow_kg_per_s=one(0.0), outflow_kg_per_s=one(0.0), vent_m2=0.0,
    )  # fmt: skip
    return replace(kettle, **changes)


def at(bath_c: float, water_kg: float, ware_c: float | None = None) -> State:
    return State(one(bath_c), one(bath_c if ware_c is None else ware_c), one(water_kg), one(0.0))


@pytest.mark.parametrize(("start_c", "end_c"), [(15.0, 55.0), (10.0, 65.0), (40.0, 95.0)])
def test_heating_ten_kilograms_takes_the_enthalpy_of_if97(start_c: float, end_c: float) -> None:
    # Source: IAPWS-IF97 (package iapws). 10 l from 15 to 55 °C is about an EU benchmark programme.
    enthalpy = [IAPWS97(T=273.15 + t, P=0.101325).h for t in (start_c, end_c)]
    duration_s = 10.0 * (enthalpy[1] - enthalpy[0]) / 0.9
    end = advance(at(start_c, 10.0), drive(), one(duration_s)).end
    assert end.bath_c[0] == pytest.approx(end_c, abs=0.001 * (end_c - start_c))


def test_ten_kilograms_from_10_to_65_c_take_0_639_kwh() -> None:
    # Source: IAPWS-IF97, 0.639 kWh.
    end = advance(at(10.0, 10.0), drive(), one(0.639 * 3.6e6 / 900.0)).end
    assert end.bath_c[0] == pytest.approx(65.0, abs=0.06)


def test_a_single_node_cools_by_the_exponential() -> None:
    cooling = drive(heat_w=one(0.0), tank_j_per_k=one(40e3), loss_w_per_k=one(8.0))
    samples = advance(at(60.0, 0.0), cooling, one(7200.0))
    expected_c = 20.0 + 40.0 * np.exp(-8.0 / 40e3 * samples.time_s)
    assert samples.bath_c == pytest.approx(expected_c, abs=1e-4)


def test_a_single_node_heats_towards_its_equilibrium() -> None:
    heating = drive(tank_j_per_k=one(40e3), loss_w_per_k=one(10.0))
    samples = advance(at(20.0, 0.0), heating, one(5400.0))
    assert samples.bath_c == pytest.approx(110.0 - 90.0 * np.exp(-10.0 / 40e3 * samples.time_s), abs=1e-4)


def test_two_nodes_follow_the_matrix_exponential() -> None:
    # Reference: scipy.linalg.expm of the linear system; without water nothing in the model is non-linear.
    pair = drive(
        tank_j_per_k=one(40e3), loss_w_per_k=one(9.0), ware_j_per_k=one(4200.0), response_s=one(45.0)
    )
    exchange = 4200.0 / 45.0
    matrix = np.array([[-(9.0 + exchange) / 40e3, exchange / 40e3, (900.0 + 9.0 * 20.0) / 40e3],
                       [1.0 / 45.0, -1.0 / 45.0, 0.0], [0.0, 0.0, 0.0]])  # fmt: skip
    for duration_s in (30.0, 600.0, 3600.0):
        end = advance(at(50.0, 0.0, ware_c=15.0), pair, one(duration_s)).end
        expected = expm(matrix * duration_s) @ [50.0, 15.0, 1.0]
        assert (end.bath_c[0], end.ware_c[0]) == pytest.approx(expected[:2], abs=1e-4)


def test_cold_water_mixes_to_the_weighted_mean() -> None:
    mixing = drive(heat_w=one(0.0), inlet_c=one(10.0), inflow_kg_per_s=one(0.1))
    end = advance(at(50.0, 5.0), mixing, one(50.0)).end
    enthalpy = 0.5 * sum(IAPWS97(T=273.15 + t, P=0.101325).h for t in (10.0, 50.0))
    mixed_c = IAPWS97(h=enthalpy, P=0.101325).T - 273.15
    assert end.water_kg[0] == pytest.approx(10.0)
    assert end.bath_c[0] == pytest.approx(mixed_c, abs=0.03)


@pytest.mark.parametrize(
    ("water_c", "w_per_m2"), [(40.0, 553.0), (50.0, 995.0), (60.0, 1671.0), (70.0, 2673.0)]
)
def test_evaporation_of_an_open_surface(water_c: float, w_per_m2: float) -> None:
    # Source: ASHRAE HVAC Applications (secondary), w = A (p_w - p_a)(0.089 + 0.0782 v) / h_fg,
    # computed for still air of 20 °C and 50 %.
    _, _, water_slope = slopes(drive(vent_m2=1.0))(one(water_c), one(water_c), one(10.0))
    latent = IAPWS97(T=273.15 + water_c, x=1).h - IAPWS97(T=273.15 + water_c, x=0).h
    assert -1000.0 * water_slope[0] * latent == pytest.approx(w_per_m2, rel=2e-3)


def boiling(heat_w: float, ware_c: float, water_kg: float = 5.0, bath_c: float = 100.0) -> tuple[float, ...]:
    """Slopes of a pool that boils, 0.3 of its steam for 8 kJ/K of ware and a film of 0.2 kg."""
    pool = drive(
        heat_w=one(heat_w), loss_w_per_k=one(2.0), ware_j_per_k=one(8000.0), film_kg=one(0.2),
        tank_j_per_k=one(3000.0), steam_share=one(0.3),
    )  # fmt: skip
    return tuple(float(value[0]) for value in slopes(pool)(one(bath_c), one(ware_c), one(water_kg)))


def test_a_share_of_the_steam_warms_ware_and_film() -> None:
    """1000 W less 160 W of loss: 840 W over 2257 kJ/kg (IAPWS-IF97), 0.3 of them into 8.84 kJ/K."""
    bath_k, ware_k, water_kg = boiling(1000.0, 50.0)
    assert bath_k == 0.0
    assert ware_k == pytest.approx(0.3 * 840.0 / (8000.0 + 0.2 * 4179.0), rel=1e-3)
    latent_kj_per_kg = IAPWS97(T=373.124, x=1).h - IAPWS97(T=373.124, x=0).h
    assert water_kg == pytest.approx(-0.840 / latent_kj_per_kg, rel=2e-3)


def test_a_pool_that_boils_early_takes_more_heat_a_kilogram() -> None:
    """At 90 °C, as at 2900 m: 1000 W less 140 W of loss over 2283 kJ/kg (IAPWS-IF97), not 2257."""
    latent_kj_per_kg = IAPWS97(T=363.15, x=1).h - IAPWS97(T=363.15, x=0).h
    assert latent_kj_per_kg == pytest.approx(2282.6, abs=0.5)
    assert boiling(1000.0, 50.0, bath_c=90.0)[2] == pytest.approx(-0.860 / latent_kj_per_kg, rel=2e-3)


def test_no_ware_gets_hotter_than_the_steam() -> None:
    whole = boiling(1000.0, 99.0)[1]
    assert boiling(1000.0, 98.0)[1] == pytest.approx(whole)
    assert boiling(1000.0, 99.75)[1] == pytest.approx(whole / 4.0)
    assert boiling(1000.0, 100.0)[1] == boiling(1000.0, 101.0)[1] == 0.0


def test_a_pool_without_net_heat_cools_and_an_empty_one_makes_no_steam() -> None:
    """160 W of loss from 4.8 kg at 4.216 kJ/(kg K) (IAPWS-IF97) and 3 kJ/K of tank."""
    bath_k, ware_k, water_kg = boiling(0.0, 50.0)
    assert bath_k == pytest.approx(-160.0 / (4.8 * 4216.0 + 3000.0), rel=1e-3)
    assert (ware_k, water_kg) == (0.0, 0.0)
    assert boiling(1000.0, 50.0, water_kg=0.2)[1:] == (0.0, 0.0)


def test_water_colder_than_the_dew_point_gains_none() -> None:
    assert slopes(drive(vent_m2=1.0))(one(5.0), one(5.0), one(10.0))[2][0] == 0.0


def test_a_watched_case_stops_at_its_threshold_and_the_others_run_on() -> None:
    pair = drive(**{
        name: np.repeat(getattr(drive(), name), 3)
        for name in ("humidity", "heat_w", "loss_w_per_k", "response_s", "ware_j_per_k", "film_kg", "room_c",
                     "inlet_c", "inflow_kg_per_s", "outflow_kg_per_s")
    }, tank_j_per_k=np.array([40e3, 80e3, 40e3]))  # fmt: skip
    start = State(np.full(3, 20.0), np.full(3, 20.0), np.zeros(3), np.zeros(3))
    samples = advance(start, pair, np.array([4000.0, 4000.0, 0.0]), StopAt(np.full(3, 65.0), np.ones(3)))
    # 45 K at 900 W: 2000 s for 40 kJ/K, 4000 s for 80 kJ/K; the third may not run at all.
    assert samples.lasted_s == pytest.approx([2000.0, 4000.0, 0.0], abs=0.01)
    assert samples.end.bath_c == pytest.approx([65.0, 65.0, 20.0], abs=1e-3)


def stored_j(state: State, cases_ware: Array, cases_tank: Array) -> Array:
    return (
        (state.water_kg - state.film_kg) * enthalpy_j_per_kg(state.bath_c)
        + state.film_kg * enthalpy_j_per_kg(state.ware_c)
        + cases_tank * state.bath_c
        + cases_ware * state.ware_c
    )


def enthalpy_j_per_kg(temperature_c: Array) -> Array:
    """Enthalpy over 0 °C: the integral of the specific heat by Simpson's rule."""
    grid = np.linspace(0.0, 1.0, 101)
    weights = np.ones(101)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    heats = specific_heat_kj_per_kg_k(np.multiply.outer(temperature_c, grid))
    return 1000.0 * temperature_c * (heats * weights).sum(axis=-1) / 300.0


FEWER_CORNERS = {"room.air_c": 18.0, "tank.loss_still_w_per_k": 6.0, "tank.loss_spraying_w_per_k": 9.0}
"""A quarter of the corners: the first law does not ask which is worst."""


def assert_energy_balances(constants: Constants, changes: dict[str, object]) -> None:
    """Heat in - losses + what water brings and takes = stored heat, in every case, to 0.03 %."""
    rig = machine(changes)
    cases = sample_cases(rig, draws=4, seed=3)
    into_j, lost_j, first, last = np.zeros(cases.count), np.zeros(cases.count), None, None
    for stretch in Simulation(constants, cases, rig.tank.vent_m2).run():
        samples, on = stretch.samples, stretch.phase.outputs
        first = first or State(
            samples.bath_c[:, 0], samples.ware_c[:, 0], samples.water_kg[:, 0], samples.film_kg
        )
        last = samples.end
        loss = cases.loss_spraying_w_per_k if on.wash_pump else cases.loss_still_w_per_k
        above_k = samples.bath_c - cases.room_c[:, None]
        lost_j += loss * trapezoid(above_k, samples.time_s)
        into_j += (cases.element_w * stretch.element + cases.pump_heat_w * on.wash_pump) * samples.lasted_s
        into_kg = cases.flow_kg_per_s * samples.lasted_s * on.inlet
        into_j += into_kg * enthalpy_j_per_kg(cases.inlet_c)
        step_kg = (
            np.diff(samples.water_kg) - np.diff(samples.time_s) * (cases.flow_kg_per_s * on.inlet)[:, None]
        )
        middle_c = 0.5 * (samples.bath_c[:, 1:] + samples.bath_c[:, :-1])
        lost_j -= (step_kg * enthalpy_j_per_kg(middle_c)).sum(axis=1)
    assert first is not None
    assert last is not None
    gained_j = [stored_j(state, cases.ware_j_per_k, cases.tank_j_per_k) for state in (first, last)]
    # The model takes water's heat capacity at one temperature a step, the enthalpies here do not: 0.03 %.
    assert into_j - lost_j == pytest.approx(gained_j[1] - gained_j[0], abs=5e-4 * into_j.min())


@cases(10)
@given(
    heat_s=st.integers(0, 1500),
    spray_s=st.integers(60, 2400),
    share=st.floats(0.0, 1.0),
    drain_s=st.integers(20, 120),
    flow=st.floats(2.0, 15.0),
    response_s=st.floats(5.0, 600.0),
    vent_m2=st.floats(0.0, 0.1),
)
def test_energy_balances(
    heat_s: int, spray_s: int, share: float, drain_s: int, flow: float, response_s: float, vent_m2: float
) -> None:
    heated = a_round(
        "wash", heat_s=heat_s, spray_s=spray_s, spray_element_s=int(share * spray_s), drain_s=drain_s
    )
    changes = {
        "inlet.flow_l_per_min": {"nominal": flow, "tolerance_pct": 5.0},
        "ware.response_spraying_s": response_s,
        "tank.vent_m2": vent_m2,
    } | FEWER_CORNERS
    assert_energy_balances(programme(heated, a_round("rinse", drain_s=drain_s), stand_s=600), changes)


def test_energy_balances_with_thermostat_and_level_switch() -> None:
    assert_energy_balances(five_rounds_by_thermostat(), THERMOSTAT | FEWER_CORNERS)
