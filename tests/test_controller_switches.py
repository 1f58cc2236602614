"""The reference controller with a thermostat and a level switch, edge by edge."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import pytest
from controller_bench import DRY, REST_S, Bench
from controller_cases import SWITCHED, built, switched_plan
from controller_rig import Error, Hook, In, On, State, needs_cc, rig

pytestmark = needs_cc

HOOKS = Hook.BATH | Hook.FULL
SETPOINT_DC, HYSTERESIS_DK = SWITCHED[0].setpoint_dc, switched_plan().constants.hysteresis_dk
FULL, EMPTY = int(DRY | In.FULL), DRY


@cache
def program() -> Path:
    return built(switched_plan())


@contextmanager
def filling(hooks: Hook = HOOKS, *, idle_s: int = REST_S) -> Iterator[Bench]:
    """One copy whose first fill has just begun; the switch is open."""
    with rig(program(), [hooks]) as copies:
        bench = Bench(copies, idle_s=idle_s)
        bench.start()
        bench.until(State.FILL)
        yield bench


@contextmanager
def heating(bath_dc: int = 200) -> Iterator[Bench]:
    """One copy whose first heat has just begun, or been passed over."""
    with filling() as bench:
        for _ in range(6):
            bench.step(500, FULL, bath_dc=bath_dc)
            if bench.last["state"] not in (State.FILL, State.GAP):
                break
        yield bench


def test_level_switch_ends_the_fill_once_it_has_been_closed_for_half_a_second() -> None:
    with filling() as bench:
        for _ in range(30):
            assert bench.step(100, EMPTY)["on"] == On.INLET
        for _ in range(5):
            assert bench.step(100, FULL)["on"] == On.INLET
        bench.step(100, EMPTY)
        for _ in range(5):
            assert bench.step(100, FULL)["on"] == On.INLET, "it began to count again"
        assert (bench.step(100, FULL)["on"], bench.last["state"]) == (0, State.GAP)


def test_every_fill_waits_for_the_switch_to_be_steady() -> None:
    with heating(SETPOINT_DC) as bench:
        while bench.last["round"] == 0 or bench.last["state"] != State.FILL:
            bench.step(500, EMPTY if bench.last["state"] == State.DRAIN else FULL, bath_dc=SETPOINT_DC)
        for _ in range(5):
            assert bench.step(100, FULL)["on"] == On.INLET
        assert (bench.step(100, FULL)["on"], bench.last["state"]) == (0, State.GAP)


@pytest.mark.parametrize("chatter", [1, 2, 4])
def test_switch_that_chatters_never_ends_the_fill(chatter: int) -> None:
    with filling() as bench:
        for place in range(10 * SWITCHED[0].fill_s - 1):
            assert bench.step(100, EMPTY if place % (chatter + 1) == chatter else FULL)["on"] == On.INLET


def test_switch_that_does_not_close_in_time_ends_the_run() -> None:
    with filling() as bench:
        for _ in range(SWITCHED[0].fill_s - 1):
            assert bench.step(1000, EMPTY)["on"] == On.INLET
        assert (bench.step(1000, EMPTY)["on"], bench.last["error"]) == (0, Error.NOT_FILLED)


def test_switch_that_closes_in_the_last_moment_is_waited_for() -> None:
    with filling() as bench:
        for _ in range(10 * SWITCHED[0].fill_s - 2):
            assert bench.step(100, EMPTY)["on"] == On.INLET
        for _ in range(5):
            assert (bench.step(100, FULL)["on"], bench.last["error"]) == (On.INLET, Error.OK)
        assert (bench.step(100, FULL)["on"], bench.last["state"]) == (0, State.GAP)


def test_switch_that_closes_in_the_last_moment_is_waited_for_by_slow_steps_too() -> None:
    """Seen closed a step late and steady a step late: no fault, though the inlet was open 4.5 s longer."""
    with filling() as bench:
        for _ in range(SWITCHED[0].fill_s - 1):
            assert bench.step(1000, EMPTY)["on"] == On.INLET
        assert bench.step(999, EMPTY)["on"] == On.INLET
        assert bench.step(1999, FULL)["on"] == On.INLET
        assert bench.step(498, FULL)["on"] == On.INLET
        bench.step(2000, FULL)
        assert (bench.last["on"], bench.last["state"], bench.last["error"]) == (0, State.GAP, Error.OK)


def test_level_switch_closed_after_a_drain_lets_no_more_water_in() -> None:
    with heating(SETPOINT_DC) as bench:
        while bench.last["state"] != State.DRAIN:
            bench.step(1000, FULL, bath_dc=SETPOINT_DC)
        while bench.last["error"] == Error.OK:
            assert not bench.step(1000, FULL)["on"] & On.INLET
        assert bench.last["error"] == Error.NOT_DRAINED


def test_heat_ends_at_the_setpoint_and_not_a_tenth_below() -> None:
    with heating() as bench:
        assert bench.last["state"] == State.HEAT
        for _ in range(9):
            assert bench.step(1000, FULL, bath_dc=SETPOINT_DC - 1)["on"] == On.ELEMENT
        assert (bench.step(100, FULL, bath_dc=SETPOINT_DC)["on"], bench.last["state"]) == (0, State.GAP)


def test_heat_ends_after_its_longest_time_below_the_setpoint() -> None:
    with heating() as bench:
        heated_s = 1
        while bench.step(1000, FULL)["state"] == State.HEAT:
            heated_s += 1
        assert heated_s == SWITCHED[0].heat_s
        assert (bench.last["state"], bench.last["error"]) == (State.GAP, Error.OK)


@pytest.mark.parametrize("bath_dc", [SETPOINT_DC, SETPOINT_DC + 1])
def test_bath_that_is_hot_already_is_not_heated(bath_dc: int) -> None:
    with heating(bath_dc) as bench:
        on = []
        while bench.last["state"] != State.DRAIN:
            on.append(int(bench.step(1000, FULL, bath_dc=bath_dc)["on"]))
        assert On.WASH_PUMP in on
        assert not any(value & On.ELEMENT for value in on)


def test_thermostat_switches_off_at_the_setpoint_and_on_a_hysteresis_below() -> None:
    with heating(SETPOINT_DC) as bench:
        while bench.last["state"] != State.SPRAY:
            bench.step(500, FULL, bath_dc=SETPOINT_DC)
        both, pump = On.WASH_PUMP | On.ELEMENT, On.WASH_PUMP
        below_dc = SETPOINT_DC - HYSTERESIS_DK
        course = [(SETPOINT_DC, pump), (below_dc + 1, pump), (below_dc, both), (below_dc + 1, both)]
        course += [
            (SETPOINT_DC - 1, both),
            (SETPOINT_DC, pump),
            (SETPOINT_DC - 1, pump),
            (below_dc - 50, both),
        ]
        for bath_dc, on in 2 * course:
            assert bench.step(200, FULL, bath_dc=bath_dc)["on"] == on, bath_dc


def test_spray_begins_with_the_element_on_anywhere_below_the_setpoint() -> None:
    with heating(SETPOINT_DC) as bench:
        while bench.last["state"] == State.GAP:
            bench.step(500, FULL, bath_dc=SETPOINT_DC - 1)
        assert (bench.last["state"], bench.last["on"]) == (State.SPRAY, On.WASH_PUMP | On.ELEMENT)


def test_element_is_never_on_after_its_window_in_the_spray() -> None:
    with heating(SETPOINT_DC) as bench:
        while bench.last["state"] != State.SPRAY:
            bench.step(500, FULL, bath_dc=200)
        on_s = 1
        for second in range(1, SWITCHED[0].spray_s):
            on = bench.step(1000, FULL, bath_dc=200)["on"]
            assert bool(on & On.ELEMENT) == (second < SWITCHED[0].spray_element_s)
            on_s += bool(on & On.ELEMENT)
        assert on_s == SWITCHED[0].spray_element_s


def test_steam_round_is_timed_although_there_is_a_thermostat() -> None:
    with filling() as bench:
        while bench.last["round"] < 2 or bench.last["state"] != State.HEAT:
            wet = bench.last["state"] not in (State.FILL, State.DRAIN) or bench.last["on"] == 0
            reached = bench.last["state"] == State.FILL
            bench.step(500, FULL if wet or reached else EMPTY, bath_dc=SWITCHED[1].setpoint_dc)
            assert bench.last["error"] == Error.OK
        seconds = 1
        # As hot as the watchdog lets it be, above every set point.
        hot_dc = switched_plan().constants.bath_max_dc
        assert hot_dc > max(row.setpoint_dc for row in SWITCHED)
        while bench.step(1000, FULL, bath_dc=hot_dc)["on"] == On.ELEMENT:
            seconds += 1
        assert (seconds, bench.last["state"]) == (SWITCHED[2].heat_s, State.GAP)
