"""The few cases that faults are run in: hot or cold, with much water or little, and the nominal one."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from optimizer.check.cases import QUANTITIES, Array, Cases, cases_at, spread
from optimizer.profile.machine import Machine

HOT_ENDS = {
    "voltage_v": 1, "rated_w": 1, "wash_pump_w": 1, "inlet_c": 1, "room_c": 1, "ware_kj_per_k": 0,
    "tank_kj_per_k": 0, "loss_still_w_per_k": 0, "loss_spraying_w_per_k": 0, "response_spraying_s": 1,
    "response_still_s": 1, "sensor_error_k": 0,
}  # fmt: skip
"""End of each quantity, 0 low and 1 high, that makes the bath hot; the other end makes it cold."""

MUCH_ENDS = {
    "flow_l_per_min": 1, "drain_l_per_min": 0, "level_l": 1, "residual_l": 1, "film_l": 1, "start_share": 1,
}  # fmt: skip
"""The same for much water in the tank."""

CORNERS = ("hot, much water", "hot, little water", "cold, much water", "cold, little water")


def fault_cases(machine: Machine) -> Cases:
    """Lay out the cases that faults are run in.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    Cases
        Four corners, then the nominal case. Much water goes with a slow drain, little with a quick one;
        the hold-up is at its high end in all four.
    """
    quantities = spread(machine)
    table: dict[str, Array] = {}
    for name in QUANTITIES:
        measured = getattr(quantities, name)
        ends = (measured.low, measured.high)
        if name in HOT_ENDS:
            hot = HOT_ENDS[name]
            picks = (hot, hot, 1 - hot, 1 - hot)
        elif name in MUCH_ENDS:
            much = MUCH_ENDS[name]
            picks = (much, 1 - much, much, 1 - much)
        else:
            picks = (1, 1, 1, 1)
        table[name] = np.array([*(ends[pick] for pick in picks), measured.nominal])
    return cases_at(machine, (*CORNERS, "nominal"), len(CORNERS), table)


def repeated(cases: Cases, times: int) -> Cases:
    """Repeat cases one set after the other.

    Parameters
    ----------
    cases : Cases
        The cases.
    times : int
        How often [1].

    Returns
    -------
    Cases
        So many times as many.
    """
    values = {
        field.name: np.tile(getattr(cases, field.name), times)
        for field in fields(cases)
        if field.name not in ("names", "corners")
    }
    return Cases(names=cases.names * times, corners=cases.corners, **values)
