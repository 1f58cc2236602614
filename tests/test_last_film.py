"""What stays on the ware and how it comes out: in the certificate, the report and the plain data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, circuit, five_rounds, goal, machine, programme
from planner_cases import proven

from optimizer.check.certificate import RISE, WARE_END, Certificate
from optimizer.check.certify import check
from optimizer.check.lethality import soil_dose_s
from optimizer.check.residue import Rinsing
from optimizer.planner.drying_estimate import estimate_drying
from optimizer.profile.goal import Detergent, Dose
from optimizer.report.last_film import fewer_rinses, last_film_lines, last_film_to_dict

PLAIN = Dose(name="egg", reference_c=50.0, z_k=30.0, minutes=5.0, kinds=["wash"], bare_share=0.25)
"""A rate of 1 at 50 °C, a quarter of it in plain water."""

# Molar masses, g/mol: CaO 56.077, CaCO3 100.087 (IUPAC standard atomic weights of Ca, O, C).
DEGREES = {
    # A degree in mg/l of what: dH is 10 mg/l of CaO; fH 10 mg/l, e (Clark) 14.254 mg/l, a grain a US gallon
    # 17.118 mg/l of CaCO3 (definitions).
    "dH": (10.0 / 56.077, 5.6),
    "fH": (10.0 / 100.087, 10.0),
    "e": (14.254 / 100.087, 7.0),
    "gpg": (17.118 / 100.087, 5.8),
}


@pytest.mark.parametrize("degree", DEGREES)
def test_the_degrees_that_the_profiles_explain(degree: str) -> None:
    mmol_per_l, of_one = DEGREES[degree]
    assert 1.0 / mmol_per_l == pytest.approx(of_one, abs=0.05)


def test_hardness_scales_by_the_rule_that_is_stated() -> None:
    """Ours, no source: 15 % more for each mmol/l over 1.5, and never less."""
    detergent = Detergent(g_per_setting=2.5, least_g_per_l=3.0, price_per_kg=4.0)
    assert [detergent.more_by(hardness) for hardness in (0.0, 1.5, 2.5, 3.5)] == pytest.approx(
        [1, 1, 1.15, 1.3]
    )


@pytest.mark.parametrize(
    ("left_s", "spraying", "dose_s"),
    [
        # 600 s at 50 °C: a quarter while it dissolves, all of it after.
        (0.0, True, 600.0),
        (120.0, True, 480.0 + 30.0),
        (90.5, True, 509.5 + 90.5 / 4.0),
        (600.0, True, 150.0),
        (np.inf, True, 150.0),
        # With the pump off nothing dissolves.
        (120.0, False, 150.0),
        (0.0, False, 600.0),
    ],
)
def test_detergent_counts_once_it_has_dissolved(left_s: float, spraying: bool, dose_s: float) -> None:
    time_s = np.array([[0.0, 100.0, 200.0, 600.0]])
    found = soil_dose_s(PLAIN, left_s, time_s, np.full((1, 4), 50.0), spraying=spraying)
    assert found == pytest.approx(dose_s, rel=1e-9)


def test_a_case_that_has_dissolved_is_told_from_one_that_has_not() -> None:
    """Three cases at once, and a ware that warms: ∫ 10^((T - 50) / 30) dt in closed form."""
    time_s = np.tile([0.0, 150.0, 300.0], (3, 1))
    ware_c = np.tile([20.0, 35.0, 50.0], (3, 1))

    def by_hand(from_s: float, to_s: float) -> float:
        ends = [10.0 ** ((20.0 + 0.1 * at_s - 50.0) / 30.0) for at_s in (from_s, to_s)]
        return (ends[1] - ends[0]) * 30.0 / np.log(10.0) / 0.1

    found = soil_dose_s(PLAIN, np.array([-5.0, 60.0, 400.0]), time_s, ware_c, spraying=True)
    parts = [(0.0, 300.0), (60.0, 300.0), (300.0, 300.0)]
    expected = [by_hand(after, end) + 0.25 * by_hand(0.0, after) for after, end in parts]
    assert found == pytest.approx(expected, rel=1e-9)


def test_what_stays_by_hand() -> None:
    """1 kg stays of 10 in the wash and of 11 in two rinses; 30 g and then 20 g of detergent in two washes."""
    table = programme(
        a_round("wash", detergent_dg=300),
        a_round("wash", detergent_dg=200),
        a_round("rinse"),
        a_round("rinse"),
    )
    full_kg = [np.array([kg]) for kg in (10.0, 10.0, 11.0, 11.0)]
    rinsing = Rinsing.of(table, full_kg, [np.array([1.0])] * 4)
    assert rinsing.concentration == pytest.approx(1.0 / 121.0)
    assert rinsing.soil == pytest.approx(0.1 / 121.0)
    # 2 g/l and a tenth of 3 g/l in the last wash; litres of 0.998 kg.
    assert rinsing.film_mg_per_l == pytest.approx(2300.0 * 0.998 / 121.0)


def test_a_drain_that_leaves_more_is_what_the_next_round_has_to_thin() -> None:
    table = programme(a_round("prerinse"), a_round("wash"), a_round("rinse"))
    full_kg = [np.array([kg]) for kg in (10.0, 10.0, 12.0)]
    rinsing = Rinsing.of(table, full_kg, [np.array([kg]) for kg in (1.0, 3.0, 1.0)])
    assert rinsing.concentration == pytest.approx(0.25)
    assert rinsing.soil == pytest.approx(0.3 / 12.0)


@pytest.fixture(scope="module")
def found() -> Certificate:
    return check(five_rounds(), machine(), goal(), circuit(), draws=8)


def test_what_is_told_is_told_without_a_limit(found: Certificate) -> None:
    """Of the ware, the soil and the milligrams no row; the guaranteed value is never better than nominal."""
    told = {one.key: one for one in found.told}
    assert set(told) == {"rinse.residue", "rinse.soil", "rinse.film_mg_per_l", WARE_END, RISE}
    assert not {"rinse.soil", "rinse.film_mg_per_l", WARE_END, RISE} & {row.key for row in found.rows}
    for key, one in told.items():
        assert one.guaranteed < one.nominal if key == WARE_END else one.guaranteed > one.nominal
    (row,) = (row for row in found.rows if row.key == "rinse.residue")
    assert told["rinse.residue"].guaranteed == row.guaranteed
    assert told["rinse.soil"].guaranteed < told["rinse.residue"].guaranteed


def test_a_plan_says_how_it_rinses_and_how_the_ware_comes_out() -> None:
    shipped = proven("clubhouse", "everyday")
    plan, certificate = shipped.plan, shipped.certificate
    lines = dict(last_film_lines(plan, certificate))
    assert set(lines) == {"last film", "detergent", "soil", "ware"}
    assert "a ratio of concentrations" in lines["last film"]
    assert "sump and film together" in lines["soil"]
    # The limit makes the rinses as many, and not habit: one fewer would pass it.
    fewer = fewer_rinses(plan, certificate)
    assert fewer is not None
    assert fewer > plan.inputs.goal.rinse.residue_max
    rinses = sum(row.kind == "rinse" for row in plan.constants.rounds)
    assert f"{rinses} rinses by that number" in lines["last film"]
    assert "cold and wet" in lines["ware"]
    content = last_film_to_dict(plan, certificate)
    assert content["film_g"] == {"nominal": pytest.approx(249.5), "most": pytest.approx(349.3)}
    assert content["wet"]
    assert content["cold"]


def test_drying_is_estimated_or_the_machine_cannot() -> None:
    """By hand: C (T - T_0) over P less losses, with a heat factor that the clubhouse's tank stands."""
    plan = proven("clubhouse", "everyday").plan
    assert "its bath may reach" in estimate_drying(plan, 12.0).why_not
    drying = plan.inputs.goal.drying.model_copy(update={"heat_factor": 0.3})
    goal_drying = plan.inputs.goal.model_copy(update={"drying": drying})
    dry = replace(plan, inputs=replace(plan.inputs, goal=goal_drying))
    cost, rig = estimate_drying(dry, 12.0), plan.inputs.machine
    assert cost.why_not == ""
    rinse = [row for row in plan.constants.rounds if row.kind == "rinse"][-1]
    assert rig.element is not None
    litres = max(rinse.fill_s / 10.0, rig.element.cover_l + rig.wash_pump.holdup_l.high)
    # 6.5 kg of porcelain, 1.5 of glass, 1.2 of steel, each 10 % more, and the tank's 4.5 kJ/K.
    j_per_k = litres * 0.99 * 4180.0 + 1100.0 * (6.5 * 1.05 + 1.5 * 0.84 + 1.2 * 0.5 + 4.5)
    element, volts = rig.element, rig.supply.voltage_v
    nominal_w, weak_w = (
        watts * (at_v / 230.0) ** 2
        for watts, at_v in ((element.rated_w.nominal, volts.nominal), (element.rated_w.low, volts.low))
    )
    heats_w = weak_w if element.control == "timed" else nominal_w
    lost_w = 9.0 * 1.15 * (0.5 * (cost.ware_c + 12.0) - 14.0)
    heating_s = j_per_k * (cost.ware_c - 12.0) / (heats_w - lost_w)
    kwh = (nominal_w + 85.0) * heating_s / 3.6e6
    assert cost.minutes == pytest.approx(heating_s / 60.0, rel=1e-6)
    assert cost.electricity_kwh == pytest.approx(kwh, rel=1e-6)
    assert 0.3 < cost.electricity_kwh < 1.5
