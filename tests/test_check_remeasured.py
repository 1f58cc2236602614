"""A kept plan held against profiles that have changed since: `check plan.json --machine remeasured.toml`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from calling import Shown
from planner_cases import proven
from profile_cases import shipped_text

from optimizer.emit.forms import FORMS
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan

FAST = ["--draws", "0"]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("cold-shed", "fresh-cups").plan


@pytest.fixture
def remeasured(tmp_path: Path, plan: Plan) -> Path:
    """The machine of the plan, whose inlet lets a tenth less in than it did."""
    flow = plan.inputs.machine.inlet.flow_l_per_min
    text = shipped_text("machine", "cold-shed")
    (line,) = [
        line
        for line in text.splitlines()
        if line.startswith("flow_l_per_min") and f"{flow.nominal:g}" in line
    ]
    low, nominal, high = (0.9 * value for value in (flow.low, flow.nominal, flow.high))
    slower = f"flow_l_per_min = {{ nominal = {nominal:.4g}, low = {low:.4g}, high = {high:.4g} }}"
    path = tmp_path / "remeasured.toml"
    path.write_text(text.replace(line, slower, 1), encoding="utf-8")
    return path


def failed(content: dict[str, Any]) -> set[str]:
    return {row["key"] for row in content["requirements"] if not row["holds"]}


def test_a_plan_is_held_against_the_machine_as_it_is_now(
    plan_path: Path, remeasured: Path, shown: Shown
) -> None:
    assert shown("check", plan_path, *FAST)[0] == 0
    code, out, _ = shown("check", plan_path, "--machine", remeasured, *FAST)
    assert code == 5
    words = " ".join(out.split())
    assert words.startswith(
        f"Checked against the machine {remeasured}, in place of cold-shed, which the plan"
    )
    assert "NOT MET" in words


def test_the_verdict_is_that_of_its_constants_on_that_machine(
    plan: Plan, plan_path: Path, remeasured: Path, tmp_path: Path, shown: Shown
) -> None:
    """Two ways to the same check: a plan with the machine exchanged, and constants with profiles named."""
    constants = tmp_path / "wash_timing.csv"
    constants.write_text(FORMS["csv"].text(plan), encoding="utf-8")
    _, of_plan, _ = shown("check", plan_path, "--machine", remeasured, *FAST, "--json")
    named = ("--machine", remeasured, "--goal", "fresh-cups", "--circuit", plan.inputs.names[2])
    _, of_file, _ = shown("check", constants, *named, *FAST, "--json")
    exchanged, given = json.loads(of_plan), json.loads(of_file)
    assert exchanged["requirements"] == given["requirements"]
    # A tenth less water: the pump sucks air before the sump is full enough.
    assert "cover.suction_l" in failed(exchanged)
    assert exchanged["replaced"] == {"machine": {"plan": "cold-shed", "check": str(remeasured)}}
    assert (exchanged["warnings"], given["replaced"]) == ([], {})
    assert "made from other profiles" in given["warnings"][0]


def test_goal_and_circuit_are_exchanged_and_a_tariff_changes_nothing(
    plan: Plan, plan_path: Path, tmp_path: Path, shown: Shown
) -> None:
    _, out, _ = shown("check", plan_path, *FAST, "--json")
    requirements = json.loads(out)["requirements"]
    code, out, _ = shown("check", plan_path, "--goal", "everyday", *FAST, "--json")
    content = json.loads(out)
    assert code == (5 if failed(content) else 0)
    assert {row["key"] for row in content["requirements"]} != {row["key"] for row in requirements}
    assert content["replaced"]["goal"] == {"plan": "fresh-cups", "check": "everyday"}
    other = "plug-10a" if plan.inputs.names[2] != "plug-10a" else "plug-13a-fused"
    _, out, _ = shown("check", plan_path, "--circuit", other, *FAST, "--json")
    limits = [
        {row["key"]: row["limit"] for row in rows}["circuit.running_a"]
        for rows in (requirements, json.loads(out)["requirements"])
    ]
    assert limits[1] == pytest.approx(load_inputs("cold-shed", "fresh-cups", other).circuit.available_a)
    assert limits[0] != limits[1]
    code, out, _ = shown("check", plan_path, "--tariff", "half-hourly", *FAST, "--json")
    assert (code, json.loads(out)["requirements"]) == (0, requirements)


def test_faults_are_run_on_the_machine_as_it_is_now(plan_path: Path, remeasured: Path, shown: Shown) -> None:
    levels = []
    for words in ((), ("--machine", remeasured)):
        _, out, _ = shown("check", plan_path, *words, *FAST, "--faults", "--json")
        levels.append(json.loads(out)["single_faults"]["sound"]["level_l"])
    assert levels[1] < levels[0]


def test_issues_of_all_named_files_come_together(plan_path: Path, tmp_path: Path, shown: Shown) -> None:
    code, out, err = shown("check", plan_path, "--machine", tmp_path / "gone.toml", "--goal", "no-such-goal")
    assert (code, out) == (3, "")
    assert "gone.toml" in err.replace("\n", "")
    assert "no-such-goal" in err


def test_a_machine_on_another_mains_is_refused(plan_path: Path, shown: Shown) -> None:
    """Its circuit stays that of the plan, and that has another voltage."""
    code, out, err = shown("check", plan_path, "--machine", "garage-120v", *FAST)
    assert (code, out) == (3, "")
    assert "supply.voltage_v" in err
