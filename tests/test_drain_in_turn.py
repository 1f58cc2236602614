"""A drain in its turn: not begun where the sensor reads more than in any sound run; the water stays in."""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, programme
from controller_bench import ALL, FINE, Bench, quick
from controller_rig import Error, In, On, State, needs_cc, rig
from fault_cases import THERMOSTAT, plain_machine, row

from optimizer.check.drain_wait import drain_stop_dc
from optimizer.check.faults.guard_words import HOT_IN_TURN
from optimizer.check.faults.guards import Protection

HOT, COOL = 651, 650
"""Readings about WASH_DRAIN_STOP_DC of the rig [0.1 °C]."""
STOP = "-DWASH_DRAIN_STOP_DC=650"
HELD = {"element.control": "thermostat", "element.sensor_error_k": 0.5}


def at_the_drain(bench: Bench, bath_dc: int, flags: int | None = None) -> int:
    """Go on from the stirred top-up of the wash; give the state that comes after it and its pause."""
    bench.start()
    bench.until(State.MIX, 1)
    while bench.last["state"] in (State.MIX, State.GAP):
        bench.step(100, flags, bath_dc=bath_dc)
    return int(bench.last["state"])


@needs_cc
@pytest.mark.parametrize("bath_dc", [HOT, COOL])
def test_what_reads_too_hot_for_the_pipe_is_not_drained(bath_dc: int) -> None:
    with rig(quick(STOP), [ALL]) as copies:
        bench = Bench(copies)
        if at_the_drain(bench, bath_dc) == State.DRAIN:
            assert (bath_dc, bench.last["on"]) == (COOL, On.DRAIN_PUMP)
            return
        assert (bath_dc, bench.last["error"]) == (HOT, Error.TOO_HOT)
        assert {int(bench.step(bath_dc=HOT)["on"]) for _ in range(60)} == {0}
        assert bench.last["state"] == State.IDLE
        # The next start waits until the bath has cooled, and then drains it.
        bench.step(add=int(In.START), bath_dc=HOT)
        assert {int(bench.step(bath_dc=401)["on"]) for _ in range(60)} == {0}
        assert bench.step(bath_dc=400)["on"] == On.DRAIN_PUMP


@needs_cc
def test_no_reading_holds_no_drain_back() -> None:
    """A round has cooled its bath, as was proven: one reading that is missing says nothing against it."""
    with rig(quick(STOP), [ALL]) as copies:
        bench = Bench(copies)
        assert at_the_drain(bench, HOT, FINE & ~int(In.BATH)) == State.DRAIN


@pytest.mark.parametrize(
    ("changes", "stop_dc"),
    [
        # A sensor of which nobody states the error is off by 5 K, and a reading may jump by 1 K.
        ({}, 660),
        ({"drain_pump.drain_limit_c": 45.0}, 510),
        # Where it sits it reads 0.5 K above the mean of the bath at the most.
        (HELD | {"element.sensor_over_mean_k": {"nominal": 0.2, "low": -0.3, "high": 0.5}}, 620),
        # Colder than the mean, it reads no more than its error above it.
        (HELD | {"element.sensor_over_mean_k": {"nominal": -1.0, "low": -1.5, "high": -0.5}}, 615),
        # No reading is more than 120 °C: a pipe that stands the boil holds no drain back.
        ({"drain_pump.drain_limit_c": 100.0}, 1200),
    ],
)
def test_the_number_is_limit_error_layer_and_spike(changes: dict[str, object], stop_dc: int) -> None:
    assert drain_stop_dc(plain_machine({"drain_pump.drain_limit_c": 60.0} | changes)) == stop_dc


@pytest.mark.parametrize(
    ("held", "fault", "said"),
    [
        (True, "inlet.shut", "WASH_DRAIN_STOP_DC (615)"),
        (True, "sensor.cold", "the sensor may read too little"),
        (False, "inlet.shut", HOT_IN_TURN),
    ],
)
def test_the_guard_against_a_hot_drain_is_the_look_before_it(held: bool, fault: str, said: str) -> None:
    machine = plain_machine({"drain_pump.drain_limit_c": 60.0} | (HELD if held else {}))
    assert said in Protection(machine, circuit(), None).against(fault)["hot_drain"][0]


@pytest.mark.parametrize(
    ("pipe_c", "guard"),
    [
        # All baths read over 53.2 °C, which is over 51, the sensor's 1 K and the 1 K of a jump.
        (51.0, "controller that begins no drain, and keeps the water in, where the sensor reads more"),
        # One reads 53.3 °C, and the look lets 54 pass.
        (
            52.0,
            "drain pipe that stands the boil: the look before a drain (WASH_DRAIN_STOP_DC 540) lets",
        ),
    ],
)
def test_the_look_is_a_guard_only_where_every_hot_bath_reads_above_it(pipe_c: float, guard: str) -> None:
    """The tap is shut before the top-up that cools what is drained: 54.3 to 56.3 °C, by ware and tank."""
    sensor = THERMOSTAT | {"element.rated_w": 2000.0, "element.sensor_error_k": 1.0}
    heated = a_round("wash", fill_s=120, heat_s=6000, setpoint_dc=600, top_up_s=60, mix_s=60)
    table = programme(heated, control="thermostat", hysteresis_dk=10)
    found = row(table, plain_machine(sensor | {"drain_pump.drain_limit_c": pipe_c}), "inlet.no_top_up")
    (said,) = found.guards
    assert said.startswith(guard)
    assert ("55 °C pass" in said) == (pipe_c > 51.0), "what reads 54 °C may be 55"
