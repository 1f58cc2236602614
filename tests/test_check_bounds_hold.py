"""Bounds of a bath that a thermostat holds while the pump sprays: sawteeth worked out by hand, and points.

By hand: with next to no ware a bath follows Newton's law, of any text-book, towards
``T_end = T_room + P / UA`` with the time constant ``C / UA``. *No published source* for the rest: an
inequality between two programs, held at points chosen because an earlier draft of the bound broke there.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import Any

import numpy as np
import pytest
from bound_cases import Numbers, boxes_of, broken, everything, judged, random_case, sub_boxes
from check_cases import THERMOSTAT, a_round, machine, programme
from exploring import TIMES
from test_check_bounds_by_hand import NO_WARE, courses

from optimizer.check.bound_box import points
from optimizer.check.bound_course import Bounds
from optimizer.check.bound_rows import values_of
from optimizer.check.box import box_of
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

ROOM_C, LOSS_W_PER_K, ELEMENT_W = 18.0, 12.0, 900.0
STEP_S = 30.0
"""The longest step of these holds: as long as the ware's time constant in `NO_WARE` [s]."""


def rig_of(changes: Mapping[str, Any]) -> Machine:
    """A machine without tolerances whose pump gives the bath next to no heat."""
    fixed = {
        "room.air_c": ROOM_C,
        "inlet.water_c": 30.0,
        "tank.loss_spraying_w_per_k": LOSS_W_PER_K,
        "element.rated_w": ELEMENT_W,
        "element.sensor_error_k": 0.0,
        "wash_pump.power_w": 1e-3,
    }
    return machine(THERMOSTAT | NO_WARE | fixed | dict(changes), tolerances=False)


def table_of(hysteresis_dk: int, spray_s: int, setpoint_dc: int = 400) -> Constants:
    row = a_round("wash", fill_s=200, spray_s=spray_s, spray_element_s=spray_s - 2, setpoint_dc=setpoint_dc)
    return programme(row, control="thermostat", fill_control="level", hysteresis_dk=hysteresis_dk)


def held(table: Constants, rig: Machine) -> Bounds:
    """The bounds of the hold."""
    box = box_of(rig)
    from optimizer.check.bound_course import BoundCourse

    boxes = boxes_of(box, box.low[None], box.high[None])
    return next(one for one in BoundCourse(table, rig, boxes).run() if one.phase.cycles)


def newton_c(start_c: float, heat_w: float, loss_w_per_k: float, j_per_k: float, time_s: Numbers) -> Numbers:
    end_c = ROOM_C + heat_w / loss_w_per_k
    return np.asarray(end_c + (start_c - end_c) * np.exp(-loss_w_per_k / j_per_k * time_s))


def j_per_k_of(hold: Bounds, at_c: float) -> float:
    """Heat capacity of bath, tank and the trace of ware."""
    ware_j_per_k = 1e-3 * 1000.0
    return 1000.0 * specific_heat_kj_per_kg_k(np.array(at_c)).item() * float(hold.water_kg[0, 0, 0]) + 4500.0 + ware_j_per_k


def test_print() -> None:
    hold = held(table_of(20, 3000), rig_of({}))
    print(np.c_[hold.time_s, hold.bath_c[:, 0, 0], hold.bath_c[:, 1, 0]][:200], hold.water_kg[0])
    assert 0
