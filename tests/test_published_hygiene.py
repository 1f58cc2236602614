"""Thermal hygiene and the temperature dependence of cleaning against published tables."""

from __future__ import annotations

import numpy as np
import pytest
from dose_cases import linear_dose_s

from optimizer.physics.dose import (
    A0,
    HEAT_UNITS,
    HUE_SCALE_PER_S,
    HUE_SLOPE_PER_F,
    DoseSpec,
    rate,
)
from optimizer.profile.load import load_profile
from optimizer.units import S_PER_MIN, celsius_from_fahrenheit, fahrenheit_from_celsius

# Rates and times computed from the formula of ISO 15883-1, annex B, to four figures.
A0_TABLE = [
    (65.0, 0.03162, 1897.4, 18973.7, 94868.0),
    (70.0, 0.1, 600.0, 6000.0, 30000.0),
    (75.0, 0.3162, 189.7, 1897.4, 9486.8),
    (80.0, 1.0, 60.0, 600.0, 3000.0),
    (85.0, 3.162, 19.0, 189.7, 948.7),
    (90.0, 10.0, 6.0, 60.0, 300.0),
]


@pytest.mark.parametrize(("temperature_c", "per_s", "s_60", "s_600", "s_3000"), A0_TABLE)
def test_a0_table(temperature_c: float, per_s: float, s_60: float, s_600: float, s_3000: float) -> None:
    assert rate(temperature_c, A0) == pytest.approx(per_s, rel=2e-4)
    for target_s, expected_s in ((60.0, s_60), (600.0, s_600), (3000.0, s_3000)):
        assert target_s / rate(temperature_c, A0) == pytest.approx(expected_s, rel=2e-3)


@pytest.mark.parametrize(("temperature_c", "minutes"), [(80.0, 10.0), (90.0, 1.0), (70.0, 100.0)])
def test_three_ways_to_a0_600(temperature_c: float, minutes: float) -> None:
    """ISO 15883-1 (secondary source): A0 600 = 80 °C 10 min = 90 °C 1 min = 70 °C 100 min."""
    held_s = linear_dose_s(temperature_c, temperature_c, minutes * S_PER_MIN, A0)
    assert held_s == pytest.approx(600.0, rel=1e-9)


def test_a0_3000_and_its_floor() -> None:
    """ISO 15883-1: 90 °C for 5 min is 3000; below 65 °C nothing counts (secondary source)."""
    assert linear_dose_s(90.0, 90.0, 300.0, A0) == pytest.approx(3000.0, rel=1e-9)
    assert linear_dose_s(20.0, 64.99, 3600.0, A0) == 0.0
    assert rate(65.0, A0) > 0.0


# Per second, from the published exponential; the slides print 346.8 at 165 °F, hence 0.5 %.
HEAT_UNIT_TABLE = [(143.0, 1.0), (145.0, 1.70), (150.0, 6.44), (155.0, 24.3), (160.0, 92.0), (165.0, 346.8)]


@pytest.mark.parametrize(("temperature_f", "per_s"), HEAT_UNIT_TABLE)
def test_heat_unit_table(temperature_f: float, per_s: float) -> None:
    """NSF/ANSI 3 and 184, as shown in slides on the history of dish-washing sanitation, 2009."""
    assert rate(celsius_from_fahrenheit(temperature_f), HEAT_UNITS) == pytest.approx(per_s, rel=5e-3)


def test_heat_units_are_the_published_exponential() -> None:
    temperature_f = np.linspace(143.0, 165.0, 45)
    # One unit in the last place of the conversion may fall below the floor: stay a hair inside.
    inside_c = np.clip(celsius_from_fahrenheit(temperature_f), HEAT_UNITS.floor_c, HEAT_UNITS.ceiling_c)
    published = HUE_SCALE_PER_S * np.exp(HUE_SLOPE_PER_F * temperature_f)
    np.testing.assert_allclose(rate(inside_c, HEAT_UNITS), published, rtol=1e-9)


def test_heat_unit_equivalences() -> None:
    """Same slides: 143 °F × 1800 s = 161 °F × 15 s = 1800 (the second to the nearest second: 7 %)."""
    floor_c = celsius_from_fahrenheit(143.0)
    assert linear_dose_s(floor_c, floor_c, 1800.0, HEAT_UNITS) == pytest.approx(1800.0, rel=5e-3)
    hot_c = celsius_from_fahrenheit(161.0)
    assert linear_dose_s(hot_c, hot_c, 15.0, HEAT_UNITS) == pytest.approx(1800.0, rel=0.07)


def test_heat_unit_limits() -> None:
    """No credit above 165 °F (slides); none below 143 °F (from memory)."""
    cap = rate(celsius_from_fahrenheit(165.0), HEAT_UNITS)
    assert rate(celsius_from_fahrenheit(195.0), HEAT_UNITS) == cap
    assert rate(celsius_from_fahrenheit(142.9), HEAT_UNITS) == 0.0


def test_heat_units_have_a_z_of_their_own() -> None:
    """4.81 K (computed) against the 10 K of A0: their ratio grows eightfold in 9 K, so no factor converts."""
    assert HEAT_UNITS.z_k == pytest.approx(4.81, abs=5e-3)
    ratios = [rate(t, HEAT_UNITS) / rate(t, A0) for t in (65.0, 73.8)]
    assert ratios[1] > 8.0 * ratios[0]


class TestFoodCode:
    """US FDA Food Code temperatures (read in state codes) put into the two hygiene doses."""

    def test_hand_immersion(self) -> None:
        """77 °C for 30 s: A0 is 30·10^-0.3 = 15, a quarter of 60; heat units are nearly three times 3600."""
        assert linear_dose_s(77.0, 77.0, 30.0, A0) == pytest.approx(30.0 * 10.0**-0.3, rel=1e-9)
        assert linear_dose_s(77.0, 77.0, 30.0, A0) < 60.0 / 3.9
        assert linear_dose_s(77.0, 77.0, 30.0, HEAT_UNITS) == pytest.approx(30.0 * 346.8, rel=5e-3)

    def test_utensil_surface(self) -> None:
        """71 °C (160 °F) at the surface: 3600 heat units take 39 s there, A0 60 takes eight minutes."""
        assert fahrenheit_from_celsius(71.0) == pytest.approx(160.0, abs=0.5)
        assert 3600.0 / rate(celsius_from_fahrenheit(160.0), HEAT_UNITS) == pytest.approx(39.1, rel=5e-3)
        assert 60.0 / rate(71.0, A0) == pytest.approx(477.0, rel=2e-3)

    @pytest.mark.parametrize(("temperature_c", "s_for_3600"), [(74.0, 10.35), (82.0, 10.35), (90.0, 10.35)])
    def test_machine_final_rinse(self, temperature_c: float, s_for_3600: float) -> None:
        """74 °C (165 °F) or 82 °C by type of machine, at most 90 °C: all at the cap of the heat units."""
        assert 3600.0 / rate(temperature_c, HEAT_UNITS) == pytest.approx(s_for_3600, rel=5e-3)

    def test_manual_wash(self) -> None:
        """43 °C, the least for washing by hand, disinfects nothing in either measure."""
        assert rate(43.0, A0) == 0.0
        assert rate(43.0, HEAT_UNITS) == 0.0


MOLAR_GAS_KJ = 8.31446261815324e-3
"""Molar gas constant [kJ/(mol K)] (SI, exact)."""


def z_of(goal: str, dose: str) -> float:
    """z of a dose of a shipped goal [K]."""
    (found,) = [d for d in load_profile("goal", goal).dose if d.name == dose]
    return found.z_k


class TestSoilRemoval:
    """The z of the shipped goals' doses against published temperature dependence of removal.

    The rate is the one that the planner runs: a step of z gives ten times the work.
    """

    def test_milk_film(self) -> None:
        """Q10 = 1.6 at 36–82 °C: Jennings, J. Dairy Sci. 1959 (abstract; author from memory)."""
        spec = DoseSpec(reference_c=50.0, z_k=z_of("everyday", "milk"))
        for temperature_c in (36.0, 50.0, 72.0):
            assert rate(temperature_c + 10.0, spec) / rate(temperature_c, spec) == pytest.approx(
                1.6, rel=1e-3
            )

    @pytest.mark.parametrize("energy_kj_per_mol", [70.0, 75.0, 80.0])
    def test_egg_white_gel(self, energy_kj_per_mol: float) -> None:
        """Ea 70–80 kJ/mol: Li et al., Food Bioprod. Process. 93 (2015) 249; Arrhenius' law, 45 to 55 °C.

        The ends of the published range are 7 % away from its middle, 75 kJ/mol, in the rate.
        """
        spec = DoseSpec(reference_c=40.0, z_k=z_of("everyday", "egg"))
        arrhenius = np.exp(energy_kj_per_mol / MOLAR_GAS_KJ * (1.0 / 318.15 - 1.0 / 328.15))
        bound = 0.02 if energy_kj_per_mol == 75.0 else 0.08
        assert rate(55.0, spec) / rate(45.0, spec) == pytest.approx(arrhenius, rel=bound)

    def test_heat_resistant_bacterium(self) -> None:
        """E. faecium, 3-log in 50 min at 65 °C and 300 min at 55 °C: Ståhl Wernersson.

        With the z that follows, 12.9 K (computed), both times are the same dose.
        """
        spec = DoseSpec(reference_c=65.0, z_k=12.85)
        cool_s, hot_s = (linear_dose_s(c, c, m * S_PER_MIN, spec) for c, m in ((55.0, 300.0), (65.0, 50.0)))
        assert cool_s == pytest.approx(hot_s, rel=1e-3)

    @pytest.mark.parametrize(
        ("goal", "dose"),
        [("everyday", "grease"), ("glasses", "lips"), ("nursery", "butterfat"), ("roasting-tins", "fat")],
    )
    def test_rule_of_thumb(self, goal: str, dose: str) -> None:
        """A rate that doubles per 10 K has z 33 K: common practice, no source; it holds for all fats here."""
        spec = DoseSpec(reference_c=50.0, z_k=z_of(goal, dose))
        assert rate(60.0, spec) / rate(50.0, spec) == pytest.approx(2.0, rel=0.01)
