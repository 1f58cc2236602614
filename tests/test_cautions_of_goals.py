"""Cautions that hang on what is asked and proven: steps, hot baths, detergent, hygiene, little ware."""

from __future__ import annotations

from dataclasses import replace

import pytest
from emit_cases import in_every_form
from plan_cases import GOAL, MACHINE, ROWS, certificate_case, cold_plan, plan_case

from optimizer.check.certificate import Told
from optimizer.check.certified import proof_cautions
from optimizer.check.dosing_moment import dosed_sprays
from optimizer.emit.forms import FORMS
from optimizer.library.results import CheckResult
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import (
    BY_HAND,
    HYGIENE,
    NO_DETERGENT,
    RINSED,
    SIEVE,
    TIMED,
    WhenDosed,
    cautions,
)
from optimizer.programme.plan import Plan
from optimizer.report.certificate import bench_report, bench_to_dict, certificate_report
from optimizer.report.plan import plan_report, plan_to_dict


def risen(step_k: float, *keys: str, bath_c: float = 60.0) -> list[str]:
    """What a proof says whose bath is so far over the ware as a spray begins, and so hot."""
    certificate = certificate_case(plan_case().constants, *ROWS)
    rows = [replace(row, worst=bath_c) if row.key == "tank.bath_c" else row for row in ROWS]
    rows += [replace(ROWS[1], key=key) for key in keys]
    told = () if keys else (Told("ware.rise_k", "bath over the ware", "K", "at most", 0.0, step_k),)
    return proof_cautions(replace(certificate, rows=tuple(rows), told=told))


def test_a_step_that_nothing_limits_is_told_of() -> None:
    assert risen(40.0) == risen(60.9, "ware.rise_k") == []
    for step_k, words in ((40.1, "up to 41 K"), (60.9, "up to 61 K"), (float("inf"), "over 40 K")):
        (said,) = risen(step_k)
        assert said.startswith("No glass or porcelain in this programme: as a spray begins the bath may be ")
        assert f"{words} over the ware" in said
    assert "nothing limits it" in said


def test_a_hot_bath_says_what_ware_has_to_stand() -> None:
    assert risen(0.0, bath_c=60.0) == []
    (said,) = risen(0.0, bath_c=60.2)
    assert said.startswith("Ware has to stand 61 °C: thin and PET plastics soften")


def undosed() -> Plan:
    plan = plan_case()
    goal = Goal.model_validate({**GOAL, "detergent": None})
    return replace(plan, inputs=replace(plan.inputs, goal=goal))


def test_without_detergent_it_is_said_to_be_rinsed_in_verdict_and_cautions() -> None:
    """Cold water and a spray take off what is fresh; shared dishes want heat and detergent (no source)."""
    for plan, times in ((undosed(), 2), (plan_case(), 0)):
        certificate = certificate_case(plan.constants, *ROWS)
        for text in (plan_report(plan, certificate), certificate_report(certificate, plan.inputs)):
            assert " ".join(text.split()).count(RINSED) == times
            assert (RINSED in " ".join(text.split("\n\n")[0].split())) == bool(times)
        for text in in_every_form(plan).values():
            assert (RINSED in " ".join(text.replace(" * ", " ").split())) == bool(times)
        assert (RINSED in plan_to_dict(plan, certificate)["cautions"]) == bool(times)


@pytest.mark.parametrize(
    ("dissolving_min", "left"),
    [(2.5, None), (2.4, "at 0:30 has 1.9 min of them left"), (0.5, "no time to dissolve")],
)
def test_who_doses_by_hand_is_told_of_a_goal_that_counts_no_time_for_it(
    dissolving_min: float, left: str | None
) -> None:
    """The usual value counts half a minute to put it in; below it the hand's half minute is missing."""
    plan = plan_case()
    detergent = plan.inputs.goal.detergent
    assert detergent is not None
    own = detergent.model_copy(update={"dissolving_min": dissolving_min})
    goal = plan.inputs.goal.model_copy(update={"detergent": own})
    inputs = replace(plan.inputs, goal=goal)
    said = [one for one in cautions(inputs) if "put it in as the pump starts, not half a minute later" in one]
    assert len(said) == (left is not None)
    assert all(left and left in one and "NOT in the proof" in one for one in said)
    for form in FORMS.values():
        text = " ".join(form.text(replace(plan, inputs=inputs)).replace(" * ", " ").split())
        assert ("not half a minute later" in text) == bool(said)


def test_a_check_prints_the_cautions_of_the_plan() -> None:
    """Whoever checks a file is about to run it: as many as `plan` prints, on paper and as data."""
    for plan in (plan_case(), undosed(), hygienic_plan("a0")):
        certificate = certificate_case(plan.constants, *ROWS)
        if plan.inputs.goal.detergent:
            certificate = replace(certificate, dosed=dosed_sprays(plan.constants, plan.inputs.machine))
        planned, result = plan_report(plan, certificate), CheckResult(certificate, plan.inputs)
        assert str(result).split("CAUTIONS")[1] == planned.split("CAUTIONS")[1]
        assert result.to_dict()["cautions"] == plan_to_dict(plan, certificate)["cautions"]
    bench = bench_report([], 60, plan_case().inputs)
    said = cautions(plan_case().inputs, dosing=WhenDosed((NO_DETERGENT,), by_hand=False))
    assert BY_HAND not in said
    assert all(one in " ".join(bench.split()) for one in said)
    assert bench_to_dict([], 60, plan_case().inputs)["cautions"] == list(said)


def hygienic_plan(method: str) -> Plan:
    hygiene = {"method": method} if method == "none" else {"method": method, "target_s": 60.0}
    goal = Goal.model_validate({**GOAL, "hygiene": hygiene})
    plan = plan_case()
    return replace(plan, inputs=replace(plan.inputs, goal=goal))


@pytest.mark.parametrize(("method", "times"), [("none", 0), ("a0", 1), ("hue", 1)])
def test_a_goal_with_hygiene_says_that_its_value_is_calculated(method: str, times: int) -> None:
    plan = hygienic_plan(method)
    rows = (*ROWS, replace(ROWS[0], key=f"hygiene.{method}")) if times else ROWS
    certificate = certificate_case(plan.constants, *rows)
    texts = [plan_report(plan, certificate), certificate_report(certificate, plan.inputs)]
    texts += in_every_form(plan).values()
    for text in texts:
        words = " ".join(text.replace("*", " ").split())
        assert words.count(HYGIENE) == words.count(SIEVE) == times
    assert plan_to_dict(plan, certificate)["cautions"].count(HYGIENE) == times
    assert all(words in SIEVE for words in ("newborn", "ill", "clean sieve"))


@pytest.mark.parametrize("form", FORMS)
def test_a_goal_with_hygiene_changes_the_constants_by_that_sentence_only(form: str) -> None:
    texts = [FORMS[form].text(hygienic_plan(method)) for method in ("none", "a0")]
    words = [" ".join(text.replace("*", " ").split()) for text in texts]
    assert len(words[1]) - len(words[0]) < len(HYGIENE) + len(SIEVE) + 60
    assert HYGIENE in words[1]


@pytest.mark.parametrize("control", ["timed", "thermostat"])
def test_little_ware_makes_a_bath_hotter_where_time_ends_the_heating(control: str) -> None:
    element = MACHINE["element"] | {"control": control, "sensor_error_k": 1.0}
    machine = Machine.model_validate(MACHINE | {"element": element})
    inputs = replace(cold_plan().inputs, machine=machine)
    (said,) = (one for one in cautions(inputs) if one.startswith("Run it with all"))
    assert (TIMED in said) == (control == "timed")
    assert "ware may meet larger steps" in said
