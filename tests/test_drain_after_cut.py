"""After power-up: whether the tank may be too hot for the drain pipe, by a flag that outlives the cut.

Nothing reads the bath here. Safety rules of our own (no source); `controller_attack.c` has them on random
tables.
"""

from __future__ import annotations

import numpy as np
import pytest
from controller_bench import ALL, DRY, ELEMENT_REST_S, FINE, GAP_S, Bench, expected, quick
from controller_cases import QUICK, built, outputs_of, quick_plan
from controller_rig import IN, Ask, Error, Hook, In, On, State, needs_cc, rig

pytestmark = needs_cc

WAIT_S = 45
KEEPS = (ALL | Hook.COOL) & ~Hook.BATH
OPTIONS = (f"-DWASH_DRAIN_WAIT_S={WAIT_S}UL", "-DWASH_FILL_IS_COLD=1")
SHORT_S = max(ELEMENT_REST_S, GAP_S) + 1
"""All that a start waits for where the tank is known to be cool [s]."""


def told(bench: Bench, asks: int = 0, *, flags: int = 0, dry: bool = True) -> np.void:
    """One second in which something is asked for."""
    row = np.zeros(1, IN)
    row["flags"], row["bath_dc"], row["asks"] = (DRY if dry else FINE) | flags, 200, asks
    bench.clock_ms += 1000
    bench.last = bench.copies.tell(bench.clock_ms, row)[0]
    return bench.last


def until_drain_s(bench: Bench, asks: int = 0) -> int:
    """Cut the power, spoil what was kept, start: time from power-up until it drains [s]."""
    bench.step(flags=0)
    told(bench, asks)
    seconds = 1
    told(bench, flags=int(In.START))
    while not bench.last["on"]:
        told(bench)
        seconds += 1
        assert seconds < 10 * WAIT_S
    assert bench.last["on"] == On.DRAIN_PUMP
    return seconds


def done_once(bench: Bench) -> None:
    """A whole run, with its wait."""
    bench.start()
    for _ in range(WAIT_S + len(expected()) + 60):
        bench.step()
    assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.OK)


def test_after_a_run_that_was_done_a_start_does_not_wait() -> None:
    with rig(quick(*OPTIONS), [KEEPS]) as copies:
        bench = Bench(copies, idle_s=1)
        done_once(bench)
        assert bench.last["cool"] == 1
        assert until_drain_s(bench) <= SHORT_S
    with rig(quick(*OPTIONS), [KEEPS & ~Hook.COOL]) as copies:
        bench = Bench(copies, idle_s=1)
        done_once(bench)
        assert until_drain_s(bench) >= WAIT_S


def test_a_new_board_waits_once_whoever_looks_ends_it_and_both_are_kept() -> None:
    """It may have come into a machine that stands hot; nobody knows."""
    with rig(quick(*OPTIONS), [KEEPS]) as copies:
        bench = Bench(copies, idle_s=WAIT_S)
        assert bench.last["cool"] == 0
        bench.step()
        assert bench.last["cool"] == 1
        assert until_drain_s(bench) <= SHORT_S
    with rig(quick(*OPTIONS), [KEEPS]) as copies:
        bench = Bench(copies, idle_s=1)
        assert told(bench, Ask.TANK_IS_COOL)["asked"] == 1
        assert bench.last["cool"] == 1
        assert until_drain_s(bench) <= SHORT_S


@pytest.mark.parametrize("asks", [0, Ask.WRITE_LOST, Ask.SPOILT])
def test_a_cut_at_any_second_of_a_run(asks: int) -> None:
    """A copy for each second: hot water waits, also where the last write was lost; what is cool does not."""
    plan = quick_plan((*QUICK[:2], QUICK[3], QUICK[0]))
    outputs = outputs_of(plan.constants)
    seconds = len(outputs)
    second_of = np.arange(seconds)
    hot, may_be_hot = np.zeros(seconds, bool), False
    for second, on in enumerate(outputs):
        may_be_hot = bool(on & On.ELEMENT) or (may_be_hot and on != On.DRAIN_PUMP)
        hot[second] = may_be_hot
    last_hot = np.flatnonzero(hot)[-1]
    rows, waited = np.zeros(seconds, IN), np.full(seconds, -1)
    with rig(built(plan, *OPTIONS), [int(KEEPS)] * seconds) as copies:
        last = copies.step(0, FINE)
        for now_s in range(1, 2 * WAIT_S + seconds + 20):
            second = now_s - WAIT_S - 5  # of the run; the copy's own is its last with power
            age = second - second_of - 2  # since the power came back
            asked = (second == 0) | ((age > 0) & (waited < 0))
            usual = np.where((last["on"] & On.DRAIN_PUMP > 0) | (age >= 0), DRY, FINE)
            rows["flags"] = np.where(age == -1, 0, usual) | np.where(asked, In.START, 0)
            rows["bath_dc"], rows["asks"] = 200, np.where(age == 0, asks, 0)
            last = copies.tell(1000 * now_s, rows)
            now = (age > 0) & (waited < 0) & (last["on"] > 0)
            assert (last["on"][now] == On.DRAIN_PUMP).all()
            waited[now] = age[now]
    assert hot.sum() > 30
    assert (waited > 0).all()
    assert (waited[hot] >= WAIT_S).all()
    short = waited <= SHORT_S + GAP_S
    assert (short | (waited >= WAIT_S)).all()
    after = second_of > last_hot + plan.constants.rounds[2].drain_s + 1
    assert after.sum() > 20
    assert short[after].all() == (asks == 0)
    assert not short[after].any() or asks != Ask.SPOILT


def test_a_reading_outlasts_the_wait_here_too() -> None:
    with rig(quick(*OPTIONS), [KEEPS | Hook.BATH]) as copies:
        bench = Bench(copies, idle_s=1)
        seen = {int(bench.step(bath_dc=401)["cool"]) for _ in range(2 * WAIT_S)}
        assert seen == {0}
        assert bench.step(bath_dc=400)["cool"] == 1


def test_each_flag_is_written_twice_a_run() -> None:
    with rig(quick(*OPTIONS), [KEEPS]) as copies:
        bench = Bench(copies, idle_s=WAIT_S + 2)
        flags = []
        bench.start()
        for _ in range(len(expected()) + 60):
            flags.append((int(bench.last["running"]), int(bench.last["cool"])))
            bench.step()
        assert flags[0] == (1, 0), "noted as the run begins, before anything heats"
        assert flags[-1] == (0, 1)
        assert (np.abs(np.diff(np.array(flags), axis=0)).sum(axis=0) == 1).all()


def test_a_memory_that_goes_on_saying_cool_lets_no_run_begin() -> None:
    with rig(quick(*OPTIONS), [KEEPS]) as copies:
        bench = Bench(copies, idle_s=WAIT_S + 2)
        assert bench.last["cool"] == 1
        stuck = told(bench, Ask.STICKS, flags=int(In.START))
        assert (stuck["answer"], stuck["state"], stuck["error"]) == (0, State.IDLE, Error.MEMORY)
        assert not any(bench.outputs(30))
        assert bench.start()["answer"] == 1


@pytest.mark.parametrize(("hooks", "right"), [(KEEPS, True), (KEEPS & ~Hook.FLAG, False)])
def test_the_flag_of_the_tank_needs_that_of_the_run(hooks: int, right: bool) -> None:
    """A lost write of the one is found by the other."""
    with rig(quick(*OPTIONS), [hooks]) as copies:
        first = copies.step(0, FINE)[0]
        assert first["answer"] == right
        assert (first["error"] == Error.HOOKS) == (not right)


def test_a_programme_that_makes_nothing_hot_writes_nothing() -> None:
    """No bath of the machine is ever too hot for its pipe."""
    with rig(quick("-DWASH_DRAIN_WAIT_S=0UL"), [KEEPS]) as copies:
        bench = Bench(copies)
        assert bench.last["cool"] == 1
        bench.start()
        cool = []
        for _ in range(len(expected())):
            cool.append(int(bench.step()["cool"]))
        assert set(cool) == {1}
