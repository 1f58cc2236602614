"""Between the planner's programme and the controller's table, both ways; and the electricity of a table."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.bill import electricity_j
from optimizer.planner.margins import Assessor
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import Mode, Settings, Structure
from optimizer.programme.constants import GAP_S, KINDS, Constants, Round
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import inputs_sha256
from optimizer.units import J_PER_KWH, S_PER_MIN, whole_tenths

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Electricity:
    """What a run may take.

    Attributes
    ----------
    low_kwh, nominal_kwh, high_kwh : float
        Least in any corner, nominal, and most in any corner [kWh].
    """

    low_kwh: float
    nominal_kwh: float
    high_kwh: float


def electricity_of(plan: Plan) -> Electricity:
    """Find what a planned run takes at the least and at the most.

    A timed element is on for as long in every corner, so that its power alone counts. A thermostat's is on
    until the bath is warm, so that its corners are simulated.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Electricity
        Over the corners that the planner counts with.
    """
    simulator = Simulator(plan.inputs.machine, plan.inputs.goal)
    structure, settings = programme_of(plan.constants)
    runs = simulator.run(structure, settings)
    return Electricity(
        low_kwh=float(electricity_j(simulator, settings, runs, "low").min()) / J_PER_KWH,
        nominal_kwh=float(electricity_j(simulator, settings, runs, "nominal")[0, simulator.cases.nominal])
        / J_PER_KWH,
        high_kwh=float(electricity_j(simulator, settings, runs, "high").max()) / J_PER_KWH,
    )


def programme_of(constants: Constants) -> tuple[Structure, Settings]:
    """Give the planner's view of a controller's table.

    Parameters
    ----------
    constants : Constants
        The table; of a round that is heated in both ways the planner knows no equal.

    Returns
    -------
    tuple
        Kinds and heat modes, and the numbers as one candidate.
    """
    rows = constants.rounds
    structure = Structure(tuple(KINDS.index(row.kind) for row in rows), tuple(_mode(row) for row in rows))
    setpoints_c = [row.setpoint_dc / 10.0 if row.setpoint_dc else np.inf for row in rows]
    return structure, Settings(
        fill_s=np.array([[float(row.fill_s) for row in rows]]),
        element_s=np.array([[float(row.element_max_s) for row in rows]]),
        spray_s=np.array([[float(row.spray_s) for row in rows]]),
        setpoint_c=np.array([setpoints_c]),
    )


def _mode(row: Round) -> Mode:
    if row.kind == "steam":
        return Mode.STEAM
    if row.heat_s:
        return Mode.THEN_SPRAY
    return Mode.WHILE_SPRAYING if row.spray_element_s else Mode.UNHEATED


HEAT_CEILING = 1.02
"""Thermostat: longest heating over what the slowest corner needs [1]."""

FILL_EXTRA_S = 5
"""Level switch: time the inlet may be open beyond what the slowest flow needs into a dry machine [s]."""


def constants_of(assessor: Assessor, structure: Structure, settings: Settings, runs: Runs) -> Constants:
    """Write a programme as the controller's table.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    structure : Structure
        Kinds and heat modes.
    settings : Settings
        Its numbers, one candidate; rounded to whole seconds.
    runs : Runs
        What it does in every corner.

    Returns
    -------
    Constants
        The table.
    """
    machine, goal = assessor.inputs.machine, assessor.inputs.goal
    cases = assessor.simulator.cases
    filled_l, left_l = runs.filled_l[0, cases.nominal], float(cases.left_l[cases.nominal])
    rounds = []
    for index, (kind, mode) in enumerate(zip(structure.kinds, structure.modes, strict=True)):
        element_s = round(settings.element_s[0, index]) if mode is not Mode.UNHEATED else 0
        if mode is Mode.THEN_SPRAY and assessor.thermostat:
            # The ceiling of a thermostat's heating is a watchdog: as low as the slowest corner allows.
            slowest_s = float(runs.element_on_s[0, :, index].max())
            element_s = min(element_s, math.ceil(slowest_s * HEAT_CEILING) + 1)
        spray_s = round(settings.spray_s[0, index])
        while_s = element_s if mode is Mode.WHILE_SPRAYING else 0
        rest_s = assessor.simulator.rest_s - (spray_s - while_s) if mode is not Mode.UNHEATED else 0.0
        setpoint_c = settings.setpoint_c[0, index]
        dosing = goal.detergent.g_per_l if goal.detergent and KINDS[kind] == "wash" else 0.0
        rounds.append(
            Round(
                kind=KINDS[kind],
                fill_s=_fill_s(assessor, settings, index),
                heat_s=element_s if mode in (Mode.THEN_SPRAY, Mode.STEAM) else 0,
                spray_s=spray_s,
                spray_element_s=while_s,
                setpoint_dc=round(setpoint_c * 10.0) if np.isfinite(setpoint_c) and element_s else 0,
                rest_s=max(math.ceil(rest_s), 0),
                drain_s=math.ceil(runs.drain_s[0, index]),
                detergent_dg=round(dosing * (filled_l[index] + left_l) * 10.0),
            )
        )
    stands = goal.drying.method != "none"
    element = machine.element
    return Constants(
        start_drain_s=math.ceil(assessor.simulator.start_drain_s),
        gap_s=GAP_S,
        rounds=tuple(rounds),
        stand_s=round(goal.drying.stand_min * S_PER_MIN) if stands else 0,
        control="thermostat" if assessor.thermostat else "timed",
        fill_control=machine.inlet.control,
        hysteresis_dk=round(element.hysteresis_k * 10.0) if element and assessor.thermostat else 0,
        bath_max_dc=whole_tenths(machine.tank.limit_c),
        input_sha256=inputs_sha256(assessor.inputs),
    )


def _fill_s(assessor: Assessor, settings: Settings, index: int) -> int:
    level_l = assessor.inputs.machine.inlet.level_l
    if level_l is None:
        return round(float(settings.fill_s[0, index]))
    slowest_l_per_s = float(assessor.simulator.cases.inlet_l_per_s.min())
    fill_s: int = math.ceil(level_l.high / slowest_l_per_s)
    return fill_s + FILL_EXTRA_S
