"""Cold mains and evaporation against published values."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS97

from optimizer.physics.evaporation import Air, evaporation_heat_w_per_m2, evaporation_kg_per_s_m2
from optimizer.physics.water import UK_MAINS_C, mains_temperature_c


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

    def test_condensation(self) -> None:
        assert evaporation_heat_w_per_m2(8.0, Air(25.0, 0.8)) < 0.0
