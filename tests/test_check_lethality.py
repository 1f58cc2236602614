"""Doses of the check against the published tables and against numerical quadrature."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from check_cases import goal
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from optimizer.check.lethality import A0, HUE, Rate, soil_rate
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
