"""A drain out of its turn: no bath that the drain pipe does not stand, after a stop, a fault, a lid or a cut.

`controller_attack.c` watches for it on random tables; here it is by its edges. The wait is a balance of heat
by hand, held against two nodes stepped here; what a drain pipe stands is the profile's.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import a_round, programme
from controller_bench import ALL, DRY, FINE, START_DRAIN_S, Bench, quick
from controller_rig import IN, Ask, Error, Hook, In, On, Rig, State, needs_cc, rig
from fault_cases import plain_machine

from optimizer.check.drain_wait import SPARE_K, WAIT_MOST_S, drain_read_most_c, drain_wait_s, hottest_left
from optimizer.check.trip_range import hottest_bath_c
from optimizer.profile.machine import Machine

HOT, COOL = 401, 400
"""Readings about WASH_DRAIN_MAX_DC of the rig [0.1 °C]."""
UNREAD = ALL & ~Hook.BATH
WAIT_S = 90
WAITS = f"-DWASH_DRAIN_WAIT_S={WAIT_S}UL"
HEATED = programme(a_round("wash", heat_s=2400, spray_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)
STRONG = {"element.rated_w": 900.0}
HELD: dict[str, Any] = {"element.control": "thermostat", "element.sensor_error_k": 0.0}
SET = programme(
    a_round("wash", heat_s=6000, setpoint_dc=650, spray_s=300, rest_s=30), a_round("rinse"),
    start_drain_s=60, control="thermostat", hysteresis_dk=20, bath_max_dc=680,
)  # fmt: skip
C_J_PER_KG_K, KG_PER_L = 4185.0, 0.998
"""Water at 60 °C (handbooks), and weighed on kitchen scales."""


def drained(bench: Bench, seconds: int, bath_dc: int = 200) -> bool:
    """Go on, and say whether anything was on but the drain pump or nothing."""
    on = [int(bench.step(bath_dc=bath_dc)["on"]) for _ in range(seconds)]
    assert set(on) <= {0, int(On.DRAIN_PUMP)}
    return any(on)


def asked(bench: Bench, copies: Rig, ask: Ask, bath_dc: int) -> np.void:
    """One step in which something else is asked for."""
    row = np.zeros(1, IN)
    row["flags"], row["bath_dc"], row["asks"] = FINE, bath_dc, ask
    bench.clock_ms += 100
    bench.last = copies.tell(bench.clock_ms, row)[0]
    return bench.last


@needs_cc
@pytest.mark.parametrize("bath_dc", [HOT, COOL])
def test_a_stop_leaves_in_what_reads_too_hot(bath_dc: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.SPRAY, 1)
        bench.step(add=int(In.STOP), bath_dc=bath_dc)
        assert drained(bench, 60, bath_dc) == (bath_dc == COOL)
        assert (bench.last["state"], bench.last["error"]) == (State.IDLE, Error.STOPPED)
        assert bench.last["seen_lid"] == (4 if bath_dc == HOT else 0)


@needs_cc
def test_a_start_waits_until_the_bath_reads_what_the_pipe_stands() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        bench.step(bath_dc=HOT)
        bench.step(add=int(In.START), bath_dc=HOT)
        assert not drained(bench, 5000, HOT)
        assert (bench.last["state"], bench.last["seen_lid"]) == (State.COOL, 4)
        assert bench.step(bath_dc=COOL)["on"] == On.DRAIN_PUMP
        assert bench.last["seen_lid"] == 0


@needs_cc
def test_a_held_run_goes_on_only_then_and_its_stop_leaves_the_water_in() -> None:
    with rig(quick(), [ALL | Hook.LID]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.SPRAY, 1)
        assert asked(bench, copies, Ask.LID_OPEN, HOT)["state"] == State.HELD
        assert not drained(bench, 30, HOT)
        bench.step(add=int(In.START), bath_dc=HOT)
        assert not drained(bench, 300, HOT)
        bench.step(add=int(In.STOP), bath_dc=HOT)
        assert not drained(bench, 300, HOT)
        assert bench.last["state"] == State.IDLE


@needs_cc
@pytest.mark.parametrize("flag", [False, True])
def test_after_power_up_a_bath_that_nothing_reads_counts_as_hot_for_the_wait(flag: bool) -> None:
    with rig(quick(WAITS), [UNREAD if flag else UNREAD & ~Hook.FLAG]) as copies:
        bench = Bench(copies, idle_s=1)
        bench.start()
        assert bench.last["left_s"] >= WAIT_S - 2 + START_DRAIN_S
        assert not drained(bench, WAIT_S - 2)
        assert drained(bench, 2)
        bench.until(State.SPRAY, 0)
        # No element, no hot inlet in this build: what the prerinse holds is not hot.
        assert bench.step(add=int(In.STOP))["error"] == Error.STOPPED


@needs_cc
def test_unread_the_wait_counts_from_the_end_of_whatever_warms() -> None:
    """The element in the spray, then the pump; a cold fill warms nothing, a drain in its turn ends it."""
    with rig(quick(WAITS, "-DWASH_FILL_IS_COLD=1"), [UNREAD]) as copies:
        for state, number, hot in (
            (State.SPRAY, 0, False), (State.SPRAY, 1, True), (State.LAST_SPRAY, 1, True),
            (State.DRAIN, 1, False), (State.FILL, 2, False), (State.HEAT, 4, True),
        ):  # fmt: skip
            bench = Bench(copies, copies_clock(copies), idle_s=WAIT_S + 70)
            bench.start()
            bench.until(state, number)
            bench.step()
            bench.step(add=int(In.STOP))
            assert drained(bench, 40) == (not hot), (state, number)
            assert bench.last["seen_lid"] == (4 if hot else 0)
            if hot:
                bench.start()
                assert not drained(bench, WAIT_S - 45), (state, number)
                assert drained(bench, 10)
            bench.step(flags=0)


CLOCK = {"ms": 0}


def copies_clock(copies: object) -> int:
    """Give each machine that is powered up anew a later clock."""
    CLOCK["ms"] += 10_000_000
    return CLOCK["ms"]


@needs_cc
def test_a_hot_inlet_warms_too() -> None:
    with rig(quick(WAITS), [UNREAD]) as copies:
        bench = Bench(copies, idle_s=WAIT_S + 70)
        bench.start()
        bench.until(State.SPRAY, 0)
        bench.step(add=int(In.STOP))
        assert not drained(bench, 40)


@needs_cc
def test_a_sensor_that_was_found_stuck_is_not_believed_about_that_bath() -> None:
    with rig(quick(WAITS, "-DWASH_SENSOR_MOVES_S=2U"), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        while bench.step()["error"] == Error.OK:
            pass
        assert bench.last["error"] == Error.SENSOR_STUCK
        assert not drained(bench, WAIT_S - 20)
        assert (bench.last["state"], bench.last["seen_lid"]) == (State.IDLE, 4)
        bench.start()
        assert not drained(bench, 10)
        assert drained(bench, 12), "the wait is over, and it reads no more than the pipe stands"


def sensor_lost(copies: Rig) -> Bench:
    """Start, and take the reading away for 10 s of the wash."""
    bench = Bench(copies)
    bench.start()
    bench.until(State.SPRAY, 1)
    for _ in range(10):
        bench.step(flags=FINE & ~int(In.BATH))
    assert bench.last["error"] == Error.SENSOR_LOST
    return bench


@needs_cc
def test_a_sensor_that_was_lost_and_reads_cold_again_is_not_believed_either() -> None:
    """A loose contact; the same reading of one that was never lost is leave to drain."""
    with rig(quick(WAITS), [ALL]) as copies:
        bench = sensor_lost(copies)
        assert not drained(bench, WAIT_S - 20, COOL)
        bench.start()
        assert not drained(bench, 8, COOL)
        assert drained(bench, 14, COOL)


@needs_cc
def test_no_reading_waits_and_a_hot_one_outlasts_the_wait() -> None:
    with rig(quick(WAITS), [ALL]) as copies:
        bench = sensor_lost(copies)
        lost = [int(bench.step(flags=DRY & ~int(In.BATH))["on"]) for _ in range(300)]
        assert not any(lost)
        bench.step(bath_dc=HOT)
        bench.step(add=int(In.START), bath_dc=HOT)
        assert not drained(bench, 3 * WAIT_S, HOT)


@needs_cc
@pytest.mark.parametrize("bath_dc", [None, COOL, HOT])
def test_somebody_who_looked_ends_the_wait_but_not_against_a_reading(bath_dc: int | None) -> None:
    """While it waits after power-up: nothing reads the bath, it reads cool, it reads hot."""
    with rig(quick(WAITS), [UNREAD if bath_dc is None else ALL]) as copies:
        bench = Bench(copies, idle_s=1)
        shown_dc = HOT if bath_dc is None else bath_dc
        bench.step(add=int(In.START), bath_dc=HOT)
        assert not drained(bench, 30, HOT)
        bench.step(bath_dc=shown_dc)
        assert asked(bench, copies, Ask.TANK_IS_COOL, shown_dc)["asked"] == (bath_dc is None)
        assert drained(bench, 2, shown_dc) == (bath_dc != HOT)


@needs_cc
def test_in_a_run_nobody_is_asked_whether_the_tank_is_cool() -> None:
    with rig(quick(WAITS), [UNREAD]) as copies:
        bench = Bench(copies, idle_s=WAIT_S + 70)
        bench.start()
        bench.until(State.SPRAY, 1)
        assert asked(bench, copies, Ask.TANK_IS_COOL, HOT)["asked"] == 0
        bench.step(add=int(In.STOP))
        assert not drained(bench, WAIT_S - 20)


@needs_cc
def test_an_overflow_drains_all_the_same() -> None:
    with rig(quick(WAITS), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.SPRAY, 1)
        bench.step(add=int(In.OVERFLOW), bath_dc=HOT)
        assert bench.last["error"] == Error.OVERFLOW
        assert drained(bench, 30, HOT)


def cooled_c(machine: Machine, water_kg: float, from_c: float, seconds: float) -> float:
    """Bath and ware from one temperature on, all off: two nodes stepped by hand, the film with the ware."""
    film_kg = machine.ware.film_l.high * KG_PER_L
    ware = 1000.0 * machine.ware.heat_capacity_kj_per_k.high
    bath, wet = C_J_PER_KG_K * (water_kg - film_kg), ware + C_J_PER_KG_K * film_kg
    bath += 1000.0 * machine.tank.heat_capacity_kj_per_k.high
    passes, loses = ware / machine.ware.response_still_s.high, machine.tank.loss_still_w_per_k.low
    bath_k = ware_k = from_c - machine.room.air_c.high
    steps = 4000
    for _ in range(steps):
        to_ware_w = passes * (bath_k - ware_k)
        bath_k -= seconds / steps * (loses * bath_k + to_ware_w) / bath
        ware_k += seconds / steps * to_ware_w / wet
    return machine.room.air_c.high + bath_k


@pytest.mark.parametrize("porcelain_kg", [4.0, 15.0])
@pytest.mark.parametrize("response_s", [1800.0, 12000.0])
@pytest.mark.parametrize("pipe_c", [30.0, 55.0])
def test_a_bath_beside_ware_is_cool_enough_after_the_wait(
    porcelain_kg: float, response_s: float, pipe_c: float
) -> None:
    """A thermostat's bath of 65 °C, by hand: heat above the pipe's limit over what is lost at that limit.

    Its sensor sticks as it is there, and 900 W are on for 600 s more: bath and tank take all of it at the
    most, and at the least share with the ware what is not lost.
    """
    still = {"ware.porcelain_kg": porcelain_kg, "ware.response_still_s": response_s, "tank.capacity_l": 13.0}
    warm = {"room.air_c": 27.0, "inlet.water_c": 18.0, "drain_pump.drain_limit_c": pipe_c}
    machine = plain_machine(STRONG, HELD, still, warm)
    found_s, hottest_c = drain_wait_s(SET, machine), hottest_left(SET, machine).hottest_c
    # 100 s of 0.1 l at 18 °C (0.9986 kg/l), and what a drain leaves.
    water_kg = 10.0 * 0.9986 + 0.8 * KG_PER_L
    ware = 1000.0 * machine.ware.heat_capacity_kj_per_k.high
    heat = C_J_PER_KG_K * (water_kg + 0.2 * KG_PER_L) + 4500.0 + ware
    alone = C_J_PER_KG_K * (water_kg - 0.2 * KG_PER_L) + 4500.0
    assert 600.0 * (900.0 - 6.0 * (80.0 - 27.0)) / heat < hottest_c - 65.0 < 600.0 * 900.0 / alone
    for seconds, at_c in ((600, hottest_c), (0, 65.0)):
        wait_s = drain_wait_s(SET, machine, seconds)
        wanted_s = heat * (at_c + SPARE_K - pipe_c) / (6.0 * (pipe_c - 27.0))
        assert wait_s == pytest.approx(wanted_s, rel=0.003)
        assert cooled_c(machine, water_kg, at_c + SPARE_K, wait_s) < pipe_c
    assert drain_wait_s(SET, machine, 600) == found_s


def test_one_lump_by_newtons_law_would_be_drained_too_hot() -> None:
    """C / UA · ln((hottest − room) / (pipe − room)) forgets that ware cools after its bath."""
    slow = {"ware.porcelain_kg": 15.0, "ware.response_still_s": 12000.0, "room.air_c": 27.0}
    machine = plain_machine(STRONG, HELD, slow)
    heat = C_J_PER_KG_K * 10.8 + 4500.0 + 1000.0 * machine.ware.heat_capacity_kj_per_k.high
    newton_s = heat / 6.0 * math.log((67.0 - 27.0) / (30.0 - 27.0))
    assert cooled_c(machine, 10.8, 67.0, newton_s) > 30.0 + 0.5


def test_a_round_that_is_repeated_on_a_hot_machine_gets_hotter_than_a_sound_run() -> None:
    """By hand: 0.8 kg, tank and ware at the pipe's limit instead of 18 °C, and the same heat for 10 l."""
    machine = plain_machine(STRONG, {"drain_pump.drain_limit_c": 40.0})
    sound_c, left = hottest_bath_c(HEATED, machine), hottest_left(HEATED, machine)
    carried = C_J_PER_KG_K * 0.8 + 4500.0 + 1000.0 * machine.ware.heat_capacity_kj_per_k.high
    rise_k = carried * (40.0 - 18.0) / (carried + C_J_PER_KG_K * 10.0)
    # Less what a hotter bath loses; more as the ware may still be as hot as the bath was.
    assert 0.5 * rise_k < left.hottest_c - sound_c < 2.0 * rise_k
    water_kg = 10.0 * 0.9986 + 0.8 * KG_PER_L
    assert cooled_c(machine, water_kg, left.hottest_c, drain_wait_s(HEATED, machine)) < 40.0


@pytest.mark.parametrize(("over_k", "waits"), [(0.01, False), (-0.01, True)])
@pytest.mark.parametrize("found_s", [0, 600])
def test_where_no_bath_is_too_hot_there_is_no_wait(over_k: float, waits: bool, found_s: int) -> None:
    """The spare before a pipe, and one past it; of a thermostat, that heats no further on a hot machine.

    With a sensor that is found at once, and with one that is found after 600 s.
    """
    left = hottest_left(SET, plain_machine(STRONG, HELD, {"drain_pump.drain_limit_c": 90.0}), found_s)
    assert (left.hottest_c == pytest.approx(65.0, abs=0.01)) == (found_s == 0)
    pipe = {"drain_pump.drain_limit_c": left.hottest_c + SPARE_K + over_k}
    assert (drain_wait_s(SET, plain_machine(STRONG, HELD, pipe), found_s) > 0) == waits


LONE: dict[str, Any] = {
    "tank.loss_still_w_per_k": 0.2, "tank.loss_spraying_w_per_k": 0.2, "ware.porcelain_kg": 0.01,
    "room.air_c": 18.0, "drain_pump.drain_limit_c": 60.0, "element.rated_w": 1000.0,
}  # fmt: skip
"""Hardly any ware and hardly a loss: the element warms 10.8 kg of water and the tank of 4.5 kJ/K."""
RISE_K_PER_S = 1000.0 / (C_J_PER_KG_K * (10.0 * 0.9986 + 0.8 * KG_PER_L) + 4500.0)


@pytest.mark.parametrize(
    ("left_s", "element_s", "on_s"),
    [
        (None, 0, 600),  # found while it heats
        (None, 900, 600),
        (599, 0, 599),  # the heating is over before it is found
        (599, 200, 599 + 200),  # and the spray has it on again, its time counted anew
        (599, 900, 599 + 600),
        (601, 900, 600 + 600),  # a heating that is slower leaves less than 600 s
    ],
)
def test_a_sensor_that_sticks_as_its_set_point_is_near_warms_by_hand(
    left_s: int | None, element_s: int, on_s: int
) -> None:
    """P t / (m c) from 65 °C of an exact sensor on; the quickest heating leaves so much of its time."""
    machine = plain_machine(HELD, LONE)
    table = programme(
        a_round("wash", heat_s=9000, setpoint_dc=650, spray_s=1000, spray_element_s=element_s, rest_s=30),
        start_drain_s=60, control="thermostat", hysteresis_dk=20, bath_max_dc=680,
    )  # fmt: skip
    if left_s is not None:
        ((least_s, most_s),) = hottest_left(table, machine).spare_s.values()
        assert least_s < most_s - 1.0
        table = replace(table, rounds=(replace(table.rounds[0], heat_s=9000 - math.ceil(most_s) + left_s),))
    rise_k = hottest_left(table, machine, 600).hottest_c - 65.0
    # 11 W of 1000 are lost.
    assert rise_k == pytest.approx(RISE_K_PER_S * on_s, rel=0.02)
    s_j = (65.0 + rise_k + SPARE_K - 60.0) / (0.2 * (60.0 - 18.0))
    capacity, film = 1000.0 / RISE_K_PER_S, C_J_PER_KG_K * 0.2
    # While it sprays the film counts with the bath and with the ware.
    assert 0.995 * capacity * s_j < drain_wait_s(table, machine, 600) < 1.005 * (capacity + film) * s_j


def test_of_a_timed_element_nothing_sticks() -> None:
    machine = plain_machine(STRONG, {"drain_pump.drain_limit_c": 40.0})
    assert drain_wait_s(HEATED, machine, 0) == drain_wait_s(HEATED, machine, 600)


def test_a_pipe_that_stands_the_boil_asks_for_nothing() -> None:
    machine = plain_machine(STRONG, {"drain_pump.drain_limit_c": 100.0})
    assert (drain_wait_s(HEATED, machine), drain_read_most_c(machine)) == (0, math.inf)
    assert drain_wait_s(HEATED, machine) < WAIT_MOST_S
