"""Household figures, cold mains, evaporation and drying against published values."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS97

from optimizer.physics.drying import boil_off_kg_per_s, heat_over_film
from optimizer.physics.evaporation import (
    STILL_WATER_FACTOR,
    Air,
    evaporation_heat_w_per_m2,
    evaporation_kg_per_s_m2,
)
from optimizer.physics.household import (
    BENCHMARKS,
    BY_HAND,
    energy_class,
    energy_efficiency_index,
    standard_energy_kwh,
)
from optimizer.physics.mains import UK_MAINS_C, mains_temperature_c


class TestEnergyIndex:
    """Regulation (EU) 2019/2017, annexes II and IV (primary text)."""

    @pytest.mark.parametrize(
        ("settings", "width_cm", "spec_kwh"),
        [(6, 45.0, 0.990), (9, 45.0, 1.260), (10, 60.0, 1.600), (14, 60.0, 1.700)],
    )
    def test_standard_energy(self, settings: int, width_cm: float, spec_kwh: float) -> None:
        assert standard_energy_kwh(settings, width_cm) == pytest.approx(spec_kwh, abs=5e-4)

    def test_both_conditions_are_needed(self) -> None:
        assert standard_energy_kwh(10, 50.0) == pytest.approx(0.090 * 10 + 0.450)
        assert standard_energy_kwh(9, 60.0) == pytest.approx(0.090 * 9 + 0.450)

    @pytest.mark.parametrize(
        ("letter", "edge"), [("A", 32.0), ("B", 38.0), ("C", 44.0), ("D", 50.0), ("E", 56.0), ("F", 62.0)]
    )
    def test_class_edges(self, letter: str, edge: float) -> None:
        assert energy_class(np.nextafter(edge, 0.0)) == letter
        assert energy_class(edge) == chr(ord(letter) + 1)

    def test_benchmarks(self) -> None:
        """Annex V of 2019/2022: kWh, l, min. Their index, by hand: 62/0.990, 66/1.600, 67/1.700."""
        figures = [(b.settings, b.energy_kwh, b.water_l, b.duration_min) for b in BENCHMARKS]
        assert figures == [(6, 0.62, 8.0, 225.0), (10, 0.66, 9.5, 195.0), (14, 0.67, 9.9, 222.0)]
        indices = [
            energy_efficiency_index(b.energy_kwh, b.settings, width_cm)
            for b, width_cm in zip(BENCHMARKS, (45.0, 60.0, 60.0), strict=True)
        ]
        assert indices == pytest.approx([62.63, 41.25, 39.41], abs=5e-3)

    def test_washing_by_hand_takes_more_of_everything(self) -> None:
        """Stamminger: 88 l, 2.4 kWh, 12 settings (secondary). Berkholz et al. 2010: 49 l, 1.7 kWh, 60 min."""
        assert [(h.water_l, h.energy_kwh, h.duration_min) for h in BY_HAND] == [
            (88.0, 2.4, None),
            (49.0, 1.7, 60.0),
        ]
        most_l = max(b.water_l / b.settings for b in BENCHMARKS)
        most_kwh = max(b.energy_kwh / b.settings for b in BENCHMARKS)
        assert all(h.water_l / h.settings > most_l and h.energy_kwh / h.settings > most_kwh for h in BY_HAND)


class TestMains:
    """Cold mains through the year."""

    @pytest.mark.parametrize(("day", "water_c"), [(46.0, 8.23), (227.0, 18.44), (135.0, 13.31)])
    def test_vectors(self, day: float, water_c: float) -> None:
        """Burch & Christensen 2007 (OSTI 981988) with a mean of 50 °F and a swing of 40 °F, computed."""
        assert mains_temperature_c(day, 10.0, 40.0 / 1.8) == pytest.approx(water_c, abs=6e-3)

    def test_mean_and_swing_of_the_formula(self) -> None:
        """The year's mean is 6 °F above the air's; the swing is ratio·ΔT (0.46 × 40 °F here)."""
        year_c = mains_temperature_c(np.arange(1.0, 366.0), 10.0, 40.0 / 1.8)
        assert year_c.mean() == pytest.approx(10.0 + 6.0 / 1.8, abs=0.02)
        assert np.ptp(year_c) == pytest.approx(0.46 * 40.0 / 1.8, abs=0.01)

    def test_uk_table(self) -> None:
        """SAP 10.2 table J1 (secondary): twelve months, coldest January, warmest July."""
        assert UK_MAINS_C == (8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5)
        assert (np.argmin(UK_MAINS_C), np.argmax(UK_MAINS_C)) == (0, 6)


class TestEvaporation:
    """ASHRAE Handbook, HVAC Applications (secondary source); figures computed from it."""

    @pytest.mark.parametrize(
        ("water_c", "heat"), [(40.0, 553.0), (50.0, 995.0), (60.0, 1671.0), (70.0, 2673.0)]
    )
    def test_open_surface(self, water_c: float, heat: float) -> None:
        """Still air of 20 °C, 50 %; W/m²."""
        assert evaporation_heat_w_per_m2(water_c, Air(20.0, 0.5)) == pytest.approx(heat, rel=2e-3)

    def test_formula_with_reference_water(self) -> None:
        air = Air(25.0, 0.4, 0.3)
        hot, cool = IAPWS97(T=328.15, x=0), IAPWS97(T=298.15, x=0)
        heat = 1e6 * (hot.P - 0.4 * cool.P) * (0.089 + 0.0782 * 0.3)
        h_fg = IAPWS97(T=328.15, x=1).h - hot.h
        assert evaporation_heat_w_per_m2(55.0, air) == pytest.approx(heat, rel=2e-3)
        assert evaporation_kg_per_s_m2(55.0, air) == pytest.approx(heat / h_fg / 1000.0, rel=2e-3)

    def test_condensation_and_still_water(self) -> None:
        assert evaporation_heat_w_per_m2(8.0, Air(25.0, 0.8)) < 0.0
        assert STILL_WATER_FACTOR == 0.5


class TestDrying:
    """Energy balances with the heat of vaporisation of IAPWS-IF97."""

    def test_boil_off(self) -> None:
        h_fg = IAPWS97(T=373.15, x=1).h - IAPWS97(T=373.15, x=0).h
        assert boil_off_kg_per_s(1000.0) == pytest.approx(1.0 / h_fg, rel=5e-4)

    def test_a_kilowatt_on_an_inch_of_water(self) -> None:
        """Common practice, no source: a steam dry heats about an inch. In 0.1 m² it lasts over an hour."""
        pool_kg = 0.0254 * 0.1 * 958.0
        assert pool_kg / boil_off_kg_per_s(1000.0) / 60.0 == pytest.approx(92.0, rel=0.02)

    def test_ware_heat_over_film(self) -> None:
        """4 kg of porcelain (1050 J/(kg K), handbook) at 65 °C hold heat for a third of 0.25 kg of film."""
        h_fg = IAPWS97(T=338.15, x=1).h - IAPWS97(T=338.15, x=0).h
        expected = 4.0 * 1.05 * 45.0 / (0.25 * h_fg)
        assert heat_over_film(65.0, 20.0, 4.0 * 1.05, 0.25) == pytest.approx(expected, rel=5e-4)
        assert expected == pytest.approx(0.32, abs=5e-3)
