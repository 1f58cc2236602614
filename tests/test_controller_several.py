"""The reference controller with several programmes: choose, leave out, see, read twice."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import several_cases
from controller_bench import ALL, DRY, FINE, Bench
from controller_cases import built_several, outputs_of
from controller_rig import IN, NO_CALL, Ask, Error, Hook, In, On, State, Twice, needs_cc, rig

pytestmark = needs_cc

PLANS = several_cases.quick()
NUMBERS = range(len(PLANS))
NOTHING_SEEN = -32768


@cache
def program(*options: str) -> Path:
    return built_several(PLANS, *options)


def asked(bench: Bench, *, choose: int = 0, asks: int = 0, twice: int = 0, ms: int = 1000) -> np.void:
    """Step once and ask for something else."""
    row = np.zeros(1, IN)
    row["flags"] = DRY if bench.last["on"] & On.DRAIN_PUMP else FINE
    row["bath_dc"], row["choose"], row["asks"], row["twice"] = 200, choose, asks, twice
    bench.clock_ms += ms
    bench.last = bench.copies.tell(bench.clock_ms, row)[0]
    return bench.last


def chosen(copies: object, number: int) -> Bench:
    """A bench on which a programme was chosen long ago."""
    bench = Bench(copies)  # type: ignore[arg-type]
    assert asked(bench, choose=number + 1)["asked"] == 1
    for _ in range(8):
        bench.step()
    return bench


@pytest.mark.parametrize("number", NUMBERS)
def test_every_programme_does_what_its_table_says_and_tells_the_time_left(number: int) -> None:
    """Second by second against the phases of the check; what is left counts down to nothing."""
    constants = list(PLANS.values())[number].constants
    wanted = outputs_of(constants).tolist()
    with rig(program(), [ALL]) as copies:
        bench = chosen(copies, number)
        on, left_s = [int(bench.start()["on"])], [int(bench.last["left_s"])]
        for _ in range(1, len(wanted)):
            on.append(int(bench.step()["on"]))
            left_s.append(int(bench.last["left_s"]))
        assert on == wanted
        assert left_s == list(range(constants.total_max_s, 0, -1))
        assert bench.until(State.IDLE)["left_s"] == 0
        assert bench.last["error"] == Error.OK


def test_one_after_the_other_without_a_break() -> None:
    """Chosen and started as soon as it is idle: the pause is the longer one of the two."""
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        for number in (0, 2, 1, 3, 0):
            assert asked(bench, choose=number + 1)["asked"] == 1
            bench.start()
            bench.until(State.START_DRAIN)
            bench.until(State.IDLE)
            assert bench.last["error"] == Error.OK


def test_pause_before_a_programme_with_a_longer_one() -> None:
    """`cold` has a pause of 1 s and no stand, `second` one of 4 s."""
    gap_s = PLANS["second"].constants.gap_s
    assert PLANS["cold"].constants.gap_s < gap_s
    with rig(program(), [ALL]) as copies:
        bench = chosen(copies, 2)
        bench.start()
        bench.until(State.DRAIN, len(PLANS["cold"].constants.rounds) - 1)
        while bench.last["on"]:
            bench.step(100)
        off_ms = bench.clock_ms
        bench.until(State.IDLE)
        asked(bench, choose=2, ms=100)
        bench.step(100, add=int(In.START))
        while not bench.last["on"]:
            bench.step(100)
        assert bench.clock_ms - off_ms >= 1000 * gap_s


def test_no_other_programme_in_a_run_or_after_it_went_wrong() -> None:
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        assert asked(bench, choose=2)["asked"] == 1
        assert asked(bench, choose=200)["asked"] == 0, "there is none of that number"
        bench.start()
        for _ in range(60):
            assert asked(bench, choose=1)["asked"] == 0
        bench.step(add=int(In.STOP))
        while bench.last["state"] != State.IDLE:
            assert asked(bench, choose=1)["asked"] in (0, 1)
            assert bench.last["asked"] == 0 or bench.last["state"] == State.IDLE
        assert bench.last["error"] == Error.STOPPED


@pytest.mark.parametrize("heated", [False, True])
def test_skip_drains_a_cool_bath_at_once_and_keeps_what_cools_a_hot_one(heated: bool) -> None:
    """Without a sensor: round 2 of `first` heats, and has a soak, a rest, a top-up and a mix after it."""
    constants = PLANS["first"].constants
    with rig(program("-DWASH_FILL_IS_COLD=1"), [ALL & ~Hook.BATH]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.HEAT if heated else State.SPRAY, 1 if heated else 0)
        assert asked(bench, asks=Ask.SKIP_ROUND)["asked"] == 1
        seen = [State(int(bench.last["state"]))]
        number = int(bench.last["round"])
        while bench.last["round"] == number:
            assert not bench.last["on"] & On.ELEMENT
            bench.step()
            if bench.last["state"] != seen[-1]:
                seen.append(State(int(bench.last["state"])))
        phases = [state for state in seen if state != State.GAP]
        cools = [State.SPRAY, State.SOAK, State.LAST_SPRAY, State.REST, State.TOP_UP, State.MIX]
        assert phases == ([*cools, State.DRAIN] if heated else [State.DRAIN])
        bench.until(State.IDLE)
        assert bench.last["error"] == Error.OK
        assert constants.rounds[number].heated == heated


@pytest.mark.parametrize(("bath_dc", "drains"), [(400, True), (401, False)])
def test_skip_with_a_sensor_goes_by_what_it_reads(bath_dc: int, drains: bool) -> None:
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.HEAT, 1)
        bench.step(bath_dc=bath_dc)
        assert asked(bench, asks=Ask.SKIP_ROUND)["asked"] == 1
        states = [int(bench.step()["state"]) for _ in range(8)]
        assert (State.SPRAY in states) != drains


def test_skip_where_there_is_nothing_to_leave_out() -> None:
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        assert asked(bench, asks=Ask.SKIP_ROUND)["asked"] == 0
        bench.start()
        for state in (State.START_DRAIN, State.DRAIN, State.STAND):
            bench.until(state)
            assert asked(bench, asks=Ask.SKIP_ROUND)["asked"] == 0
        assert bench.step()["asked"] == NO_CALL


def test_a_jump_is_not_hidden_by_a_skip() -> None:
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.HEAT, 1)
        assert asked(bench, asks=Ask.SKIP_ROUND, ms=60_000)["asked"] == 0
        assert (bench.last["error"], bench.last["on"]) == (Error.LATE, 0)


@pytest.mark.parametrize(
    ("state", "twice", "error"),
    [
        (State.HEAT, Twice.OPEN, Error.UNCOVERED),
        (State.HEAT, Twice.OVERFLOW, Error.OVERFLOW),
        (State.SPRAY, Twice.OVERFLOW, Error.OVERFLOW),
    ],
)
def test_a_switch_that_says_otherwise_the_second_time(state: int, twice: Twice, error: int) -> None:
    with rig(program(), [ALL & ~Hook.BATH]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(state, 1)
        assert asked(bench, twice=twice)["error"] == error
        assert bench.last["on"] == 0


def test_two_readings_apart_are_none() -> None:
    """The element goes off at the first, the run ends after 5 s of it; 2 K are not too far (our choice)."""
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.HEAT, 1)
        assert bench.last["seen_dc"] == 200
        assert asked(bench, twice=Twice.BATH_APART)["on"] == 0
        assert bench.last["seen_dc"] == NOTHING_SEEN
        assert bench.step()["on"] == On.ELEMENT
        for _ in range(6):
            asked(bench, twice=Twice.BATH_APART)
        assert bench.last["error"] == Error.SENSOR_LOST


@pytest.mark.parametrize(
    ("add", "bath_dc", "error"), [(In.STOP, 400, Error.STOPPED), (In(0), 900, Error.TOO_HOT)]
)
def test_the_temperature_is_that_of_now_when_no_run_goes_on(add: In, bath_dc: int, error: int) -> None:
    """Someone waits beside a bath that was too hot, or stopped: no reading of an earlier step is shown."""
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        assert (bench.last["state"], bench.last["seen_dc"]) == (State.IDLE, 200)
        bench.start()
        bench.until(State.HEAT, 1)
        assert bench.step(add=int(add), bath_dc=bath_dc)["seen_dc"] == bath_dc
        for step in range(60):
            assert bench.step(bath_dc=bath_dc - 3 * step)["seen_dc"] == bath_dc - 3 * step
            assert bench.step(flags=int(In.POWER))["seen_dc"] == NOTHING_SEEN
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, error)


def test_no_round_is_left_while_the_load_stands() -> None:
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        assert (bench.last["seen_round"], bench.last["rounds_left"]) == (0, 0)
        bench.start()
        rounds = len(PLANS["first"].constants.rounds)
        for number in range(rounds):
            bench.until(State.DRAIN, number)
            assert (bench.last["seen_round"], bench.last["rounds_left"]) == (number + 1, rounds - number)
        bench.until(State.STAND)
        assert (bench.last["seen_round"], bench.last["rounds_left"]) == (0, 0)
        assert bench.last["left_s"] == PLANS["first"].constants.stand_s


@pytest.mark.parametrize("step_ms", [300, 700, 1999])
def test_the_time_left_is_short_by_no_more_than_a_step_a_phase(step_ms: int) -> None:
    """Steps that do not divide a second: the run lasts what was said at least, and a step a phase more."""
    with rig(program(), [ALL]) as copies:
        bench = Bench(copies)
        left_s, begun_ms, phases = int(bench.start()["left_s"]), bench.clock_ms, 0
        told = []
        while (state := int(bench.last["state"])) != State.IDLE:
            told.append((bench.clock_ms, int(bench.last["left_s"]), phases))
            phases += bench.step(step_ms)["state"] != state
        assert bench.last["error"] == Error.OK
        assert left_s == PLANS["first"].constants.total_max_s
        assert 1000 * left_s <= bench.clock_ms - begun_ms
        for clock_ms, said_s, before in told:
            lasted_ms = bench.clock_ms - clock_ms
            assert 1000 * (said_s - 1) <= lasted_ms <= 1000 * said_s + step_ms * (phases - before)


def test_start_and_step_at_different_ticks_do_not_shorten_the_first_drain() -> None:
    """The rehearsal's start drain is as short as its shortest drain: not a millisecond may be lost."""
    constants = PLANS["rehearsal"].constants
    assert constants.start_drain_s == constants.drain_min_s
    with rig(program(), [ALL]) as copies:
        bench = chosen(copies, 3)
        bench.step(add=int(In.START | In.SKIP))
        assert bench.last["on"] == On.DRAIN_PUMP
        bench.step(7)
        for _ in range(constants.total_max_s * 10):
            bench.step(101)
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.OK)
