"""The check: run the emitted constants through every corner of the tolerances and certify the result."""

from __future__ import annotations

from optimizer.check.cases import build_cases
from optimizer.check.certificate import Certificate
from optimizer.check.controller import phases
from optimizer.check.fit import misfits
from optimizer.check.meters import DoseMeter, HeatMeter, Meter, WaterMeter
from optimizer.check.recorder import Recorder
from optimizer.check.rows import Findings
from optimizer.check.simulate import Simulation
from optimizer.errors import InputError
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.table import Constants


def check(
    constants: Constants, machine: Machine, goal: Goal, circuit: Circuit, *, draws: int = 64, seed: int = 1
) -> Certificate:
    """Prove a programme on a machine, or show where it fails.

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
    draws : int
        Random draws inside the tolerances, besides all their corners [1].
    seed : int
        Seed of the draws [1].

    Returns
    -------
    Certificate
        One row a requirement with the worst case met, and the nominal run. The same inputs give the
        same certificate.

    Raises
    ------
    InputError
        The constants are not well formed, or not for this kind of machine.
    """
    faults = misfits(constants, machine)
    if faults:
        raise InputError(faults)
    cases = build_cases(machine, draws, seed)
    doses = DoseMeter(goal, constants, cases)
    water = WaterMeter(cases, constants.fill_control == "level", machine.element)
    heat = HeatMeter(constants, cases)
    recorder = Recorder(case=cases.count - 1)
    meters: tuple[Meter, ...] = (doses, water, heat, recorder)
    simulation = Simulation(constants, cases, machine.tank.vent_m2, steam_share=machine.ware.steam_share)
    for stretch in simulation.run():
        for meter in meters:
            meter.see(stretch)
    findings = Findings(
        constants, machine, goal, circuit, cases, doses, water, heat, sequence=phases(constants)
    )
    return Certificate(findings.rows(), cases.corners, draws, seed, recorder.trace())
