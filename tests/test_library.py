"""The library: what each function gives, and that it is what the command prints."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from profile_cases import scullion

import optimizer
from optimizer.library.results import CheckResult, PlanResult
from optimizer.library.study_results import StartsResult

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def planned() -> PlanResult:
    return optimizer.plan(optimizer.load("cold-shed", "fresh-cups"))


def test_every_public_name_is_there_and_documented() -> None:
    for name in optimizer.__all__:
        assert (getattr(optimizer, name).__doc__ or "").strip(), name
    assert set(optimizer.__all__) <= set(dir(optimizer))


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="nothing_here"):
        _ = optimizer.nothing_here


def test_import_loads_nothing_heavy() -> None:
    code = "import sys, optimizer; print(sorted({'numpy', 'pandas', 'pulp', 'scipy'} & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_bad_input_is_an_input_error_with_its_issues() -> None:
    with pytest.raises(optimizer.InputError) as caught:
        optimizer.load("no-such-machine", "no-such-goal")
    assert len(caught.value.issues) == 2
    assert all(issue.rule and issue.fix for issue in caught.value.issues)


def test_a_plan_prints_as_the_command_and_holds_its_rounds(planned: PlanResult) -> None:
    assert planned.passed
    frame = planned.frame
    assert list(frame["kind"]) == [row.kind for row in planned.plan.constants.rounds]
    assert list(frame["spray_s"]) == [row.spray_s for row in planned.plan.constants.rounds]
    assert planned.costs["water_l"] == planned.plan.costs.water_l
    assert str(planned).startswith("fresh-cups on cold-shed: proven at every point of the tolerances")
    checked = CheckResult(planned.certificate, planned.inputs)
    html = checked._repr_html_()
    assert "<table" in html
    assert html.count("<tr") == len(checked.frame) + 1


def test_a_kept_plan_is_read_and_checked_again(planned: PlanResult, tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    saved = planned.save(path)
    with pytest.raises(optimizer.InputError, match="already there") as caught:
        planned.save(path)
    assert caught.value.issues[0].fix == "give force=True to replace it, or another name"
    again = optimizer.read_plan(path)
    assert (again.plan.constants, again.passed) == (planned.plan.constants, True)
    assert str(again) == str(saved) != str(planned)


def test_check_faults_and_constants_of_a_plan(planned: PlanResult) -> None:
    checked = optimizer.check_plan(planned)
    assert checked.passed
    assert checked.frame["holds"].all()
    assert len(checked.frame) == len(checked.to_dict()["requirements"])
    faults = optimizer.single_faults(planned)
    assert "inlet.shut" in set(faults.frame["key"])
    header = optimizer.emit_constants(planned)
    assert header.startswith("/*")
    assert optimizer.emit_constants(planned, rehearsal=True) != header


def test_no_constants_of_a_plan_that_fails_its_check(planned: PlanResult) -> None:
    short = {"spray_s": 60, "spray_element_s": 0, "setpoint_dc": 0}
    rounds = tuple(replace(row, **short) for row in planned.plan.constants.rounds)
    spoilt = replace(planned.plan, constants=replace(planned.plan.constants, rounds=rounds))
    assert not optimizer.check_plan(spoilt).passed
    with pytest.raises(optimizer.CheckFailedError):
        optimizer.emit_constants(spoilt)
    with pytest.raises(optimizer.CheckFailedError):
        optimizer.cost_starts(spoilt)


def test_the_cheapest_start_is_the_least_of_the_frame(planned: PlanResult) -> None:
    from optimizer.starts.span import SpanRequest
    from optimizer.starts.when import StartRequest

    request = StartRequest(SpanRequest(first="2026-03-02T00:00", until="2026-03-03T00:00"))
    found = optimizer.cost_starts(planned, "two-rate", request)
    assert found.cheapest["cost"] == pytest.approx(found.frame["cost"].min(), rel=1e-9)
    # Where a later start is cheaper by rounding alone the earliest is taken, as the command does.
    scan = found.answer.scan
    costs = np.full(len(scan.costs), 0.27)
    costs[7] = np.nextafter(0.27, 0.0)
    rounded = StartsResult(replace(found.answer, scan=replace(scan, costs=costs)))
    assert rounded.cheapest["start_utc"] == found.frame["start_utc"][0]
    assert len(found.frame) == 24 * 4


def test_a_comparison_without_workers_gives_what_the_command_gives(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a script with no guard around its main part, where worker processes could not be started."""
    script = tmp_path / "script.py"
    script.write_text(
        "import optimizer\n"
        "frame = optimizer.compare(['cold-shed'], ['fresh-cups']).frame\n"
        "print(list(frame['status']), f\"{frame['run_money'][0]:.4f}\")\n",
        encoding="utf-8",
    )
    run = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    words = ("--machine", "cold-shed", "--goal", "fresh-cups", "--jobs", "1", "--json")
    cases = json.loads(scullion(capsys, "compare", *words).out)["cases"]
    assert run.stdout.split("]")[0] == "['planned'"
    assert float(run.stdout.split()[-1]) == pytest.approx(cases[0]["run_money"], abs=1e-4)


@pytest.mark.parametrize(
    ("call", "parameters"),
    [
        (lambda inputs, _: optimizer.frontier(inputs, points=1), ["points"]),
        (lambda inputs, _: optimizer.frontier(inputs, points=2.5), ["points"]),
        (lambda inputs, _: optimizer.frontier(inputs, ("cost", "joy"), points=0), ["between", "points"]),
        (lambda inputs, _: optimizer.frontier(inputs, ("cost", "cost")), ["between"]),
        (lambda inputs, _: optimizer.frontier(inputs, "cost"), ["between"]),
        (lambda inputs, _: optimizer.plan(inputs, solver="gurobi"), ["solver"]),
        (
            lambda inputs, _: optimizer.upgrades(inputs, runs_per_year=0, solver="x"),
            ["runs_per_year", "solver"],
        ),
        (lambda inputs, _: optimizer.plan_and_start(inputs, solver="x"), ["solver"]),
        (lambda _, plan: optimizer.emit_constants(plan, "xml"), ["form"]),
        (lambda _, plan: optimizer.check_plan(plan, draws=-1), ["draws"]),
        (lambda _, plan: optimizer.check_plan(plan, draws=True, seed=-1), ["draws", "seed"]),
        (lambda _, plan: optimizer.explain(plan, solver="x"), ["solver"]),
        (lambda *_: optimizer.read_plan("no-such-file", draws=-1), ["draws"]),
        (lambda *_: optimizer.compare("mine.toml", "supper.toml"), ["machines", "goals"]),
        (lambda *_: optimizer.compare([], ["glasses"]), ["machines"]),
        (lambda *_: optimizer.compare(None, [1], "x", jobs=-1), ["machines", "goals", "circuits", "jobs"]),
    ],
)
def test_an_argument_that_cannot_be_is_refused_by_its_name(
    planned: PlanResult, call: Callable[[Any, Any], object], parameters: list[str]
) -> None:
    """The issues name the parameter, the rule, what was found and a fix."""
    with pytest.raises(optimizer.InputError) as caught:
        call(planned.inputs, planned)
    assert [issue.subject for issue in caught.value.issues] == parameters
    assert all(issue.rule and issue.found and issue.fix for issue in caught.value.issues)


def test_the_least_arguments_are_taken(planned: PlanResult) -> None:
    """One step inside each limit."""
    assert len(optimizer.frontier(planned.inputs, points=2).plans) <= 3
    assert optimizer.check_plan(planned, draws=0, seed=0).certificate.draws == 0
