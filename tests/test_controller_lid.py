"""The lid at the reference controller: nothing is on while it is open, shutting it starts nothing.

That no output is on with the lid open in any state, whatever else goes wrong, is watched by
`controller_attack.c` on random tables; here each state is opened once, and what comes after it followed.
How long a run may be held, and that it goes on with a whole round, are rules of our own (no source).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from controller_bench import (
    ALL,
    ELEMENT_REST_S,
    FINE,
    GAP_S,
    REST_S,
    START_DRAIN_S,
    Bench,
    expected,
    quick,
    started,
)
from controller_cases import built, outputs_of, quick_plan
from controller_rig import IN, Ask, Error, Hook, In, On, State, Twice, needs_cc, rig
from firmware_boards import BOTH, DRY, LID, Event, press, text_of, writes

pytestmark = needs_cc

SEES = ALL | Hook.LID
PLACES = [
    *((state, 0) for state in (State.START_DRAIN, State.GAP, State.FILL, State.SPRAY, State.DRAIN)),
    *((state, 1) for state in (State.HEAT, State.SPRAY, State.SOAK, State.LAST_SPRAY, State.REST)),
    *((state, 1) for state in (State.TOP_UP, State.MIX, State.DRAIN)),
    *((State.SPRAY, 3), (State.HEAT, 4), (State.DRAIN, 4)),
]
"""A state of the rounds and the round in which it is visited."""
NAMES = [f"{State(state).name} {number + 1}" for state, number in PLACES]
HELD_MAX_S = 600


def opened(bench: Bench, ms: int = 100, flags: int = FINE, **told: int) -> np.void:
    """Step once with the lid open."""
    row = np.zeros(1, IN)
    row["flags"], row["bath_dc"], row["asks"] = flags, 200, Ask.LID_OPEN
    for name, value in told.items():
        row[name] = value
    bench.clock_ms += ms
    bench.last = bench.copies.tell(bench.clock_ms, row)[0]
    return bench.last


def from_round(number: int) -> list[int]:
    """Outputs from a round's first pause on, one number a second."""
    constants = quick_plan().constants
    before = 0
    for row in constants.rounds[:number]:
        lengths = [getattr(row, name) for name in ("fill_s", "heat_s", "spray_s", "soak_s", "rest_s")]
        lengths += [row.top_up_s, row.mix_s, row.drain_s]
        before += sum(lengths) + GAP_S * (sum(bool(length) for length in lengths) + (row.soak_s > 0))
    found: list[int] = outputs_of(constants)[START_DRAIN_S + before :].tolist()
    return found


@pytest.mark.parametrize(("state", "number"), PLACES, ids=NAMES)
def test_an_opened_lid_switches_all_off_and_shutting_it_starts_nothing(state: int, number: int) -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, state, number)
        assert (opened(bench, 1)["on"], bench.last["state"], bench.last["round"]) == (0, State.HELD, number)
        assert bench.last["running"], "a power cut while it is held is a cut in a run"
        for _ in range(20):
            assert (opened(bench)["on"], bench.last["seen_lid"]) == (0, 3)
            assert opened(bench, flags=FINE | In.START)["answer"] == 0, "no start under an open lid"
        assert bench.outputs(100) == [0] * 100
        assert (bench.last["state"], bench.last["error"], bench.last["seen_lid"]) == (State.HELD, Error.OK, 2)


@pytest.mark.parametrize(("state", "number"), PLACES, ids=NAMES)
def test_a_start_goes_on_with_a_drain_and_all_of_that_round(state: int, number: int) -> None:
    """The detergent of the round too; then the programme to its end, by the second."""
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, state, number)
        opened(bench)
        on, left = [int(bench.start()["on"])], [int(bench.last["left_s"])]
        assert bench.last["round"] == number
        doses = 0
        while bench.last["state"] != State.IDLE and len(on) < 999:
            on.append(int(bench.step()["on"]))
            left.append(int(bench.last["left_s"]))
            doses += int(bench.last["doses"])
        drain = on.index(On.DRAIN_PUMP)
        assert drain in (0, *range(GAP_S, max(ELEMENT_REST_S, GAP_S) + 2)), "as long as the element cools"
        wanted = [int(On.DRAIN_PUMP)] * START_DRAIN_S + from_round(number)
        assert on[drain : drain + len(wanted)] == wanted
        assert not any(on[drain + len(wanted) :])
        assert doses == sum(row.detergent_dg > 0 for row in quick_plan().constants.rounds[number:])
        assert (bench.last["error"], bench.last["running"], bench.last["seen_lid"]) == (Error.OK, 0, 2)
        assert np.all(np.diff(left) <= 0)
        assert left[drain] == len(wanted)


def test_a_lid_open_from_the_first_moment_holds_no_element_hot_in_a_drain() -> None:
    """Opened while it heats and started at once: the drain waits for the element's rest."""
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.HEAT, 1)
        opened(bench, 1)
        bench.start()
        waits_s = 0
        while not bench.last["on"]:
            bench.step()
            waits_s += 1
        assert waits_s >= ELEMENT_REST_S - 1
        assert bench.last["on"] == On.DRAIN_PUMP


@pytest.mark.parametrize("shut", [False, True])
def test_held_too_long_ends_the_run_with_its_water_in(shut: bool) -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.HEAT, 1)
        opened(bench)
        for _ in range(HELD_MAX_S):
            assert (bench.step() if shut else opened(bench, 1000))["state"] == State.HELD
        assert (bench.step() if shut else opened(bench, 1000))["error"] == Error.LID_OPEN
        assert bench.outputs(200) == [0] * 200
        assert (bench.last["state"], bench.last["running"]) == (State.IDLE, 0)
        # From here on a start is one of a whole run.
        assert [int(bench.start()["on"]), *bench.outputs(len(expected()) - 1)] == expected()
        assert bench.last["seen_lid"] == 0


def test_a_lid_may_end_a_run_at_once() -> None:
    with rig(quick("-DWASH_HELD_MAX_S=0UL"), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 1)
        opened(bench)
        assert opened(bench)["error"] == Error.LID_OPEN
        assert bench.outputs(100) == [0] * 100


def test_the_lid_may_be_open_while_the_load_stands() -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.STAND, 4)
        while bench.last["state"] == State.STAND:
            assert opened(bench)["on"] == 0
        assert (bench.last["state"], bench.last["error"], bench.last["seen_lid"]) == (State.IDLE, Error.OK, 1)


@pytest.mark.parametrize("state", [State.SAFE_OFF, State.SAFE_DRAIN])
def test_a_lid_opened_in_the_safe_state_ends_it_without_its_drain(state: int) -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 0)
        bench.step(add=int(In.STOP))
        bench.until(state)
        assert (opened(bench)["on"], bench.last["state"]) == (0, State.IDLE)
        assert bench.outputs(200) == [0] * 200
        assert bench.last["error"] == Error.STOPPED


def test_a_stop_of_a_held_run_drains_once_with_the_lid_shut() -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 0)
        opened(bench)
        bench.step(add=int(In.STOP))
        on = bench.outputs(100)
        assert on.count(On.DRAIN_PUMP) == START_DRAIN_S
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.STOPPED)


def test_a_power_cut_while_it_is_held_starts_nothing() -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 1)
        opened(bench)
        bench.step(flags=0)
        assert bench.outputs(200) == [0] * 200
        assert bench.last["error"] == Error.POWER_CUT


def test_a_restart_by_itself_waits_for_a_lid_that_is_open() -> None:
    with rig(built(quick_plan(restart_after_cut=True)), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 1)
        bench.step(flags=0)
        for _ in range(100):
            assert opened(bench, 1000)["on"] == 0
        assert bench.outputs(100) == [0] * 100
        assert bench.last["state"] == State.HELD


def test_one_of_two_looks_that_says_open_is_enough() -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 0)
        bench.steps(1, twice=int(Twice.LID))
        assert (bench.last["on"], bench.last["state"]) == (0, State.HELD)


def test_nothing_can_be_left_out_under_an_open_lid() -> None:
    with rig(quick(), [SEES]) as copies:
        bench = started(copies, State.SPRAY, 0)
        assert opened(bench, asks=int(Ask.LID_OPEN | Ask.SKIP_ROUND))["asked"] == 0
        assert (bench.last["on"], bench.last["state"]) == (0, State.HELD)


@pytest.mark.parametrize("lid", [Hook(0), Hook.LID])
def test_a_board_says_that_it_has_a_lid_switch_or_that_it_has_none(lid: Hook) -> None:
    """Neither, or both, starts nothing."""
    with rig(quick(), [ALL | lid | Hook.LID_UNSAID]) as copies:
        bench = Bench(copies, idle_s=2)
        assert (bench.start()["answer"], bench.last["error"]) == (0, Error.HOOKS)
        assert bench.outputs(REST_S) == [0] * REST_S


@pytest.mark.parametrize("hooks", [ALL, SEES])
def test_without_a_switch_or_with_a_lid_that_stays_shut_all_is_as_it_was(hooks: Hook) -> None:
    """An open lid that nothing reads changes nothing: then the switch in the supply alone guards."""
    with rig(quick(), [hooks]) as copies:
        bench = Bench(copies)
        on = [int(bench.start()["on"])]
        for _ in expected()[1:]:
            asks = 0 if hooks & Hook.LID else int(Ask.LID_OPEN)
            flags = FINE & ~In.COVERED if bench.last["on"] & On.DRAIN_PUMP else FINE
            on.append(int(opened(bench, 1000, flags, asks=asks)["on"]))
        assert on == expected()


@cache
def _held_events() -> tuple[Event, ...]:
    """Start, open the lid in the first spray or before, shut it, press long."""
    return (*DRY, *press(12_000, long=True), (20_000, LID, 1), (25_000, LID, 0))


@pytest.mark.parametrize("board", BOTH)
@pytest.mark.parametrize("long", [True, False])
def test_the_example_goes_on_by_a_long_press_and_ends_by_a_short_one(
    board: type[object], long: bool, tmp_path: Path
) -> None:
    said = board([*_held_events(), *press(30_000, long=long)], 60_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    text = text_of(said)
    assert "held by the lid" in text
    assert ", LID OPEN, was held: not proven" in text
    assert ("STOPPED: stopped" in text) == (not long)
    between = [level for ms, _, level in writes(said) if 20_050 < ms < 30_000]
    assert not any(between)
    drains = [pin for ms, pin, level in writes(said) if ms > 30_000 and level]
    assert drains[0] == 5


@pytest.mark.parametrize("board", BOTH)
def test_the_example_starts_nothing_under_an_open_lid(board: type[object]) -> None:
    said = board([(1, 8, 0), *press(12_000, long=True)], 30_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    assert not writes(said)
    assert "LID OPEN" in text_of(said)
