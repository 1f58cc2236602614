"""The lid opened in a run, shut, and start pressed: it drains and repeats that round.

No source: arithmetic on the numbers of `fault_cases`.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from check_cases import a_round, circuit, goal, programme
from controller_rig import SOURCES
from fault_cases import EASY, NO_ELEMENT, THERMOSTAT, plain_machine, reported_rig

from optimizer.check.drain_wait import drain_wait_s
from optimizer.check.faults.guard_words import COOL_FIRST
from optimizer.check.faults.guards import Protection
from optimizer.check.faults.held_run import HELD_MAX_S, _again, held_run
from optimizer.check.faults.outcome import FaultRow
from optimizer.check.faults.rig import Rig
from optimizer.check.faults.run_faults import make_rig
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

RINSES = programme(a_round("wash", detergent_dg=300), a_round("rinse"), a_round("rinse"))
HEATED = programme(a_round("wash", heat_s=2400, spray_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)


STRONG = {"element.rated_w": 900.0}


def held(constants: Constants, rig: Machine, want: dict[str, float] | None = None) -> FaultRow:
    ready = reported_rig(constants, rig, goal(EASY | (want or {})))
    return held_run(ready, ready.observe(ready.asked))


def test_no_dose_is_proven_after_it_and_nothing_starts_as_the_lid_is_shut() -> None:
    found = held(RINSES, plain_machine(NO_ELEMENT))
    assert found.severity == "spoils the wash"
    for words in (
        "NO dose is proven",
        "starts nothing as the lid is shut",
        "detergent too",
        "stop it and start anew",
        "the run ends: treat the ware as unwashed, with detergent on it.",
    ):
        assert words in found.happens
    assert "detergent" not in held(programme(a_round("rinse")), plain_machine(NO_ELEMENT)).happens


def test_it_waits_where_the_bath_may_be_too_hot_for_its_drain_and_nowhere_else() -> None:
    cold = held(RINSES, plain_machine(NO_ELEMENT)).happens
    assert "Started again it drains for" in cold
    assert "has cooled" not in cold
    hot = held(HEATED, plain_machine(STRONG, {"drain_pump.drain_limit_c": 30.0})).happens
    assert "Started again it waits until the bath has cooled" in hot
    # 30 °C is not too hot for a pipe of 36 °C; 900 W for ten minutes more would be, by a sensor that sticks.
    held_at = programme(
        a_round("wash", heat_s=7200, spray_s=600, rest_s=30, setpoint_dc=300), a_round("rinse"),
        control="thermostat", hysteresis_dk=10, bath_max_dc=500, start_drain_s=60,
    )  # fmt: skip
    rig = plain_machine(STRONG, THERMOSTAT, {"drain_pump.drain_limit_c": 36.0})
    assert drain_wait_s(held_at, rig) > drain_wait_s(held_at, rig, found_s=0) == 0
    assert "Started again it drains for" in held(held_at, rig).happens


def test_the_time_it_is_held_is_the_controllers() -> None:
    source = (SOURCES / "wash_controller.c").read_text(encoding="utf-8")
    assert re.search(r"#define WASH_HELD_MAX_S (\d+)UL", source)[1] == str(HELD_MAX_S)  # type: ignore[index]


def test_water_that_the_drain_does_not_take_comes_on_top() -> None:
    """10 s of drain take 2 of 10.8 l: with the 10 l of the fill there are 18.8 l, as after a power cut."""
    assert held(RINSES, plain_machine(NO_ELEMENT)).level_l == pytest.approx(18.8, abs=0.01)
    over = held(RINSES, plain_machine(NO_ELEMENT, {"tank.capacity_l": 16.0}))
    assert over.severity == "damage"


def test_the_bath_goes_down_the_drain_as_hot_as_it_is() -> None:
    sound = held(HEATED, plain_machine(STRONG))
    assert "drain pipe" not in sound.happens, "the pipe of these cases stands the boil"
    pipe = plain_machine(STRONG, {"drain_pump.drain_limit_c": 40.0})
    found = held(HEATED, pipe)
    assert found.severity == "damage"
    assert "Water too hot for the drain pipe" in found.happens
    (waits,) = [one for one in found.guards if one.startswith(COOL_FIRST)]
    numbers = [int(number) for number in re.findall(r"WASH_DRAIN_\w+ (\d+)", waits)]
    machine = plain_machine(STRONG, {"drain_pump.drain_limit_c": 40.0})
    assert numbers == [350, drain_wait_s(HEATED, machine)], "40 °C less the 5 K of a sensor of its owner's"
    assert (
        "drain pipe"
        not in held(HEATED, plain_machine(STRONG, {"drain_pump.drain_limit_c": sound.bath_c + 1.0})).happens
    )


@pytest.mark.parametrize(("bath_max_dc", "stops"), [(0, False), (350, True), (360, False)])
def test_a_drain_in_its_turn_is_guarded_by_the_watchdog_of_the_bath_or_by_nothing(
    bath_max_dc: int, stops: bool
) -> None:
    """40 °C of the pipe less 5 K of a sensor: a watchdog above 35 °C comes too late, none never."""
    rig = plain_machine(STRONG, {"drain_pump.drain_limit_c": 40.0})
    found = Protection.of(replace(HEATED, bath_max_dc=bath_max_dc), rig, circuit())
    (said,) = found.against("element.on")["hot_drain"]
    assert said.startswith(
        "controller that stops where the sensor reads more" if stops else "drain pipe that"
    )
    assert found.against("inlet.no_top_up")["hot_drain"][0].startswith(
        "drain pipe that stands the boil: before"
    )
    assert found.against("power.spray")["hot_drain"][0].startswith(COOL_FIRST)


def test_cold_water_meets_ware_that_is_hot() -> None:
    """The bath of the wash heats the ware; the same round begins again with cold water."""
    constants = programme(a_round("wash", spray_s=2600, spray_element_s=2400), start_drain_s=60)
    for drop_k, breaks in ((5.0, True), (100.0, False)):
        found = held(constants, plain_machine(STRONG), {"limits.ware_drop_k": drop_k})
        assert ("hotter than the bath" in found.happens) == breaks
        assert ("tank and ware" in found.guard) == breaks


def test_the_starts_of_the_pump_are_counted_anew_where_detergent_goes_in() -> None:
    """After a lid held in a prerinse the second start is the prerinse again."""
    counted = "count of the wash pump's starts begins anew"
    assert counted in held(RINSES, plain_machine(NO_ELEMENT)).happens
    assert counted not in held(HEATED, plain_machine(STRONG)).happens


HELD_WARM = programme(
    a_round("prerinse"),
    a_round("wash", heat_s=2400, spray_s=300, rest_s=30),
    a_round("rinse"),
    start_drain_s=60,
)
COLD_INLET = {"inlet.water_c": 8.0}


def drained_c(rig: Rig, most_c: float) -> float:
    """Hottest drain in its turn of a run that is held in any round and cooled to a temperature [°C]."""
    sound = rig.observe(rig.asked)
    rounds = range(len(rig.constants.rounds))
    return max(float(_again(rig, sound, number, most_c).meter.drained_c.max()) for number in rounds)


def piped(over_k: float) -> tuple[Rig, FaultRow]:
    """The rig, and its row, of a drain pipe that stands so much more than a sound run drains."""
    pipe = {"drain_pump.drain_limit_c": 90.0}
    sound = make_rig(HELD_WARM, plain_machine(STRONG, COLD_INLET, pipe), goal(EASY), circuit())
    limit_c = float(sound.observe(sound.asked).meter.drained_c.max()) + over_k
    machine = plain_machine(STRONG, COLD_INLET, pipe | {"drain_pump.drain_limit_c": limit_c})
    return make_rig(HELD_WARM, machine, goal(EASY), circuit()), held(HELD_WARM, machine)


def test_a_wash_that_is_repeated_warm_by_time_is_told_how_cool_it_has_to_be() -> None:
    """Nothing reads the bath: what the pipe stands is not cool enough for the drain in its turn."""
    rig, found = piped(3.0)
    pipe_c = rig.machine.drain_pump.drain_limit_c
    assert drained_c(rig, pipe_c) > pipe_c, "else the case shows nothing"
    said = re.search(r"let tank and ware cool to (\d+) °C before you press start", found.happens)
    assert said
    cool_c = float(said[1])
    assert cool_c < pipe_c
    assert f"cooled to {cool_c:.0f} °C or less" in found.guard
    assert drained_c(rig, cool_c) <= pipe_c + 0.01
    assert drained_c(rig, cool_c + 5.0) > pipe_c


def test_a_wash_that_no_cooling_helps_is_not_gone_on_with() -> None:
    """The prerinse of 8 °C that cooled ware and tank is not repeated: from 18 °C it is too hot already."""
    rig, found = piped(0.5)
    pipe_c = rig.machine.drain_pump.drain_limit_c
    assert drained_c(rig, 18.0) > pipe_c, "else the case shows nothing"
    assert "do not press start" in found.happens
    assert "a held run is ended, not gone on with: long press, or pull the plug" in found.guard
    assert found.guard.endswith("or a drain pipe that stands the boil")


def test_a_pipe_that_stands_what_is_repeated_asks_for_nothing_more() -> None:
    rig, found = piped(6.0)
    assert drained_c(rig, rig.machine.drain_pump.drain_limit_c) <= rig.machine.drain_pump.drain_limit_c
    assert "press start" not in found.happens
