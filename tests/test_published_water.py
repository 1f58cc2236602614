"""Water against the packaged reference formulation IAPWS-IF97 and a handbook table."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS97
from scipy.integrate import trapezoid

from optimizer.physics import water
from optimizer.units import J_PER_KJ, J_PER_KWH

# Saturated liquid, IAPWS-IF97: °C, kg/m3, kJ/(kg K), kJ/kg, kPa.
TABLE = [
    (10.0, 999.70, 4.1954, 2477.2, 1.2282),
    (40.0, 992.22, 4.1786, 2406.0, 7.3844),
    (60.0, 983.21, 4.1828, 2357.7, 19.946),
    (80.0, 971.80, 4.1955, 2308.1, 47.415),
]


@pytest.mark.parametrize(("temperature_c", "rho", "c", "h_fg", "p_sat"), TABLE)
def test_table_values(temperature_c: float, rho: float, c: float, h_fg: float, p_sat: float) -> None:
    assert water.density_kg_per_l(temperature_c) * 1000.0 == pytest.approx(rho, rel=5e-4)
    assert water.specific_heat_kj_per_kg_k(temperature_c) == pytest.approx(c, rel=2e-3)
    assert water.latent_heat_kj_per_kg(temperature_c) == pytest.approx(h_fg, rel=2e-3)
    assert water.saturation_pressure_kpa(temperature_c) == pytest.approx(p_sat, rel=5e-3)


def test_sweep_against_if97() -> None:
    """The bounds are those the docstrings state, over 1–99 °C."""
    for temperature_c in np.arange(1.0, 99.6, 3.5):
        kelvin = float(temperature_c) + 273.15
        liquid = IAPWS97(T=kelvin, P=0.101325)
        boiling, steam = IAPWS97(T=kelvin, x=0), IAPWS97(T=kelvin, x=1)
        t = float(temperature_c)
        assert water.density_kg_per_l(t) == pytest.approx(liquid.rho / 1000.0, rel=5e-5)
        assert water.specific_heat_kj_per_kg_k(t) == pytest.approx(liquid.cp, rel=7e-4)
        assert water.latent_heat_kj_per_kg(t) == pytest.approx(steam.h - boiling.h, rel=3e-4)
        assert water.saturation_pressure_kpa(t) == pytest.approx(boiling.P * 1000.0, rel=1.2e-3)


def test_boiling_point() -> None:
    """Water boils at 99.97 °C under 101.325 kPa (ITS-90; from memory), h_fg 2256.5 kJ/kg (IF97)."""
    assert water.saturation_pressure_kpa(99.97) == pytest.approx(101.325, rel=2e-3)
    assert water.latent_heat_kj_per_kg(100.0) == pytest.approx(2256.5, rel=5e-4)


def test_ten_kilograms_from_10_to_65() -> None:
    """10.0 kg from 10 to 65 °C take 0.639 kWh (enthalpy difference, IF97)."""
    temperature_c = np.linspace(10.0, 65.0, 201)
    heat_kj = 10.0 * trapezoid(water.specific_heat_kj_per_kg_k(temperature_c), temperature_c)
    reference = 10.0 * (IAPWS97(T=338.15, P=0.101325).h - IAPWS97(T=283.15, P=0.101325).h)
    assert heat_kj == pytest.approx(reference, rel=1e-3)
    assert heat_kj * J_PER_KJ / J_PER_KWH == pytest.approx(0.639, abs=5e-4)


def test_ten_litres_from_15_to_55_is_m_c_dt() -> None:
    """The main wash of an older EU test programme: 10 l from 15 to 55 °C come out at m·c·ΔT."""
    temperature_c = np.linspace(15.0, 55.0, 201)
    mass_kg = 10.0 * water.density_kg_per_l(15.0)
    heat_kj = mass_kg * trapezoid(water.specific_heat_kj_per_kg_k(temperature_c), temperature_c)
    assert heat_kj == pytest.approx(mass_kg * 4.18 * 40.0, rel=1e-3)
    assert heat_kj * J_PER_KJ / J_PER_KWH == pytest.approx(0.464, abs=5e-4)


def test_arrays_keep_their_shape() -> None:
    grid = np.full((3, 2), 40.0)
    for function in (
        water.density_kg_per_l,
        water.specific_heat_kj_per_kg_k,
        water.latent_heat_kj_per_kg,
        water.saturation_pressure_kpa,
    ):
        assert function(grid).shape == (3, 2)
        assert function(grid)[0, 0] == pytest.approx(function(40.0))
        assert isinstance(function(40.0), float)


@pytest.mark.parametrize(
    ("height_m", "kpa"),
    [(0.0, 101.325), (1000.0, 89.875), (2000.0, 79.495), (3000.0, 70.109), (5000.0, 54.020)],
)
def test_pressure_of_the_standard_atmosphere(height_m: float, kpa: float) -> None:
    # Source: table of ISO 2533 (the same as the U.S. Standard Atmosphere 1976); the values from memory.
    assert water.air_pressure_kpa(height_m) == pytest.approx(kpa, abs=0.001)


@pytest.mark.parametrize("height_m", [0.0, 300.0, 1000.0, 2000.0, 3000.0, 5000.0])
def test_boiling_point_above_sea_level(height_m: float) -> None:
    # Source: IAPWS-IF97 (package iapws), saturation temperature at that pressure; 99.974 °C at 101.325 kPa.
    boils_c = IAPWS97(P=water.air_pressure_kpa(height_m) / 1000.0, x=0).T - 273.15
    assert water.boiling_c(height_m) == pytest.approx(boils_c, abs=0.05)


def test_water_boils_at_100_c_at_sea_level_and_sooner_above() -> None:
    assert water.boiling_c(0.0) == water.BOILING_C
    assert water.boiling_c(1.0) == pytest.approx(water.BOILING_C - 0.0033, abs=2e-4)
    # Common practice, no source: a kelvin every 300 m or so.
    assert water.boiling_c(1500.0) == pytest.approx(95.0, abs=0.2)
