"""What the tests of the faults share: a rig whose water can be counted by hand. Every number is invented.

Without tolerances, at one temperature all through and without evaporation: 10 l a round come in within 100 s
(0.1 l/s), the drain pumps 0.2 l/s, 0.6 l stay in the sump and 0.2 l on the ware. At the start the machine is
dry or wet, whichever is worse.
"""

from __future__ import annotations

from typing import Any

from check_cases import a_round, circuit, goal, machine, programme

from optimizer.check.drawn_cases import spread
from optimizer.check.faults.catalogue import catalogue
from optimizer.check.faults.outcome import FaultReport, FaultRow
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.rig import Rig
from optimizer.check.faults.run_faults import make_rig, run_fault, run_faults
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

START_S = 10 + 2
"""Drain at the start and the pause after it [s]."""
IN_L_PER_S, OUT_L_PER_S = 0.1, 0.2
CARRY_L, FILM_L, HOLDUP_L = 0.8, 0.2, 1.5
COVER_L, LIP_L = 7.5, 28.0

PLAIN: dict[str, Any] = {
    "inlet.water_c": 18.0,
    "tank.vent_m2": 0.0,
    "wash_pump.heat_share": 0.0,
    "tank.limit_c": 100.0,
    "element.rated_w": 50.0,
}
"""Inlet and room at 18 °C, and an element too weak to change the density of the water."""

LEVEL: dict[str, Any] = {"inlet.control": "level", "inlet.level_l": 10.5}
THERMOSTAT: dict[str, Any] = {"element.control": "thermostat", "element.sensor_error_k": 0.0}
HELD_AT_50 = programme(
    a_round("wash", fill_s=120, heat_s=1800, setpoint_dc=500, rest_s=60),
    a_round("rinse", fill_s=120),
    start_drain_s=60,
    control="thermostat",
    hysteresis_dk=10,
)
NO_ELEMENT: dict[str, Any] = {"element.rated_w": None, "element": None}


def plain_machine(*changes: dict[str, Any]) -> Machine:
    merged = PLAIN
    for change in changes:
        merged = merged | change
    return machine(merged, tolerances=False)


EASY: dict[str, Any] = {
    "dose": [{"name": "milk", "reference_c": 50.0, "z_k": 49.0, "minutes": 0.1, "kinds": ["wash"]}],
    "rinse.residue_max": 0.1,
}
"""A goal that the programmes of these tests meet, so that what is missed is missed by the fault."""


def report(constants: Constants, rig: Machine, goal_changes: dict[str, Any] = EASY) -> FaultReport:
    return run_faults(constants, rig, goal(goal_changes), circuit())


def row(constants: Constants, rig: Machine, key: str, goal_changes: dict[str, Any] = EASY) -> FaultRow:
    """Run one fault alone."""
    ready = make_rig(constants, rig, goal(goal_changes), circuit())
    (fault,) = [fault for fault in catalogue(rig) if fault.key == key]
    return run_fault(ready, fault, ready.observe(ready.asked))


def reported_rig(constants: Constants, rig: Machine, asked: Goal) -> Rig:
    """Set a programme up in the cases of a whole report, for a row of it alone."""
    return make_rig(constants, rig, asked, circuit()).at(spread(rig, {}))


def cut_rows(constants: Constants, rig: Machine) -> list[FaultRow]:
    """Cut the power in each kind of phase, and nothing else."""
    ready = make_rig(constants, rig, goal(EASY), circuit())
    return power_cuts(ready, ready.observe(ready.asked))
