"""The reference controller when something is wrong: how soon it sees it, and what it does then."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from controller_bench import (
    ALL,
    CONSTANTS,
    DRY,
    ELEMENT_REST_S,
    FINE,
    GAP_S,
    Bench,
    assert_safe,
    expected,
    quick,
    started,
)
from controller_cases import built, quick_plan
from controller_rig import Error, Hook, In, On, State, needs_cc, rig

pytestmark = needs_cc

BATH_MAX_DC = CONSTANTS.bath_max_dc
QUICK_SENSOR = "-DWASH_SENSOR_MOVES_S=3U"
PLACES = [
    *((state, 0) for state in (State.START_DRAIN, State.GAP, State.FILL, State.SPRAY, State.DRAIN)),
    *((state, 1) for state in (State.HEAT, State.SPRAY, State.SOAK, State.LAST_SPRAY, State.REST)),
    *((state, 1) for state in (State.TOP_UP, State.MIX)),
    *((State.SPRAY, 3), (State.HEAT, 4), (State.STAND, 4)),
]
"""A state and the round in which it is visited: together every state of a run but COOL."""
NAMES = [f"{State(state).name} {number + 1}" for state, number in PLACES]


@pytest.mark.parametrize(("state", "number"), PLACES, ids=NAMES)
def test_stop_ends_in_the_safe_state_from_anywhere(state: int, number: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        was_on = bool(bench.last["on"] & On.ELEMENT)
        bench.step(900, add=int(In.STOP))
        assert_safe(bench, Error.STOPPED, was_on=was_on)


@pytest.mark.parametrize(("state", "number"), PLACES, ids=NAMES)
def test_overflow_switch_ends_any_state_in_one_step_and_drains_without_waiting(
    state: int, number: int
) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        bench.step(100, add=int(In.OVERFLOW))
        assert_safe(bench, Error.OVERFLOW, cools=False, was_on=True)


@pytest.mark.parametrize(("state", "number"), PLACES, ids=NAMES)
def test_too_hot_ends_any_state_in_one_step_and_keeps_the_water(state: int, number: int) -> None:
    """If the element is on although it should be off, the water is all that keeps it from running dry."""
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        assert bench.step(100, bath_dc=BATH_MAX_DC)["error"] == Error.OK
        bench.step(100, bath_dc=BATH_MAX_DC + 1)
        assert_safe(bench, Error.TOO_HOT, drains=False, was_on=True)


@pytest.mark.parametrize(
    ("state", "number"), [place for place in PLACES if place[0] in (State.HEAT, State.SPRAY)]
)
def test_element_goes_off_in_the_step_in_which_the_float_opens(state: int, number: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        if not bench.last["on"] & On.ELEMENT:
            assert (state, number) == (State.SPRAY, 0)
            assert bench.step(100, DRY)["error"] == Error.OK
            return
        bench.step(1, DRY)
        assert_safe(bench, Error.UNCOVERED, was_on=True)


def test_float_open_at_the_end_of_a_heated_fill_keeps_the_element_off() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.FILL, 0)
        while bench.last["round"] == 0:
            bench.step(flags=DRY)
            assert bench.last["error"] == Error.OK, "the prerinse is not heated and does without"
        while bench.last["error"] == Error.OK:
            bench.step(flags=DRY)
            assert not bench.last["on"] & On.ELEMENT
        assert bench.last["detergent_dg"] == 0
        assert_safe(bench, Error.NOT_FILLED, was_on=False)


@pytest.mark.parametrize("state", [State.START_DRAIN, State.DRAIN])
def test_float_closed_at_the_end_of_a_drain_lets_no_more_water_in(state: int) -> None:
    """It has stuck, its reed has welded, or water is left: the element has one guard less (no source)."""
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, 0)
        while bench.last["error"] == Error.OK:
            assert bench.step(flags=FINE)["state"] in (state, State.SAFE_OFF)
        assert_safe(bench, Error.FLOAT_CLOSED, was_on=False)


def test_float_that_stays_closed_on_the_residue_can_be_allowed() -> None:
    with rig(quick("-DWASH_FLOAT_OPENS_EMPTY=0"), [ALL]) as copies:
        bench = Bench(copies)
        on = [int(bench.step(flags=FINE, add=int(In.START))["on"])]
        on += [int(bench.step(flags=FINE)["on"]) for _ in expected()[1:]]
        assert on == expected()


@pytest.mark.parametrize("bath_dc", [None, -51, 1201, -32768, 32767])
@pytest.mark.parametrize(("state", "number"), [(State.HEAT, 1), (State.SPRAY, 3), (State.DRAIN, 0)])
def test_lost_sensor_turns_the_element_off_at_once_and_ends_the_run_after_5_s(
    state: int, number: int, bath_dc: int | None
) -> None:
    """No reading, and readings that no bath can have."""
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        flags = (DRY if state == State.DRAIN else FINE) & ~(In.BATH if bath_dc is None else 0)
        for _ in range(50):
            bench.step(100, flags, bath_dc=bath_dc or 0)
            assert not bench.last["on"] & On.ELEMENT
            assert bench.last["error"] == Error.OK
        bench.step(100, flags, bath_dc=bath_dc or 0)
        assert_safe(bench, Error.SENSOR_LOST, was_on=False)


@pytest.mark.parametrize(("bath_dc", "error"), [(-50, Error.OK), (1200, Error.TOO_HOT)])
def test_last_readings_that_a_bath_can_have_count(bath_dc: int, error: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        assert bench.step(100, bath_dc=bath_dc)["error"] == error
        assert bool(bench.last["on"] & On.ELEMENT) == (error == Error.OK)


def test_lost_sensor_has_its_5_s_again_in_the_next_run() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        for _ in range(6):
            bench.step(flags=FINE & ~In.BATH)
        assert bench.last["error"] == Error.SENSOR_LOST
        bench.until(State.IDLE)
        bench.step(flags=DRY & ~In.BATH, add=int(In.START))
        for _ in range(5):
            assert bench.step(flags=DRY & ~In.BATH)["error"] == Error.OK
        assert bench.step(flags=DRY & ~In.BATH)["error"] == Error.SENSOR_LOST


def test_sensor_that_comes_back_in_time_lets_the_element_go_on() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        assert bench.step(flags=FINE & ~In.BATH)["on"] == 0
        for _ in range(3):
            assert bench.step(100)["on"] == On.ELEMENT
            assert bench.step(1000, FINE & ~In.BATH)["on"] == 0
        assert bench.until(State.SPRAY)["error"] == Error.OK


@pytest.mark.parametrize(("moves_dk", "error"), [(9, Error.SENSOR_STUCK), (10, Error.OK)])
def test_sensor_must_move_while_the_element_is_on(moves_dk: int, error: int) -> None:
    with rig(quick(QUICK_SENSOR), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        for second in range(1, 6):
            bench.step(bath_dc=200 + moves_dk * (second >= 3))
            assert bench.last["error"] == (error if second > 3 else Error.OK)
            if bench.last["error"]:
                return assert_safe(bench, Error.SENSOR_STUCK, was_on=True)
        return None


def test_boiling_water_keeps_the_sensor_still() -> None:
    """The steam round heats for 9 s at the same reading; a sensor that stands still is no fault there."""
    with rig(quick(QUICK_SENSOR), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        for second in range(len(expected())):
            bench.step(bath_dc=200 + 10 * (second % 2) if bench.last["round"] < 4 else 740)
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.OK)


@pytest.mark.parametrize(("state", "number"), PLACES[:-1], ids=NAMES[:-1])
def test_power_cut_in_a_run_starts_nothing_by_itself(state: int, number: int) -> None:
    """A pulled plug is a cut as well, and hands may be in the tank: the water waits for a person too."""
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, state, number)
        bench.step(flags=0)
        on = [int(bench.step()["on"]) for _ in range(300)]
        assert not any(on)
        assert (bench.last["state"], bench.last["error"], bench.last["running"]) == (
            State.IDLE,
            Error.POWER_CUT,
            0,
        )
        # Started by a person, it drains what stood there and goes through the whole programme.
        on = [int(bench.start()["on"]), *bench.outputs(len(expected()) - 1)]
        assert on == expected()


@cache
def restarting() -> Path:
    """Compile the controller for the header of someone who wrote WASH_RESTART_AFTER_CUT 1 into it."""
    return built(quick_plan(restart_after_cut=True))


@pytest.mark.parametrize(("state", "number"), PLACES[:-1], ids=NAMES[:-1])
def test_only_where_the_header_says_so_a_power_cut_cools_drains_and_begins_again(
    state: int, number: int
) -> None:
    with rig(restarting(), [ALL]) as copies:
        bench = started(copies, state, number)
        assert bench.last["running"]
        for _ in range(3):
            assert bench.step(flags=0)["on"] == 0
        bench.step()
        assert (bench.last["state"], bench.last["on"], bench.last["answer"]) == (State.COOL, 0, 1)
        on = [0]
        while bench.last["state"] == State.COOL:
            on.append(int(bench.step()["on"]))
        assert len(on) - 1 >= max(ELEMENT_REST_S, GAP_S)
        assert not any(on[:-1])
        assert [on[-1], *bench.outputs(len(expected()) - 1)] == expected()
        assert (bench.step()["state"], bench.last["error"], bench.last["running"]) == (
            State.IDLE,
            Error.OK,
            0,
        )


@pytest.mark.parametrize("hooks", [ALL, ALL & ~Hook.FLAG])
def test_power_cut_outside_a_run_or_without_a_flag_changes_nothing(hooks: Hook) -> None:
    with rig(quick(), [hooks]) as copies:
        bench = started(copies, *((State.STAND, 4) if hooks & Hook.FLAG else (State.HEAT, 1)))
        for place in range(100):
            bench.step(flags=0 if place < 3 else FINE)
            assert (bench.last["on"], bench.last["running"]) == (0, 0)
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.OK)


def test_power_cut_in_the_safe_state_does_not_start_again_what_went_wrong() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = started(copies, State.HEAT, 1)
        bench.step(flags=DRY)
        for place in range(100):
            bench.step(flags=0 if place < 3 else FINE)
            assert (bench.last["on"], bench.last["running"]) == (0, 0)
