"""When the lid may be opened: one truth in goal, constants, check and words. No source for the times."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from plan_cases import GOAL, ROWS, certificate_case, plan_case
from planner_cases import proven, shipped

from optimizer.check.table_rows import table_rows
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.emit.limits import limits
from optimizer.emit.read import read_constants
from optimizer.profile.goal import Goal
from optimizer.profile.shipped import folder_of, shipped_names
from optimizer.profile.starting_text import starting_text
from optimizer.programme.cautions import STEAM, cautions
from optimizer.programme.lid import SHUT_S
from optimizer.programme.plan import Plan
from optimizer.report.certificate import certificate_report
from optimizer.report.plan import plan_report

LID_S = {"none": 0, "hot_rinse": 120, "steam": 300}


def plan_dried(method: str) -> Plan:
    plan = plan_case(lid_open_after_s=LID_S[method])
    drying = {"method": method} if method == "none" else {"method": method, "stand_min": 20.0}
    aim = Goal.model_validate({**GOAL, "drying": drying})
    return replace(plan, inputs=replace(plan.inputs, goal=aim))


def lid_rows(method: str, lid_s: int, stand_s: int = 1200) -> dict[str, bool]:
    plan = plan_dried(method)
    table = replace(plan.constants, lid_open_after_s=lid_s, stand_s=stand_s)
    found = table_rows(table, plan.inputs.machine, plan.inputs.goal)
    return {row.key: row.passed for row in found if row.key.startswith("lid.")}


@pytest.mark.parametrize("method", LID_S)
def test_its_limits_one_step_past_each_in_both_directions(method: str) -> None:
    least_s = LID_S[method]
    most_s = 1200 if least_s else 0
    assert all(lid_rows(method, least_s).values())
    assert all(lid_rows(method, most_s).values())
    if least_s:
        assert lid_rows(method, least_s - 1) == {"lid.shut_s": False, "lid.ajar_s": True}
    assert lid_rows(method, most_s + 1) == {"lid.shut_s": True, "lid.ajar_s": False}
    assert limits(plan_dried(method)).range_of("lid_open_after_s") == (least_s, most_s)
    assert SHUT_S == LID_S


def test_a_standing_shorter_than_the_lid_is_shut_keeps_it_shut() -> None:
    assert all(lid_rows("steam", 300, stand_s=60).values())
    assert lid_rows("steam", 301, stand_s=60)["lid.ajar_s"] is False


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("method", LID_S)
def test_every_form_carries_it_and_steam_is_called_experimental(form: str, method: str) -> None:
    plan = plan_dried(method)
    text = FORMS[form].text(plan)
    assert read_constants(text, "file").lid_open_after_s == LID_S[method]
    words = " ".join(text.replace("*", " ").split())
    assert words.count(STEAM) == (method == "steam")
    assert "experimental" in STEAM
    assert "WASH_LID_OPEN_AFTER_S" in STEAM


def test_the_plan_says_shut_then_ajar() -> None:
    plan = plan_dried("steam")
    text = plan_report(plan, certificate_case(plan.constants, *ROWS))
    assert "shut until 5:00 after the last drain, then ajar" in " ".join(text.split())
    undried = plan_report(plan_dried("none"), certificate_case(plan.constants, *ROWS)).split("CAUTIONS")[0]
    assert "ajar" not in undried
    assert "shut until" not in undried


def test_a_verdict_of_steam_is_experimental() -> None:
    for method in LID_S:
        plan = plan_dried(method)
        certificate = certificate_case(plan.constants, *ROWS)
        for text in (plan_report(plan, certificate), certificate_report(certificate, plan.inputs)):
            assert text.startswith("EXPERIMENTAL: ") == (method == "steam")


def test_a_bench_run_has_none() -> None:
    assert bench_run(plan_dried("steam")).constants.lid_open_after_s == 0
    assert json.loads(FORMS["json"].text(bench_run(plan_dried("steam"))))["lid_open_after_s"] == 0


@pytest.mark.parametrize(
    ("machine", "aim"),
    [("clubhouse", "everyday"), pytest.param("garage-120v", "nursery", marks=pytest.mark.slow)],
)
def test_the_planner_sets_it_by_the_way_of_drying(machine: str, aim: str) -> None:
    method = shipped(machine, aim).goal.drying.method
    assert proven(machine, aim).plan.constants.lid_open_after_s == LID_S[method]


def test_no_profile_says_another_thing_of_the_lid() -> None:
    """It is shut first and then ajar, for as many minutes as the constants say."""
    for name in shipped_names("goal"):
        text = " ".join(
            (folder_of("goal") / f"{name}.toml").read_text(encoding="utf-8").replace("#", " ").split()
        )
        aim = shipped("garage-120v", name).goal
        if aim.drying.method != "none":
            assert f"lid shut for the first {LID_S[aim.drying.method] // 60} minutes, then ajar" in text
        assert "standing with the lid ajar" not in text
        assert ("xperimental" in text) == (aim.drying.method == "steam")
    assert "lid shut for the first 2 of them (5" in starting_text("goal")


def test_without_drying_nothing_is_judged() -> None:
    assert lid_rows("none", 0) == {}
    assert STEAM not in cautions(plan_dried("hot_rinse").inputs)
