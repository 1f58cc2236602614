"""The reference controller runs the shipped machines on the check's two nodes; the review reads its log."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from controller_cases import SHIPPED, STEAMED, all_hooks, by_machine, program, proven
from controller_plant import Scenario, run
from controller_rig import SOURCES, needs_cc

from optimizer.check.phases import phases
from optimizer.report.review import review_report, verdict
from optimizer.report.run_remarks import ERRORS
from optimizer.review.reviewed import Reviewed, reviewed
from optimizer.review.run_log import read_run

pytestmark = needs_cc


def logged(machine: str, file: Path, monkeypatch: pytest.MonkeyPatch, scenario: Scenario) -> Reviewed:
    """Let the controller run a machine, and review what it writes."""
    plan = proven(machine).plan
    monkeypatch.setenv("WASH_LOG", str(file))
    run(plan.inputs.machine, program(machine), [scenario], plan.constants.total_max_s + 60)
    log = read_run(file, plan.inputs.machine.supply.voltage_v.nominal)
    return reviewed(plan, log, consequences=False)


@pytest.mark.parametrize(
    "machine",
    by_machine((*SHIPPED, STEAMED)),
)
def test_a_run_is_read_whole(machine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = proven(machine).plan
    hooks = all_hooks(plan.inputs.machine)
    found = logged(machine, tmp_path / "log.csv", monkeypatch, Scenario("nominal", hooks))
    assert found.done.complete
    assert found.done.again is None
    asked = [phase for phase in phases(plan.constants) if phase.name != "stand" and phase.end == "time"]
    done = {id(step.phase) for step in found.done.steps}
    assert len(found.done.steps) == len(done)
    timed = [step for step in found.done.steps if step.phase.end == "time" and not step.phase.cycles]
    assert len(timed) >= len([one for one in asked if not one.cycles]) - 1
    for step in timed:
        assert abs(step.lasted_s - step.phase.longest_s) <= 1, step
    assert [one.kind for one in found.rounds] == [row.kind for row in plan.constants.rounds]
    if plan.inputs.machine.element is None:
        assert found.doses == (), "nothing reads the bath of a machine without heat"
        return
    assert found.now is not None
    assert [one.word for one in found.now.outside] == []
    assert found.now.scatter_k < 0.4
    assert all(one.verdict != "short" for one in found.doses)
    assert "still the machine of the profile" in verdict(found)


def test_a_run_that_ended_in_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    machine = "clubhouse"
    hooks = all_hooks(proven(machine).plan.inputs.machine)
    scenario = Scenario("nominal", hooks, "sensor lost", from_s=1500)
    found = logged(machine, tmp_path / "log.csv", monkeypatch, scenario)
    assert not found.done.complete
    assert found.done.odd is None
    assert found.log.error_s - found.done.start_s == pytest.approx(1500, abs=10)
    assert "with an error (sensor lost)" in verdict(found)
    assert "sensor lost" in review_report(found)


def test_errors_have_the_controllers_words() -> None:
    """Each by its number, none missing."""
    source = (SOURCES / "wash_controller.c").read_text(encoding="utf-8")
    texts = source.split("wash_error_text(uint8_t error)")[1].split("};")[0]
    assert list(ERRORS) == re.findall(r'"([^"]+)"', texts)
