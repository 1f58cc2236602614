"""The planner's programme as the controller's constants, and constants as the planner's programme."""

from __future__ import annotations

import math

import numpy as np

from optimizer.physics.water import WEATHER_K, boiling_c
from optimizer.planner.detergent import Dosing
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import ALONE, Mode, Programme, Settings, Structure, over_reading_k
from optimizer.profile.machine import Machine
from optimizer.programme.constants import GAP_S, KINDS, SPRAY_BY_SOAK_S, Constants, Round
from optimizer.programme.lid import lid_shut_least_s
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import inputs_sha256
from optimizer.units import S_PER_MIN, whole_tenths

HEAT_CEILING, HEAT_OVER_S = 1.099, 10.0
"""Longest heating of a thermostat over what the slowest corner takes [1], and beyond that [s].

0.1 % less than the check lets pass, whose slowest point is another; a shorter one would end more boxes of its
bounds by time.
"""

FILL_EXTRA_S = 5
"""Level switch: time the inlet may be open beyond what the slowest flow needs into a dry machine [s]."""


def programme_of(constants: Constants, machine: Machine) -> Programme:
    """Read constants as a programme."""
    rows = constants.rounds
    soaked = tuple(index for index, row in enumerate(rows) if row.soak_s)
    kinds = tuple(KINDS.index(row.kind) for row in rows)
    rested = tuple(index for index, row in enumerate(rows) if row.rest_s > _element_rest_s(row, machine))
    topped = tuple(index for index, row in enumerate(rows) if row.top_up_s)
    structure = Structure(kinds, tuple(_mode(row) for row in rows), soaked, rested, topped)
    both = [mode is Mode.BOTH_WAYS for mode in structure.modes]
    setpoints_c = [row.setpoint_dc / 10.0 if row.setpoint_dc else np.inf for row in rows]
    settings = Settings(
        fill_s=np.array([[float(row.fill_s) for row in rows]]),
        element_s=np.array(
            [[float(row.heat_s if two else row.element_max_s) for row, two in zip(rows, both, strict=True)]]
        ),
        spray_s=np.array([[float(row.spray_s) for row in rows]]),
        setpoint_c=np.array([setpoints_c]),
        soak_s=np.array([[float(row.soak_s) for row in rows]]),
        while_s=np.array([[float(row.spray_element_s * two) for row, two in zip(rows, both, strict=True)]]),
        cool_s=np.array([[float(row.rest_s * (index in rested)) for index, row in enumerate(rows)]]),
        top_up_s=np.array([[float(row.top_up_s) for row in rows]]),
        mix_s=np.array([[float(row.mix_s) for row in rows]]),
    )
    return Programme(structure, settings)


def _element_rest_s(row: Round, machine: Machine) -> int:
    """Rest that the element asks for before the drain [s]."""
    if machine.element is None or not row.heated:
        return 0
    return max(machine.element.rest_s - (row.spray_s - row.spray_element_s) - row.soak_s, 0)


def _mode(row: Round) -> Mode:
    if row.kind == "steam":
        return Mode.STEAM
    if row.heat_s:
        return Mode.BOTH_WAYS if row.spray_element_s else Mode.THEN_SPRAY
    return Mode.WHILE_SPRAYING if row.spray_element_s else Mode.UNHEATED


def constants_of(inputs: Inputs, simulator: Simulator, programme: Programme, runs: Runs) -> Constants:
    """Write a programme of one candidate as constants; ``runs`` is what it does in every corner."""
    machine, goal, dosing = inputs.machine, inputs.goal, Dosing(inputs.machine, inputs.goal)
    structure, settings = programme
    rounds = []
    for index, (kind, mode) in enumerate(zip(structure.kinds, structure.modes, strict=True)):
        element_s = round(settings.element_s[0, index]) if mode is not Mode.UNHEATED else 0
        if mode in ALONE and simulator.thermostat:
            # The ceiling of a thermostat's heating is a watchdog.
            slowest_s = float(runs.alone_s[0, :, index].max())
            element_s = min(element_s, math.floor(slowest_s * HEAT_CEILING + HEAT_OVER_S))
        spray_s = round(settings.spray_s[0, index])
        while_s = element_s if mode is Mode.WHILE_SPRAYING else round(settings.while_s[0, index])
        soak_s = round(settings.soak_s[0, index])
        rest_s = simulator.rest_s - (spray_s - while_s) - soak_s if mode is not Mode.UNHEATED else 0.0
        setpoint_c = settings.setpoint_c[0, index]
        fill_s = _fill_s(simulator, settings, index)
        dosed_g = float(dosing.dosed_g(np.array(float(fill_s)))) if KINDS[kind] == "wash" else 0.0
        rounds.append(
            Round(
                kind=KINDS[kind],
                fill_s=fill_s,
                heat_s=element_s if mode in (*ALONE, Mode.STEAM) else 0,
                spray_s=spray_s,
                spray_element_s=while_s,
                setpoint_dc=round(setpoint_c * 10.0) if np.isfinite(setpoint_c) and element_s else 0,
                soak_s=soak_s,
                rest_s=max(math.ceil(rest_s), round(settings.cool_s[0, index]), 0),
                top_up_s=round(settings.top_up_s[0, index]),
                mix_s=round(settings.mix_s[0, index]),
                drain_s=math.ceil(runs.drain_s[0, index]),
                detergent_dg=math.ceil(dosed_g * 10.0 - 1e-6),
            )
        )
    element = machine.element
    return Constants(
        start_drain_s=math.ceil(simulator.start_drain_s),
        gap_s=GAP_S,
        rounds=tuple(rounds),
        stand_s=round(goal.drying.standing_min * S_PER_MIN),
        lid_open_after_s=lid_shut_least_s(goal),
        control="thermostat" if simulator.thermostat else "timed",
        fill_control=machine.inlet.control,
        hysteresis_dk=round(element.hysteresis_k * 10.0) if element and simulator.thermostat else 0,
        after_soak_s=SPRAY_BY_SOAK_S if structure.soaked else 0,
        bath_max_dc=_bath_max_dc(machine, structure),
        input_sha256=inputs_sha256(inputs),
    )


def _bath_max_dc(machine: Machine, structure: Structure) -> int:
    """Highest reading at which the water is within the tank's limit, until the proof knows the hottest one.

    0 where nothing reads the bath. The water may be hotter than the sensor reads by the sensor's error, and
    heated with the pump off by its layers.
    Where the tank stands the boil, boiling water must not stop the run: its sensor may read high.
    """
    element, limit_c = machine.element, machine.tank.limit_c
    if element is None or element.control != "thermostat":
        return 0
    most_c = limit_c - over_reading_k(element, structure.modes)
    boils_c = boiling_c(machine.room.height_m)
    if limit_c >= boils_c:
        most_c = max(most_c, boils_c + WEATHER_K + element.sensor_error_k)
    return whole_tenths(max(most_c, 0.1))


def _fill_s(simulator: Simulator, settings: Settings, index: int) -> int:
    level_l = simulator.machine.inlet.level_l
    if level_l is None:
        return round(float(settings.fill_s[0, index]))
    slowest_l_per_s = float(simulator.corners.inlet_l_per_s.min())
    fill_s: int = math.ceil(level_l.high / slowest_l_per_s)
    return fill_s + FILL_EXTRA_S
