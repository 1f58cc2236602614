"""Switches in the supply of motors, the lid switch first: what they switch off, and their contacts."""

from __future__ import annotations

import math

from optimizer.check.currents import locked_a, start_a
from optimizer.check.faults.guard_words import (
    HOLDS_ITSELF,
    LID_SWITCH,
    LID_SWITCH_OF_PUMPS,
    LID_TESTED,
    LID_TESTED_AT_THE_MAINS,
    LOW_VOLTAGES_V,
    OF_LOW_VOLTAGE,
    contacts,
)
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import DrainPump, WashPump
from optimizer.units import short


def lid_switch(machine: Machine) -> str:
    """Name the switch by what it parts from the supply."""
    return LID_SWITCH if machine.element is not None else LID_SWITCH_OF_PUMPS


def lid_switch_to_buy(machine: Machine, american: bool) -> str:
    """Name it with its contacts: both pumps and the element at once are more than ever flow.

    ``american`` asks for the ratings of North America.
    """
    volts = machine.supply.voltage_v
    both = machine.wash_pump, machine.drain_pump
    highest_a = sum(pump.running_a(volts.low) for pump in both)
    highest_a += machine.element.highest_a(volts.high) if machine.element is not None else 0.0
    # Behind a power supply no motor is switched at the mains.
    motors_a = sum(pump.running_a(volts.low) for pump in both if pump.stall_a is None)
    rated = contacts(highest_a, volts.nominal, motors_a, american)
    return f"{lid_switch(machine)}, {rated}; {HOLDS_ITSELF}{_of_low_voltage(machine)}"


def lid_tested(machine: Machine) -> str:
    """Say how it is tried, so that nothing but the switch itself stops the machine."""
    return LID_TESTED.format(LID_TESTED_AT_THE_MAINS * bool(supplied_pumps(machine)))


def supplied_pumps(machine: Machine) -> dict[str, WashPump | DrainPump]:
    """Name the pumps that stand behind a power supply, as their profile measures them there."""
    wash, drain = ("wash pump", machine.wash_pump), ("drain pump", machine.drain_pump)
    return {name: pump for name, pump in (wash, drain) if pump.stall_a is not None}


def wash_pump_starts(machine: Machine) -> str:
    """Say what the wash pump takes as it starts, behind a power supply in its low-voltage lead."""
    pump = machine.wash_pump
    if pump.stall_a is None:
        return f"{_tenths(start_a(pump, machine.supply.voltage_v.low))} A"
    locked_w = _locked_w(machine, pump)
    at_12, at_24 = (_tenths(locked_w / low_v) for low_v in LOW_VOLTAGES_V)
    return f"of direct current, {at_12} A at 12 V, {at_24} A at 24 V"


def _locked_w(machine: Machine, *pumps: WashPump | DrainPump) -> int:
    """Most that pumps take with their rotors locked [W], their supplies counted in: the safe side."""
    volts = machine.supply.voltage_v
    return math.ceil(sum(locked_a(pump, volts.low) for pump in pumps) * volts.high - 1e-6)


def _tenths(current_a: float) -> str:
    return f"{math.ceil(10.0 * current_a - 1e-6) / 10.0:g}"


def _of_low_voltage(machine: Machine) -> str:
    """Say what it needs besides for pumps behind a power supply; "" where there is none."""
    volts = machine.supply.voltage_v
    supplied = supplied_pumps(machine)
    if not supplied:
        return ""
    locked_w = _locked_w(machine, *supplied.values())
    flows_a = (_tenths(locked_w / low_v) for low_v in LOW_VOLTAGES_V)
    surge_a = short(math.ceil(sum(pump.starting_a(volts.low) for pump in supplied.values())))
    return f"; {OF_LOW_VOLTAGE.format(' and '.join(supplied), locked_w, *flows_a, surge_a)}"
