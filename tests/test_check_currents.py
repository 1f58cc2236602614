"""Currents against Ohm's law and P = V I cos φ, each worked out by hand at the bad end of its tolerances."""

from __future__ import annotations

from typing import Any

import pytest
from check_cases import a_round, machine, programme

from optimizer.check.currents import (
    element_a,
    locked_a,
    motor_a,
    peaks_a,
    running_a,
    seized_a,
    start_a,
    starting_a,
)
from optimizer.check.phases import OFF, Outputs, phases

# The rig: 220 to 240 V; controller 3 W, valve 6 W; element 900 W + 5 % at 230 V; wash pump 85 W + 5 % at
# cos φ 0.6, five times that as it starts; drain pump 15 W at cos φ 0.5, three times that.
CONTROLLER_A = 3.0 / 220.0
VALVE_A = 6.0 / 220.0
ELEMENT_A = 945.0 * 240.0 / 230.0**2
WASH_A = 89.25 / (220.0 * 0.6)
DRAIN_A = 15.0 / (220.0 * 0.5)
SUPPLIED: dict[str, Any] = {
    "wash_pump.inrush_multiple": None,
    "wash_pump.surge_a": {"nominal": 12.0, "low": 10.0, "high": 14.0},
    "wash_pump.stall_a": {"nominal": 0.9, "low": 0.8, "high": 1.1},
}


@pytest.mark.parametrize(
    ("on", "expected_a"),
    [
        (OFF, CONTROLLER_A),
        (Outputs(inlet=True), CONTROLLER_A + VALVE_A),
        (Outputs(element=True), CONTROLLER_A + ELEMENT_A),
        (Outputs(wash_pump=True), CONTROLLER_A + WASH_A),
        (Outputs(drain_pump=True), CONTROLLER_A + DRAIN_A),
        (Outputs(True, True, True, True), CONTROLLER_A + VALVE_A + ELEMENT_A + WASH_A + DRAIN_A),
    ],
)
def test_what_is_on_adds_up(on: Outputs, expected_a: float) -> None:
    assert running_a(on, machine()) == pytest.approx(expected_a, rel=1e-9)


def test_by_hand_in_milliamperes() -> None:
    rig = machine()
    assert element_a(rig) == pytest.approx(4.2873, abs=1e-4)
    assert motor_a(rig.wash_pump, 220.0) == pytest.approx(0.6761, abs=1e-4)
    assert element_a(machine({"element": None})) == 0.0


@pytest.mark.parametrize(
    ("before", "on", "expected_a"),
    [
        (OFF, Outputs(wash_pump=True), CONTROLLER_A + 5.0 * WASH_A),
        (OFF, Outputs(drain_pump=True), CONTROLLER_A + 3.0 * DRAIN_A),
        (OFF, Outputs(wash_pump=True, drain_pump=True), CONTROLLER_A + 5.0 * WASH_A + 3.0 * DRAIN_A),
        (Outputs(wash_pump=True), Outputs(wash_pump=True, drain_pump=True),
         CONTROLLER_A + WASH_A + 3.0 * DRAIN_A),
        (OFF, Outputs(wash_pump=True, element=True), CONTROLLER_A + ELEMENT_A + 5.0 * WASH_A),
        # A pump that goes on running, one that stops, and what is no motor start nothing.
        (Outputs(wash_pump=True), Outputs(wash_pump=True, element=True), 0.0),
        (Outputs(drain_pump=True), OFF, 0.0),
        (OFF, Outputs(inlet=True, element=True), 0.0),
    ],
)  # fmt: skip
def test_a_start(before: Outputs, on: Outputs, expected_a: float) -> None:
    assert starting_a(before, on, machine()) == pytest.approx(expected_a, rel=1e-9)


def test_a_pump_on_a_power_supply_by_what_was_measured() -> None:
    pump = machine(SUPPLIED).wash_pump
    assert start_a(pump, 220.0) == 14.0
    assert locked_a(pump, 220.0) == 1.1
    # A surge below the running current: the running one counts.
    small = machine(SUPPLIED | {"wash_pump.surge_a": 0.5}).wash_pump
    assert start_a(small, 220.0) == pytest.approx(WASH_A)


def test_a_locked_rotor_in_place_of_a_running_one() -> None:
    on = Outputs(wash_pump=True, element=True)
    for rig, locked in ((machine(), 5.0 * WASH_A), (machine(SUPPLIED), 1.1)):
        assert seized_a(on, rig, rig.wash_pump) == pytest.approx(CONTROLLER_A + ELEMENT_A + locked)
    drains, plain = Outputs(drain_pump=True), machine().drain_pump
    assert seized_a(drains, machine(), plain) == pytest.approx(CONTROLLER_A + locked_a(plain, 220.0))


def test_peaks_of_a_programme() -> None:
    """The element while spraying is the running peak; the highest start is that of the pump beside it."""
    heated = phases(programme(a_round("wash", spray_element_s=100), a_round("rinse")))
    running, starting = peaks_a(heated, machine())
    assert running == pytest.approx(CONTROLLER_A + ELEMENT_A + WASH_A)
    assert starting == pytest.approx(CONTROLLER_A + ELEMENT_A + 5.0 * WASH_A)
    # The first phase starts from all off: a drain by itself has a start.
    assert peaks_a(heated[:1], machine()) == pytest.approx(
        (CONTROLLER_A + DRAIN_A, CONTROLLER_A + 3 * DRAIN_A)
    )
