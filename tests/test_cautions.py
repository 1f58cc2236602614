"""No caution about what is not there, and none left out about what is."""

from __future__ import annotations

import html
import json
import tomllib
from dataclasses import replace
from typing import get_args

import pytest
from emit_cases import in_every_form
from plan_cases import GOAL, MACHINE, ROWS, certificate_case, cold_plan, plan_case

from optimizer.check.dosing_moment import when_dosed
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.page.plan_page import plan_page
from optimizer.profile.circuit import EarthFault
from optimizer.profile.goal import Goal
from optimizer.profile.load import load_profile
from optimizer.profile.machine import Machine
from optimizer.profile.shipped import shipped_names
from optimizer.profile.starting_text import starting_text
from optimizer.programme.cautions import (
    AFTER_HOTTER,
    AIR_GAP,
    AIR_GAP_AMERICA,
    BOND,
    BY_HAND,
    DISPENSER_ONLY,
    DRAIN_LINE,
    EARTHED,
    EARTHED_PUMPS,
    FROST,
    FULL_LOADS,
    HOT_WARE,
    INVENTED,
    LEVEL,
    MEASURED,
    NO_DRAIN_LINE,
    OF_NO_MACHINE,
    PLASTIC,
    PLASTIC_IN_STEEL,
    POOL,
    SCALE,
    SIEVE,
    STANDING,
    STANDING_DRIES,
    STREAM,
    TIMED,
    UNATTENDED,
    UNHYGIENIC,
    VENT,
    WhenDosed,
    caution_groups,
    cautions,
)
from optimizer.programme.plan import Inputs
from optimizer.report.certificate import certificate_report
from optimizer.report.layout import pages_of
from optimizer.report.plan import plan_report

COLD = cold_plan().inputs
"""Profiles without an element, its inlet cold."""
(ALL_WARE,) = [one for one in cautions(plan_case().inputs) if one.startswith("Run it with all the ware")]
"""The full load, with what it is on this machine."""
ANY_WARE = FULL_LOADS.format("", TIMED, POOL)
CHANGED = {STANDING: STANDING_DRIES, ANY_WARE: ALL_WARE}
OF_COLD = {EARTHED: EARTHED_PUMPS}
"""What has other words where there is no element."""
USUAL = [CHANGED.get(one, one) for one in cautions()[1:] if one != AIR_GAP_AMERICA]
AT = USUAL.index(UNATTENDED) + 1
(LATE,) = [one for one in cautions(plan_case().inputs) if one.startswith("By hand, put it in")]
"""The goal of these cases counts no time to put detergent in."""
(AT_ITS_SOCKET,) = [one for one in cautions(plan_case().inputs) if one.startswith("Proven at 220 to 240 V")]
(HOT_PIPE,) = [one for one in cautions(plan_case().inputs) if one.startswith("It may drain water")]
DOSED, HOTTER = USUAL.index(BY_HAND) + 1, USUAL.index(AFTER_HOTTER)
AT_LEVEL = USUAL.index(LEVEL)
DRIED = (
    *(*USUAL[:AT], HOT_WARE, *USUAL[AT:AT_LEVEL], HOT_PIPE, *USUAL[AT_LEVEL:DOSED], LATE),
    *(*USUAL[DOSED:HOTTER], AT_ITS_SOCKET, *USUAL[HOTTER:], UNHYGIENIC),
)
"""Every caution but that of the place, where something is dried and no hygiene asked for: as here."""
ABOUT_HEAT = (
    AFTER_HOTTER,
    HOT_WARE,
    ALL_WARE,
    HOT_PIPE,
    AT_ITS_SOCKET,
    SCALE,
    VENT,
    STREAM,
    "A dry element",
    "Hot water",
    "Float switch",
    "No plastic",
)


def warm_inlet(water_c: float) -> Inputs:
    bare = {key: value for key, value in MACHINE.items() if key != "element"}
    machine = Machine.model_validate(bare | {"inlet": {**MACHINE["inlet"], "water_c": water_c}})
    return replace(COLD, machine=machine)


def test_a_machine_with_an_element_gets_every_caution() -> None:
    usual = plan_case().inputs
    assert cautions(usual)[1:] == DRIED == cautions(COLD, usual)[1:]
    assert len(cautions()) == 23


def test_a_machine_without_an_element_gets_none_about_one() -> None:
    assert cautions(COLD)[1:] == tuple(
        OF_COLD.get(one, one) for one in DRIED if not one.startswith(ABOUT_HEAT)
    )


@pytest.mark.parametrize(("water_c", "warned"), [(44.9, False), (45.0, True), (60.0, True)])
def test_water_that_comes_hot_scalds_without_an_element(water_c: float, warned: bool) -> None:
    assert any("scald" in caution for caution in cautions(warm_inlet(water_c))) == warned


@pytest.mark.parametrize("dosed", [True, False])
def test_detergent_is_warned_of_where_there_is_any(dosed: bool) -> None:
    goal = Goal.model_validate({**GOAL, "detergent": GOAL["detergent"] if dosed else None})
    assert any("alkaline" in caution for caution in cautions(replace(COLD, goal=goal))) == dosed


@pytest.mark.parametrize("method", ["none", "a0", "hue"])
def test_where_no_hygiene_is_asked_for_it_says_that_clean_is_not_free_of_germs(method: str) -> None:
    table = {"method": method} | ({} if method == "none" else {"target_s": 60.0})
    said = cautions(replace(COLD, goal=Goal.model_validate({**GOAL, "hygiene": table})))
    assert (UNHYGIENIC in said) == (method == "none")
    assert (SIEVE in said) == (method != "none")


@pytest.mark.parametrize("width", [40, 80, 200])
def test_what_kills_comes_first_a_line_each_and_the_verdict_before_all(width: int) -> None:
    plan = plan_case()
    with pages_of(width):
        text = plan_report(plan, certificate_case(plan.constants, *ROWS))
    lines = text.splitlines()
    assert lines[0].startswith("supper on tote")
    first, last = lines.index("What kills:"), lines.index("What harms:")
    if width >= 80:
        assert last - first - 1 == len(caution_groups(plan.inputs)[0][1]) == 7
        assert all(len(one) <= 78 for one in (BOND, EARTHED, EARTHED_PUMPS, INVENTED))
    assert all(len(line) <= width for line in lines)


def test_every_answer_says_never_to_leave_it_alone() -> None:
    """The report of a check too: a proof makes nobody watch."""
    plan = plan_case()
    certificate = certificate_case(plan.constants, *ROWS)
    texts = [certificate_report(certificate, plan.inputs), plan_report(plan, certificate)]
    texts += in_every_form(plan).values()
    for text in texts:
        assert " ".join(text.replace("*", " ").split()).count(UNATTENDED) == 1


@pytest.mark.parametrize("form", FORMS)
def test_a_bench_run_says_nothing_of_an_element_that_is_not_there(form: str) -> None:
    with_element = " ".join(FORMS[form].text(bench_run(plan_case())).replace("*", " ").split())
    without = " ".join(FORMS[form].text(bench_run(cold_plan())).replace("*", " ").split())
    for words in ("The element is never on", "the element unplugged"):
        assert words in with_element
        assert words not in without
    assert "Begin with the tank drained and somebody at the plug." in without


@pytest.mark.parametrize("form", FORMS)
def test_constants_carry_the_cautions_of_their_machine(form: str) -> None:
    for plan in (plan_case(), cold_plan()):
        text = FORMS[form].text(plan)
        words = " ".join(text.replace("*", " ").split())
        every = (EARTHED_PUMPS, *DRIED)
        found = [caution for caution in every if " ".join(caution.split()) in words]
        assert found == list(cautions(plan.inputs)[1:])
    found = json.loads(FORMS["json"].text(cold_plan()))["cautions"]
    usual = cautions(COLD, dosing=when_dosed(cold_plan()))
    assert found[: len(usual)] == list(usual)


def test_contacts_carry_the_current_or_have_a_contactor_of_their_own() -> None:
    """Common practice, no source: a contactor that a controller switches too welds for both."""
    (words,) = [one for one in cautions() if one.startswith("Float switch and cut-outs")]
    assert "a contactor that nothing else switches" in words
    assert "in both poles where the plug can be turned round" in words


@pytest.mark.parametrize("form", FORMS)
def test_detergent_by_hand_goes_in_when_the_pump_is_heard(form: str) -> None:
    """No source, our choice: nobody knows half a minute ahead when a pump will start."""
    said = (
        "by hand goes into the spray of the wash, not of the prerinse, never of a rinse, in its first half "
        "minute, when you hear the pump, through a capped funnel above splash"
    )
    text = " ".join(FORMS[form].text(plan_case()).replace(" * ", " ").split())
    assert said in text
    assert "minute before the spray" not in text
    assert any(said in one for one in cautions())


def of_material(material: str, limit_c: float = 75.0) -> Inputs:
    tank = {**MACHINE["tank"], "material": material, "limit_c": limit_c}
    machine = Machine.model_validate({**MACHINE, "tank": tank})
    return replace(plan_case().inputs, machine=machine)


def test_a_tank_of_steel_is_bonded_and_only_its_parts_are_of_plastic() -> None:
    """IEC 60364-4-41: exposed conductive parts are earthed; that the bond is measured (from memory)."""
    kills, harms, _ = (sentences for _, sentences in caution_groups(of_material("stainless")))
    assert BOND in kills
    assert EARTHED not in kills
    assert [one for one in harms if "plastic" in one] == [PLASTIC_IN_STEEL]
    for inputs in ((of_material("PP"),), ()):
        words = cautions(*inputs)
        assert not any("steel tank" in one for one in words)
        assert PLASTIC in words
        assert EARTHED in words
    both = cautions(of_material("PP"), of_material("stainless"))
    assert PLASTIC in both
    assert BOND in both
    assert EARTHED in both
    # The metal that the water touches (common practice, no source); without an element the pumps' alone.
    assert "sheath" in EARTHED
    assert "element" not in EARTHED_PUMPS
    assert EARTHED_PUMPS in cautions(COLD)


def with_ware(ware: dict[str, object]) -> Inputs:
    usual = plan_case().inputs
    load = {key: value for key, value in MACHINE["ware"].items() if not key.endswith("_kg")}
    return replace(usual, machine=Machine.model_validate({**MACHINE, "ware": load | ware}))


def test_a_full_load_is_told_in_steel_too() -> None:
    """2 kg at 1.05, 0.5 at 0.84 and 0.5 at 0.5 kJ/(kg K) are 2.77 kJ/K: 5.54 kg at 0.5 (handbook)."""
    mixed = with_ware({"porcelain_kg": 2.0, "glass_kg": 0.5, "stainless_kg": 0.5})
    (said,) = [one for one in cautions(mixed) if one.startswith("Run it with all the ware")]
    parts, steel = (
        "2 kg of porcelain, 0.5 kg of glass, 0.5 kg of steel",
        "about 5.54 kg of steel, which holds",
    )
    # A goal that limits no step onto colder ware may ban glass: steel comes first there.
    assert f": {steel} the same heat, or, unless a caution here bans them, {parts}." in said
    limits = mixed.goal.limits.model_copy(update={"ware_rise_k": 50.0})
    limited = replace(mixed, goal=mixed.goal.model_copy(update={"limits": limits}))
    (said,) = [one for one in cautions(limited) if one.startswith("Run it with all the ware")]
    assert f": {parts}, or {steel} the same heat." in said
    (said,) = [one for one in cautions(with_ware({"stainless_kg": 4.0})) if one.startswith("Run it")]
    assert ": 4 kg of steel. With less," in said


@pytest.mark.parametrize("method", ["none", "hot_rinse", "steam"])
def test_a_pool_of_steam_is_told_of_where_there_is_one(method: str) -> None:
    drying = {"method": method} if method == "none" else {"method": method, "stand_min": 20.0}
    inputs = replace(plan_case().inputs, goal=Goal.model_validate({**GOAL, "drying": drying}))
    assert any(POOL in one for one in cautions(inputs)) == (method == "steam")


@pytest.mark.parametrize(
    ("about", "invented"),
    [
        ("Invented. A tote.", True),
        ("\ninvented: a tote", True),
        ("", False),
        ("A tote, not invented.", False),
    ],
)
def test_an_invented_machine_is_not_to_be_run(about: str, invented: bool) -> None:
    """By what its own profile says: that of a user is somebody's own machine."""
    machine = Machine.model_validate({**MACHINE, "about": about})
    usual = plan_case()
    plan = replace(usual, inputs=replace(usual.inputs, machine=machine))
    certificate = certificate_case(plan.constants, *ROWS)
    texts = [plan_report(plan, certificate), certificate_report(certificate, plan.inputs)]
    texts += [plan_page(plan, certificate), *in_every_form(plan).values()]
    for text in texts:
        words = " ".join(text.replace(" * ", " ").split())
        words = html.unescape(words)
        assert (INVENTED in words) == (OF_NO_MACHINE in words) == invented
        assert ("hold for the machine as it was measured" in words) != invented
    both = cautions(plan.inputs, usual.inputs)
    assert (INVENTED in both) == invented
    assert MEASURED in both


def test_every_shipped_machine_says_that_it_is_invented_and_a_new_file_does_not() -> None:
    for name in shipped_names("machine"):
        assert load_profile("machine", name).about.strip().startswith("Invented.")
    assert tomllib.loads(starting_text("machine"))["about"] == ""


@pytest.mark.parametrize("limit_c", [60.0, 104.0])
def test_a_tank_with_an_element_keeps_its_vent_open(limit_c: float) -> None:
    """A sensor that reads cold, or a stuck contactor, boils a bath whatever its tank stands."""
    words = [one for one in cautions(of_material("stainless", limit_c)) if "never seal the lid" in one]
    assert len(words) == 1
    assert "no hand, nothing electrical above it" in words[0]
    assert VENT not in cautions(COLD)


@pytest.mark.parametrize(("method", "said"), [("none", STANDING), ("hot_rinse", STANDING_DRIES)])
def test_the_lid_is_told_of_in_one_way(method: str, said: str) -> None:
    """Where something dries the plan says when the lid is ajar, and nothing else does."""
    drying = {"method": method} if method == "none" else {"method": method, "stand_min": 20.0}
    inputs = replace(COLD, goal=Goal.model_validate({**GOAL, "drying": drying}))
    assert [one for one in cautions(inputs) if "warm water standing" in one] == [said]
    both = cautions(inputs, plan_case().inputs)
    assert STANDING_DRIES in both
    assert (STANDING in both) == (method == "none")


def test_the_air_gap_has_its_measure() -> None:
    """EN 1717: 20 mm at least, and twice the bore of the inlet (from memory)."""
    (gap,) = [caution for caution in cautions() if "EN 1717" in caution]
    assert "20 mm or more, and by twice its bore or more" in gap


@pytest.mark.parametrize("earth_fault", get_args(EarthFault))
def test_the_air_gap_of_a_place_is_that_of_its_code(earth_fault: EarthFault) -> None:
    """ASME A112.1.2: 1 in and two bores, near a wall 1.5 in and three bores (from memory); else EN 1717."""
    circuit = COLD.circuit.model_copy(update={"earth_fault": earth_fault})
    gaps = [one for one in cautions(replace(COLD, circuit=circuit)) if "air gap, " in one]
    assert gaps == [AIR_GAP_AMERICA if earth_fault == "gfci_class_a" else AIR_GAP]
    assert "25 mm or more" in AIR_GAP_AMERICA
    assert "by 38 mm and by three bores or more" in AIR_GAP_AMERICA


def test_where_a_dispenser_does_it_nobody_is_told_how_to_by_hand() -> None:
    """One truth about who puts it in; of two sprays one may be a hand's."""
    goal = plan_case().inputs
    of_dispenser, of_hand = f"{DISPENSER_ONLY}: into the spray", "Detergent by hand: in the spray"
    for words, told in (((), True), ((of_dispenser,), False), ((of_dispenser, of_hand), True)):
        said = cautions(goal, dosing=WhenDosed(words, by_hand=told))
        assert (BY_HAND in said, LATE in said) == (told, told)
        assert tuple(one for one in said if one in words) == words


@pytest.mark.parametrize("line", ["own line", None])
@pytest.mark.parametrize(("limit_c", "said"), [(60.0, False), (60.1, True), (100.0, True)])
def test_water_that_common_pipes_do_not_stand_is_led_away_by_itself(
    limit_c: float, said: bool, line: str | None
) -> None:
    """Many codes let no water over about 60 °C into a drain (from memory)."""
    drain_pump = MACHINE["drain_pump"] | {"drain_limit_c": limit_c, "drain_line": line}
    machine = Machine.model_validate(MACHINE | {"drain_pump": drain_pump})
    told = [
        one
        for one in cautions(replace(plan_case().inputs, machine=machine))
        if one.startswith("It may drain")
    ]
    assert len(told) == said
    assert all("a line of its own that stands it" in one for one in told)
    assert all((DRAIN_LINE in one, NO_DRAIN_LINE in one) == (line is not None, line is None) for one in told)


def test_who_moves_a_machine_to_another_supply_is_told_to_plan_anew() -> None:
    """Heat goes with the square of the voltage (Joule): by time a bath gets hotter, a thermostat ends it."""
    assert "heated by time, a bath gets hotter" in AT_ITS_SOCKET
    element = {**MACHINE["element"], "control": "thermostat", "hysteresis_k": 1.0, "sensor_error_k": 1.0}
    held = replace(plan_case().inputs, machine=Machine.model_validate({**MACHINE, "element": element}))
    (said,) = [one for one in cautions(held) if one.startswith("Proven at 220 to 240 V")]
    assert said.endswith("log the voltage and plan anew.")


@pytest.mark.parametrize(
    "words",
    [
        "stream meet the tank's wall under the rim",
        "hose above the rim, in a boat above the waterline too, or give",
    ],
)
def test_inlet_and_drain_hose_are_led_so_that_they_break_and_siphon_nothing(words: str) -> None:
    """Common practice, no source: cold water on hot glass; a hose that hangs low."""
    assert any(words in caution for caution in cautions(plan_case().inputs))
    # Cold water on cold ware breaks nothing.
    assert any(words in caution for caution in cautions(COLD)) == ("stream" not in words)
    for form in FORMS.values():
        assert words in " ".join(form.text(plan_case()).replace(" * ", " ").split())


@pytest.mark.parametrize(("low_c", "warned"), [(3.9, True), (4.0, False), (-5.0, True)])
def test_a_room_that_may_freeze_asks_for_drained_pumps(low_c: float, warned: bool) -> None:
    """From 4 °C down, our choice, no source: what stands outdoors is colder than the room's thermometer."""
    machine = {**MACHINE, "room": {"air_c": {"nominal": 10.0, "low": low_c, "high": 22.0}}}
    inputs = replace(COLD, machine=Machine.model_validate(machine))
    assert (FROST in cautions(inputs)) == warned
    assert FROST not in cautions()


@pytest.mark.parametrize(
    ("water_c", "method", "warned"),
    [(44.9, "hot_rinse", False), (45.0, "hot_rinse", True), (60.0, "none", False)],
)
def test_who_dries_hot_ware_keeps_face_and_hands_away(water_c: float, method: str, warned: bool) -> None:
    inputs = warm_inlet(water_c)
    drying = inputs.goal.drying.model_copy(update={"method": method})
    inputs = replace(inputs, goal=inputs.goal.model_copy(update={"drying": drying}))
    assert (HOT_WARE in cautions(inputs)) == warned
