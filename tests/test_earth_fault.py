"""Which device protects people from an earth fault: by the place that the circuit profile states.

30 mA: IEC 60364-4-41, socket circuits (from memory). Class A, 4 to 6 mA: UL 943 (secondary page). Behind
an inverter: Kirchhoff; a floating output gives a fault no way back, so nothing flows to trip on.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_cases import a_round, circuit, goal, machine, programme
from emit_cases import in_every_form
from plan_cases import CIRCUIT, ROWS, certificate_case, plan_case
from planner_cases import shipped

from optimizer.check.faults.dead_guards import dead_guards
from optimizer.check.faults.guard_words import BOND_TESTED
from optimizer.check.faults.run_faults import make_rig
from optimizer.profile.circuit import Circuit
from optimizer.profile.shipped import shipped_names
from optimizer.programme.cautions import cautions
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan
from optimizer.report.cautions import cautions_section
from optimizer.report.plan import plan_report

WORDS = {
    "rcd_30ma": ["30 mA RCD."],
    "gfci_class_a": ["class A GFCI", "4-6 mA", "UL 943", "a 30 mA device protects equipment, not people"],
    "inverter": ["30 mA RCD or class A GFCI", "only if the inverter's neutral is bonded to earth"],
    "none": ["30 mA RCD", "in North America a class A GFCI, UL 943", "the circuit does NOT have"],
}


def plan_behind(earth_fault: str) -> Plan:
    plan = plan_case()
    behind = Circuit.model_validate({**CIRCUIT, "earth_fault": earth_fault, "momentary_a": 26.0})
    return replace(plan, inputs=replace(plan.inputs, circuit=behind))


@pytest.mark.parametrize("earth_fault", WORDS)
def test_every_output_names_the_device_of_the_place_and_no_other(earth_fault: str) -> None:
    plan = plan_behind(earth_fault)
    texts = [plan_report(plan, certificate_case(plan.constants, *ROWS))]
    texts += in_every_form(plan).values()
    for text in texts:
        words = " ".join(text.replace("*", " ").split())
        (first, *_) = cautions(plan.inputs)
        assert first in words
        assert words.count("Mains voltage and water kill") == 1
    assert all(part in first for part in WORDS[earth_fault])


@pytest.mark.parametrize("earth_fault", WORDS)
def test_it_is_a_guard_that_is_not_optional(earth_fault: str) -> None:
    cold = programme(a_round("prerinse"), a_round("wash", spray_s=1800, detergent_dg=300))
    feed = circuit({"earth_fault": earth_fault, "momentary_a": 26.0})
    ready = make_rig(cold, machine({"element": None}), goal(), feed)
    required = ready.protection.required
    bought = required[-1].replace(" (type A or better)", "")
    assert all(part.removesuffix(".") in bought for part in WORDS[earth_fault])
    # Type AC may not trip on the pulses that electronic supplies make of a fault (IEC 60364-5-53, memory).
    assert ("30 mA RCD (type A or better)" in required[-1]) == (earth_fault != "gfci_class_a")
    assert "30 mA RCD" not in bought or required[-1] != bought
    assert required[-1].endswith("press its test button each month")
    rows = dead_guards(ready, ready.observe(ready.asked))
    (dead,) = [row for row in rows if row.key == "earth_fault.dead"]
    pressed = "test button of the RCD or GFCI pressed each month: it must trip"
    bond = (BOND_TESTED,) * (earth_fault == "inverter")
    assert (dead.severity, dead.guards) == ("latent", (pressed, *bond))
    # The button closes a circuit inside the device: it trips where nothing else would (from memory).
    assert ("as the test button does not show it" in required[-1]) == (earth_fault == "inverter")


def test_thirty_milliamperes_protect_nobody_in_north_america() -> None:
    (first, *_) = cautions(plan_behind("gfci_class_a").inputs)
    assert "30 mA RCD" not in first
    (first, *_) = cautions(plan_behind("rcd_30ma").inputs)
    assert "GFCI" not in first


def test_an_answer_about_several_places_names_each_once() -> None:
    plans = [plan_behind(earth_fault) for earth_fault in ("rcd_30ma", "gfci_class_a", "rcd_30ma")]
    text = " ".join(cautions_section(*(plan.inputs for plan in plans)).split())
    assert text.count("Mains voltage and water kill") == 2
    assert text.index("What kills") < text.index("30 mA RCD.") < text.index("class A GFCI")


def test_an_answer_about_no_place_names_both_devices() -> None:
    assert all(words in cautions()[0] for words in ("30 mA RCD", "class A GFCI", "UL 943"))


def test_shipped_circuits_say_what_their_place_has() -> None:
    found = {name: load_inputs("clubhouse", "everyday", name).circuit for name in ("shared-6a", "plug-10a")}
    found |= {name: load_inputs("narrowboat", "glasses", name).circuit for name in ("inverter-10a",)}
    assert {name: one.earth_fault for name, one in found.items()} == {
        "shared-6a": "rcd_30ma",
        "plug-10a": "rcd_30ma",
        "inverter-10a": "inverter",
    }
    for name in shipped_names("machine"):
        usual = shipped(name, "everyday").circuit
        if usual.voltage_v < 150.0:
            assert usual.earth_fault == "gfci_class_a"
    assert shipped("narrowboat", "everyday").circuit.earth_fault == "inverter"
