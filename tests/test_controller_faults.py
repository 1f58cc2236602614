"""Single faults of the shipped machines, on the check's two-node model with the reference controller at work.

Each is run with the hooks that the programme cannot do without ("least") and with all that the machine can
serve ("all"). What the controller cannot see is asserted as well, harm and all: it is what the guards in
hardware are for.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from controller_cases import SHIPPED, all_hooks, built, by_machine, least_hooks, program, proven, sound_run
from controller_plant import CUT_S, STUCK_HOT_C, Run, Scenario, run
from controller_rig import Error, Hook, On, State, needs_cc

pytestmark = needs_cc

LEAST, ALL = ("least",), ("all",)
HEATED = ("clubhouse", "narrowboat", "garage-120v")
BOTH = LEAST + ALL
FOUND: dict[tuple[str, str, str], tuple[int, str]] = {
    (machine, seen, fault): (error, when)
    for machine, hooks, fault, error, when in [
        # A timed machine without a switch sees nothing.
        ("clubhouse", ALL, "inlet shut", Error.NOT_FILLED, "wash filled"),
        ("clubhouse", ALL, "inlet open", Error.OVERFLOW, "tank full"),
        ("clubhouse", ALL, "drain dead", Error.FLOAT_CLOSED, "first drain"),
        ("clubhouse", ALL, "sensor cold", Error.SENSOR_STUCK, "10 min of heat"),
        ("clubhouse", ALL, "sensor hot", Error.TOO_HOT, "first drain"),
        ("clubhouse", ALL, "sensor still", Error.SENSOR_STUCK, "10 min of heat"),
        ("clubhouse", ALL, "sensor lost", Error.SENSOR_LOST, "6 s"),
        ("clubhouse", ALL, "float open", Error.UNCOVERED, "at once"),
        # A level switch sees both ends of the water, and a thermostat needs its sensor.
        ("narrowboat", BOTH, "inlet shut", Error.NOT_FILLED, "first fill"),
        ("narrowboat", ALL, "inlet open", Error.OVERFLOW, "tank full"),
        ("narrowboat", BOTH, "drain dead", Error.NOT_DRAINED, "first drain"),
        ("narrowboat", ALL, "drain slow", Error.FLOAT_CLOSED, "first drain"),
        ("narrowboat", BOTH, "sensor cold", Error.SENSOR_STUCK, "10 min of heat"),
        ("narrowboat", BOTH, "sensor still", Error.SENSOR_STUCK, "10 min of heat"),
        ("narrowboat", BOTH, "sensor lost", Error.SENSOR_LOST, "6 s"),
        ("narrowboat", ALL, "float open", Error.UNCOVERED, "at once"),
        ("garage-120v", ALL, "inlet shut", Error.NOT_FILLED, "wash filled"),
        ("garage-120v", ALL, "inlet open", Error.OVERFLOW, "tank full"),
        ("garage-120v", ALL, "drain dead", Error.FLOAT_CLOSED, "first drain"),
        ("garage-120v", BOTH, "sensor cold", Error.SENSOR_STUCK, "10 min of heat"),
        ("garage-120v", BOTH, "sensor still", Error.SENSOR_STUCK, "10 min of heat"),
        ("garage-120v", BOTH, "sensor lost", Error.SENSOR_LOST, "6 s"),
        ("garage-120v", ALL, "float open", Error.UNCOVERED, "at once"),
        ("cold-shed", ALL, "inlet open", Error.OVERFLOW, "tank full"),
        *((machine, ALL, "float closed", Error.FLOAT_CLOSED, "first drain") for machine in HEATED),
        *((machine, BOTH, "stop", Error.STOPPED, "at once") for machine in SHIPPED),
    ]
    for seen in hooks
}
"""Faults that end the run: with what, and by when."""

UNSEEN: dict[tuple[str, str, str], str] = {
    (machine, seen, fault): harm
    for machine, hooks, fault, harm in [
        # An element on without water: the float switch in series with it and the cut-out have to stop it.
        ("clubhouse", LEAST, "inlet shut", "dry"),
        ("garage-120v", LEAST, "inlet shut", "dry"),
        # Water over the rim: an overflow switch has to close a second valve by itself.
        ("clubhouse", LEAST, "inlet open", "flood"),
        ("cold-shed", LEAST, "inlet open", "flood"),
        ("clubhouse", LEAST, "drain dead", "flood"),
        ("garage-120v", LEAST, "drain dead", "flood"),
        # The ware stays dirty, no more.
        ("clubhouse", BOTH, "pump seized", "dirt"),
        ("narrowboat", BOTH, "pump seized", "dirt"),
        ("garage-120v", BOTH, "pump seized", "dirt"),
    ]
    for seen in hooks
}
"""Faults that go by unseen, and the harm they do."""

READ_HOT = [(machine, seen, "sensor hot") for machine in ("narrowboat", "garage-120v") for seen in BOTH]
"""A sensor stuck above every sound reading: its watchdog stands there, not at the limit of the tank."""

WELDED = [(machine, seen, "element on") for machine in SHIPPED if machine != "cold-shed" for seen in BOTH]


def wash_round(machine: str) -> int:
    """Number of the first round that washes, from 0."""
    return next(n for n, row in enumerate(proven(machine).plan.constants.rounds) if row.kind == "wash")


def wash_moments(machine: str) -> dict[str, int]:
    """Seconds of the nominal run: 5 s into the fill of the wash, 100 s into its heating (or its spray)."""
    sound, wash = sound_run(machine), wash_round(machine)
    state, number = sound.state[:, 0], sound.round[:, 0]
    fill = int(np.flatnonzero((state == State.FILL) & (number == wash))[0])
    spray = int(np.flatnonzero((state == State.SPRAY) & (number == wash))[0])
    # Of the wash alone: a prerinse may be heated too, for too short a time to judge a sensor by.
    heated = np.flatnonzero(sound.is_on(On.ELEMENT)[:, 0] & (number == wash))
    return {"fill": fill + 5, "heating": (int(heated[0]) if heated.size else spray) + 100}


def by_s(machine: str, fault: str, when: str) -> int:
    """The second by which a fault must have been seen."""
    sound, plan = sound_run(machine), proven(machine).plan
    state, number = sound.state[:, 0], sound.round[:, 0]

    def end_s(kind: int, of_round: int) -> int:
        return int(np.flatnonzero((state == kind) & (number == of_round))[-1]) + 1

    from_s, inlet = onset_s(machine, fault), plan.inputs.machine.inlet
    match when:
        case "at once":
            return from_s
        case "6 s":
            return from_s + 6
        case "first fill":
            return plan.constants.start_drain_s + plan.constants.gap_s + plan.constants.rounds[0].fill_s + 1
        case "first drain":
            return end_s(State.DRAIN, 0) + 2
        case "wash filled":
            return end_s(State.FILL, wash_round(machine)) + 2
        case "tank full":
            return from_s + int(60.0 * plan.inputs.machine.tank.capacity_l / inlet.flow_l_per_min.nominal)
        case _:
            return max(from_s, wash_moments(machine)["heating"] - 100) + 602


def onset_s(machine: str, fault: str) -> int:
    moments = wash_moments(machine)
    if fault in ("sensor still", "sensor lost", "float open", "stop", "element on"):
        return moments["heating"]
    return moments["fill"] if fault == "inlet open" else 0


def middles(machine: str) -> dict[str, int]:
    """A second in the middle of the first and of the longest stretch in every state of the nominal run."""
    state = sound_run(machine).state[:, 0]
    edges = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist(), len(state)]
    found: dict[str, int] = {}
    lasting: dict[int, int] = {}
    for start, end in pairwise(edges):
        kind = State(int(state[start]))
        if kind in (State.IDLE, State.STAND):
            continue
        found.setdefault(f"{kind.name} first", (start + end) // 2)
        if end - start > lasting.get(kind, 0):
            found[f"{kind.name} longest"], lasting[kind] = (start + end) // 2, end - start
    return found


def fault_scenarios(machine: str) -> list[Scenario]:
    """Every fault of the tables on a machine, each with the hooks that it is run with."""
    inputs = proven(machine).plan.inputs
    hooks = {"least": least_hooks(inputs.machine), "all": all_hooks(inputs.machine)}
    return [
        Scenario(f"{seen}: {fault}", hooks[seen], fault, onset_s(machine, fault))
        for name, seen, fault in [*FOUND, *UNSEEN, *READ_HOT, *WELDED]
        if name == machine
    ]


@cache
def faulty_run(machine: str) -> Run:
    """Run every fault of the two tables and a power cut in every state, side by side."""
    inputs, constants = proven(machine).plan.inputs, proven(machine).plan.constants
    scenarios, seen, cuts = fault_scenarios(machine), all_hooks(inputs.machine), middles(machine)
    for name, at_s in cuts.items():
        scenarios.append(Scenario(f"cut: {name}", seen, "power cut", at_s))
        scenarios.append(Scenario(f"cut, no flag: {name}", seen & ~Hook.FLAG, "power cut", at_s))
    return run(inputs.machine, program(machine), scenarios, constants.total_max_s + max(cuts.values()) + 200)


@cache
def restarted_run(machine: str) -> Run:
    """Cut the power in every state, WASH_RESTART_AFTER_CUT being 1."""
    plan, run_before = proven(machine).plan, faulty_run(machine)
    cuts = [scenario for scenario in run_before.scenarios if scenario.name.startswith("cut: ")]
    again = built(replace(plan, constants=replace(plan.constants, restart_after_cut=True)))
    return run(plan.inputs.machine, again, cuts, len(run_before.on))


@pytest.mark.parametrize(("machine", "hooks", "fault"), by_machine(FOUND))
def test_fault_is_seen_in_time_and_ends_in_the_safe_state(machine: str, hooks: str, fault: str) -> None:
    (wanted, when), run = FOUND[machine, hooks, fault], faulty_run(machine)
    plan = proven(machine).plan
    column, from_s = run.column(f"{hooks}: {fault}"), onset_s(machine, fault)
    error, state, on = run.error[:, column], run.state[:, column], run.on[:, column]
    assert not error[:from_s].any()
    seen_s = int(np.flatnonzero(error)[0])
    assert error[seen_s] == wanted
    assert seen_s <= by_s(machine, fault, when)
    # From that second on: nothing but one drain, after the element has cooled under water.
    assert not (on[seen_s:] & ~np.uint8(On.DRAIN_PUMP)).any()
    assert np.isin(state[seen_s:], (State.SAFE_OFF, State.SAFE_DRAIN, State.IDLE)).all()
    drain = np.flatnonzero(on[seen_s:])
    if fault == "sensor hot":
        # It reads what the drain pipe does not stand: the water stays in.
        assert not drain.size
        assert state[-1] == State.IDLE
        return
    assert len(drain) == plan.constants.start_drain_s == drain[-1] - drain[0] + 1
    assert drain[0] >= plan.constants.gap_s
    heated = np.flatnonzero(on[:seen_s] & On.ELEMENT)
    if heated.size and wanted != Error.OVERFLOW:
        assert plan.inputs.machine.element is not None
        assert seen_s + drain[0] - heated[-1] > plan.inputs.machine.element.rest_s
    assert (state[-1], error[-1]) == (State.IDLE, wanted)
    assert not run.running[seen_s:, column].any()
    # And nothing has come to harm.
    assert (run.pool_l[:, column] >= run.cover_l)[(on & On.ELEMENT) > 0].all()
    assert run.bath_c[:, column].max() <= plan.inputs.machine.tank.limit_c
    if fault != "inlet open":
        assert run.water_l[:, column].max() < plan.inputs.machine.tank.capacity_l


@pytest.mark.parametrize(("machine", "hooks", "fault"), by_machine(UNSEEN))
def test_what_the_controller_cannot_see_is_left_to_the_guards(machine: str, hooks: str, fault: str) -> None:
    """No error is raised: this must stay true of what is written, or what is written must change."""
    run, harm = faulty_run(machine), UNSEEN[machine, hooks, fault]
    column = run.column(f"{hooks}: {fault}")
    assert not run.error[:, column].any()
    assert run.state[-1, column] == State.IDLE
    heats = run.is_on(On.ELEMENT)[:, column]
    dry = (heats & (run.pool_l[:, column] < run.cover_l)).sum()
    capacity_l = proven(machine).plan.inputs.machine.tank.capacity_l
    flooded = run.water_l[:, column].max() >= capacity_l
    assert (bool(dry), bool(flooded)) == (harm == "dry", harm == "flood")


@pytest.mark.parametrize(("machine", "hooks", "fault"), by_machine(READ_HOT))
def test_a_reading_above_every_sound_one_ends_the_run_and_keeps_the_water(
    machine: str, hooks: str, fault: str
) -> None:
    run = faulty_run(machine)
    column = run.column(f"{hooks}: {fault}")
    assert proven(machine).plan.constants.bath_max_dc < 10.0 * STUCK_HOT_C
    seen_s = int(np.flatnonzero(run.error[:, column])[0])
    assert run.error[-1, column] == Error.TOO_HOT
    assert not run.on[seen_s:, column].any()


@pytest.mark.parametrize(("machine", "hooks", "fault"), by_machine(WELDED))
def test_welded_relay_runs_the_element_dry_unless_the_bath_gets_too_hot_first(
    machine: str, hooks: str, fault: str
) -> None:
    """Only then is it seen, and the water is kept over the element; else the next drain bares it.

    Where little water is left over the bare element, it may get too hot as it drains: too late.
    """
    run = faulty_run(machine)
    column = run.column(f"{hooks}: {fault}")
    error, on, bare = run.error[:, column], run.on[:, column], run.pool_l[:, column] < run.cover_l
    began_s = onset_s(machine, fault)
    seen_s = int(np.flatnonzero(error)[0]) if error.any() else len(error)
    if error.any():
        assert error[-1] == Error.TOO_HOT
        assert not on[seen_s:].any()
    if error.any() and not bare[began_s : seen_s + 1].any():
        assert not bare[seen_s:].any()
    else:
        assert bare[began_s : seen_s + 1].any()


@pytest.mark.parametrize("machine", by_machine(SHIPPED))
def test_with_restart_a_power_cut_in_any_state_cools_drains_and_begins_again(machine: str) -> None:
    run, plan = restarted_run(machine), proven(machine).plan
    start_drain_s = plan.constants.start_drain_s
    rest_s = plan.inputs.machine.element.rest_s if plan.inputs.machine.element else 0
    cuts = [scenario for scenario in run.scenarios if scenario.name.startswith("cut: ")]
    assert len(cuts) >= 5
    for scenario in cuts:
        column = run.column(scenario.name)
        on, back_s = run.on[:, column], scenario.from_s + CUT_S
        assert not on[scenario.from_s : back_s].any()
        again_s = back_s + int(np.flatnonzero(on[back_s:])[0])
        assert (run.state[back_s:again_s, column] == State.COOL).all()
        assert again_s - back_s >= max(rest_s, plan.constants.gap_s)
        assert (on[again_s : again_s + start_drain_s] == On.DRAIN_PUMP).all()
        assert run.round[again_s, column] == 0
        length = min(len(on) - again_s, plan.constants.total_max_s)
        if plan.constants.control == "timed":
            assert (on[again_s : again_s + length - 1] == sound_run(machine).on[: length - 1, 0]).all()
        assert not run.error[:, column].any()
        assert (run.pool_l[:, column] >= run.cover_l)[(on & On.ELEMENT) > 0].all()
        assert run.bath_c[:, column].max() <= plan.inputs.machine.tank.limit_c


@pytest.mark.parametrize("machine", by_machine(SHIPPED))
@pytest.mark.parametrize(("cut", "error"), [("cut", Error.POWER_CUT), ("cut, no flag", Error.OK)])
def test_a_power_cut_ends_the_run_with_or_without_the_flag(machine: str, cut: str, error: int) -> None:
    """Nothing starts by itself; with the flag the controller knows why it stands."""
    run = faulty_run(machine)
    cuts = [scenario for scenario in run.scenarios if scenario.name.startswith(f"{cut}: ")]
    assert len(cuts) >= 5
    for scenario in cuts:
        column = run.column(scenario.name)
        assert not run.on[scenario.from_s :, column].any()
        assert (run.state[-1, column], run.error[-1, column]) == (State.IDLE, error)
