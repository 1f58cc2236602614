"""Run a programme with one fault at a time, and say what comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.check.certify import misfits
from optimizer.check.currents import locked_a, motor_a, running_a
from optimizer.check.faults.catalogue import SingleFault, catalogue, not_optional
from optimizer.check.faults.deliver import DELIVER, Delivery
from optimizer.check.faults.fault_row import make_row
from optimizer.check.faults.harm_meter import MEASURED, FaultMeter, worst_of
from optimizer.check.faults.outcome import FaultReport, FaultRow, Harm, harm_sentence, lasting, wash_sentence
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.rig import Observation, Rig, fault_cases
from optimizer.check.phases import phases
from optimizer.errors import InputError
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SAME_S = 0.1
"""Moments closer than this are the same: of several rounds, the first is named [s]."""


def run_faults(constants: Constants, machine: Machine, goal: Goal, circuit: Circuit) -> FaultReport:
    """Run every single fault of a machine.

    Parameters
    ----------
    constants : Constants
        The programme, as the controller takes it.
    machine : Machine
        The machine with its tolerances.
    goal : Goal
        What must be reached.
    circuit : Circuit
        What feeds the machine.

    Returns
    -------
    FaultReport
        One row a fault, each the worst of five cases: what happens where nothing but the constants
        stands against it, and what has to. The same inputs give the same report.

    Raises
    ------
    InputError
        The constants are not well formed, or not for this kind of machine.

    Notes
    -----
    The temperature of an element that is not covered is not modelled: it burns, and so may what is near.
    """
    found = misfits(constants, machine)
    if found:
        raise InputError(found)
    rig = Rig(constants, machine, goal, circuit, fault_cases(machine), tuple(phases(constants)))
    sound = rig.observe(rig.asked)
    rows = [_row(rig, fault, sound) for fault in catalogue(machine)]
    return FaultReport(
        sound=make_row(("none", "no fault"), "", (), sound.meter.extremes()),
        rows=(*rows, *power_cuts(rig, sound)),
        not_optional=not_optional(machine, circuit),
        corners=rig.cases.names,
    )


def _row(rig: Rig, fault: SingleFault, sound: Observation) -> FaultRow:
    name = (fault.key, fault.fault)
    deliveries = DELIVER[fault.key](rig.asked)
    if not deliveries:
        return make_row(name, "The programme does not use it.", (), sound.meter.extremes())
    runs = [rig.observe(each.phases, drain_share=each.drain_share) for each in deliveries]
    meters = [run.meter for run in runs]
    met = worst_of([meter.extremes() for meter in meters])
    harms = _harms(deliveries, meters)
    sentences = [fault.head]
    if fault.key == "pump.seized":
        locked = _locked(rig)
        harms.append(locked)
        sentences.append(_locked_sentence(rig, locked))
    kinds = [row.kind for row in rig.constants.rounds]
    sentences += [
        harm_sentence(harm, fault.since, kinds, meters[0].too_hot(harm.round, met)) for harm in harms
    ]
    missed = {row.key for row in sound.short}
    short = max(([row for row in run.short if row.key not in missed] for run in runs), key=len)
    if short and not harms:
        harms.append(Harm("wash", np.inf, -1, 0.0))
        sentences.append(wash_sentence(short))
    if not harms:
        sentences.append(f"Nothing comes to harm: at most {met.bath_c:.0f} °C and {met.level_l:.1f} l.")
    return make_row(name, " ".join(filter(None, sentences)), harms, met, fault.guards)


def _harms(deliveries: Sequence[Delivery], meters: Sequence[FaultMeter]) -> list[Harm]:
    """The earliest beginning and the longest time of each kind of harm."""
    found: list[Harm] = []
    for kind in MEASURED:
        met = []
        for delivery, meter in zip(deliveries, meters, strict=True):
            tally = meter.tallies[kind]
            after_s = np.maximum(tally.first_s - meter.begins_s[delivery.onset], 0.0)
            case = int(after_s.argmin())
            met.append(Harm(kind, float(after_s[case]), int(tally.round[case]), float(tally.total_s.max())))
        soonest_s = min(harm.after_s for harm in met)
        first = min((harm for harm in met if harm.after_s <= soonest_s + SAME_S), key=lambda harm: harm.round)
        if np.isfinite(first.after_s):
            found.append(replace(first, total_s=max(harm.total_s for harm in met)))
    return found


def _locked(rig: Rig) -> Harm:
    first = next(phase.round for phase in rig.asked if phase.outputs.wash_pump)
    return Harm("locked", 0.0, first, float(sum(row.spray_s for row in rig.constants.rounds)))


def _locked_sentence(rig: Rig, locked: Harm) -> str:
    """A locked rotor takes about the current of the start for as long as it is on, the element besides."""
    machine, circuit = rig.machine, rig.circuit
    runs_a = motor_a(machine.wash_pump, machine.supply.voltage_v.low)
    takes_a = locked_a(machine.wash_pump, machine.supply.voltage_v.low)
    sprays_a = max(running_a(phase.outputs, machine) for phase in rig.asked if phase.outputs.wash_pump)
    total_a = sprays_a - runs_a + takes_a + circuit.background_a.high
    trips = "opens late, if at all" if total_a > circuit.rating_a else "does not open"
    return (
        f"A locked rotor takes about {takes_a:.2g} A, for {lasting(locked.total_s)} in all: the "
        f"{circuit.rating_a:g} A device of the circuit {trips}."
    )
