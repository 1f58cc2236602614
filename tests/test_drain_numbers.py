"""The numbers of a drain, out of its turn and in it, as every form carries them: past them fails.

`test_check_every_fact.py` has the check refuse an edited one; here they are held against the machine. The
tank that cools is two bodies of our own, the tolerances drawn anew, not the formula that made the number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, programme
from check_cases import machine as rig
from controller_cases import by_machine, proven

from optimizer.check import drain_wait
from optimizer.check.drain_wait import SPARE_K, UNKNOWN_ERROR_K, Left, drain_wait_s, hottest_left
from optimizer.check.equations import State
from optimizer.emit.forms import FORMS
from optimizer.emit.several import Several
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan

PATTERNS = {
    "c": r"^#define WASH_{} +(\d+)U",
    "micropython": r"^WASH_{} = const\((\d+)\)",
    "iec": r"^ +WASH_{} : \w+ := (?:T#)?(\d+)s?;",
    "csv": r"^{},[^,]*,(\d+),",
    "json": r'^ "{}": (\d+),',
}
WATER_KJ_PER_KG_K = 4.18
"""Specific heat of water at 50 °C (handbooks)."""


def numbers(plans: dict[str, Plan]) -> tuple[int, int, int]:
    """What all forms of several programmes say, and of one: each once, all the same."""
    found, (only, *others) = set(), plans.values()
    texts = [(form, FORMS[form].write_several(Several.of_plans(plans))) for form in FORMS]
    texts += [(form, FORMS[form].text(only)) for form in FORMS if not others]
    for form, text in texts:
        names = ["drain_max_dc", "drain_wait_s", "drain_stop_dc"]
        names = names if form in ("csv", "json") else [name.upper() for name in names]
        each = [re.findall(PATTERNS[form].format(name), text, re.M) for name in names]
        assert [len(one) for one in each] == [1, 1, 1], form
        found.add(tuple(int(one[0]) for one in each))
    (read_dc, wait_s, stop_dc), *others = found
    assert not others
    return read_dc, wait_s, stop_dc


def cooled_c(machine: Machine, from_c: float, seconds: int, litres: float, count: int = 40) -> float:
    """Hottest of many tanks, loaded and everything off: water and tank one body, the ware another."""
    rng = np.random.default_rng(5)

    def drawn(low: float, high: float) -> np.ndarray:
        return np.concatenate([[low, high], rng.uniform(low, high, count)])

    tank, ware = machine.tank, machine.ware
    loss_w = drawn(tank.loss_still_w_per_k.low, tank.loss_still_w_per_k.high)
    room_c = drawn(machine.room.air_c.low, machine.room.air_c.high)[::-1]
    body_j = 1000.0 * (litres * WATER_KJ_PER_KG_K + tank.heat_capacity_kj_per_k.high)
    ware_j = 1000.0 * ware.heat_capacity_kj_per_k.high
    across_w = ware_j / drawn(ware.response_still_s.low, ware.response_still_s.high)
    bath_c = np.full(count + 2, from_c)
    ware_c = bath_c.copy()
    step_s = 5.0
    for _ in range(int(seconds / step_s)):
        to_ware_w = across_w * (bath_c - ware_c)
        bath_c = bath_c - step_s * (loss_w * (bath_c - room_c) + to_ware_w) / body_j
        ware_c = ware_c + step_s * to_ware_w / ware_j
    return float(bath_c.max())


@pytest.mark.parametrize("name", by_machine(["clubhouse", "narrowboat", "garage-120v", "cold-shed"]))
def test_one_step_past_either_number_is_too_hot_for_the_pipe(name: str) -> None:
    plan = proven(name).plan
    machine = plan.inputs.machine
    read_dc, wait_s, stop_dc = numbers({"a": plan})
    pipe_c, element = machine.drain_pump.drain_limit_c, machine.element
    error_k = above_k = UNKNOWN_ERROR_K
    if element is not None and element.control == "thermostat":
        error_k = element.sensor_error_k - min(element.sensor_over_mean_k.low, 0.0)
        above_k = element.sensor_error_k + max(element.sensor_over_mean_k.high, 0.0)
    # The hottest bath that the pipe stands may read so much, and 1 K more as a reading jumps.
    assert (stop_dc - 1) / 10.0 < pipe_c + above_k + 1.0 <= stop_dc / 10.0
    assert read_dc / 10.0 + error_k <= pipe_c < (read_dc + 1) / 10.0 + error_k
    left = hottest_left(plan.constants, machine)
    if wait_s == 0:
        assert left.hottest_c + SPARE_K <= pipe_c
        return
    most_l = max(row.fill_s for row in plan.constants.rounds) * machine.inlet.flow_l_per_min.high / 60.0
    # A balance: the heat above what the pipe stands, at the least that is lost while it is above.
    loses_w = machine.tank.loss_still_w_per_k.low * (pipe_c - machine.room.air_c.high)
    assert loses_w * (wait_s - 1) < left.above_j <= loses_w * wait_s
    assert cooled_c(machine, left.hottest_c, wait_s, most_l) <= pipe_c


def test_of_several_programmes_the_hottest_asks() -> None:
    """One that heats for half as long is the cooler: the longer wait stands, whichever is chosen."""
    plan = proven("clubhouse").plan
    rows = tuple(replace(row, heat_s=row.heat_s // 2, spray_element_s=row.spray_element_s // 2)
                 for row in plan.constants.rounds)  # fmt: skip
    half = replace(plan, constants=replace(plan.constants, rounds=rows))
    waits_s = [drain_wait_s(one.constants, one.inputs.machine) for one in (plan, half)]
    assert waits_s[0] > waits_s[1]
    for plans in ({"a": plan, "b": half}, {"a": half, "b": plan}):
        assert numbers(plans)[1] == waits_s[0]


class Warmer:
    """A simulation that ends each time a kelvin hotter than the ware was; 50 °C at first."""

    def __init__(self, *_: object) -> None:
        pass

    def run(self, _again: object = None, start: State | None = None) -> Iterator[float]:
        yield 50.0 if start is None else float(start.ware_c[0]) + 1.0


def test_a_round_that_gets_hotter_each_time_is_repeated_twenty_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Our choice, *no source*; one that settles to 0.05 K is repeated no more."""

    def add(self: Left, hottest_c: float) -> None:
        self.hottest_c = max(self.hottest_c, hottest_c)

    monkeypatch.setattr(drain_wait, "Simulation", Warmer)
    monkeypatch.setattr(Left, "add", add)
    table = programme(a_round("wash"))
    assert hottest_left(table, rig()).hottest_c == 50.0 + 20
    monkeypatch.setattr(drain_wait, "SETTLED_K", 1.0)
    assert hottest_left(table, rig()).hottest_c == 50.0 + 1


STILL = {
    "inlet.water_c": 15.0, "room.air_c": 20.0, "tank.vent_m2": 0.0, "wash_pump.heat_share": 0.0,
    "tank.loss_still_w_per_k": 0.2, "tank.loss_spraying_w_per_k": 0.2, "ware.response_still_s": 20000.0,
    "element.control": "thermostat", "element.sensor_error_k": 0.0, "element.top_over_mean_k": 4.0,
}  # fmt: skip
"""Next to no losses, and a ware that takes nothing up while the pump is off."""


@pytest.mark.parametrize("over_k", [-4.0, 4.0])
def test_a_sensor_that_sticks_in_a_heating_sits_in_its_layer(over_k: float) -> None:
    """By hand: it reads 55 °C in a bath of 59 or 51 °C; 900 W for 600 s more warm 10.6 l and 4.5 kJ/K.

    The top of the bath is 4 K hotter.
    """
    table = programme(
        a_round("wash", heat_s=5000, setpoint_dc=550), control="thermostat", hysteresis_dk=10, bath_max_dc=800
    )
    machine = rig(STILL | {"element.sensor_over_mean_k": over_k}, tolerances=False)
    warms_k = 900.0 * 600.0 / 1000.0 / (10.6 * WATER_KJ_PER_KG_K + 4.5)
    left = hottest_left(table, machine, 600)
    assert left.hottest_c == pytest.approx(55.0 - over_k + warms_k + 4.0, abs=0.3)
