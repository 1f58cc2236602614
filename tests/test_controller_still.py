"""A weak element in much water: the controller does not take its slow sensor for a dead one."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from check_cases import sample_cases
from controller_cases import all_hooks
from controller_plant import Run, Scenario, run
from controller_rig import Error, State, compiled
from plan_cases import MACHINE, plan_case
from planner_cases import proven, shipped

from optimizer.check.sensor_meter import longest_still_s
from optimizer.emit.forms import MOVES_K, MOVES_LINE, MOVES_S, controller_files
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.profile.machine import Machine

WATTS = {"nominal": 170.0, "low": 165.0, "high": 175.0}
SLOW = {"machine__element__rated_w": WATTS, "goal__limits__duration_min": 480.0}


@pytest.fixture(scope="module")
def slow() -> Proven:
    return plan_and_prove(shipped("narrowboat", "roasting-tins", **SLOW))


def runs(found: Proven, folder: Path, files: dict[str, str], *, to_error: bool = False) -> Run:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    machine = found.plan.inputs.machine
    program = compiled(folder, source=folder / "wash_controller.c")
    scenarios = [
        Scenario(f"corner {n}", all_hooks(machine), case=n)
        for n in range(0, sample_cases(machine).corners, 5)
    ]
    return run(machine, program, scenarios, found.plan.constants.total_max_s + 60, to_error=to_error)


@pytest.mark.slow
def test_a_proven_programme_runs_to_its_end_however_slowly_it_warms(slow: Proven, tmp_path: Path) -> None:
    assert longest_still_s(slow.plan.constants, slow.plan.inputs.machine, MOVES_K) > MOVES_S
    ended = runs(slow, tmp_path, controller_files(slow.plan))
    assert not ended.error.any()
    assert (ended.state[-1] == State.IDLE).all()


@pytest.mark.slow
def test_ten_minutes_would_have_stopped_it(slow: Proven, tmp_path: Path) -> None:
    files = controller_files(slow.plan)
    (line,) = [
        one
        for one in files["wash_controller.c"].splitlines()
        if one.startswith("#define WASH_SENSOR_MOVES_S ")
    ]
    assert not line.startswith(MOVES_LINE)
    files["wash_controller.c"] = files["wash_controller.c"].replace(line, MOVES_LINE)
    assert (runs(slow, tmp_path, files, to_error=True).error == Error.SENSOR_STUCK).any()


@pytest.mark.parametrize(("rated_w", "longer"), [(900.0, False), (120.0, True)])
def test_a_weak_element_is_given_the_longest_time_and_a_quarter_more(rated_w: float, longer: bool) -> None:
    machine = Machine.model_validate(MACHINE | {"element": {**MACHINE["element"], "rated_w": rated_w}})
    plan = plan_case(machine=machine)
    still_s = longest_still_s(plan.constants, machine, MOVES_K)
    assert (1.25 * still_s > MOVES_S == 600) == longer
    given_s = max(600, math.ceil(1.25 * still_s))
    assert f"#define WASH_SENSOR_MOVES_S {given_s}U " in controller_files(plan)["wash_controller.c"]


def test_a_usual_machine_keeps_the_usual_ten_minutes() -> None:
    files = controller_files(proven("clubhouse", "everyday").plan)
    assert f"{MOVES_LINE} " in files["wash_controller.c"]


def test_how_long_a_sensor_stands_still_by_hand() -> None:
    """1 K of m·c + C at more than full power and without a loss: no sound sensor is faster, and none of this
    machine's ten times slower. Specific heat of water 4.18 kJ/(kg K), handbook."""
    found = proven("clubhouse", "everyday").plan
    inputs, constants = found.inputs, found.constants
    still_s = longest_still_s(constants, inputs.machine, MOVES_K)
    least_l = min(row.fill_s for row in constants.rounds) / 60.0 * inputs.machine.inlet.flow_l_per_min.low
    capacity_j_per_k = 4180.0 * least_l + 1000.0 * inputs.machine.tank.heat_capacity_kj_per_k.low
    fastest_s = capacity_j_per_k * MOVES_K / 1100.0
    assert fastest_s < still_s < 10.0 * fastest_s
