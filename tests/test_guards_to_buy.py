"""What each guard has to be set to and rated for, the same in every output.

Where a float switch sits, and its differential of 3 to 10 mm, are common practice (no source); contacts by
Ohm's law; that a locked rotor may set nothing on fire is IEC 60335-1, clause 19 (from memory).
"""

from __future__ import annotations

import html
from dataclasses import replace

import pytest
from check_cases import a_round, circuit, machine, programme
from fault_cases import row as row_of
from kept_checks import no_bounds
from page_cases import hand_made
from planner_cases import proven

from optimizer.check.certificate import Certificate, EarnedDose
from optimizer.check.certified import certified, proof_cautions
from optimizer.check.certify import check
from optimizer.check.faults.guard_words import METALS
from optimizer.check.faults.guards import Protection
from optimizer.check.worst_cases import FAULT_CORNERS, QUANTITIES, fault_cases, tolerances
from optimizer.emit.forms import FORMS
from optimizer.emit.opening import several_opening
from optimizer.library.job import single_faults
from optimizer.library.results import PlanResult
from optimizer.page.plan_page import plan_page
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.plan import UNCHECKED, Certified, Plan
from optimizer.report.certificate import certificate_cautions
from optimizer.report.plan import plan_report, plan_to_dict

WARM = programme(a_round("wash", heat_s=600, rest_s=30))


def guards(rig: Machine, known: Certified = UNCHECKED, constants: Constants = WARM) -> tuple[str, ...]:
    return Protection.of(constants, rig, circuit(), known).required


@pytest.mark.parametrize(
    ("covering_l", "said"),
    [(7.5, "7.5 l,"), (7.599, "7.5 l,"), (7.6, "7.6 l,"), (9.04, "9 l,"), (None, "7.5 l,")],
)
def test_a_float_switch_closes_below_the_least_water_of_the_certificate(
    covering_l: float | None, said: str
) -> None:
    """Rounded down, or the element might not come on; the litres of the cover without a certificate."""
    float_switch = guards(machine(), Certified(covering_l=covering_l))[0]
    assert "opens while the element is still under water, above its top" in float_switch
    assert f"closes again below {said}" in float_switch
    assert "3 to 10 mm by common practice" in float_switch
    assert "7.5 l (cover_l) stand 50 mm over the element" in float_switch


def test_a_lid_switch_has_contacts_and_closing_it_starts_nothing() -> None:
    """By hand: 945 W on 230 V take 4.29 A at 240 V; the pumps 89.25 / (220 · 0.6) + 15 / (220 · 0.5) A."""
    (lid,) = (one for one in guards(machine()) if one.startswith("lid switch"))
    flows_a = 945.0 * 240.0 / 230.0**2 + 89.25 / (220.0 * 0.6) + 15.0 / (220.0 * 0.5)
    assert flows_a == pytest.approx(5.099, abs=0.001)
    assert (
        "rated for 6 A AC at 250 V or more, 1 A of it motors (in brackets on a switch, 6(1): IEC 61058-1, "
        "from memory) (5.1 A flow with all of it on at once), or through a contactor"
    ) in lid
    assert "drops a relay that holds itself, so that closing the lid starts nothing until start" in lid


@pytest.mark.parametrize("material", ["PP", "HDPE", "stainless"])
def test_every_wash_pump_has_to_have_its_fuse(material: str) -> None:
    rig = machine({"tank.material": material, "tank.limit_c": 60.0})
    found = guards(rig)
    row = row_of(WARM, rig, "pump.seized")
    (asked,) = (one for one in found if one.startswith(row.guards[0]))
    assert row.severity == "danger"
    burns = "pump and hoses" if material in METALS else f"pump, hoses and the {material} of the tank"
    assert f"sets its windings, {burns} on fire (IEC 60335-1, clause 19" in asked


def test_a_machine_for_all_programmes_has_one_list_where_the_tank_stands_the_boil() -> None:
    """Warm, hot and by steam: a cut-out in the bath that suits the one would trip in the other."""
    steel = machine({"tank.limit_c": 110.0, "tank.material": "stainless"})
    steam = programme(a_round("wash"), a_round("steam", fill_s=100, heat_s=600, spray_s=0))
    hot = programme(a_round("wash", heat_s=5400, rest_s=30))
    lists = {guards(steel, Certified(covering_l=7.6), one) for one in (WARM, hot, steam)}
    assert len(lists) == 1
    assert not any("in the bath" in one for one in lists.pop())
    (optional,) = Protection.of(WARM, steel, circuit()).against("element.on")["hot"]
    assert optional.startswith("nothing for the tank, which stands the boil; you may add, only where every ")
    assert "programme stays well under the boil, a second cut-out" in optional


@pytest.mark.parametrize(("reading_dc", "said"), [(1000, False), (1005, False), (1006, True), (1016, True)])
def test_a_watchdog_that_an_open_bath_never_meets_is_said_to_guard_nothing(
    reading_dc: int, said: bool
) -> None:
    """Water boils at 100 °C at sea level (steam tables), and the sensor reads 0.5 K more at the most."""
    rig = machine(
        {"tank.limit_c": 110.0, "tank.material": "stainless", "element.control": "thermostat",
         "element.sensor_error_k": 0.5}
    )  # fmt: skip
    sheath = guards(rig, UNCHECKED, replace(WARM, control="thermostat", bath_max_dc=reading_dc))[1]
    assert ("This cut-out is what guards: WASH_BATH_MAX_DC is" in sheath) == said
    assert ("which an open bath never reads" in sheath) == said


def test_plan_faults_header_and_page_name_the_same_guards_and_cautions() -> None:
    plan, certificate, page = hand_made()
    known = certified(certificate)
    listed = plan_to_dict(plan, certificate)["guards"]
    for text in (plan_report(plan, certificate), _header(replace(plan, certified=known)), page):
        words = " ".join(html.unescape(text).replace(" * ", " ").split()).replace("°", "")
        for guard in listed:
            assert guard.replace("°", "") in words


def test_what_a_proof_leaves_open_is_said_in_every_output() -> None:
    plan, certificate, _ = hand_made()
    certificate = replace(
        certificate,
        on_your_minutes=("grease",),
        earned=(EarnedDose("grease", 65.1, 50.0),),
    )
    said = proof_cautions(certificate)
    assert [one.split(":")[0].split(" the ")[0] for one in said] == [
        "Ware has to stand 62 °C",
        "On your minutes",
        "Earned far from",
    ]
    assert certificate_cautions(certificate, plan.inputs)[-3:] == said
    told = replace(plan, certified=certified(certificate))
    several = "\n".join(several_opening({"one": told, "two": plan}))
    forms = [FORMS[form].text(told) for form in FORMS]
    for text in (plan_report(plan, certificate), plan_page(plan, certificate), several, *forms):
        words = " ".join(text.replace(" * ", " ").replace("\n# ", " ").split()).replace("°", "")
        for sentence in said:
            assert sentence.replace("°", "") in words
    assert f"For one: {said[0]}".replace("°C", "C") in " ".join(several.split())


def test_faults_run_at_the_worst_points_too_each_once() -> None:
    rig = machine()
    nominal = {name: float(getattr(tolerances(rig), name).nominal) for name in QUANTITIES}
    warm = nominal | {"inlet_c": 18.0}
    cases = fault_cases(rig, {"drain.bath_c": warm, "tank.bath_c": warm, "dose.grease": nominal})
    assert cases.names == (*FAULT_CORNERS, "nominal", "worst of drain.bath_c", "worst of dose.grease")
    assert list(cases.inlet_c[-3:]) == [12.0, 18.0, 12.0]


@pytest.mark.slow
def test_a_fault_is_found_where_a_check_of_the_same_table_fails() -> None:
    """No cold water for a top-up, and a table whose top-ups are 0 s: the same water goes down the drain."""
    found = proven("garage-120v", "nursery")
    inputs, constants = found.plan.inputs, found.plan.constants
    assert any(row.top_up_s for row in constants.rounds)
    faults = single_faults(PlanResult(found.plan, found.certificate)).report
    (row,) = (row for row in faults.rows if row.key == "inlet.no_top_up")
    dry = replace(constants, rounds=tuple(replace(one, top_up_s=0, mix_s=0) for one in constants.rounds))
    with no_bounds():
        certificate: Certificate = check(dry, inputs.machine, inputs.goal, inputs.circuit, draws=0)
    (drained,) = (row for row in certificate.rows if row.key == "drain.bath_c")
    assert drained.worst > drained.limit
    assert row.severity == "damage"
    assert "Water too hot for the drain pipe goes down it" in row.happens


def _header(plan: Plan) -> str:
    return FORMS["c"].text(plan)
