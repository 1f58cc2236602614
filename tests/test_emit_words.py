"""Words in the forms: plain signs for any compiler, and no more promised than the limits allow."""

from __future__ import annotations

from dataclasses import replace

import pytest
from emit_cases import in_every_form
from plan_cases import MACHINE, plan_case

from optimizer.check.faults.guards import Protection
from optimizer.emit.limits import limits
from optimizer.emit.opening import several_cautions, several_opening
from optimizer.emit.sheet import Sheet
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Certified, Plan


def guarded() -> Plan:
    """A plan for a tank of polyethylene whose guards have every sign that is not ASCII."""
    machine = Machine.model_validate({**MACHINE, "tank": {**MACHINE["tank"], "material": "HDPE"}})
    plan = plan_case(machine=machine)
    said = ("Ware has to stand 65 °C.",)
    return replace(plan, certified=Certified(bath_c=65.0, covering_l=7.6, cautions=said))


def test_guards_and_cautions_are_plain_in_every_form() -> None:
    plan = guarded()
    inputs = plan.inputs
    asked = " ".join(Protection.of(plan.constants, inputs.machine, inputs.circuit, plan.certified).required)
    assert {"°", "±", "²"} == {sign for sign in asked if not sign.isascii()}
    both = {"one": plan, "two": plan}
    several = "\n".join((*several_opening(both), *several_cautions(both)))
    for text in (several, *in_every_form(plan).values()):
        words = " ".join(text.replace("\n *  ", " ").split())
        assert text.isascii()
        assert "\\u" not in text
        assert "+-1 K" in words
        assert "W/cm2 or less" in words
        assert "Ware has to stand 65 C." in words


@pytest.mark.parametrize("place", [1, 2])
def test_another_fill_asks_for_what_its_comment_says(place: int) -> None:
    """By the limits themselves: half as much water again, as written and with the element longer too."""
    plan = plan_case()
    found = limits(plan)
    fill, drain, heat, dose = (
        f"round_{place}_{name}" for name in ("fill_s", "drain_s", "heat_s", "detergent_dg")
    )
    comment = Sheet.of_plan(plan).notes[fill].comment
    others = (fill, drain, heat, dose, f"round_{place}_spray_element_s", f"round_{place}_top_up_s")
    own = [one for one in found.relations if one.names <= set(others)]
    more = {name: found.values[name] * 3 // 2 for name in (fill, drain)}
    # A little more than in proportion: whole numbers round to the safe side.
    more[dose] = found.values[dose] * 16 // 10
    larger = {**found.values, **more}
    assert all(one.holds(larger) for one in own)
    assert not all(one.holds({**larger, drain: found.values[drain]}) for one in own)
    assert "more water may ask for longer drain" in comment
    if place == 2:
        assert "and more detergent, gets no more element; less water for less element" in comment
        assert not all(one.holds({**larger, dose: found.values[dose]}) for one in own)
        assert not all(one.holds({**larger, heat: found.values[heat] + 1}) for one in own)
    else:
        assert "element" not in comment
        assert "more detergent" not in comment
