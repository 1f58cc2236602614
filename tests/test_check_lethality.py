"""Doses of the check against the published tables and against numerical quadrature."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import cold_plan
from scipy.integrate import quad

from optimizer.check.certificate import EarnedDose, Trace
from optimizer.check.certify import check
from optimizer.check.lethality import A0, HUE, Rate, earned_doses, soil_dose_s, soil_rate
from optimizer.programme.constants import Constants, Round
from optimizer.report.certificate import certificate_report, certificate_to_dict
from optimizer.units import celsius_from_fahrenheit


def held(rate: Rate, temperature_c: float, duration_s: float) -> float:
    times = np.linspace(0.0, duration_s, 7)
    return float(rate.integral_s(times, np.full(7, temperature_c)))


# Source: ISO 15883-1, Annex B: A0 in seconds at 80 °C, z = 10 K, from 65 °C.
@pytest.mark.parametrize(
    ("temperature_c", "duration_s", "a0_s"),
    [(80, 600, 600), (90, 60, 600), (70, 6000, 600), (90, 300, 3000), (65, 1897.4, 60), (75, 189.7, 60),
     (85, 948.7, 3000)],
)  # fmt: skip
def test_a0_table(temperature_c: float, duration_s: float, a0_s: float) -> None:
    assert held(A0, temperature_c, duration_s) == pytest.approx(a0_s, rel=3e-4)


def test_a0_counts_nothing_below_65_c() -> None:
    assert held(A0, 64.99, 3600.0) == 0.0


# Source: "History of Dishwashing Machine Sanitation" (slides, 2009) on NSF/ANSI 3: 1800 units either way.
@pytest.mark.parametrize(("temperature_f", "duration_s"), [(143.0, 1800.0), (161.0, 15.0)])
def test_two_ways_to_1800_heat_units(temperature_f: float, duration_s: float) -> None:
    assert held(HUE, celsius_from_fahrenheit(temperature_f), duration_s) == pytest.approx(1800.0, rel=5e-3)


# Source: the same; 346.8 per second as printed for 165 °F.
@pytest.mark.parametrize(
    ("temperature_f", "per_s"),
    [(143, 1.0), (145, 1.70), (150, 6.44), (155, 24.3), (160, 92.0), (165, 346.8), (180, 346.8)],
)  # fmt: skip
def test_heat_units_per_second(temperature_f: float, per_s: float) -> None:
    assert held(HUE, celsius_from_fahrenheit(temperature_f), 1.0) == pytest.approx(per_s, rel=5e-3)


def test_heat_units_stop_below_143_f() -> None:
    # From memory: the lower end at 143 °F.
    assert held(HUE, celsius_from_fahrenheit(142.9), 3600.0) == 0.0


@cases(200)
@given(
    start_c=st.floats(5.0, 99.0),
    end_c=st.floats(5.0, 99.0),
    z_k=st.floats(3.0, 120.0),
    floor_c=st.floats(0.0, 60.0),
    above_k=st.floats(0.0, 40.0),
)
def test_a_ramp_is_integrated_exactly(
    start_c: float, end_c: float, z_k: float, floor_c: float, above_k: float
) -> None:
    # Reference: scipy.integrate.quad, told where the rate jumps and bends.
    ceiling_c = floor_c + above_k
    rate = Rate.from_z(50.0, z_k, floor_c, ceiling_c)

    def per_s(time_s: float) -> float:
        at_c = start_c + (end_c - start_c) * time_s / 100.0
        return 10.0 ** ((min(at_c, ceiling_c) - 50.0) / z_k) if at_c >= floor_c else 0.0

    bends = [
        100.0 * (at_c - start_c) / (end_c - start_c)
        for at_c in (floor_c, ceiling_c)
        if abs(end_c - start_c) > 1e-6
    ]
    points = [0.0, *sorted(min(max(bend, 0.0), 100.0) for bend in bends), 100.0]
    expected_s = sum(quad(per_s, *ends)[0] for ends in pairwise(points))
    found_s = rate.integral_s(np.array([0.0, 100.0]), np.array([start_c, end_c]))
    assert float(found_s) == pytest.approx(expected_s, rel=1e-5, abs=1e-6)


def test_without_detergent_a_share_is_left_and_the_higher_floor_holds() -> None:
    fat = goal({"dose": [{"name": "fat", "reference_c": 50.0, "z_k": 30.0, "floor_c": 35.0, "minutes": 1.0,
                          "kinds": ["wash"], "bare_share": 0.4, "bare_floor_c": 42.0}]}).dose[0]  # fmt: skip
    assert held(soil_rate(fat, detergent=True), 40.0, 60.0) == pytest.approx(60.0 * 10.0 ** (-10.0 / 30.0))
    assert held(soil_rate(fat, detergent=False), 40.0, 60.0) == 0.0
    assert held(soil_rate(fat, detergent=False), 50.0, 60.0) == pytest.approx(24.0)


def test_a_low_bare_floor_does_not_lower_the_floor() -> None:
    fat = goal({"dose": [{"name": "fat", "reference_c": 50.0, "z_k": 30.0, "floor_c": 42.0, "minutes": 1.0,
                          "kinds": ["wash"], "bare_floor_c": 35.0}]}).dose[0]  # fmt: skip
    assert held(soil_rate(fat, detergent=False), 40.0, 60.0) == 0.0


# --- at which temperature a dose is earned


@pytest.mark.parametrize("reference_c", [35.0, 65.0])
@pytest.mark.parametrize(("step_k", "far"), [(0.0, False), (0.001, True)])
def test_far_begins_beyond_15_k(reference_c: float, step_k: float, far: bool) -> None:
    """Either way from the 50 °C at which it is earned."""
    away_c = reference_c + (step_k if reference_c > 50.0 else -step_k)
    assert EarnedDose("fat", 50.0, away_c).far is far


def run_of(*rounds: Round, ware_c: list[float]) -> tuple[Constants, Trace]:
    """A run that is nothing but sprays, a second of rest before each; the ware at one temperature in each."""
    constants = programme(*rounds)
    on = np.concatenate([[False, *[True] * row.spray_s] for row in rounds])
    ware = np.concatenate([[0.0, *[c] * row.spray_s] for row, c in zip(rounds, ware_c, strict=True)])
    off = np.zeros_like(on)
    return constants, Trace(np.arange(len(on), dtype=float), ware, ware, ware, off, off, on, off)


def test_a_soak_weighs_by_its_share() -> None:
    """240 s at 50 °C, 604 s of soak and pauses at 30 °C for a fifth, 60 s at 30 °C; all of it one round's."""
    table = programme(a_round("wash", detergent_dg=300, soak_s=600), a_round("rinse"), after_soak_s=60)
    on = np.repeat([False, True, False, True, False, True], [1, 240, 604, 60, 9, 300])
    ware = np.where(np.arange(len(on)) <= 240, 50.0, 30.0)
    off = np.zeros_like(on)
    run = Trace(np.arange(len(on), dtype=float), ware, ware, ware, off, off, on, off)
    earned = {dose.name: dose for dose in earned_doses(goal(), table, run)}
    cold = (0.2 * 604.0 + 60.0) * 10.0 ** (-20.0 / 49.0)
    assert earned["milk"].mean_c == pytest.approx((240.0 * 50.0 + cold * 30.0) / (240.0 + cold), abs=1e-9)


def test_mean_temperature_is_weighted_by_the_dose() -> None:
    """Milk, z 49 K: at 20 and at 50 °C for 300 s each; by hand (20·r + 50)/(r + 1) with r = 10^(-30/49)."""
    washes = [a_round("wash", detergent_dg=300), a_round("wash", detergent_dg=300)]
    earned = {dose.name: dose for dose in earned_doses(goal(), *run_of(*washes, ware_c=[20.0, 50.0]))}
    ratio = 10.0 ** (-30.0 / 49.0)
    assert earned["milk"].mean_c == pytest.approx((20.0 * ratio + 50.0) / (ratio + 1.0), abs=1e-9)
    assert earned["milk"].reference_c == 50.0
    # 10 s of the one and 300 s of the other: each second counts.
    washes[0] = replace(washes[0], spray_s=10)
    earned = {dose.name: dose for dose in earned_doses(goal(), *run_of(*washes, ware_c=[20.0, 50.0]))}
    by_hand_c = (10.0 * ratio * 20.0 + 300.0 * 50.0) / (10.0 * ratio + 300.0)
    assert earned["milk"].mean_c == pytest.approx(by_hand_c, abs=1e-9)
    # Below its floor of 42 °C nothing counts; in the rinse neither milk nor fat does.
    assert earned["fat"].mean_c == pytest.approx(50.0)
    rounds = [a_round("wash", detergent_dg=300), a_round("rinse")]
    earned = {dose.name: dose for dose in earned_doses(goal(), *run_of(*rounds, ware_c=[30.0, 60.0]))}
    assert earned["milk"].mean_c == pytest.approx(30.0)
    assert "fat" not in earned


def test_a_certificate_says_where_its_doses_were_earned() -> None:
    """Cold water alone: the ware follows a bath between inlet (12 °C) and room (18 °C)."""
    wash = programme(a_round("wash", detergent_dg=300), a_round("rinse"))
    certificate = check(wash, machine({"element": None}), goal(), circuit(), draws=0)
    earned = {dose.name: dose for dose in certificate.earned}
    assert 12.0 < earned["milk"].mean_c < 18.0
    assert earned["milk"].far
    assert "milk at 14 °C (stated at 50 °C)" in " ".join(
        certificate_report(certificate, cold_plan().inputs).split()
    )
    told = {dose["name"]: dose["far"] for dose in certificate_to_dict(certificate)["doses_earned"]}
    assert told["milk"] is True


@pytest.mark.parametrize(("ware_c", "counts"), [(24.9, False), (25.0, True)])
def test_detergent_that_has_not_dissolved_counts_for_nothing(ware_c: float, counts: bool) -> None:
    """However long it is sprayed at that temperature; plain water keeps its share. No source, our choice."""
    soil = goal({"dose": [{"name": "milk", "reference_c": 50.0, "z_k": 49.0, "minutes": 1.0,
                           "kinds": ["wash"], "bare_share": 0.4}]}).dose[0]  # fmt: skip
    time_s, level_c = np.array([0.0, 1200.0]), np.array([ware_c, ware_c])
    given_s = float(soil_dose_s(soil, 0.0, time_s, level_c, spraying=True, dissolves_from_c=25.0))
    bare_s = float(soil_dose_s(soil, np.inf, time_s, level_c, spraying=True, dissolves_from_c=25.0))
    expected_s = 1200.0 * 10.0 ** ((ware_c - 50.0) / 49.0)
    assert given_s == pytest.approx(expected_s * counts)
    assert bare_s == pytest.approx(0.4 * expected_s)


@pytest.mark.parametrize("left_s", [0.5, 2.0, 2.5, 5.75])
def test_detergent_that_dissolves_in_a_ramp_parts_it(left_s: float) -> None:
    """40 to 52 °C in 6 s, quicker each second and straight within it: a share of 0.4 counts until it has
    dissolved, all of it from there on, by quadrature."""
    soil = goal({"dose": [{"name": "milk", "reference_c": 50.0, "z_k": 20.0, "minutes": 1.0,
                           "kinds": ["wash"], "bare_share": 0.4}]}).dose[0]  # fmt: skip

    time_s = np.linspace(0.0, 6.0, 7)
    ware_c = 40.0 + time_s**2 / 3.0

    def rate(at_s: float) -> float:
        return float(10.0 ** ((np.interp(at_s, time_s, ware_c) - 50.0) / 20.0))

    def integral_s(from_s: float, to_s: float) -> float:
        return float(quad(rate, from_s, to_s, points=time_s[(time_s > from_s) & (time_s < to_s)])[0])

    found_s = float(soil_dose_s(soil, left_s, time_s, ware_c, spraying=True))
    assert found_s == pytest.approx(0.4 * integral_s(0.0, left_s) + integral_s(left_s, 6.0), rel=1e-6)


@pytest.mark.parametrize(
    ("ware_c", "counts_as_c"), [(119.9, 119.9), (120.0, 120.0), (120.9, 120.0), (130.0, 120.0)]
)
def test_a0_counts_no_more_than_at_120_c(ware_c: float, counts_as_c: float) -> None:
    """No source, our choice: hotter water is none of a dish-washing machine."""
    assert held(A0, ware_c, 1.0) == pytest.approx(10.0 ** ((counts_as_c - 80.0) / 10.0), rel=1e-9)


def test_every_second_counts_at_one_temperature() -> None:
    """80 °C: a second of A0 a second, in samples a second apart and in others."""
    for time_s in ([0.0, 1.0], [0.0, 1.0, 2.0], [0.0, 1.0, 3.5]):
        assert float(A0.integral_s(np.array(time_s), np.full(len(time_s), 80.0))) == pytest.approx(time_s[-1])


def test_a_dose_is_earned_at_its_share_until_the_detergent_has_dissolved() -> None:
    """Milk, z 49 K, 300 s: the first 60 s at 50 °C as plain water for 0.4 of it, the rest at 20 °C whole."""
    table, run = run_of(a_round("wash", detergent_dg=300), ware_c=[20.0])
    ware_c = np.where(np.arange(len(run.ware_c)) <= 60, 50.0, 20.0)
    slow = goal({"detergent.dissolving_min": 1.0})
    earned = {dose.name: dose for dose in earned_doses(slow, table, replace(run, ware_c=ware_c))}
    ratio = 10.0 ** (-30.0 / 49.0)
    by_hand_c = (0.4 * 60.0 * 50.0 + ratio * 240.0 * 20.0) / (0.4 * 60.0 + ratio * 240.0)
    assert earned["milk"].mean_c == pytest.approx(by_hand_c, abs=1e-9)
