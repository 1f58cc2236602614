"""The reference controller when its clock stops or jumps, and its pause between two runs.

The clock may turn over at 2^32 ms and its sign bit may turn; a clock of 16 bits turns over too soon, and must
not pass for a sound one. What counts as too soon is our choice (no source); the bound is that of the source.
"""

from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from controller_bench import ALL, ELEMENT_REST_S, FINE, GAP_S, START_DRAIN_S, Bench, quick, started
from controller_cases import built, quick_plan
from controller_rig import SOURCES, STRICT, Error, Hook, In, On, Rig, State, needs_cc, rig
from plan_cases import cold_plan
from test_controller_safe import NAMES, PLACES

from optimizer.emit.forms import FORMS
from optimizer.programme.plan import Plan

pytestmark = needs_cc

SOURCE = SOURCES / "wash_controller.c"
STEPS = 20 + 2 * 500_000 * 1 // 1000
"""Steps on which the clock may show the same: twice those of one tick of 1 ms, and 20."""
PACED = "-DWASH_STEPS_MAX_PER_S=100"
PACED_STEPS = 20
IN_A_RUN = [*PLACES, (State.COOL, 0)]


def at(copies: Rig, state: int, number: int) -> Bench:
    """One copy in a state of a run, one tick later: a start counts as a step that shows the same."""
    if state != State.COOL:
        bench = started(copies, state, number)
    else:
        bench = Bench(copies, idle_s=0)
        bench.start()
    bench.step(1)
    return bench


@pytest.mark.parametrize(("state", "number"), IN_A_RUN, ids=[*NAMES, "COOL"])
@pytest.mark.parametrize(("options", "most"), [((), STEPS), ((PACED,), PACED_STEPS)], ids=["usual", "paced"])
def test_clock_that_stops_switches_everything_off_within_the_stated_steps(
    state: int, number: int, options: tuple[str, ...], most: int
) -> None:
    with rig(quick(*options), [ALL]) as copies:
        bench = at(copies, state, number)
        on = bench.last["on"]
        assert bench.steps(most)["error"] == Error.OK
        assert bench.last["on"] == on
        assert bench.steps(1)["error"] == Error.CLOCK_STOPPED
        for number_of in (1, most, 3 * most, 65536, 65536, 65536):  # the counter has 16 bits
            assert bench.steps(number_of)["on"] == 0
            assert (bench.last["state"], bench.last["running"]) == (State.SAFE_OFF, 0)
            assert bench.steps(1, flags=FINE | In.START)["answer"] == 0


def test_one_tick_is_enough_for_another_so_many_steps() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.SPRAY, 1)
        for _ in range(5):
            assert bench.steps(STEPS)["error"] == Error.OK
            bench.step(1)
        bench.steps(STEPS)
        assert bench.steps(1)["error"] == Error.CLOCK_STOPPED


def test_a_clock_that_goes_on_lets_the_element_cool_and_drains_once() -> None:
    """It counts from when the clock goes on: how long it stood still is not known."""
    with rig(quick(PACED), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        bench.steps(1000)
        on = bench.outputs(200)
        first = on.index(On.DRAIN_PUMP)
        assert first + 1 >= ELEMENT_REST_S
        assert on[first:] == [On.DRAIN_PUMP] * START_DRAIN_S + [0] * (200 - first - START_DRAIN_S)
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.CLOCK_STOPPED)


def test_clock_that_stops_in_the_last_drain_of_the_safe_state_ends_it() -> None:
    with rig(quick(PACED), [ALL]) as copies:
        bench = started(copies, State.SPRAY, 1)
        bench.step(add=int(In.STOP))
        bench.until(State.SAFE_DRAIN)
        assert bench.steps(PACED_STEPS)["on"] == On.DRAIN_PUMP
        assert (bench.steps(1)["on"], bench.last["state"]) == (0, State.IDLE)
        assert bench.last["error"] == Error.STOPPED


def test_clock_that_stands_still_at_the_start_begins_nothing() -> None:
    with rig(quick(PACED), [ALL]) as copies:
        bench = Bench(copies)
        bench.steps(200_000 % 65536)
        assert bench.steps(1, flags=FINE | In.START)["on"] == 0
        assert bench.last["error"] == Error.CLOCK_STOPPED


@pytest.mark.parametrize("rate_per_s", [1_000, 100_000, 500_000])
def test_a_loop_as_quick_as_stated_is_no_stopped_clock(rate_per_s: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.GAP, 0)
        for _ in range(2000):
            bench.clock_ms += 1
            assert bench.steps(max(rate_per_s // 1000, 1))["error"] == Error.OK


@pytest.mark.parametrize(
    ("steps", "tick_ms", "holds"),
    [(32_757, 1000, True), (32_758, 1000, False), (32_757_499, 1, True), (32_757_500, 1, False)],
)
def test_more_steps_than_16_bits_count_are_refused_by_the_compiler(
    steps: int, tick_ms: int, holds: bool, tmp_path: Path
) -> None:
    (tmp_path / "wash_timing.h").write_text(FORMS["c"].text(quick_plan()), encoding="utf-8")
    stated = [f"-DWASH_STEPS_MAX_PER_S={steps}", f"-DWASH_CLOCK_TICK_MS={tick_ms}"]
    command = ["cc", "-std=c99", *STRICT, *stated, "-I", str(tmp_path), "-fsyntax-only", str(SOURCE)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode == 0) == holds
    assert holds or "16 bits count the steps" in done.stderr


@pytest.mark.parametrize(("state", "number"), IN_A_RUN, ids=[*NAMES, "COOL"])
@pytest.mark.parametrize("jump_ms", [2001, 65_536, 2**31 - 1, 2**31, 2**32 - 65_536, 2**32 - 1])
def test_jump_either_way_ends_any_state_of_a_run(state: int, number: int, jump_ms: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = at(copies, state, number)
        bench.step(jump_ms)
        assert (bench.last["on"], bench.last["state"], bench.last["error"]) == (
            0, State.SAFE_OFF, Error.LATE
        )  # fmt: skip


def test_clock_of_16_bits_is_seen_when_it_turns_over() -> None:
    """Its step back is one of 65.5 s, or one of 2^32 less that ahead."""
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies, idle_s=20)
        bench.start()
        while bench.clock_ms < 65_000:
            assert bench.step()["error"] == Error.OK
        assert bench.last["state"] not in (State.COOL, State.IDLE)
        assert bench.step(1000 - 2**16)["error"] == Error.LATE


@pytest.mark.parametrize("jump_ms", [2001, 60_000, 2**31, 2**32 - 1, 2**32 - 60_000])
@pytest.mark.parametrize("again", [1, 20])
def test_jump_in_the_safe_state_does_not_shorten_the_cooling(jump_ms: int, again: int) -> None:
    """A jump is no time: a drain at once would bare an element that was on a second ago."""
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        assert bench.last["on"] == On.ELEMENT
        bench.step(add=int(In.STOP))
        for _ in range(again):
            assert bench.step(jump_ms)["on"] == 0
        on = bench.outputs(200)
        assert on.index(On.DRAIN_PUMP) + 1 >= max(ELEMENT_REST_S, GAP_S)
        assert on.count(On.DRAIN_PUMP) == START_DRAIN_S


@pytest.mark.parametrize("jump_ms", [60_000, 2**32 - 1])
def test_jump_before_a_start_does_not_shorten_the_pause(jump_ms: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies, idle_s=0)
        bench.step(jump_ms)
        bench.start()
        assert bench.last["state"] == State.COOL
        since_s = 1
        while bench.last["on"] == 0:
            bench.step()
            since_s += 1
        assert since_s >= max(ELEMENT_REST_S, GAP_S)


def test_pump_of_the_safe_state_comes_to_an_end_although_the_clock_jumps_at_every_step() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        bench.step(add=int(In.STOP))
        bench.until(State.SAFE_DRAIN)
        number = 0
        while bench.step(123_456_789)["on"]:
            number += 1
        assert 0 < number <= START_DRAIN_S
        assert bench.last["state"] == State.IDLE


def without_stand(*, element: bool) -> Plan:
    if element:
        return quick_plan(stand_s=0)
    cold = cold_plan()
    return replace(cold, constants=replace(cold.constants, stand_s=0))


@pytest.mark.parametrize("element", [True, False])
@pytest.mark.parametrize("ended", ["done", "stopped"])
def test_next_run_begins_no_sooner_than_a_pause_after_the_last_pump(element: bool, ended: str) -> None:
    """Start is pressed as soon as it can be; nothing but the pause stands between two drains."""
    plan = without_stand(element=element)
    constants = plan.constants
    assert constants.gap_s >= 2, "a pause of one step would prove little"
    with rig(built(plan), [ALL & ~Hook.BATH]) as copies:
        bench = Bench(copies)
        bench.start()
        if ended == "stopped":
            bench.until(State.FILL)
            bench.step(add=int(In.STOP))
        was, off_ms, seen = int(bench.last["on"]), 0, 0
        for _ in range(20_000):
            bench.step(250, add=int(In.START) if bench.last["state"] == State.IDLE else 0)
            on = int(bench.last["on"])
            if was and not on:
                off_ms = bench.clock_ms
            if on and not was:
                assert bench.clock_ms - off_ms >= 1000 * constants.gap_s
                seen += bench.last["state"] == State.START_DRAIN
            was = on
            if seen:
                break
        assert seen
