"""The stepped solution of the two nodes against an integrator of its own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from thermal_cases import KNOWN, PROTOCOL, Truth, logs

from optimizer.measure.estimate import Instruments
from optimizer.measure.thermal_model import (
    FILM_J_PER_KG_K,
    Nodes,
    Reader,
    Surroundings,
    Switched,
    simulate,
    step_ends_s,
)
from optimizer.measure.thermal_parameters import KEY_OF, Parameters
from optimizer.measure.thermal_problem import Problem
from optimizer.measure.thermal_sessions import MOST_POINTS, averaged, bench_of
from optimizer.physics.water import (
    latent_heat_kj_per_kg,
    saturation_pressure_kpa,
    specific_heat_kj_per_kg_k,
)

FILM_KG, LAG_S = 0.25, (8.0, 15.0)


def nodes(**changed: float) -> Nodes:
    usual = {
        "tank_j_per_k": 4500.0,
        "ware_j_per_k": 7000.0,
        "loss_still_w_per_k": 6.0,
        "loss_spraying_w_per_k": 9.0,
        "response_still_s": 1800.0,
        "response_spraying_s": 45.0,
        "pump_heat_w": 42.5,
        "element_w": 900.0,
        "evaporation": 1.0,
        "bath_lag_s": LAG_S[0],
        "ware_lag_s": LAG_S[1],
        "bath_c": 60.0,
        "ware_c": 20.0,
        "room_over_k": 0.0,
        "water_kg": 5.0,
    }
    return Nodes(**{name: np.array([value]) for name, value in (usual | changed).items()})


def phase(start: np.ndarray, last_s: float, spraying: bool, element: bool, response_s: float) -> object:
    """Integrate a phase: bath, ware, water, both probes."""
    film = 0.0 if spraying else FILM_KG

    def slope(_: float, y: np.ndarray) -> list[float]:
        bath, ware, water, seen_bath, seen_ware = y
        flow = 7000.0 / response_s * (bath - ware)
        heat = 42.5 * spraying + 900.0 * element - (9.0 if spraying else 6.0) * (bath - 20.0)
        over_kpa = saturation_pressure_kpa(bath) - 0.5 * saturation_pressure_kpa(20.0)
        gone = 0.002 * 0.089 * max(over_kpa, 0.0) / latent_heat_kj_per_kg(bath)
        return [
            (heat - flow) / (1000.0 * specific_heat_kj_per_kg_k(bath) * (water - film) + 4500.0),
            flow / (7000.0 + FILM_J_PER_KG_K * film),
            -gone,
            (bath - seen_bath) / LAG_S[0],
            (ware - seen_ware) / LAG_S[1],
        ]

    return solve_ivp(slope, (0.0, last_s), start, rtol=1e-9, atol=1e-9, dense_output=True, method="LSODA")


@pytest.mark.parametrize("quick_s", [5.0, 45.0, 600.0])
def test_spray_element_and_still_bath_with_a_film(quick_s: float) -> None:
    """Three phases one after the other: 2 mK at the most."""
    lasts = (1200.0, 600.0, 1800.0)
    ends = step_ends_s([0.0, 1200.0, 1800.0], sum(lasts))
    steps = np.diff(np.concatenate([[0.0], ends]))
    middle = ends - 0.5 * steps
    spraying = middle < 1800.0
    element = ((middle > 1200.0) & spraying).astype(float)
    true = np.ones(len(ends), dtype=bool)
    switched = Switched(*(row[None] for row in (steps, 20.0 * true, spraying, true, ~spraying, element)))
    traces = simulate(
        nodes(response_spraying_s=quick_s), np.array([0]), switched, Surroundings(0.002, 0.5, FILM_KG)
    )
    first = phase(np.array([60.0, 20.0, 5.0, 60.0, 20.0]), lasts[0], True, False, quick_s)
    second = phase(first.y[:, -1], lasts[1], True, True, quick_s)
    start = second.y[:, -1].copy()
    film_j = FILM_J_PER_KG_K * FILM_KG
    start[1] += film_j / (7000.0 + film_j) * (start[0] - start[1])
    third = phase(start, lasts[2], False, False, 1800.0)
    for begin, last, solved in ((0.0, 1200.0, first), (1200.0, 600.0, second), (1800.0, 1800.0, third)):
        time_s = np.linspace(0.5, last - 0.5, 300)
        reader = Reader.at(begin + time_s, ends)
        for probe in (0, 1):
            read_c = reader.read(traces, probe, np.array([0]))[:, 0]
            assert np.abs(read_c - solved.sol(time_s)[3 + probe]).max() < 2e-3


def test_a_film_goes_back_to_the_bath_with_its_heat() -> None:
    """A still bath over cold wet ware, then a spray: heat is kept, to 1 J of a million."""
    switched = Switched(
        *(
            np.array([row])
            for row in ([1e-3, 1e-3], [20.0] * 2, [False, True], [True] * 2, [True, False], [0.0] * 2)
        )
    )
    case = nodes(bath_lag_s=1e-6, ware_lag_s=1e-6)
    read_c = simulate(case, np.array([0]), switched, Surroundings(0.0, 0.5, FILM_KG)).read_c[:, -1, 0]
    c_60, c_40 = 4185.1, FILM_J_PER_KG_K
    before_j = (c_60 * (5.0 - FILM_KG) + 4500.0) * 60.0 + c_40 * FILM_KG * 20.0
    after_c = before_j / (c_60 * (5.0 - FILM_KG) + 4500.0 + c_40 * FILM_KG)
    assert read_c[0] == pytest.approx(after_c, abs=0.02)
    assert read_c[0] < 59.0


def test_without_ware_it_is_one_body() -> None:
    """Newton's law of cooling, the lag of the probe as good as none."""
    ends = step_ends_s([0.0], 3600.0)
    steps = np.diff(np.concatenate([[0.0], ends]))[None]
    no = np.zeros(steps.shape, dtype=bool)
    switched = Switched(steps, 20.0 + 0.0 * steps, no, no, no, 0.0 * steps)
    traces = simulate(
        nodes(bath_lag_s=0.2, bath_c=41.0), np.array([0]), switched, Surroundings(0.0, 0.5, 0.0)
    )
    hour_c = Reader.at(np.array([3600.0]), ends).read(traces, 0, np.array([0]))[0, 0]
    # c of water is 4179 to 4181 J/(kg K) between 30 and 41 °C (IAPWS-IF97).
    assert hour_c == pytest.approx(20.0 + 21.0 * np.exp(-6.0 * 3600.0 / (4180.0 * 5.0 + 4500.0)), abs=3e-3)


@pytest.mark.parametrize("off", [0.0, 1e-9, -1e-9, 1e-4])
def test_a_probe_as_slow_as_the_bath_does_no_harm(off: float) -> None:
    """Equal rates: the closed form would divide by zero."""
    ends = step_ends_s([0.0], 600.0)
    steps = np.diff(np.concatenate([[0.0], ends]))[None]
    no = np.zeros(steps.shape, dtype=bool)
    switched = Switched(steps, 20.0 + 0.0 * steps, no, no, no, 0.0 * steps)
    capacity = 4500.0 + 5.0 * 4185.1
    case = nodes(bath_lag_s=(1.0 + off) * capacity / 50.0, loss_still_w_per_k=50.0)
    read_c = simulate(case, np.array([0]), switched, Surroundings(0.0, 0.5, 0.0)).read_c[0, -1, 0]
    x = 600.0 * 50.0 / capacity
    # y' = (T - y)/tau with T = 20 + 40 exp(-t/tau), y(0) = 60: y = 20 + 40 (1 + t/tau) exp(-t/tau).
    assert read_c == pytest.approx(20.0 + 40.0 * (1.0 + x) * np.exp(-x), abs=0.02)


def test_the_fit_at_the_true_numbers_leaves_nothing() -> None:
    """Logs without noise: what is left at the truth is what two tables of water differ by."""
    truth = Truth(white_k=0.0, step_k=0.0, lag_s=6.0)
    bench = bench_of(logs(truth), KNOWN)
    parameters = Parameters(bench, Instruments(), KNOWN)
    at = np.zeros(len(parameters.list))
    for i, parameter in enumerate(parameters.list):
        if parameter.name in KEY_OF:
            wanted = truth.values[KEY_OF[parameter.name]]
            at[i] = (
                wanted - parameter.typical
                if not parameter.logarithmic
                else np.log(wanted / parameter.typical)
            )
        if parameter.name == "pour":
            at[i] = -parameter.typical
    at[parameters.index[("bath_offset", -1)]] = truth.bath_offset_k
    at[parameters.index[("ware_offset", -1)]] = truth.ware_offset_k
    for series, read_c in zip(bench.series, Problem(parameters).readings_c(at[None]), strict=True):
        assert np.abs(series.read_c - read_c[:, 0]).max() < 0.01, PROTOCOL[series.test].name


def test_many_readings_become_few_points_and_a_mean_stays_a_mean() -> None:
    time_s = np.arange(0.0, 3600.0, 0.01)
    values = 50.0 + 0.001 * time_s
    values[[1000, 200000]] = 999.0
    (mean_s, mean, rows, span_s), dropped = averaged(time_s, values, np.array([0.0]))
    assert len(mean_s) <= MOST_POINTS
    assert dropped == 2
    assert rows.sum() == len(time_s) - 2
    assert np.abs(mean - (50.0 + 0.001 * mean_s)).max() < 1e-9
    assert (np.diff(mean_s) > 0.0).all()
    assert (span_s >= 0.0).all()


def test_few_readings_stay_as_they_are() -> None:
    time_s = np.arange(0.0, 601.0, 10.0)
    (mean_s, mean, rows, span_s), dropped = averaged(time_s, 0.1 * time_s, np.array([0.0]))
    assert (mean_s == time_s).all()
    assert (mean == 0.1 * time_s).all()
    assert (rows == 1.0).all()
    assert (span_s == 0.0).all()
    assert dropped == 0
