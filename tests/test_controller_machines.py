"""The reference controller runs the shipped machines' programmes on the check's two-node model."""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
import pytest
from controller_cases import SHIPPED, STEAMED, all_hooks, built, by_machine, outputs_of, proven, sound_run
from controller_rig import Error, In, On, State, needs_cc, rig
from numpy.typing import NDArray

from optimizer.check.certificate import Trace
from optimizer.emit.bench_run import bench_run

pytestmark = needs_cc

TIMED = ("clubhouse", "cold-shed")
ALL = (*SHIPPED, STEAMED)
BATH_NEAR_K = 0.02
"""Timed machine, second by second: what steps of 1 s differ from the check's integration [K]."""
PHASE_NEAR_S, PHASE_NEAR_K, PHASE_NEAR_L = 3, 0.4, 0.2
"""Thermostat or level switch, at the end of every phase. They are looked at once a second, the sensor reads
in 0.1 K and the level switch has to be seen closed twice: 2 s of the narrowboat's inlet are 0.13 l."""
WATER_SHARE = 0.025
"""These 0.13 l are so much of the bath of 5.3 l, which takes as much longer to warm [1]."""


def outputs(trace: Trace) -> NDArray[np.uint8]:
    on = trace.inlet * 1 + trace.element * 2 + trace.wash_pump * 4 + trace.drain_pump * 8
    return on.astype(np.uint8)


@pytest.mark.parametrize("machine", by_machine(TIMED))
def test_timed_machine_does_what_the_check_stepped_through_second_by_second(machine: str) -> None:
    found, run = proven(machine), sound_run(machine)
    trace = found.certificate.trace
    seconds = len(trace.time_s)
    on = run.on[:seconds, 0]
    assert (on[:-1] == outputs_of(found.plan.constants)).all()
    assert (on == outputs(trace)).all()
    assert not run.on[seconds:, 0].any()
    # In the second of its switching the pump has mixed film and bath in the one, not yet in the other; litres
    # are as warm as their bath.
    steady = ~np.diff(trace.wash_pump, prepend=False)
    assert np.abs(run.bath_c[:seconds, 0] - trace.bath_c)[steady].max() < BATH_NEAR_K
    assert np.abs(run.ware_c[:seconds, 0] - trace.ware_c)[steady].max() < BATH_NEAR_K
    assert np.abs(run.water_l[:seconds, 0] - trace.level_l)[steady].max() < 0.001


def spells(on: NDArray[np.uint8]) -> list[tuple[int, int, int]]:
    """Motors that are on, or the element without them; first second, and the one after the last."""
    motors = int(On.INLET | On.WASH_PUMP | On.DRAIN_PUMP)
    labels = [int(value) & motors or int(value) for value in on]
    found, start = [], 0
    for label, group in groupby(labels):
        end = start + len(list(group))
        if label:
            found.append((label, start, end))
        start = end
    return found


@pytest.mark.parametrize("machine", by_machine(name for name in ALL if name not in TIMED))
def test_thermostat_machine_goes_through_the_phases_of_the_check(machine: str) -> None:
    trace, run = proven(machine).certificate.trace, sound_run(machine)
    ours, theirs = (
        # A bath that is warm enough is not heated: its sensor is read twice before the element goes off.
        [spell for spell in found if spell[0] != On.ELEMENT or spell[2] - spell[1] > PHASE_NEAR_S]
        for found in (spells(run.on[:, 0]), spells(outputs(trace)))
    )
    by_level = proven(machine).plan.constants.fill_control == "level"
    assert [label for label, _, _ in ours] == [label for label, _, _ in theirs]
    for (label, start, end), (_, from_s, to_s) in zip(ours, theirs, strict=True):
        to_s = min(to_s, len(trace.time_s) - 1)
        near_s = PHASE_NEAR_S if label in (On.INLET, On.ELEMENT) else 1
        near_s += WATER_SHARE * (to_s - from_s) if by_level and label == On.ELEMENT else 0.0
        assert abs((end - start) - (to_s - from_s)) <= near_s, (label, start)
        assert abs(run.bath_c[end, 0] - trace.bath_c[to_s]) < PHASE_NEAR_K, (label, start)
        assert abs(run.ware_c[end, 0] - trace.ware_c[to_s]) < PHASE_NEAR_K, (label, start)
        assert abs(run.water_l[end, 0] - trace.level_l[to_s]) < PHASE_NEAR_L, (label, start)
    heated_s, checked_s = (on.astype(bool).sum() for on in (run.on[:, 0] & On.ELEMENT, trace.element))
    assert heated_s == pytest.approx(checked_s, rel=0.03)
    assert run.bath_c[:, 0].max() == pytest.approx(trace.bath_c.max(), abs=PHASE_NEAR_K)


@pytest.mark.parametrize("machine", by_machine(ALL))
def test_no_corner_of_the_tolerances_raises_a_false_alarm(machine: str) -> None:
    found, run = proven(machine), sound_run(machine)
    assert len(run.scenarios) > 30
    assert not run.error.any()
    assert (run.state[-1] == State.IDLE).all()
    assert not run.running[-1].any()
    element = run.is_on(On.ELEMENT)
    inputs = found.plan.inputs
    assert element.any() == (inputs.machine.element is not None)
    assert (run.pool_l[element] >= run.cover_l).all()
    assert run.bath_c.max() <= inputs.machine.tank.limit_c


@pytest.mark.parametrize("machine", by_machine(ALL))
def test_detergent_goes_in_once_as_the_spray_of_its_round_begins(machine: str) -> None:
    """Not into a bath that is heated with the pump off, where powder cakes (common practice, no source)."""
    plan, run = proven(machine).plan, sound_run(machine)
    constants = plan.constants
    assert any(row.detergent_dg for row in constants.rounds) == (plan.inputs.goal.detergent is not None)
    for number, row in enumerate(constants.rounds):
        given = run.detergent_dg * (run.round == number)
        assert (given.sum(axis=0) == row.detergent_dg).all()
    assert (run.doses.sum(axis=0) == sum(row.detergent_dg > 0 for row in constants.rounds)).all()
    seconds, columns = np.nonzero(run.doses)
    assert (run.on[seconds - 1, columns] == 0).all()
    assert (run.on[seconds, columns] & On.WASH_PUMP).all()


@pytest.mark.parametrize("machine", by_machine(ALL))
def test_outputs_keep_out_of_each_others_way_in_every_corner(machine: str) -> None:
    run, gap_s = sound_run(machine), proven(machine).plan.constants.gap_s
    motors = np.stack([run.is_on(output) for output in (On.INLET, On.WASH_PUMP, On.DRAIN_PUMP)])
    assert motors.sum(axis=0).max() == 1
    idle = motors.any(axis=0)
    changed = (np.diff(motors.astype(int), axis=1) != 0).any(axis=0)
    assert not (changed & idle[:-1] & idle[1:]).any(), "one motor took over from another without a pause"
    assert not (run.is_on(On.ELEMENT) & ~np.isin(run.state, (State.HEAT, State.SPRAY))).any()
    for column in range(len(run.scenarios)):
        ends = [(start, end) for _, start, end in spells(run.on[:, column])]
        assert min(start - end for (_, end), (start, _) in pairwise(ends)) == gap_s
    assert (run.error == Error.OK).all()


@pytest.mark.parametrize("machine", by_machine(ALL))
def test_bench_run_goes_through_the_motors_whatever_the_switches_say(machine: str) -> None:
    plan = bench_run(proven(machine).plan)
    wanted = spells(outputs_of(plan.constants))
    switches = np.array([In.POWER | In.BATH, In.POWER | In.BATH | In.FULL | In.COVERED], np.uint8)
    with rig(built(plan), [all_hooks(plan.inputs.machine)] * 2) as copies:
        for second in range(-60, 0):
            copies.step(1000 * second, switches, 200)
        first = copies.step(0, switches | np.uint8(In.START), 200)
        did = np.array([first, *(copies.step(1000 * second, switches, 200) for second in range(1, 400))])
    assert (did["state"][-1] == State.IDLE).all()
    assert not did["error"].any()
    assert not (did["on"] & np.uint8(On.ELEMENT)).any()
    is_open, closed = spells(did["on"][:, 0]), spells(did["on"][:, 1])
    assert is_open == wanted
    # A level switch that is closed ends each fill at once, and the motors are the same.
    assert [on for on, _, _ in closed] == [on for on, _, _ in wanted]
    assert closed == wanted or plan.constants.fill_control == "level"
