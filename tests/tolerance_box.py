"""The tolerances of a machine as a box of points, and a plan at one of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from optimizer.check.table_rows import bath_max_most_dc
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.programme.plan import Plan

Ends = tuple[float, float, float]

SENSOR = "element.sensor_k"
"""Name of the quantity that no profile key holds: what the sensor reads over the bath [K]."""


def box(machine: Machine) -> dict[str, Ends]:
    """Low, nominal and high of every measured quantity; the sensor's error is one of them."""
    found: dict[str, Ends] = {}
    for table_name in type(machine).model_fields:
        table = getattr(machine, table_name)
        for key in getattr(type(table), "model_fields", ()):
            value = getattr(table, key)
            if isinstance(value, Measured):
                found[f"{table_name}.{key}"] = (value.low, value.nominal, value.high)
    if machine.element is not None and machine.element.control == "thermostat":
        error_k = machine.element.sensor_error_k
        found[SENSOR] = (-error_k, 0.0, error_k)
    return found


def shrunk(machine: Machine, point: Mapping[str, float]) -> Machine:
    """The machine with every tolerance shrunk to a point, its sensor right."""
    data: dict[str, Any] = machine.model_dump(mode="json")
    for name, value in point.items():
        table, key = name.split(".")
        if name == SENSOR:
            data[table]["sensor_error_k"] = 0.0
        else:
            data[table][key] = float(value)
    return Machine.model_validate(data)


def at_point(plan: Plan, point: Mapping[str, float]) -> Plan:
    """The plan with every tolerance shrunk to a point.

    A sensor that reads too much is the same as a right sensor, a lower setpoint and a lower watchdog. One
    that is right reads less of boiling water at the most: the watchdog may let pass no more than that.
    """
    off_dc = round(10.0 * point.get(SENSOR, 0.0))
    rows = tuple(replace(row, setpoint_dc=row.setpoint_dc - off_dc if row.setpoint_dc else 0)
                 for row in plan.constants.rounds)  # fmt: skip
    machine = shrunk(plan.inputs.machine, point)
    constants = replace(plan.constants, rounds=rows)
    shifted_dc = constants.bath_max_dc - off_dc if constants.bath_max_dc else 0
    bath_max_dc = min(shifted_dc, bath_max_most_dc(constants, machine))
    constants = replace(constants, bath_max_dc=bath_max_dc)
    return replace(plan, inputs=replace(plan.inputs, machine=machine), constants=constants)
