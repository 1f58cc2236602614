"""What cut-outs and float switch to buy: where they trip, against the certificate; contacts, by Ohm's law.

No source for the margins; that an open bath never passes the boil is the steam tables' (IAPWS), and that
polypropylene melts at about 160 °C, that common cut-outs are off by 5 K or more, and the standard ratings of
contacts are from memory.
"""

from __future__ import annotations

import math
import re

import pytest
from check_cases import a_round, circuit, programme
from check_cases import machine as rig_of
from planner_cases import proven

from optimizer.check.certificate import hottest_bath_c as certified_bath_c
from optimizer.check.faults.guard_words import (
    AC_RATINGS_A,
    CONTACTORS_TESTED,
    CUT_OUT_TESTED,
    ELECTRONIC,
    ELECTRONIC_TESTED,
    HOTTER_TANK,
    MEASURED_BATH,
    STANDS_IT,
    contacts,
)
from optimizer.check.faults.guards import Protection
from optimizer.check.trip_range import (
    BUYABLE_K,
    SPARE_K,
    STILL_W_PER_CM2_K,
    CutOuts,
    TripRange,
    cut_outs,
    hottest_bath_c,
)
from optimizer.library.firmware import emit_constants
from optimizer.library.job import single_faults
from optimizer.library.results import PlanResult
from optimizer.physics.water import boiling_c
from optimizer.report.plan import plan_report, plan_to_dict


@pytest.mark.parametrize(
    ("machine", "goal"),
    [
        ("clubhouse", "glasses"),
        ("narrowboat", "everyday"),
        ("garage-120v", "nursery"),
    ],
)
@pytest.mark.slow
def test_it_lets_the_guaranteed_hottest_bath_pass_and_trips_within_the_limit(machine: str, goal: str) -> None:
    found = proven(machine, goal)
    inputs, constants = found.plan.inputs, found.plan.constants
    (row,) = [row for row in found.certificate.rows if row.key == "tank.bath_c"]
    assert row.guaranteed is not None
    outs = cut_outs(constants, inputs.machine, row.guaranteed)
    assert outs is not None
    assert outs.bath is not None
    assert outs.bath.low_c == math.ceil(row.guaranteed + SPARE_K)
    # Without a certificate a few runs stand for it.
    few_c, few = hottest_bath_c(constants, inputs.machine), cut_outs(constants, inputs.machine)
    assert few_c == pytest.approx(row.worst, abs=1.5)
    assert few is not None
    assert few.bath is not None
    assert few.bath.low_c == math.ceil(few_c + SPARE_K)
    # Every output has the same range.
    bought = f"one marked {outs.bath.highest_mark_c} °C that trips within 5 K of it"
    texts = ["; ".join(plan_to_dict(found.plan, found.certificate)["guards"])]
    texts += ["; ".join(single_faults(PlanResult(found.plan, found.certificate)).report.not_optional)]
    lets = f"it has to let {outs.bath.low_c} °C pass"
    for text in texts:
        assert (bought in text) == (outs.bath.can_be_bought and not outs.tank_stands_boil)
        assert (lets in text) == (not outs.bath.can_be_bought and not outs.tank_stands_boil)
    header = " ".join(emit_constants(PlanResult(found.plan, found.certificate)).replace(" * ", " ").split())
    assert (bought.replace("°", "") in header) == (outs.bath.can_be_bought and not outs.tank_stands_boil)
    assert outs.bath.high_c <= inputs.machine.tank.limit_c
    assert outs.bath.high_c < boiling_c(inputs.machine.room.height_m) < outs.sheath.low_c


def test_plan_and_constants_print_what_to_buy() -> None:
    found = proven("clubhouse", "everyday")
    inputs, hottest_c = found.plan.inputs, certified_bath_c(found.certificate.rows)
    outs = cut_outs(found.plan.constants, inputs.machine, hottest_c)
    assert outs is not None
    assert outs.bath is not None
    text = " ".join(plan_report(found.plan, found.certificate).split())
    assert f"that trips between {outs.sheath.low_c} and {outs.sheath.high_c} °C" in text
    bought = f"one marked {outs.bath.highest_mark_c} °C that trips within 5 K of it"
    assert (bought in text) == (outs.bath.high_c - outs.bath.low_c >= 10)
    assert ("NO common cut-out in the bath can be bought" in text) == (bought not in text)
    assert inputs.machine.element is not None
    # Ohm's law at the highest supply voltage.
    element, supply_v = inputs.machine.element, inputs.machine.supply.voltage_v.high
    rated_a = element.rated_w.high * supply_v / element.rated_v**2
    guard = plan_to_dict(found.plan, found.certificate)["guards"][0]
    assert contacts(rated_a, 230.0) in guard
    flows_a = float(guard.split("(")[1].split(" A flow")[0])
    assert rated_a <= flows_a <= rated_a + 0.1
    assert guard.split(";")[0].endswith("or through a contactor that nothing else switches")


@pytest.mark.parametrize("goal", ["everyday", pytest.param("roasting-tins", marks=pytest.mark.slow)])
def test_what_is_heated_by_time_alone_leaves_room_for_an_electronic_cut_out(goal: str) -> None:
    """Where 5 K lie between what it has to let pass and the limit, one of ± 1 K can be bought."""
    found = proven("clubhouse", goal)
    machine = found.plan.inputs.machine
    assert machine.element is not None
    assert machine.element.control == "timed"
    outs = cut_outs(found.plan.constants, machine, certified_bath_c(found.certificate.rows))
    assert outs is not None
    assert outs.bath is not None
    assert outs.bath.high_c - outs.bath.low_c >= 5
    text = " ".join(plan_report(found.plan, found.certificate).split())
    electronic = "Besides that on the sheath an electronic cut-out in series with the element" in text
    assert electronic != outs.bath.can_be_bought
    assert "Nor any other" not in text


@pytest.mark.parametrize(
    "pair",
    [
        pytest.param(
            (machine, goal), marks=[] if goal == "everyday" else pytest.mark.slow, id=f"{machine}/{goal}"
        )
        for machine in ("clubhouse", "narrowboat")
        for goal in ("everyday", "eco-everyday", "glasses", "roasting-tins")
    ],
)
def test_every_tank_of_the_shipped_plans_can_have_a_cut_out_of_its_own(pair: tuple[str, str]) -> None:
    """Also where a thermostat heats: its sensor alone is one part, and that may break."""
    found = proven(*pair)
    outs = cut_outs(found.plan.constants, found.plan.inputs.machine, certified_bath_c(found.certificate.rows))
    assert outs is not None
    assert outs.bath is not None
    assert outs.bath.high_c - outs.bath.low_c >= 5
    said = " ".join(plan_report(found.plan, found.certificate).split())
    assert "that stays off until reset" in said or "second cut-out with manual reset" in said
    assert "Nor any other" not in said


@pytest.mark.parametrize(("room_k", "common"), [(8.0, False), (12.9, False), (13.0, True)])
def test_the_room_that_is_asked_for_is_what_a_cut_out_needs(room_k: float, common: bool) -> None:
    """A bath as hot as its row allows leaves 5 K for one of ± 1 K, or 10 K for one of ± 5 K."""
    rig = rig_of({"tank.limit_c": 75.0})
    found = cut_outs(programme(a_round("wash", heat_s=600, rest_s=30)), rig, 75.0 - room_k)
    assert found is not None
    assert found.bath is not None
    assert found.bath.high_c - found.bath.low_c >= 5
    assert found.bath.can_be_bought == common


@pytest.mark.parametrize(
    ("low_c", "high_c", "mark_c"), [(68, 85, 80), (75, 86, 80), (76, 86, 81), (73, 84, 79)]
)
def test_a_mark_of_a_whole_five_where_one_trips_between_both_ends(
    low_c: int, high_c: int, mark_c: int
) -> None:
    """A cut-out that is off by 5 K: from the lower end and 5 K to the higher one less 5 K."""
    assert TripRange(low_c, high_c).highest_mark_c == mark_c


@pytest.mark.parametrize("rating_a", AC_RATINGS_A)
def test_contacts_are_of_the_next_standard_rating(rating_a: int) -> None:
    """A rating itself is enough for its current, and no more."""
    assert f"rated for {rating_a} A AC at 125 V or more ({rating_a} A flow)" in contacts(
        float(rating_a), 120.0
    )
    assert f"rated for {rating_a} A AC" not in contacts(rating_a + 0.01, 120.0)
    of_motors = contacts(float(rating_a), 120.0, motors_a=1.2)
    assert ("AC-3" in of_motors, "AC-3" in contacts(float(rating_a), 120.0)) == (True, False)
    assert (
        f", 2 A of it motors (in brackets on a switch, {rating_a}(2): IEC 61058-1, from memory)" in of_motors
    )
    assert contacts(63.01, 120.0) == "through a contactor that nothing else switches (63.1 A flow)"


@pytest.mark.parametrize(("flows_a", "rating_a"), [(14.9, 15), (15.1, 20), (50.0, 50)])
def test_in_north_america_contacts_have_its_ratings(flows_a: float, rating_a: int) -> None:
    """15, 20, 30, 40 and 50 A, motors by horsepower (from memory); AC-3 is of IEC 60947-4-1."""
    said = contacts(flows_a, 120.0, american=True)
    assert f"rated for {rating_a} A AC at 125 V or more ({flows_a:g} A flow)" in said
    of_motors = contacts(flows_a, 120.0, 1.0, american=True)
    assert ("(hp)" in said, "(hp)" in of_motors, "AC-3" in of_motors) == (False, True, False)


def heated(heat_s: int, **changes: object) -> CutOuts:
    found = cut_outs(
        programme(a_round("wash", heat_s=heat_s, rest_s=30)), rig_of({"tank.limit_c": 75.0, **changes})
    )
    assert found is not None
    return found


def required(heat_s: int, **changes: object) -> tuple[str, ...]:
    rig = rig_of({"tank.limit_c": 75.0, **changes})
    return Protection.of(programme(a_round("wash", heat_s=heat_s, rest_s=30)), rig, circuit()).required


@pytest.mark.parametrize("limit_c", [40.0, 60.0, 85.0, 110.0])
def test_one_sits_on_the_sheath_whatever_the_programme_and_the_tank(limit_c: float) -> None:
    """A feeler in an emptied bath reads air."""
    found = required(600, **{"tank.limit_c": limit_c, "tank.material": "stainless"})
    assert "its feeler on the element's SHEATH, on its highest heated part, which falls dry first" in found[1]
    assert "(one in an emptied bath reads air)" in found[1]
    assert "its contacts rated as the float switch's, that trips between 120 and 150 °C" in found[1]


@pytest.mark.parametrize(
    ("material", "span_c", "melts_c"),
    [("HDPE", "100 and 125", 130), ("LDPE", "95 and 105", 110), ("PP", "120 and 150", 160)],
)
def test_a_sheath_trips_before_its_tank_melts(material: str, span_c: str, melts_c: int) -> None:
    """HDPE melts near 130 °C, LDPE from 110 on, polypropylene near 160 (from memory)."""
    sheath = required(600, **{"tank.limit_c": 50.0, "tank.material": material})[1]
    assert f"that trips between {span_c} °C" in sheath
    assert int(span_c.split()[-1]) < melts_c
    said = f"{material} melts near {melts_c} °C. Fix the element so that it touches no wall"
    assert (said in sheath) == (material != "PP")


def test_a_thermostat_without_room_for_any_cut_out_is_told_how_much_cooler() -> None:
    """It has a sensor already: to fit one is no advice."""
    rig = rig_of({"element.control": "thermostat", "element.sensor_error_k": 1.0, "tank.limit_c": 75.0})
    bath = programme(a_round("wash", heat_s=1200, rest_s=30))
    low_c = cut_outs(bath, rig).bath.low_c  # type: ignore[union-attr]
    near = rig.model_copy(update={"tank": rig.tank.model_copy(update={"limit_c": low_c + 3.0})})
    said = Protection.of(bath, near, circuit()).required[2]
    assert "its own sensor and WASH_BATH_MAX_DC alone keep the tank under its limit" in said
    assert "A bath 2 K cooler leaves room for an electronic one: plan with tank.cut_out_room_k = 8 in" in said
    assert "measure with a sensor" not in said


@pytest.mark.parametrize("low_c", [20, 27, 63, 68, 71, 74, 75])
def test_the_mark_is_the_highest_that_trips_in_time_and_lets_the_bath_pass(low_c: int) -> None:
    """± 5 K about it lie in the range, whatever the programme; fives are what is sold (from memory)."""
    mark_c = TripRange(low_c, 85).highest_mark_c
    assert mark_c == 80
    assert low_c <= mark_c - 5 < mark_c + 5 <= 85
    assert TripRange(74, 84).highest_mark_c == 79


def test_a_range_that_no_cut_out_keeps_is_not_asked_for() -> None:
    """Ten kelvin apart one can be bought, nine apart none: the limit of the tank moves one end."""
    bath = heated(1200).bath
    assert bath is not None
    assert (bath.high_c, bath.can_be_bought) == (75, True)
    wide = required(1200, **{"tank.limit_c": float(bath.low_c + BUYABLE_K)})
    assert f"for the limit of the tank: one marked {bath.low_c + 5} °C that trips within 5 K of it" in wide[2]
    assert "its contacts rated as the float switch's" in wide[2]
    assert f"It has tripped at {bath.low_c + 10} °C, and lets programmes pass whose bath stays at" in wide[2]
    narrow = required(1200, **{"tank.limit_c": float(bath.low_c + BUYABLE_K - 1)})
    assert "NO common cut-out in the bath can be bought" in narrow[2]
    assert f"let {bath.low_c} °C pass and to trip by {bath.low_c + BUYABLE_K - 1} °C" in narrow[2]
    # One without its set point, tolerance and test would be no guard.
    assert "thermostat" not in narrow[2]
    assert "tank that stands a hotter bath" in narrow[2]
    assert not any("marked" in one for one in narrow[2:])
    assert f"that stays off until reset, ± 1 K, set at {bath.low_c + 4} °C" in narrow[2]
    least = required(1200, **{"tank.limit_c": float(bath.low_c + 5)})[2]
    assert "an electronic cut-out in series with the element, its feeler in the bath" in least
    for limit_c, named in ((bath.low_c + 5, True), (bath.low_c + 4, False)):
        rig = rig_of({"tank.limit_c": float(limit_c)})
        constants = programme(a_round("wash", heat_s=1200, rest_s=30))
        for fault in ("element.on", "element.stays_on"):
            (asked,) = Protection.of(constants, rig, circuit()).against(fault)["hot"]
            besides = ELECTRONIC if named else MEASURED_BATH
            assert asked == f"{besides}, or {HOTTER_TANK}"
    assert f"± 1 K, set at {bath.low_c + 2}" in least
    assert "opens too when its feeler breaks or its supply fails, its contacts rated as the float" in least
    none = required(1200, **{"tank.limit_c": float(bath.low_c + 4)})[2]
    assert "electronic" not in none
    assert "measure with a sensor and plan by thermostat, or take a tank that stands a hotter bath" in none
    closed = heated(6000).bath
    assert closed is not None
    assert not closed.can_be_bought
    assert "NO common cut-out" in required(6000)[2]
    faults = Protection.of(
        programme(a_round("wash", heat_s=6000, rest_s=30)), rig_of({"tank.limit_c": 75.0}), circuit()
    )
    assert faults.against("sensor.cold")["hot"][0] == f"{MEASURED_BATH}, or {HOTTER_TANK}"
    assert "SHEATH" in faults.against("inlet.shut")["dry"][1]


@pytest.mark.parametrize(("over_k", "electronic"), [(4, False), (5, True), (9, True), (10, False)])
def test_an_electronic_cut_out_is_tried_powered_and_no_other_is(over_k: int, electronic: bool) -> None:
    """Without its supply an ohm-meter shows nothing of it; the sheath's is tried with the plug pulled."""
    bath = heated(1200).bath
    assert bath is not None
    rig = rig_of({"tank.limit_c": float(bath.low_c + over_k)})
    constants = programme(a_round("wash", heat_s=1200, rest_s=30))
    tried = Protection.of(constants, rig, circuit()).against("cut_out.closed")["unseen"]
    sheath = heated(1200).sheath
    marked = (bath.low_c + 5) // 5 * 5 if over_k >= 10 else 0
    in_water = f", one for the bath in hot water ({marked - 5} to {marked + 5} °C)" * (over_k >= 10)
    fitted = "of the bath back where it was, that of the sheath " * (over_k >= 10)
    named = CUT_OUT_TESTED.format(sheath.low_c, sheath.high_c, in_water, fitted)
    # It is set in the middle of its window; off by 1 K, it is told within 2.
    set_c = bath.low_c + over_k // 2
    assert tried == (
        named,
        *((ELECTRONIC_TESTED.format(set_c - 2, set_c + 2),) * electronic),
        CONTACTORS_TESTED,
    )
    assert "to stay open, cold, until they are reset" in named
    assert (bath.low_c <= set_c - 2 and set_c + 2 <= bath.low_c + over_k) or not electronic


def test_steam_asks_for_the_sheath_alone() -> None:
    rig = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless"})
    steam = programme(a_round("wash"), a_round("steam", fill_s=100, heat_s=600, spray_s=0))
    found = cut_outs(steam, rig)
    assert found is not None
    assert found.bath is None
    assert found.sheath.low_c > boiling_c(rig.room.height_m)
    assert found.sheath.high_c < 160
    asked = Protection.of(steam, rig, circuit()).required
    assert not any("in the bath, for" in one or "NO common cut-out" in one for one in asked)
    assert Protection.of(steam, rig, circuit()).against("element.on")["hot"] == (STANDS_IT,)
    assert cut_outs(steam, rig_of({"element": None})) is None


def test_a_tank_that_stands_the_boil_is_cut_out_under_it() -> None:
    rig = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless"})
    found = cut_outs(programme(a_round("wash", heat_s=600, rest_s=30)), rig)
    assert found is not None
    assert found.bath is not None
    assert (found.bath.high_c, found.tank_stands_boil) == (97, True)
    high = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless", "room.height_m": 1000.0})
    found = cut_outs(programme(a_round("wash", heat_s=600, rest_s=30)), high)
    assert found is not None
    assert found.bath is not None
    assert found.bath.high_c == 93


def film_w_per_cm2_k(bath_c: float, sheath_c: float) -> float:
    """Natural convection of water at a horizontal tube of 8 mm, Nu = 0.53 Ra^(1/4) (handbooks) [W/(cm² K)].

    Water at about 70 °C (tables of water, from memory): 0.66 W/(m K), 0.41 mm²/s, Prandtl 2.6, 5.8e-4 /K.
    """
    rayleigh = 9.81 * 5.8e-4 * (sheath_c - bath_c) * 0.008**3 / 4.1e-7**2 * 2.6
    return float(0.53 * rayleigh**0.25 * 0.66 / 0.008 / 1e4)


@pytest.mark.parametrize(("bath_c", "sheath_c"), [(50.0, 95.0), (75.0, 100.0), (40.0, 95.0)])
def test_the_surface_load_named_has_half_of_what_still_water_takes_to_spare(
    bath_c: float, sheath_c: float
) -> None:
    assert 2.0 <= film_w_per_cm2_k(bath_c, sheath_c) / STILL_W_PER_CM2_K < 2.6


def test_a_tank_that_melts_asks_for_an_element_that_its_cut_out_lets_run() -> None:
    """From the hottest bath to where the sheath trips, 0.07 W/cm² a kelvin; not for polypropylene."""
    changes = {"tank.limit_c": 50.0, "tank.material": "LDPE"}
    rig = rig_of({"tank.limit_c": 75.0, **changes})
    found = cut_outs(programme(a_round("wash", heat_s=600, rest_s=30)), rig)
    assert found is not None
    assert found.bath is not None
    assert found.sheath_w_per_cm2 == pytest.approx(0.07 * (95 - (found.bath.low_c - 3)))
    assert re.search(r"take one of \d(\.\d)? W/cm² or less", required(600, **changes)[1])
    assert "W/cm²" not in required(600, **{"tank.limit_c": 85.0, "tank.material": "PP"})[1]
