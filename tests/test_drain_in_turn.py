"""A drain in its turn: not begun where the sensor reads more than in any sound run; the water stays in."""

from __future__ import annotations

import pytest
from check_cases import circuit
from controller_bench import ALL, FINE, Bench, quick
from controller_rig import Error, In, On, State, needs_cc, rig
from fault_cases import plain_machine

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
