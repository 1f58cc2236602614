"""Properties of the dose functions, against numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from dose_cases import linear_dose_s
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from optimizer.physics.dose import A0, HEAT_UNITS, DoseSpec, Ramp, ramp_dose_s, rate
from optimizer.physics.thermal import heating_time_s

MILK = DoseSpec(reference_c=50.0, z_k=49.0)
SPECS = st.sampled_from([A0, HEAT_UNITS, MILK, DoseSpec(50.0, 33.0, 42.0, 60.0)])
DEGREES = st.integers(500, 9500).map(lambda hundredths: hundredths / 100.0)


def test_floor_counts_and_ceiling_caps() -> None:
    assert rate(65.0, A0) == pytest.approx(10**-1.5)
    assert rate(64.999, A0) == 0.0
    assert rate(HEAT_UNITS.floor_c, HEAT_UNITS) == pytest.approx(1.0, rel=1e-4)
    assert rate(95.0, HEAT_UNITS) == rate(HEAT_UNITS.ceiling_c, HEAT_UNITS)


@cases(60)
@given(spec=SPECS, start_c=DEGREES, end_c=DEGREES)
def test_linear_dose_is_the_integral(spec: DoseSpec, start_c: float, end_c: float) -> None:
    edges = [
        (edge - start_c) / (end_c - start_c) for edge in (spec.floor_c, spec.ceiling_c) if end_c != start_c
    ]
    integral, _ = quad(
        lambda share: rate(start_c + share * (end_c - start_c), spec),
        0.0,
        1.0,
        points=[edge for edge in edges if 0.0 < edge < 1.0] or None,
        limit=200,
    )
    assert linear_dose_s(start_c, end_c, 100.0, spec) == pytest.approx(100.0 * integral, rel=1e-6, abs=1e-6)


@given(spec=SPECS, start_c=DEGREES, end_c=DEGREES, share=st.floats(0.0, 1.0))
def test_linear_dose_adds_up_and_does_not_mind_the_direction(
    spec: DoseSpec, start_c: float, end_c: float, share: float
) -> None:
    whole = linear_dose_s(start_c, end_c, 100.0, spec)
    middle_c = start_c + share * (end_c - start_c)
    parts = linear_dose_s(start_c, middle_c, 100.0 * share, spec) + linear_dose_s(
        middle_c, end_c, 100.0 * (1.0 - share), spec
    )
    assert parts == pytest.approx(whole, rel=1e-6, abs=1e-6)
    assert linear_dose_s(end_c, start_c, 100.0, spec) == pytest.approx(whole, rel=1e-12)


def test_linear_dose_of_arrays() -> None:
    start_c = np.array([[60.0, 80.0], [70.0, 50.0]])
    dose_s = linear_dose_s(start_c, 80.0, 10.0, A0)
    assert dose_s.shape == (2, 2)
    assert dose_s[0, 1] == pytest.approx(10.0)
    assert dose_s[1, 0] == pytest.approx(linear_dose_s(70.0, 80.0, 10.0, A0))


@pytest.mark.parametrize("spec", [A0, HEAT_UNITS, MILK, DoseSpec(50.0, 33.0, 42.0, 60.0)])
@pytest.mark.parametrize(("power_w", "end_c"), [(1000.0, 80.0), (560.0, 88.0), (300.0, 55.0)])
def test_ramp_dose_is_that_of_the_integrated_heating(spec: DoseSpec, power_w: float, end_c: float) -> None:
    """The second row ends within 2 K of the temperature at which losses eat all heat."""
    ramp = Ramp(capacity_j_per_k=50e3, power_w=power_w, loss_w_per_k=8.0, room_c=20.0)
    total_s = float(heating_time_s(15.0, end_c, 50e3, power_w, 8.0, 20.0))
    run = solve_ivp(
        lambda _, y: [(power_w - 8.0 * (y[0] - 20.0)) / 50e3, rate(y[0], spec)],
        (0.0, total_s),
        [15.0, 0.0],
        rtol=1e-9,
        atol=1e-9,
        max_step=total_s / 4000.0,
    )
    assert run.y[0, -1] == pytest.approx(end_c, abs=1e-5)
    assert float(ramp_dose_s(15.0, end_c, ramp, spec)) == pytest.approx(run.y[1, -1], rel=2e-4, abs=1e-9)


@given(start_c=st.floats(5.0, 40.0), rises=st.tuples(st.floats(0.0, 25.0), st.floats(0.0, 25.0)), spec=SPECS)
def test_ramp_dose_is_separable(start_c: float, rises: tuple[float, float], spec: DoseSpec) -> None:
    ramp = Ramp(capacity_j_per_k=50e3, power_w=1000.0, loss_w_per_k=8.0, room_c=20.0)
    middle_c, end_c = start_c + rises[0], start_c + sum(rises)
    parts = ramp_dose_s(start_c, middle_c, ramp, spec) + ramp_dose_s(middle_c, end_c, ramp, spec)
    assert parts == pytest.approx(float(ramp_dose_s(start_c, end_c, ramp, spec)), rel=1e-6, abs=1e-6)


def test_ramp_dose_of_arrays_and_of_ends_never_reached() -> None:
    ramp = Ramp(capacity_j_per_k=np.array([40e3, 50e3]), power_w=400.0, loss_w_per_k=8.0, room_c=20.0)
    dose_s = ramp_dose_s(np.array([[15.0], [66.0]]), np.array([69.0, 71.0]), ramp, A0)
    assert dose_s.shape == (2, 2)
    assert np.isinf(dose_s[:, 1]).all()
    assert np.isfinite(dose_s[:, 0]).all()
    assert float(ramp_dose_s(50.0, 40.0, ramp, MILK)[0]) == 0.0


def test_without_losses_a_ramp_is_a_linear_segment() -> None:
    ramp = Ramp(capacity_j_per_k=50e3, power_w=1000.0, loss_w_per_k=1e-6, room_c=20.0)
    linear = linear_dose_s(15.0, 85.0, 70.0 * 50.0, A0)
    assert float(ramp_dose_s(15.0, 85.0, ramp, A0)) == pytest.approx(linear, rel=1e-5)
