"""Small profiles and programmes for the tests of the check; every number is invented."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce
from itertools import product
from operator import getitem
from typing import Any

import numpy as np
from nested import changed

from optimizer.check.bound_aims import Aim
from optimizer.check.bound_search import guaranteed
from optimizer.check.box import box_of
from optimizer.check.certificate import EVERY_POINT, Row
from optimizer.check.certify import Runs, misfits
from optimizer.check.second_run import LastState, hottest_again, judged_twice
from optimizer.check.worst_cases import Cases
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Kind, Round

MACHINE: dict[str, Any] = {
    "kind": "machine",
    "title": "Test rig",
    "usual_circuit": "none",
    "usual_tariff": "none",
    "supply": {"voltage_v": {"nominal": 230.0, "low": 220.0, "high": 240.0}},
    "room": {"air_c": {"nominal": 18.0, "low": 14.0, "high": 25.0}},
    "inlet": {
        "water_c": {"nominal": 12.0, "low": 8.0, "high": 18.0},
        "flow_l_per_min": {"nominal": 6.0, "tolerance_pct": 5.0},
        "hardness_mmol_per_l": 1.5,
        "valve_w": 6.0,
        "control": "timed",
    },
    "tank": {
        "capacity_l": 28.0,
        "material": "PP",
        "limit_c": 75.0,
        "heat_capacity_kj_per_k": {"nominal": 4.5, "tolerance_pct": 10.0},
        "loss_still_w_per_k": {"nominal": 6.0, "tolerance_pct": 15.0},
        "loss_spraying_w_per_k": {"nominal": 9.0, "tolerance_pct": 15.0},
        "residual_l": {"nominal": 0.6, "low": 0.5, "high": 0.8},
    },
    "ware": {
        "porcelain_kg": {"nominal": 4.0, "tolerance_pct": 20.0},
        "film_l": {"nominal": 0.2, "low": 0.15, "high": 0.25},
        "response_spraying_s": {"nominal": 45.0, "low": 30.0, "high": 60.0},
        "response_still_s": {"nominal": 1800.0, "low": 1200.0, "high": 3000.0},
    },
    "wash_pump": {
        "power_w": {"nominal": 85.0, "tolerance_pct": 5.0},
        "power_factor": 0.6,
        "inrush_multiple": 5.0,
        "prime_l": 5.0,
        "holdup_l": {"nominal": 1.5, "low": 1.2, "high": 1.8},
        "heat_share": 0.5,
    },
    "drain_pump": {
        "drain_limit_c": 100.0,  # the pipe stands the boil: what it does not stand has tests of its own
        "power_w": 15.0,
        "power_factor": 0.5,
        "inrush_multiple": 3.0,
        "flow_l_per_min": {"nominal": 12.0, "tolerance_pct": 10.0},
        "drain_lag_s": 0.0,
    },
    "element": {
        "rated_w": {"nominal": 900.0, "tolerance_pct": 5.0},
        "rated_v": 230.0,
        "cover_l": 7.5,
        "rest_s": 30,
        "control": "timed",
        "sensor_over_mean_k": 0.0,
        "top_over_mean_k": 0.0,
    },
}

GOAL: dict[str, Any] = {
    "kind": "goal",
    "title": "Test goal",
    "dose": [
        {"name": "milk", "reference_c": 50.0, "z_k": 49.0, "minutes": 10.0, "kinds": ["wash"],
         "soak_share": 0.2, "bare_share": 0.4},
        {"name": "egg", "reference_c": 50.0, "z_k": 27.0, "floor_c": 10.0, "ceiling_c": 60.0, "minutes": 5.0,
         "kinds": ["prerinse", "wash"]},
        {"name": "fat", "reference_c": 55.0, "z_k": 30.0, "floor_c": 42.0, "minutes": 2.0, "kinds": ["wash"]},
        {"name": "heat", "reference_c": 55.0, "z_k": 12.9, "floor_c": 40.0, "minutes": 0.05,
         "kinds": ["wash", "rinse"]},
    ],
    "detergent": {"g_per_setting": 0.5, "least_g_per_l": 2.75, "price_per_kg": 4.0, "dissolving_min": 0.0},
    "rinse": {"residue_max": 0.05, "rounds_min": 1},
    "prerinse": {"rounds_min": 1, "limit_c": 40.0},
    "limits": {"duration_min": 150.0},
}  # fmt: skip

CIRCUIT: dict[str, Any] = {
    "kind": "circuit",
    "title": "Test circuit",
    "voltage_v": 230.0,
    "device": "breaker_b",
    "rating_a": 10.0,
    "usable_share": 1.0,
    "background_a": {"nominal": 0.5, "low": 0.2, "high": 1.0},
    "compressor_start_a": 9.6,
    "earth_fault": "rcd_30ma",
}


def exact(base: dict[str, Any]) -> dict[str, Any]:
    """Copy a nested dict with every tolerance taken away."""
    return {
        key: value["nominal"] if isinstance(value, dict) and "nominal" in value
        else exact(value) if isinstance(value, dict) else value
        for key, value in base.items()
    }  # fmt: skip


def exact_but(whole: Machine, *paths: str) -> Machine:
    """A machine with no tolerances but those of a few quantities, by path with dots."""
    every = whole.model_dump(exclude_none=True)
    kept = {path: reduce(getitem, path.split("."), every) for path in paths}
    return Machine.model_validate(changed(exact(every), kept))


def machine(changes: dict[str, Any] | None = None, *, tolerances: bool = True) -> Machine:
    return Machine.model_validate(changed(MACHINE if tolerances else exact(MACHINE), changes or {}))


def goal(changes: dict[str, Any] | None = None) -> Goal:
    return Goal.model_validate(changed(GOAL, changes or {}))


def circuit(changes: dict[str, Any] | None = None) -> Circuit:
    return Circuit.model_validate(changed(CIRCUIT, changes or {}))


def a_round(kind: Kind, **numbers: int) -> Round:
    """Make a round: 100 s of fill, 300 s of spray, 70 s of drain, no heat, unless told otherwise."""
    usual = {"fill_s": 100, "heat_s": 0, "spray_s": 300, "spray_element_s": 0, "setpoint_dc": 0, "rest_s": 0,
             "drain_s": 70, "detergent_dg": 0}  # fmt: skip
    return Round(kind, **(usual | numbers))


def programme(*rounds: Round, **tops: Any) -> Constants:
    """Make a table of constants around some rounds, timed unless told otherwise."""
    usual: dict[str, Any] = {"start_drain_s": 10, "gap_s": 2, "stand_s": 0, "control": "timed",
                             "fill_control": "timed", "hysteresis_dk": 0, "input_sha256": "",
                             "bath_max_dc": 0}  # fmt: skip
    if tops.get("control") == "thermostat":
        usual["bath_max_dc"] = max([400, *(row.setpoint_dc for row in rounds)])
    return Constants(rounds=rounds, **(usual | tops))


def five_rounds() -> Constants:
    """A programme that meets the test goal: prerinse, wash, wash, cold rinse, hot rinse."""
    return programme(
        a_round("prerinse"),
        a_round("wash", heat_s=1600, spray_s=2400, spray_element_s=1500, detergent_dg=324),
        a_round("wash", spray_s=300, detergent_dg=324),
        a_round("rinse"),
        a_round("rinse", spray_s=2400, spray_element_s=2400, rest_s=60),
        stand_s=1200, start_drain_s=155,
    )  # fmt: skip


def five_rounds_by_thermostat() -> Constants:
    """The same with a thermostat and a level switch."""
    return programme(
        a_round("prerinse", fill_s=120),
        a_round("wash", fill_s=120, heat_s=2400, spray_s=2400, spray_element_s=1500, detergent_dg=321,
                setpoint_dc=550),
        a_round("wash", fill_s=120, spray_s=300, detergent_dg=321),
        a_round("rinse", fill_s=120),
        a_round("rinse", fill_s=120, spray_s=2400, spray_element_s=2400, setpoint_dc=500, rest_s=60),
        stand_s=1200, start_drain_s=155, bath_max_dc=740, control="thermostat", fill_control="level",
        hysteresis_dk=10,
    )  # fmt: skip


THERMOSTAT = {
    "element.control": "thermostat",
    "element.sensor_error_k": 1.0,
    "inlet.control": "level",
    "inlet.level_l": {"nominal": 10.5, "low": 10.0, "high": 11.0},
}


def sample_cases(machine: Machine, draws: int = 0, seed: int = 1) -> Cases:
    """Cases to run: balanced ends of all tolerances, draws inside them, and the nominal one last."""
    box = box_of(machine)
    ends = box.vertices(box.screening())
    cases = box.cases(np.vstack([ends, box.draws(draws, seed), box.nominal]))
    return replace(cases, corners=len(ends))


AGAIN = ("tank.bath_c", "prerinse.bath_c", "drain.bath_c", "ware.drop_k", "ware.rise_k", "first_wash.bath_c")
"""Rows that a second run is judged by as well."""


def row_of(
    key: str, constants: Constants, machine: Machine, goal: Goal, circuit: Circuit, *, bounded: bool = True
) -> Row:
    """One row as the check makes it where five quantities at the most have a tolerance: all corners are run.

    It takes no search, and no other row's bound; not bounded, it is enough for the worst value found.
    """
    assert misfits(constants, machine) == []
    runs, last = Runs(constants, machine, goal, circuit, box_of(machine)), LastState()
    assert runs.box.size <= 5
    ends = np.array(list(product((False, True), repeat=runs.box.size)))
    found = runs.run(np.vstack([runs.box.vertices(ends), runs.box.nominal]), others=(last,))
    again = hottest_again(constants, machine, found.cases, last.state) if key in AGAIN else {}
    (one,) = (one for one in judged_twice(found.judged(), again) if one.key == key)
    row = one if isinstance(one, Row) else one.row(int(one.badness.argmax()), EVERY_POINT)
    return with_bound(row, constants, machine, goal) if bounded else row


def with_bound(row: Row, constants: Constants, machine: Machine, goal: Goal) -> Row:
    """Put beside the worst value found what is guaranteed, as the check does, for this row alone."""
    if row.guaranteed is not None:
        return row
    bounds = guaranteed(constants, machine, goal, {row.key: Aim(row.sense, row.limit, row.worst)})
    return replace(row, guaranteed=bounds.get(row.key))
