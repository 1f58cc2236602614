"""A weak element in much water: the controller does not take its slow sensor for a dead one."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from check_cases import exact_but, sample_cases
from controller_cases import all_hooks
from controller_plant import Run, Scenario, run
from controller_rig import Error, State, compiled
from exploring import TIMES
from plan_cases import MACHINE, plan_case
from planner_cases import FOUR_RINSES, proven, shipped

from optimizer.check.controller_numbers import controller_numbers
from optimizer.check.drain_wait import hottest_left
from optimizer.check.sensor_meter import MOVES_K, MOVES_S, longest_still_s
from optimizer.emit.forms import controller_files
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.search import Search
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan

WATTS = {"nominal": 170.0, "low": 165.0, "high": 175.0}
PLAINEST = Search(rounds_most=FOUR_RINSES).plainest
SLOW = {"machine__element__rated_w": WATTS, "goal__limits__duration_min": 480.0}
WARMS_BY = (
    *("supply.voltage_v", "element.rated_w", "tank.loss_still_w_per_k", "tank.loss_spraying_w_per_k"),
    *("inlet.water_c", "room.air_c"),
)
"""Tolerances that a slow heating hangs on; with SCULLION_EXPLORE it is planned with all of the machine."""


@pytest.fixture(scope="module")
def slow() -> Proven:
    inputs = shipped("narrowboat", "roasting-tins", **SLOW)
    if not TIMES:
        inputs = replace(inputs, machine=exact_but(inputs.machine, *WARMS_BY))
    return plan_and_prove(inputs, search=PLAINEST)


def runs(found: Proven, folder: Path, *options: str, to_error: bool = False) -> Run:
    """Run what is written for a plan, all numbers as they are there; options change them."""
    for name, text in controller_files(found.plan).items():
        (folder / name).write_text(text, encoding="utf-8")
    machine = found.plan.inputs.machine
    program = compiled(folder, *options, source=folder / "wash_controller.c", usual=False)
    scenarios = [
        Scenario(f"corner {n}", all_hooks(machine), case=n)
        for n in range(0, sample_cases(machine).corners, 5)
    ]
    return run(machine, program, scenarios, found.plan.constants.total_max_s + 60, to_error=to_error)


@pytest.mark.slow
def test_a_proven_programme_runs_to_its_end_however_slowly_it_warms(slow: Proven, tmp_path: Path) -> None:
    assert longest_still_s(slow.plan.constants, slow.plan.inputs.machine, MOVES_K) > MOVES_S
    ended = runs(slow, tmp_path)
    assert not ended.error.any()
    assert (ended.state[-1] == State.IDLE).all()


@pytest.mark.slow
def test_ten_minutes_would_have_stopped_it(slow: Proven, tmp_path: Path) -> None:
    assert controller_numbers(slow.plan.inputs.machine, [slow.plan.constants]).sensor_moves_s > MOVES_S
    ended = runs(slow, tmp_path, f"-DWASH_SENSOR_MOVES_S={MOVES_S}", to_error=True)
    assert (ended.error == Error.SENSOR_STUCK).any()


def moves_s(plan: Plan) -> int:
    """What the header of a plan says."""
    header = controller_files(plan)["wash_timing.h"]
    return int(re.findall(r"^#define WASH_SENSOR_MOVES_S +(\d+)U ", header, re.M)[0])


@pytest.mark.parametrize(("rated_w", "longer"), [(900.0, False), (120.0, True)])
def test_a_weak_element_is_given_the_longest_time_and_a_quarter_more(rated_w: float, longer: bool) -> None:
    machine = Machine.model_validate(MACHINE | {"element": {**MACHINE["element"], "rated_w": rated_w}})
    plan = plan_case(machine=machine)
    still_s = longest_still_s(plan.constants, machine, MOVES_K)
    assert (1.25 * still_s > MOVES_S == 600) == longer
    assert moves_s(plan) == max(600, math.ceil(1.25 * still_s))


def test_a_usual_machine_keeps_the_usual_ten_minutes() -> None:
    assert moves_s(proven("clubhouse", "everyday").plan) == MOVES_S


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


@pytest.mark.slow
@pytest.mark.parametrize("name", ["garage-120v", "narrowboat"])
def test_a_sensor_that_sticks_just_under_its_set_point_keeps_its_bath_in(name: str, tmp_path: Path) -> None:
    """On the check's two-node model, at ends of the tolerances, all numbers as they are written.

    Each machine's sensor stands still from 3 s before it would have ended the heating of the wash.
    """
    plan = proven(name, "everyday").plan
    machine, constants = plan.inputs.machine, plan.constants
    sound = runs(proven(name, "everyday"), tmp_path)
    first = next(number for number, row in enumerate(constants.rounds) if row.heat_s)
    heats = (sound.state == State.HEAT) & (sound.round == first)
    ends_s = len(heats) - 1 - heats[::-1].argmax(axis=0)
    stuck = [
        replace(one, fault="sensor still", from_s=int(end) - 3)
        for one, end in zip(sound.scenarios, ends_s, strict=True)
    ]
    program = compiled(tmp_path, source=tmp_path / "wash_controller.c", usual=False)
    found = run(machine, program, stuck, constants.total_max_s + 60)
    hottest_c = hottest_left(constants, machine).hottest_c
    assert sound.bath_c.max() + 3.0 < found.bath_c.max() < hottest_c
    numbers = controller_numbers(machine, [constants])
    left_in = 0
    for column, end in enumerate(ends_s):
        error = found.error[:, column]
        assert set(error) <= {Error.OK, Error.SENSOR_STUCK}
        if not error.any():
            continue  # found in no phase: the heating, or the spray, is over before
        since_s = int(error.argmax())
        assert not found.on[since_s:, column].any(), (column, end)
        left_in += 1
    assert left_in > len(stuck) // 2
    assert numbers.drain_wait_s > 0
