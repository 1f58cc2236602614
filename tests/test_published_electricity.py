"""Currents and protective devices against Ohm's law and the points of the standards."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from optimizer.physics.electric import element_power_w, inrush_current_a, motor_current_a, resistor_current_a
from optimizer.physics.protection import OVERLOAD_MULTIPLE, characteristic, overload_window_s
from optimizer.profile.circuit import INSTANT_TRIP_MULTIPLE, Device

RATED_W, RATED_V = 1000.0, 230.0


@pytest.mark.parametrize(
    ("voltage_share", "current_share", "power_share"),
    [(1.10, 1.10, 1.21), (1.0, 1.0, 1.0), (0.90, 0.90, 0.81)],
)
def test_resistor_over_the_mains_tolerance(
    voltage_share: float, current_share: float, power_share: float
) -> None:
    """230 V ± 10 % (Regulation (EU) 2019/2022, article 2); the shares are Ohm's law."""
    supply_v = RATED_V * voltage_share
    assert resistor_current_a(supply_v, RATED_W, RATED_V) == pytest.approx(current_share * RATED_W / RATED_V)
    assert element_power_w(supply_v, RATED_W, RATED_V) == pytest.approx(power_share * RATED_W)


def test_power_is_voltage_times_current() -> None:
    """114–126 V is range A of a 120 V service (ANSI C84.1; a state rule, and from memory)."""
    supply_v = np.linspace(114.0, 126.0, 7)
    product_w = supply_v * resistor_current_a(supply_v, 1400.0, 120.0)
    np.testing.assert_allclose(product_w, element_power_w(supply_v, 1400.0, 120.0))


def test_motor_current() -> None:
    """P = V I cos φ; at 207 V a motor that keeps its 92 W takes a ninth more than at 230 V."""
    assert 230.0 * motor_current_a(230.0, 92.0, 0.5) * 0.5 == pytest.approx(92.0)
    assert motor_current_a(207.0, 92.0, 0.5) / motor_current_a(230.0, 92.0, 0.5) == pytest.approx(10.0 / 9.0)


def test_small_pump_stays_below_the_instant_band_of_a_small_breaker() -> None:
    """85 W is common practice, no source; 3–8 times at the start (secondary sources, which differ)."""
    worst_a = inrush_current_a(motor_current_a(207.0, 85.0, 0.6), 8.0)
    assert worst_a == pytest.approx(5.475, rel=1e-3)
    assert worst_a < (characteristic("breaker_b", 6.0).instant_low or 0.0) * 6.0


@pytest.mark.parametrize(
    ("device", "low", "high"), [("breaker_b", 3.0, 5.0), ("breaker_c", 5.0, 10.0), ("breaker_d", 10.0, 20.0)]
)
def test_breaker_points(device: str, low: float, high: float) -> None:
    """IEC 60898-1 (secondary source): holds 1.13, trips at 1.45 within the hour; instant band by type."""
    points = characteristic(device, 16.0)
    assert (points.hold, points.open, points.conventional_s) == (1.13, 1.45, 3600.0)
    assert (points.instant_low, points.instant_high) == (low, high)


@pytest.mark.parametrize(("rating_a", "longest_s"), [(6.0, 60.0), (32.0, 60.0), (40.0, 120.0)])
def test_breaker_overload_point(rating_a: float, longest_s: float) -> None:
    """IEC 60898-1 (secondary source): 2.55 times trips in 1–60 s up to 32 A, in 1–120 s above."""
    assert OVERLOAD_MULTIPLE == 2.55
    assert overload_window_s(rating_a) == (1.0, longest_s)


def test_fuse_points() -> None:
    """BS 1362 (secondary): 1.6 for 30 min, 1.9 within 30 min. IEC 60269: fuses at 1.6–1.9 (secondary)."""
    plug = characteristic("fuse_plug", 13.0)
    assert (plug.hold, plug.open, plug.conventional_s) == (1.6, 1.9, 1800.0)
    for rating_a in (6.0, 10.0, 16.0, 25.0, 63.0):
        assert 1.6 <= characteristic("fuse_gg", rating_a).open <= 1.9


@pytest.mark.parametrize("device", get_args(Device))
@pytest.mark.parametrize("rating_a", [3.0, 6.0, 16.0, 32.0])
def test_every_device_of_a_profile_is_known_and_ordered(device: str, rating_a: float) -> None:
    points = characteristic(device, rating_a)
    assert 1.0 < points.hold < points.open
    assert points.instant_low == INSTANT_TRIP_MULTIPLE.get(device)
    assert points.instant_low is None or points.open < points.instant_low


def test_unknown_device() -> None:
    with pytest.raises(KeyError):
        characteristic("breaker_k", 16.0)


def test_continuous_load_rule() -> None:
    """NFPA 70, 210.23(A) (secondary): one appliance takes at most 80 % of a branch, 12 A of 15 A.

    A 1.4 kW element on 120 V keeps it at nominal voltage but not at 126 V, the top of the service range.
    """
    assert resistor_current_a(120.0, 1400.0, 120.0) < 12.0 < resistor_current_a(126.0, 1400.0, 120.0)
