"""What a file says of machine and circuit, one step past its limit, is refused in every form alike.

A controller takes these numbers from the file and has none of its own (`test_controller_beside.py`). A plan
file holds none, so that there is nothing in it to edit. Limits are found by bisection with the check itself.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from calling import call
from controller_cases import by_machine, proven
from emit_cases import in_every_form
from every_number import with_value
from exploring import few_of
from plan_cases import MACHINE, plan_case

from optimizer.check.controller_numbers import controller_numbers
from optimizer.check.drain_wait import WAIT_MOST_S
from optimizer.emit.bench_run import bench_run
from optimizer.emit.fact_issues import fact_issues
from optimizer.emit.forms import FORMS
from optimizer.emit.meanings import FACTS, FLAGS
from optimizer.emit.read_several import facts_in, read_programmes
from optimizer.emit.several import Several
from optimizer.errors import InputError
from optimizer.profile.machine import Machine
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan

NAMES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
MACHINES = by_machine(NAMES)
GOALS = {"cold-shed": "fresh-cups"}
PRINTED = re.compile(r"; \d+(?:, allowed \d+ to \d+| and nothing else)")
JUDGED_BY = {
    # By name: what is said of what is too little, and of what is too much; "" where nothing is.
    "element_rest_s": ("not what was measured", "more than 16 bits"),
    "element_ma": ("not what was measured", "more than the circuit leaves"),
    "pump_ma": ("not what was measured", "more than the circuit leaves"),
    "drain_ma": ("not what was measured", "more than the circuit leaves"),
    "circuit_ma": ("more than the circuit leaves", "not what was measured"),
    "drain_wait_s": ("the drain pipe does not stand", "overrun a controller's clock"),
    "drain_max_dc": ("", "the drain pipe does not stand"),
    "drain_stop_dc": ("a sound run would be stopped", "plus what the sensor may err"),
    "fill_is_cold": ("", "the inlet scalds"),
    "sensor_moves_s": ("a sound sensor would count as stuck", "a sensor that is stuck would not be found"),
}  # fmt: skip


@cache
def texts_of(machine: str, several: bool) -> dict[str, str]:
    """The plan's file in every form, by itself or beside its rehearsal."""
    plan = proven(machine).plan
    if not several:
        return in_every_form(plan)
    both = Several.of_plans({"only": plan, "rehearsal": bench_run(plan)})
    return {form: FORMS[form].write_several(both) for form in FORMS}


def refused(plan: Plan, text: str, form: str) -> list[str]:
    """What is wrong with a file: as it is read, or with what it says of the machine."""
    try:
        tables = list(read_programmes(text, "file").values())
        issues = fact_issues(facts_in(text, "file"), tables, plan.inputs, "file", form)
    except InputError as error:
        issues = list(error.issues)
    assert all(issue.fix for issue in issues)
    return [f"{issue.key}: {issue.rule}" for issue in issues]


def without_ranges(text: str, name: str) -> str:
    """Take away the range that a file prints beside a number, which its reader goes by."""
    return re.sub(rf"^({name},[^,]*,\d+),\d+,\d+,", r"\1,,,", PRINTED.sub("", text), flags=re.M)


@cache
def facts_of(machine: str) -> dict[str, int]:
    """What the plan's file says of a machine."""
    return facts_in(texts_of(machine, False)["json"], "file")


def last(machine: str, name: str, step: int) -> int:
    """The last value that passes, going down (step -1) or up (1); 0 or 2^32 - 1 where all of them do."""
    plan, values = proven(machine).plan, facts_of(machine)

    def passes(value: int) -> bool:
        return not fact_issues({**values, name: value}, [plan.constants], plan.inputs, "file", "json")

    good, bad = values[name], -1 if step < 0 else 2**32
    assert passes(good)
    while abs(bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if passes(middle) else (good, middle)
    return good


@pytest.mark.parametrize(
    ("machine", "several"),
    [
        *(pytest.param(*one.values, False, marks=one.marks) for one in MACHINES),
        # How several are written does not go by the machine.
        *(pytest.param(name, True, marks=pytest.mark.slow) for name in few_of(NAMES, ["narrowboat"])),
    ],
)
def test_one_step_past_its_limit_every_form_is_refused(machine: str, several: bool) -> None:
    plan = proven(machine).plan
    assert JUDGED_BY.keys() == set(FACTS)
    for name in FACTS:
        for step, why in zip((-1, 1), JUDGED_BY[name], strict=True):
            limit = last(machine, name, step)
            assert why or (step < 0 and limit == 0), (name, limit)
            for form, text in texts_of(machine, several).items():
                at_limit = with_value(form, text, name, limit)
                assert refused(plan, without_ranges(at_limit, name), form) == [], (form, name, limit)
                if limit + step < 0 or (name in FLAGS and limit + step > 1):
                    continue  # no form can say it
                past = with_value(form, text, name, limit + step)
                shown = FORMS[form].shown(name)
                for edited in (past, without_ranges(past, name)):
                    found = refused(plan, edited, form)
                    assert any(shown in issue for issue in found), (form, name, limit, found)
                assert any(why in issue for issue in found), (form, name, limit, found)


@pytest.mark.parametrize("form", FORMS)
def test_a_feed_that_scalds_is_not_edited_into_a_cold_one(form: str) -> None:
    """50 °C: hot water scalds from 45 °C on (our caution's limit)."""
    inlet = {**MACHINE["inlet"], "water_c": {"nominal": 48.0, "low": 46.0, "high": 50.0}}
    plan = plan_case(machine=Machine.model_validate(MACHINE | {"inlet": inlet}))
    text = FORMS[form].text(plan)
    assert facts_in(text, "file")["fill_is_cold"] == 0
    edited = with_value(form, text, "fill_is_cold", 1)
    found = refused(plan, without_ranges(edited, "fill_is_cold"), form)
    assert any("the inlet scalds" in issue for issue in found), found


@pytest.mark.parametrize("machine", MACHINES)
def test_where_the_limits_are(machine: str) -> None:
    """At what the machine asks for: other tests hold that against tanks that cool and sensors that stand."""
    plan = proven(machine).plan
    known = controller_numbers(plan.inputs.machine, [plan.constants])
    for name, ends in {
        "drain_wait_s": (known.drain_wait_s, WAIT_MOST_S),
        "drain_max_dc": (0, known.drain_max_dc),
        "drain_stop_dc": (known.drain_stop_dc, known.drain_stop_dc),
        "fill_is_cold": (0, known.fill_is_cold),
        "sensor_moves_s": (known.moves_least_s, known.sensor_moves_s),
    }.items():
        assert (last(machine, name, -1), last(machine, name, 1)) == ends, name


@pytest.mark.parametrize("form", FORMS)
def test_the_command_refuses_a_wait_that_is_too_short(
    form: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    plan = proven("clubhouse").plan
    wait_s = facts_in(FORMS[form].text(plan), "file")["drain_wait_s"]
    path = tmp_path / "edited"
    text = with_value(form, FORMS[form].text(plan), "drain_wait_s", wait_s - 1)
    path.write_text(without_ranges(text, "drain_wait_s"), encoding="utf-8")
    assert call("check", path, "--machine", "clubhouse", "--goal", "everyday") == 3
    said = " ".join(capfd.readouterr().err.split())
    assert f"{FORMS[form].shown('drain_wait_s')} rule must be at least {wait_s}" in said


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("several", [False, True])
def test_a_file_of_an_older_version_has_one_error_with_a_fix(
    form: str, several: bool, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """One that was written before these numbers stood in it: it had format 3, or 4 for several programmes."""
    text = texts_of("clubhouse", several)[form]
    for name in FACTS[5:]:
        shown = FORMS[form].shown(name)
        text, count = re.subn(rf'^.*[\s"]?\b{shown}"?[ ,:].*\n', "", text, flags=re.M)
        assert count >= 1, name
    text = with_value(form, text, "format", 4 if several else 3)
    path = tmp_path / "old"
    path.write_text(text, encoding="utf-8")
    assert call("check", path, "--machine", "clubhouse", "--goal", "everyday") == 3
    said = capfd.readouterr().err
    assert "Traceback" not in said
    words = " ".join(said.split())
    assert "1 issue" in words
    reads, held = (6, 4) if several else (5, 3)
    assert f"this version reads constants of format {reads} found {held}" in words
    assert "write it from its plan with scullion constants, and its controller with it" in words


def test_a_file_for_another_kind_of_machine_is_left_to_the_check() -> None:
    """Its programme does not fit: nothing is worked out of it, and the check names what does not."""
    timed = proven("clubhouse").plan
    held = replace(timed, inputs=load_inputs("garage-120v", "everyday"))
    assert held.inputs.machine.element is not None
    assert held.inputs.machine.element.control != timed.constants.control
    assert refused(held, FORMS["json"].text(timed), "json") == []
