"""How readings become ends, against the documents that say how.

GUM: JCGM 100:2008, example H.3 (data as in a public reference implementation of it) and table G.2. ISO
16269-6 and the NIST/SEMATECH e-Handbook, section 7.2.6.3: two-sided tolerance factors. ISO 5725-2, table 5.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.stats import chi2, norm

from optimizer.measure.calibration import boiling_at_c, straight_line, two_points
from optimizer.measure.intervals import (
    FEW_READINGS,
    ONE_READING,
    Errors,
    clipped,
    coverage_factor,
    grubbs_limit,
    one_number,
    run_to_run,
    step_error,
    tolerance_factor,
)

READ_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION_K = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
NO_ERRORS = Errors(0.0, 0.0)


def test_gum_h3_calibration_of_a_thermometer() -> None:
    line = straight_line(READ_C, CORRECTION_K, at=20.0)
    assert (round(line.level, 4), round(line.u_level, 4)) == (-0.1712, 0.0029)
    assert (round(line.slope, 5), round(line.u_slope, 5)) == (0.00218, 0.00067)
    assert round(line.correlation, 3) == -0.930
    assert round(line.value(30.0), 4) == -0.1494


def test_tolerance_factor_of_ten_readings() -> None:
    """Exact tables have 3.39, Howe's formula in the NIST handbook 3.38."""
    assert 3.38 <= tolerance_factor(10) <= 3.40


def howe(readings: int, share: float, confidence: float) -> float:
    """Formula of the NIST handbook."""
    free = readings - 1
    spread = free * (1.0 + 1.0 / readings) / chi2.ppf(1.0 - confidence, free)
    return float(norm.ppf((1.0 + share) / 2.0) * math.sqrt(spread))


def test_tolerance_factors_of_the_nist_handbook() -> None:
    """Its example is of 43 wafers, and its formula within half a percent of the exact factor from ten on."""
    assert howe(43, 0.90, 0.99) == pytest.approx(2.217, abs=0.001)
    for case in ((43, 0.90, 0.99), (10, 0.95, 0.95), (30, 0.95, 0.95), (100, 0.99, 0.9)):
        assert tolerance_factor(*case) == pytest.approx(howe(*case), rel=0.005)


@pytest.mark.parametrize("readings", [2, 3, 6, 12])
def test_tolerance_intervals_hold_what_they_say(readings: int) -> None:
    """In 95 % of a hundred thousand draws 95 % of the runs lie inside (standard error 0.07 %)."""
    drawn = np.random.default_rng(16269).normal(size=(100_000, readings))
    half = tolerance_factor(readings) * drawn.std(axis=1, ddof=1)
    mean = drawn.mean(axis=1)
    inside = norm.cdf(mean + half) - norm.cdf(mean - half)
    assert np.mean(inside >= 0.95) == pytest.approx(0.95, abs=0.003)


@pytest.mark.parametrize(("free", "printed"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (50, 2.01)])
def test_coverage_factors_of_the_gum(free: float, printed: float) -> None:
    assert round(coverage_factor(free), 2) == printed


@pytest.mark.parametrize(("readings", "printed"), [(6, 1.973), (10, 2.482), (20, 3.001)])
def test_grubbs_limits_of_iso_5725(readings: int, printed: float) -> None:
    assert grubbs_limit(readings) == pytest.approx(printed, abs=0.001)


def test_a_mean_gets_students_t() -> None:
    """GUM 4.4.3 in kind: 95 % of a mean of n readings is t s / sqrt(n)."""
    readings = (96.90, 98.18, 98.25, 98.61, 99.03, 99.49)
    found = one_number(readings, NO_ERRORS)
    half = 2.5706 * float(np.std(readings, ddof=1)) / math.sqrt(6)
    assert found.high - found.nominal == pytest.approx(half, rel=1e-4)


def test_types_a_and_b_are_combined() -> None:
    """A rectangle of ± a has the standard uncertainty a / sqrt(3) (GUM 4.3.7); t of three: GUM table G.2."""
    readings, a = (10.0, 10.2, 9.9, 10.1), 0.3
    found = one_number(readings, Errors(a, 0.0))
    u_a, u_b = float(np.std(readings, ddof=1)) / 2.0, a / math.sqrt(3.0)
    assert found.high - found.nominal == pytest.approx(math.hypot(3.1824 * u_a, 2.0 * u_b), rel=1e-4)
    # No less than by Welch-Satterthwaite (GUM G.4.1).
    free = 3 * ((u_a**2 + u_b**2) / u_a**2) ** 2
    assert found.high - found.nominal >= coverage_factor(free) * math.hypot(u_a, u_b)


@pytest.mark.parametrize("scatter", [0.2, 1.0, 3.0])
@pytest.mark.parametrize("readings", [2, 3, 6])
def test_intervals_of_one_number_hold_it_as_often_as_they_say(readings: int, scatter: float) -> None:
    """Scales wrong by up to ± 1, anew in every one of 2000 tries (standard error 0.5 %)."""
    rng = np.random.default_rng([98, readings])
    errors = Errors(1.0, 0.0)
    inside = 0
    for shared in rng.uniform(-1.0, 1.0, 2000):
        found = one_number(list(shared + rng.normal(0.0, scatter, readings)), errors)
        inside += found.low <= 0.0 <= found.high
    assert inside / 2000 >= 0.95


def test_readings_that_agree_too_well_count_their_last_digit() -> None:
    found = one_number([85.0] * 4, Errors(0.0, step_error(1.0)))
    assert found.high - found.nominal == pytest.approx(2.0 * step_error(1.0) / 2.0)
    assert run_to_run([85.0] * 8, Errors(0.0, step_error(1.0)), 8.5).high > 85.9


def test_one_reading_says_so() -> None:
    found = run_to_run([6.0], Errors(0.05, 0.02), 0.9)
    assert (found.method, found.low, found.high) == (ONE_READING, pytest.approx(5.01), pytest.approx(6.99))
    assert "one reading" in found.remarks[0]
    assert "stated" in found.remarks[0]


def test_few_readings_count_what_is_stated_unless_they_scatter_more() -> None:
    calm = run_to_run([6.0, 6.02], NO_ERRORS, 0.9)
    assert calm.method == "95 % of runs", "their own scatter gives less"
    usual = run_to_run([5.9, 6.1], NO_ERRORS, 0.9)
    assert (usual.method, usual.high) == (FEW_READINGS, pytest.approx(6.0 + 0.9 * (1 + 1 / math.sqrt(2))))
    wild = run_to_run([4.0, 8.0], NO_ERRORS, 0.9)
    assert wild.high - wild.nominal == pytest.approx(tolerance_factor(2) * math.sqrt(8.0))
    assert all("2 readings" in found.remarks[-1] for found in (calm, usual, wild))


@cases(100)
@given(st.lists(st.floats(5.0, 7.0), min_size=2, max_size=12), st.floats(0.0, 0.5), st.floats(0.0, 0.2))
def test_ends_hold_the_mean_and_no_less_than_the_instruments(
    readings: list[float], common: float, each: float
) -> None:
    for found in (
        run_to_run(readings, Errors(common, each), 1.0),
        one_number(readings, Errors(common, each)),
    ):
        assert found.low <= found.nominal <= found.high
        assert (
            found.high - found.nominal
            >= 2.0 * math.hypot(each, common) / math.sqrt(3.0 * len(readings)) - 1e-9
        )
        wider = run_to_run(readings, Errors(common + 0.1, each), 1.0)
        assert wider.high >= run_to_run(readings, Errors(common, each), 1.0).high


def test_an_outlier_is_named() -> None:
    found = run_to_run([6.0, 6.02, 5.98, 6.01, 5.99, 6.0, 60.0], NO_ERRORS, 0.9)
    assert found.remarks == ("reading 7 (60) is far from the others: was it written down right",)
    assert run_to_run([6.0, 6.02, 5.98, 6.01, 5.99, 6.0, 6.03], NO_ERRORS, 0.9).remarks == ()


def test_ends_are_clipped_and_say_so() -> None:
    found = clipped(run_to_run([0.2], Errors(0.0, 0.0), 0.5), 0.02, 15.0, "l")
    assert (found.low, found.high) == (0.02, 0.7)
    assert found.remarks[-1] == "the low end is clipped at 0.02 l, it came to -0.3 l"


@pytest.mark.parametrize("height_m", [0.0, 120.0, 1000.0, 2500.0, 4500.0])
def test_boil_against_height(height_m: float) -> None:
    """IAPWS-IF97 in the standard atmosphere (ISO 2533): p0 (1 - 0.0065 h / 288.15)^5.25588."""
    pressure_mpa = 0.101325 * (1.0 - 0.0065 * height_m / 288.15) ** 5.25588
    assert boiling_at_c(height_m) == pytest.approx(IAPWS97(P=pressure_mpa, x=0).T - 273.15, abs=0.06)


@pytest.mark.parametrize("sea_level_hpa", [970.0, 1013.25, 1045.0])
def test_boil_against_the_weather(sea_level_hpa: float) -> None:
    expected = IAPWS97(P=sea_level_hpa / 1e4, x=0).T - 273.15
    assert boiling_at_c(0.0, sea_level_hpa) == pytest.approx(expected, abs=0.06)


def test_two_points_set_a_thermometer_right() -> None:
    """It reads 0.4 K too much at 0 °C and 1.2 K too little at the boil, high up, the pressure low."""
    boils = IAPWS97(P=0.0995 * (1.0 - 0.0065 * 800 / 288.15) ** 5.25588, x=0).T - 273.15

    def reads(true_c: float) -> float:
        return true_c + 0.4 - 1.6 * true_c / boils

    found = two_points([reads(0.0)], [reads(boils)], 800.0, 995.0, 0.1)
    for true_c in (10.0, 45.0, 70.0):
        assert reads(true_c) + found.correction_k(reads(true_c)) == pytest.approx(true_c, abs=0.06)
    assert found.error_k == pytest.approx(0.15, abs=0.02)
    assert two_points([0.4], [97.0], 800.0, None, 0.1).error_k == pytest.approx(0.45, abs=0.05), "weather"
