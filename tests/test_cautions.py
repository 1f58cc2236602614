"""No caution about what is not there, and none left out about what is."""

from __future__ import annotations

import json

import pytest
from plan_cases import MACHINE, cold_plan, machine_profile, plan_case

from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import cautions

COLD = cold_plan().inputs.machine


def warm_inlet(water_c: float) -> Machine:
    bare = {key: value for key, value in MACHINE.items() if key != "element"}
    return Machine.model_validate(bare | {"inlet": {**MACHINE["inlet"], "water_c": water_c}})


def test_a_machine_with_an_element_gets_every_caution() -> None:
    assert cautions(machine_profile()) == cautions() == cautions(COLD, machine_profile())
    assert len(cautions()) == 5


def test_a_machine_without_an_element_gets_none_about_one() -> None:
    assert cautions(COLD) == tuple(one for one in cautions() if not one.startswith(("The element", "Hot")))


@pytest.mark.parametrize(("water_c", "warned"), [(44.9, False), (45.0, True), (60.0, True)])
def test_water_that_comes_hot_scalds_without_an_element(water_c: float, warned: bool) -> None:
    assert any("scald" in caution for caution in cautions(warm_inlet(water_c))) == warned


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
        found = [caution for caution in cautions() if " ".join(caution.split()) in words]
        assert found == list(cautions(plan.inputs.machine))
    assert json.loads(FORMS["json"].text(cold_plan()))["cautions"] == list(cautions(COLD))
