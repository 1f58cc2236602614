"""Boxes of tolerances, points in them, random machines with random tables: for the tests of the bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import numpy as np
from check_cases import a_round, circuit, goal, machine, programme
from numpy.typing import NDArray

from optimizer.check.bound_aims import STEPS_SHARE
from optimizer.check.bound_box import Boxes, boxes_at, ends_of
from optimizer.check.bound_rows import values_of
from optimizer.check.box import Box, box_of
from optimizer.check.certify import Runs
from optimizer.check.requirements import Judged
from optimizer.check.worst_cases import QUANTITIES
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Kind

Numbers = NDArray[np.float64]

NEAR_K = 0.01
"""How far a bound may be on the wrong side of a temperature without width [K]."""
NEAR_SHARE = 2e-5
"""How far a bound may be on the wrong side of litres and residue [1]: two ways to integrate."""
SMALL_MIN = 3.0
"""Doses under this many minutes are compared as if they were as long [min]."""


def split(machine: Machine, parts: Mapping[str, int]) -> Boxes:
    """Cut the tolerances of a machine into boxes: of each quantity as many equal parts as asked, else one."""
    pieces = []
    for name, (low, high) in ends_of(machine).items():
        count = parts.get(name, 1) if low < high else 1
        cuts = np.linspace(low, high, count + 1)
        pieces.append(list(pairwise(cuts)))
    return boxes_at(machine, np.array(list(product(*pieces))))


def points(machine: Machine, table: Mapping[str, Numbers]) -> Boxes:
    """Boxes without width, at given values of every quantity."""
    values = np.stack([table[name] for name in QUANTITIES], axis=1)
    return boxes_at(machine, np.stack([values, values], axis=2))


def judged(
    constants: Constants, rig: Machine, aim: Goal, points: Numbers
) -> dict[str, tuple[Numbers, float]]:
    """What the check's own integration finds at points: values, and 1 where more is better, else -1."""
    found = Runs(constants, rig, aim, circuit(), box_of(rig)).run(points).judged()
    return {
        one.key: (np.broadcast_to(one.values, len(points)), 1.0 if one.sense == "at least" else -1.0)
        for one in found
        if isinstance(one, Judged)
    }


def boxes_of(box: Box, low: Numbers, high: Numbers) -> Boxes:
    """Boxes between two points each; what has no tolerance has no width."""
    ends = (box.tables(low), box.tables(high))
    return boxes_at(
        box.machine, np.stack([np.stack([end[q] for q in QUANTITIES], axis=1) for end in ends], 2)
    )


def sub_boxes(box: Box, count: int, seed: int) -> tuple[Numbers, Numbers]:
    """Low and high points of random boxes inside the tolerances, some of them thin."""
    random = np.random.default_rng(seed)
    one, other = box.draws(count, seed), box.draws(count, seed + 1)
    thin = random.uniform(size=one.shape) < random.choice([0.0, 0.7, 0.95], (count, 1))
    other = np.where(thin, one, other)
    return np.minimum(one, other), np.maximum(one, other)


def inside(low: Numbers, high: Numbers, each: int, seed: int) -> tuple[Numbers, NDArray[np.int64]]:
    """Points in boxes, most of their quantities at ends, and the number of the box that each lies in."""
    random = np.random.default_rng(seed)
    own = np.repeat(np.arange(len(low)), each)
    share = random.integers(0, 2, (len(own), low.shape[1])).astype(float)
    share = np.where(random.uniform(size=share.shape) < 0.2, random.uniform(size=share.shape), share)
    return np.where(share == 1.0, high[own], low[own] + share * (high[own] - low[own])), own


def allowed(key: str, value: Numbers) -> Numbers:
    """How far a bound may be on the wrong side, for its steps [unit of the row]."""
    if key.endswith(("_c", "_k")):
        return np.full_like(value, NEAR_K)
    if key.startswith(("dose", "hygiene", "drying", "limits.duration", "limits.standing", "steam")):
        return STEPS_SHARE * np.maximum(np.abs(value), SMALL_MIN)
    return NEAR_SHARE * np.maximum(np.abs(value), 1.0)


def broken(
    constants: Constants, rig: Machine, aim: Goal, low: Numbers, high: Numbers, each: int, seed: int
) -> list[str]:
    """Points whose value is worse than the bound of the box that they lie in."""
    bounds = values_of(constants, rig, aim, boxes_of(box_of(rig), low, high))
    points, own = inside(low, high, each, seed)
    wrong = []
    for key, (values, sign) in judged(constants, rig, aim, points).items():
        bound = bounds[key][own]
        worse = sign * (bound - values)
        for place in np.flatnonzero(~(worse <= allowed(key, bound)))[:3]:
            wrong.append(f"{key}: bound {bound[place]:.7g}, point {place} has {values[place]:.7g}")
    return wrong


def wide(nominal: float, random: np.random.Generator) -> dict[str, float]:
    """A quantity with up to a quarter of tolerance on either side."""
    below, above = random.uniform(0.0, 0.25, 2)
    return {"nominal": nominal, "low": nominal * (1.0 - below), "high": nominal * (1.0 + above)}


def random_case(seed: int) -> tuple[Constants, Machine, Goal]:
    """A machine far from the usual with a table that need not be any good on it; no bath boils over."""
    random = np.random.default_rng(seed)

    def between(low: float, high: float) -> float:
        return float(random.uniform(low, high))

    thermostat, by_level = random.uniform() < 0.6, random.uniform() < 0.45
    inlet_c = between(40.0, 55.0) if random.uniform() < 0.3 else between(6.0, 22.0)
    room_c, water_l = between(8.0, 34.0), between(5.0, 14.0)
    changes: dict[str, Any] = {
        "supply.voltage_v": {"nominal": 230.0, "low": 218.0, "high": 241.0},
        "room.air_c": {"nominal": room_c, "low": room_c - between(0, 6), "high": room_c + between(0, 6)},
        "inlet.water_c": {
            "nominal": inlet_c,
            "low": inlet_c - between(0, 4),
            "high": inlet_c + between(0, 5),
        },
        "tank.capacity_l": 40.0,
        "tank.limit_c": 100.0,
        "wash_pump.prime_l": 1.0,
        "wash_pump.heat_share": between(0.2, 1.0),
        "element.cover_l": 1.5,
        "room.height_m": between(0.0, 2000.0) * (random.uniform() < 0.5),
        "tank.vent_m2": 0.005 * (random.uniform() < 0.4),
    }
    scales = {
        "inlet.flow_l_per_min": (3.0, 10.0), "tank.heat_capacity_kj_per_k": (1.5, 15.0),
        "tank.loss_still_w_per_k": (2.0, 15.0), "tank.loss_spraying_w_per_k": (3.0, 25.0),
        "tank.residual_l": (0.1, 1.2), "ware.porcelain_kg": (0.6, 14.0), "ware.film_l": (0.05, 0.5),
        "ware.response_spraying_s": (18.0, 180.0), "ware.response_still_s": (250.0, 3500.0),
        "wash_pump.power_w": (30.0, 300.0), "wash_pump.holdup_l": (0.2, 1.5),
        "drain_pump.flow_l_per_min": (6.0, 18.0), "element.rated_w": (300.0, 1800.0),
    }  # fmt: skip
    changes |= {name: wide(between(*ends), random) for name, ends in scales.items()}
    # From a generator of its own, so that a seed goes on meaning the same case in all else.
    apart = np.random.default_rng(seed + 10**6)
    changes["drain_pump.drain_lag_s"] = wide(float(apart.uniform(0.0, 8.0)), apart)
    changes["wash_pump.mechanics_factor"] = wide(float(apart.uniform(0.5, 2.0)), apart)
    if random.uniform() < 0.4:
        changes["inlet.pipe_l"] = wide(between(0.2, 3.0), random)
    if thermostat:
        error_k, over_k = between(0.0, 3.0), wide(between(0.0, 5.0), random)
        changes |= {"element.control": "thermostat", "element.sensor_error_k": error_k,
                    "element.sensor_over_mean_k": over_k,
                    "element.top_over_mean_k": wide(between(6.5, 10.0), random)}  # fmt: skip
    if by_level:
        changes |= {"inlet.control": "level", "inlet.level_l": wide(water_l, random)}
    rig = machine(changes)
    assert rig.element is not None
    kinds: tuple[Kind, ...] = ("prerinse", "wash", "rinse")

    rounds = []
    for number in range(int(random.integers(1, 6))):
        kind = kinds[int(random.integers(0, 3))] if number else kinds[1]
        # Some level switches close in time, some fills are cut; some drains are too short.
        share = between(0.6, 2.2) if by_level else between(0.7, 1.2)
        drain_l = water_l * between(0.5 if random.uniform() < 0.15 else 1.1, 1.6)
        numbers = {
            "fill_s": int(60.0 * share * water_l / rig.inlet.flow_l_per_min.nominal),
            "spray_s": int(between(60, 1200)),
            "rest_s": int(between(10, 600)) * (random.uniform() < 0.3),
            "drain_s": int(60.0 * drain_l / rig.drain_pump.flow_l_per_min.nominal),
            "detergent_dg": 200 * (kind == "wash"),
        }
        heats = random.uniform()
        if kind != "prerinse" and heats < 0.7:
            # As long as 55 K take, or less: what is not heated to the setpoint ends by the time.
            heat_s = 55.0 * 4200.0 * (water_l + 2.0) / rig.element.rated_w.nominal * between(0.2, 0.7)
            numbers["heat_s"] = int(heat_s) * (heats < 0.5)
            numbers["spray_element_s"] = int(numbers["spray_s"] * between(0.1, 0.9)) * (heats > 0.25)
            numbers["setpoint_dc"] = int(10.0 * between(max(30.0, inlet_c - 6.0), 68.0)) * thermostat
        rounds.append(a_round(kind, **{name: int(value) for name, value in numbers.items()}))
        if random.uniform() < 0.2 and numbers["spray_s"] - rounds[-1].spray_element_s > 60:
            rounds[-1] = replace(rounds[-1], soak_s=int(between(60, 1500)))
    tops: dict[str, Any] = {
        "control": "thermostat" if thermostat else "timed",
        "fill_control": "level" if by_level else "timed",
        "hysteresis_dk": int(random.integers(1, 60)) if thermostat else 0,
        "after_soak_s": 30 if any(row.soak_s for row in rounds) else 0,
        "bath_max_dc": 1000 if thermostat else 0,
        "start_drain_s": int(between(5, 100)),
    }
    return programme(*rounds, **tops), rig, everything()


def everything(changes: Mapping[str, Any] | None = None) -> Goal:
    """The test goal with hygiene and drying, so that all requirements are judged."""
    hot = {"drying": {"method": "hot_rinse", "stand_min": 20.0},
           "hygiene": {"method": "a0", "target_s": 60.0},
           "limits.water_l": 200.0, "detergent.spray_least_c": 30.0, "detergent.drain_least_c": 25.0,
           "limits.ware_drop_k": 40.0, "limits.ware_rise_k": 40.0,
           "limits.first_wash_most_c": 60.0}  # fmt: skip
    return goal(hot | dict(changes or {}))
