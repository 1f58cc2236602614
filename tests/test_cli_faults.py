"""`check --faults` as a person or a script calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from calling import call
from plan_cases import HOT_RINSE, PRERINSE, RINSE, WASH, plan_case, with_own_figures
from planner_cases import proven

from optimizer.emit.bench_run import bench_run
from optimizer.emit.json_form import JSON
from optimizer.programme.planfile import plan_to_json


@pytest.fixture
def plan_path(tmp_path: Path) -> Path:
    path = tmp_path / "plan.json"
    plan = with_own_figures(plan_case(PRERINSE, WASH, RINSE, HOT_RINSE))
    path.write_text(plan_to_json(plan), encoding="utf-8")
    return path


def test_the_faults_follow_the_certificate(plan_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    plain = call("check", plan_path, "--draws", "0")
    certificate = capfd.readouterr().out
    assert call("check", plan_path, "--draws", "0", "--faults") == plain
    text = capfd.readouterr().out
    assert text.startswith(certificate.rstrip("\n"))
    assert "\n\nSINGLE FAULTS" in text
    assert "DANGER  inlet stays shut" in text
    assert "NOT OPTIONAL, whatever the constants: float switch in series with the element" in text
    assert max(map(len, text.splitlines())) <= 80


def test_json_has_them_only_if_asked(plan_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    call("check", plan_path, "--draws", "0", "--json")
    assert "single_faults" not in json.loads(capfd.readouterr().out)
    call("check", plan_path, "--draws", "0", "--faults", "--json")
    found = json.loads(capfd.readouterr().out)["single_faults"]
    assert found["not_optional"][0].startswith("float switch in series with the element")
    shut = found["faults"][0]
    assert (shut["key"], shut["severity"]) == ("inlet.shut", "danger")
    # Without water the element is dry for as long as it is on, in the wash and in the hot rinse.
    assert shut["uncovered_s"] == pytest.approx((1500 + 480) + (1320 + 120))


def test_a_bench_run_has_no_faults_to_run(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bench.json"
    path.write_text(JSON.text(bench_run(proven("clubhouse", "everyday").plan)), encoding="utf-8")
    profiles = ("--machine", "clubhouse", "--goal", "everyday")
    assert call("check", path, *profiles, "--faults") == 2
    shown = capfd.readouterr()
    assert shown.out == ""
    assert "--faults" in shown.err
    assert "bench run" in shown.err
