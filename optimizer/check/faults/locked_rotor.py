"""A rotor that is locked, by a pip or a shard of glass: what it takes, and what burns with its motor."""

from __future__ import annotations

from optimizer.check.currents import locked_a, seized_a
from optimizer.check.faults.guard_words import METALS
from optimizer.check.faults.outcome import FaultRow, Harm, lasting, make_row
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.phases import Phase
from optimizer.profile.machine_loads import DrainPump, WashPump

DRAIN_SEIZED = ("drain.seized", "drain pump seized")
LIKE_A_DEAD_ONE = "No water leaves, with all that comes of a dead drain pump (see there)."


def locked_wash_pump(rig: Rig) -> Harm:
    """Make the harm of a rotor that is locked from the first spray on, for as long as anything sprays."""
    first = next(phase.round for phase in rig.asked if phase.outputs.wash_pump)
    return Harm("locked", 0.0, first, float(sum(row.spray_s for row in rig.constants.rounds)))


def drain_seized(rig: Rig, sound: Observation) -> FaultRow:
    """Say what a locked rotor of the drain pump does, from the drain at the start on."""
    pump = rig.machine.drain_pump
    locked = Harm("locked", 0.0, -1, sum(phase.longest_s for phase in rig.asked if phase.outputs.drain_pump))
    words = f"{LIKE_A_DEAD_ONE} {locked_sentence(rig, pump, locked.total_s)}"
    guards = rig.protection.against(DRAIN_SEIZED[0])
    return make_row(DRAIN_SEIZED, words, [locked], sound.meter.extremes(), guards)


def locked_sentence(rig: Rig, pump: WashPump | DrainPump, total_s: float) -> str:
    """Say what a locked rotor takes, and whether the circuit's device opens on it and what is on besides."""
    machine, circuit = rig.machine, rig.circuit
    takes_a = locked_a(pump, machine.supply.voltage_v.low)
    on = [phase.outputs for phase in rig.asked if _runs(phase, pump, rig)]
    total_a = max(seized_a(each, machine, pump) for each in on) + circuit.background_a.high
    trips = "opens late, if at all" if total_a > circuit.rating_a else "does not open"
    material = machine.tank.material
    tank = "" if material in METALS else f" and the {material} of the tank"
    return (
        f"A locked rotor takes about {takes_a:.2g} A, for {lasting(total_s)} in all: the "
        f"{circuit.rating_a:g} A device of the circuit {trips}. Its motor may burn, "
        f"its pump and hoses{tank} with it."
    )


def _runs(phase: Phase, pump: WashPump | DrainPump, rig: Rig) -> bool:
    return phase.outputs.wash_pump if pump is rig.machine.wash_pump else phase.outputs.drain_pump
