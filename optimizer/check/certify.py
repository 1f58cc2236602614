"""Prove a programme on a machine, once its constants are seen to fit that kind of machine."""

from __future__ import annotations

from optimizer.check.certificate import Certificate
from optimizer.check.integrate import Simulation
from optimizer.check.lethality import earned_doses
from optimizer.check.meters import DoseMeter, HeatMeter, Meter, Recorder, WaterMeter
from optimizer.check.phases import phases
from optimizer.check.requirements import Findings
from optimizer.check.sensor_meter import SensorMeter
from optimizer.check.table_rows import bath_max_most_dc, hysteresis_most_dk
from optimizer.check.worst_cases import build_cases
from optimizer.errors import InputError, InputIssue
from optimizer.option_defaults import DRAWS, SEED
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SUBJECT = "constants"


def misfits(constants: Constants, machine: Machine, *, bench_run: bool = False) -> list[InputIssue]:
    """Find what makes constants impossible to run on a machine; empty where they can be run.

    A bench run is refused as well, unless ``bench_run`` says that one is expected.
    """
    found = constants.issues(SUBJECT)
    if constants.bench_run and not bench_run:
        rule, fix = "a bench run rehearses a programme and washes nothing", "the plan it came from"
        found.append(InputIssue(SUBJECT, "bench_run", rule, "true", fix))
    element = machine.element
    control = "timed" if element is None else element.control
    if constants.control != control:
        by = "time" if control == "timed" else "a thermostat"
        rule = (
            f"the machine's element is controlled by {by}"
            if element
            else "a machine without an element is timed"
        )
        found.append(InputIssue(SUBJECT, "control", rule, constants.control, control))
    if constants.fill_control != machine.inlet.control:
        rule = (
            f"the machine's inlet is controlled by {'time' if machine.inlet.control == 'timed' else 'level'}"
        )
        found.append(InputIssue(SUBJECT, "fill_control", rule, constants.fill_control, machine.inlet.control))
    most_dk = hysteresis_most_dk(machine)
    if constants.control == "thermostat" and constants.hysteresis_dk < 1:
        rule = "a thermostat needs a gap between off and on again"
        found.append(InputIssue(SUBJECT, "hysteresis_dk", rule, str(constants.hysteresis_dk), "at least 1"))
    elif constants.hysteresis_dk > most_dk:
        rule = "is a wider gap between off and on again than the machine was measured with"
        fix = f"at most {most_dk}" if most_dk else "0, a timed element has none"
        found.append(InputIssue(SUBJECT, "hysteresis_dk", rule, str(constants.hysteresis_dk), fix))
    limit_dc = bath_max_most_dc(machine)
    if constants.bath_max_dc > limit_dc:
        error_k = machine.element.sensor_error_k if machine.element and most_dk else 0.0
        wrong = f" and the bath may be {error_k:g} K hotter than it reads" if error_k else ""
        rule, fix = f"the tank stands {machine.tank.limit_c:g} °C{wrong}", f"at most {limit_dc}"
        found.append(InputIssue(SUBJECT, "bath_max_dc", rule, str(constants.bath_max_dc), fix))
    for number, row in enumerate(constants.rounds, start=1):
        if row.heated and element is None:
            key = f"rounds[{number}]"
            found.append(
                InputIssue(SUBJECT, key, "the machine has no element", "a heated round", "0 s of element")
            )
        if row.setpoint_dc and (constants.control == "timed" or not row.heated):
            key, fix = f"rounds[{number}].setpoint_dc", "0"
            rule = "a timed element has no setpoint" if row.heated else "an unheated round has no setpoint"
            found.append(InputIssue(SUBJECT, key, rule, str(row.setpoint_dc), fix))
    return found


def check(
    constants: Constants,
    machine: Machine,
    goal: Goal,
    circuit: Circuit,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Certificate:
    """Prove a programme on a machine, or show where it fails.

    It is run in all corners of the tolerances and in random draws inside them; the same inputs give the
    same certificate. Constants that are not well formed, or not for this kind of machine, raise InputError.
    """
    issues = misfits(constants, machine)
    if issues:
        raise InputError(issues)
    cases = build_cases(machine, draws, seed)
    doses = DoseMeter(goal, constants, cases)
    water = WaterMeter(cases, constants.fill_control == "level", machine.element)
    heat = HeatMeter(constants, cases)
    sensor = SensorMeter(constants, cases)
    recorder = Recorder(case=cases.count - 1)
    meters: tuple[Meter, ...] = (doses, water, heat, sensor, recorder)
    simulation = Simulation(constants, cases, machine.tank.vent_m2, steam_share=machine.ware.steam_share)
    for stretch in simulation.run():
        for meter in meters:
            meter.add(stretch)
    findings = Findings(
        constants, machine, goal, circuit, cases, doses, water, heat, phases(constants), sensor
    )
    trace = recorder.trace()
    earned = earned_doses(goal, constants, trace)
    return Certificate(findings.rows(), cases.corners, draws, seed, trace, earned)
