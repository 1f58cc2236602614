"""Electricity of a run, in every corner of the tolerances."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.simulate import Mode, Runs, Settings, Simulator, Structure
from optimizer.programme.plan import Plan
from optimizer.programme.table import KINDS, Constants, Round
from optimizer.units import J_PER_KWH

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


def electricity_j(
    simulator: Simulator, settings: Settings, runs: Runs, motors: Literal["low", "nominal", "high"]
) -> Array:
    """Add up the electricity of candidates in every corner.

    Parameters
    ----------
    simulator : Simulator
        The simulator that ran them.
    settings : Settings
        Numbers of the candidates.
    runs : Runs
        What they did.
    motors : str
        End of the tolerance that the pumps' powers take; the element's is the corner's.

    Returns
    -------
    ndarray
        Energy, candidates × corners [J].
    """
    machine, cases, start_s = simulator.machine, simulator.cases, simulator.start_drain_s
    wash_w = getattr(machine.wash_pump.power_w, motors)
    drain_w = getattr(machine.drain_pump.power_w, motors)
    pumps_j = wash_w * settings.spray_s.sum(axis=-1) + drain_w * (runs.drain_s.sum(axis=-1) + start_s)
    return np.asarray(
        cases.element_w * runs.element_on_s.sum(axis=-1)
        + pumps_j[:, None]
        + machine.inlet.valve_w * runs.filled_l.sum(axis=-1) / cases.inlet_l_per_s
        + machine.supply.controller_w * (start_s + runs.round_s.sum(axis=-1))
    )


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
