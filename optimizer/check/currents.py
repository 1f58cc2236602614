"""Currents in amperes, by Ohm's law and the name-plates: each part, what is on together, a start, a stall."""

from __future__ import annotations

from optimizer.check.phases import OFF, Outputs, Phase
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import DrainPump, WashPump


def controller_a(machine: Machine) -> float:
    """Current of the controller: ``I = P / V`` at the lowest voltage, because its power does not change."""
    return machine.supply.controller_w / machine.supply.voltage_v.low


def valve_a(machine: Machine) -> float:
    """Current of the inlet valve: ``I = P / V`` at the lowest voltage."""
    return machine.inlet.valve_w / machine.supply.voltage_v.low


def element_a(machine: Machine) -> float:
    """Current of the element, a resistor: ``I = P_rated V / V_rated²`` at the highest voltage; 0 without."""
    if machine.element is None:
        return 0.0
    return machine.element.rated_w.high * machine.supply.voltage_v.high / machine.element.rated_v**2


def motor_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    """Highest running current of a pump: ``I = P / (V pf)``.

    A pump takes its power whatever the voltage, so that the low end of the supply is the bad one. The
    power factor pf makes the current larger than its part in phase with a resistor's. Currents are added
    as plain numbers all the same, which overstates the sum: the safe side.
    """
    return pump.power_w.high / (supply_v * pump.power_factor)


def start_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    """Highest current of a pump as it starts: the surge as measured, or its multiple of the running one."""
    if pump.surge_a is not None:
        return max(pump.surge_a.high, motor_a(pump, supply_v))
    assert pump.inrush_multiple is not None, "the profile has it, or surge_a"
    return pump.inrush_multiple * motor_a(pump, supply_v)


def locked_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    """Current of a pump whose rotor is held: as measured, or about what it takes as it starts."""
    if pump.stall_a is not None:
        return pump.stall_a.high
    assert pump.inrush_multiple is not None, "the profile has it, or stall_a"
    return pump.inrush_multiple * motor_a(pump, supply_v)


def running_a(on: Outputs, machine: Machine) -> float:
    """Highest running current with these outputs, the controller's included."""
    total_a = controller_a(machine)
    if on.inlet:
        total_a += valve_a(machine)
    if on.element:
        total_a += element_a(machine)
    if on.wash_pump:
        total_a += motor_a(machine.wash_pump, machine.supply.voltage_v.low)
    if on.drain_pump:
        total_a += motor_a(machine.drain_pump, machine.supply.voltage_v.low)
    return total_a


def starting_a(before: Outputs, on: Outputs, machine: Machine) -> float:
    """Highest current in the moment in which outputs change; 0 where no pump starts."""
    extra_a, starts = 0.0, False
    for pump, was_on, is_on in (
        (machine.wash_pump, before.wash_pump, on.wash_pump),
        (machine.drain_pump, before.drain_pump, on.drain_pump),
    ):
        if is_on and not was_on:
            low_v = machine.supply.voltage_v.low
            extra_a += start_a(pump, low_v) - motor_a(pump, low_v)
            starts = True
    return running_a(on, machine) + extra_a if starts else 0.0


def seized_a(on: Outputs, machine: Machine, pump: WashPump | DrainPump) -> float:
    """Current with these outputs, this pump of the machine among them, while its rotor is locked."""
    low_v = machine.supply.voltage_v.low
    return running_a(on, machine) - motor_a(pump, low_v) + locked_a(pump, low_v)


def peaks_a(sequence: list[Phase], machine: Machine) -> tuple[float, float]:
    """Highest running and highest starting current of a programme, of the machine alone."""
    outputs = [phase.outputs for phase in sequence]
    running = max(running_a(on, machine) for on in outputs)
    starting = max(
        starting_a(before, on, machine) for before, on in zip([OFF, *outputs], outputs, strict=False)
    )
    return running, starting
