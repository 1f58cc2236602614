"""Currents of a programme against the circuit, by Ohm's law and the name-plates."""

from __future__ import annotations

from optimizer.check.phases import OFF, Outputs, Phase
from optimizer.profile.machine import DrainPump, Machine, WashPump


def running_a(on: Outputs, machine: Machine) -> float:
    """Highest running current with these outputs.

    Parameters
    ----------
    on : Outputs
        What is on.
    machine : Machine
        The machine.

    Returns
    -------
    float
        Current [A]: the element, a resistor, at the highest voltage; motors, valve and controller,
        which take their power whatever the voltage, at the lowest.
    """
    supply = machine.supply.voltage_v
    total_a = machine.supply.controller_w / supply.low
    if on.inlet:
        total_a += machine.inlet.valve_w / supply.low
    if on.element and machine.element is not None:
        total_a += machine.element.rated_w.high * supply.high / machine.element.rated_v**2
    if on.wash_pump:
        total_a += motor_a(machine.wash_pump, supply.low)
    if on.drain_pump:
        total_a += motor_a(machine.drain_pump, supply.low)
    return total_a


def motor_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    """Running current of a pump at its highest power.

    Parameters
    ----------
    pump : WashPump or DrainPump
        The pump.
    supply_v : float
        Voltage [V].

    Returns
    -------
    float
        Current [A].
    """
    return pump.power_w.high / (supply_v * pump.power_factor)


def starting_a(before: Outputs, on: Outputs, machine: Machine) -> float:
    """Highest current in the moment in which outputs change.

    Parameters
    ----------
    before, on : Outputs
        What was on, what is on now.
    machine : Machine
        The machine.

    Returns
    -------
    float
        Current [A]: a pump that starts takes its inrush; 0 where no pump starts.
    """
    extra_a = 0.0
    for pump, was, is_on in (
        (machine.wash_pump, before.wash_pump, on.wash_pump),
        (machine.drain_pump, before.drain_pump, on.drain_pump),
    ):
        if is_on and not was:
            extra_a += _start_above_running_a(pump, machine.supply.voltage_v.low)
    return running_a(on, machine) + extra_a if extra_a > 0.0 else 0.0


def _start_above_running_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    if pump.surge_a is not None:
        return max(pump.surge_a.high - motor_a(pump, supply_v), 0.0)
    assert pump.inrush_multiple is not None, "the profile has it, or surge_a"
    return (pump.inrush_multiple - 1.0) * motor_a(pump, supply_v)


def locked_a(pump: WashPump | DrainPump, supply_v: float) -> float:
    """Current of a pump whose rotor is held [A]: as measured, or about what it takes as it starts."""
    if pump.stall_a is not None:
        return pump.stall_a.high
    assert pump.inrush_multiple is not None, "the profile has it, or stall_a"
    return pump.inrush_multiple * motor_a(pump, supply_v)


def peaks_a(sequence: list[Phase], machine: Machine) -> tuple[float, float]:
    """Highest running and highest starting current of a programme.

    Parameters
    ----------
    sequence : list of Phase
        The phases in order.
    machine : Machine
        The machine.

    Returns
    -------
    tuple of float
        Running and starting current of the machine alone [A].
    """
    outputs = [phase.outputs for phase in sequence]
    running = max(running_a(on, machine) for on in outputs)
    starting = max(
        starting_a(before, on, machine) for before, on in zip([OFF, *outputs], outputs, strict=False)
    )
    return running, starting
