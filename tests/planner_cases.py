"""Inputs for the tests of the planner: shipped profiles with some values changed, and small invented ones."""

from __future__ import annotations

import hashlib
import math
import os
import pickle
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import fields, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from exploring import TIMES
from nested import changed
from sharing import one_at_a_time

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.search import USUAL_SEARCH, Search, choose
from optimizer.planner.structure import ROUNDS_MOST, Settings
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.price_series import Prices
from optimizer.profile.tariff import Tariff
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs

PLANS = "SCULLION_TEST_PLANS"
"""Variable with the folder of the shipped pairs' plans that this run of the tests has made."""

FEW_ROUNDS = {"prerinse": 1, "wash": 1, "rinse": 2, "steam": 1}
"""Rounds enough for the tiny machine, whose solves are short with them: for tests of what is made of a plan.
`test_fewer_rounds_are_enough_for_the_tiny_machine` holds its plan against that with all of them."""
FOUR_RINSES = FEW_ROUNDS | {"rinse": 4}
"""What the shipped goals' residue takes, and no more [1]."""

FEW = Search(rounds_most=FEW_ROUNDS)
PLAINLY = USUAL_SEARCH if TIMES else USUAL_SEARCH.plainest
"""For tests that ask whether there is a plan, not which: the whole search falls back on it."""

MODELS = {"machine": Machine, "goal": Goal, "circuit": Circuit, "tariff": Tariff}

TINY_MACHINE: dict[str, Any] = {
    "kind": "machine",
    "title": "Tiny rig",
    "usual_circuit": "none",
    "usual_tariff": "none",
    "supply": {"voltage_v": {"nominal": 230.0, "low": 226.0, "high": 234.0}},
    "room": {"air_c": {"nominal": 18.0, "low": 16.0, "high": 20.0}},
    "inlet": {
        "water_c": {"nominal": 14.0, "low": 12.0, "high": 16.0},
        "flow_l_per_min": {"nominal": 6.0, "tolerance_pct": 3.0},
        "hardness_mmol_per_l": 1.5,
        "valve_w": 6.0,
        "control": "timed",
    },
    "tank": {
        "capacity_l": 12.0,
        "material": "PP",
        "limit_c": 80.0,
        "heat_capacity_kj_per_k": 3.0,
        "loss_still_w_per_k": 4.0,
        "loss_spraying_w_per_k": {"nominal": 6.0, "tolerance_pct": 10.0},
        "residual_l": {"nominal": 0.4, "low": 0.3, "high": 0.5},
        "vent_m2": 0.001,
    },
    "ware": {
        "porcelain_kg": {"nominal": 3.0, "tolerance_pct": 10.0},
        "settings": 4,
        "film_l": {"nominal": 0.12, "low": 0.1, "high": 0.15},
        "response_spraying_s": {"nominal": 45.0, "low": 35.0, "high": 60.0},
    },
    "element": {"rated_w": 1000.0, "rated_v": 230.0, "cover_l": 4.0, "rest_s": 20, "control": "timed"},
    "wash_pump": {
        "power_w": 60.0,
        "power_factor": 0.7,
        "inrush_multiple": 4.0,
        "prime_l": 3.0,
        "holdup_l": {"nominal": 0.8, "low": 0.7, "high": 0.9},
        "heat_share": 0.5,
    },
    "drain_pump": {
        "drain_limit_c": 100.0,
        "power_w": 15.0,
        "power_factor": 0.6,
        "inrush_multiple": 4.0,
        "flow_l_per_min": {"nominal": 9.0, "low": 8.0, "high": 10.0},
        "drain_lag_s": 2.0,
    },
}

TINY_GOAL: dict[str, Any] = {
    "kind": "goal",
    "title": "Tiny goal",
    "dose": [
        {"name": "fat", "reference_c": 50.0, "z_k": 33.0, "floor_c": 30.0, "minutes": 6.0, "kinds": ["wash"]}
    ],
    "rinse": {"residue_max": 0.15, "rounds_min": 1, "spray_least_min": 2.0},
    "prerinse": {"rounds_min": 0},
    "limits": {"duration_min": 120.0},
    "detergent": {"g_per_setting": 0.5, "least_g_per_l": 2.75, "price_per_kg": 4.0, "dissolving_min": 0.0},
}

TINY_CIRCUIT: dict[str, Any] = {
    "kind": "circuit",
    "title": "Tiny circuit",
    "voltage_v": 230.0,
    "device": "breaker_c",
    "rating_a": 10.0,
    "usable_share": 1.0,
    "background_a": 0.2,
    "compressor_start_a": 0.0,
    "earth_fault": "rcd_30ma",
}

TINY_TARIFF: dict[str, Any] = {
    "kind": "tariff",
    "title": "Tiny tariff",
    "currency": "EUR",
    "water_per_m3": 2.2,
    "waste_per_m3": 2.4,
    "value_per_min": 0.004,
    "electricity": {"form": "flat", "price_per_kwh": 0.3},
}


SOIL = {
    "name": "soil", "reference_c": 50.0, "z_k": 33.0, "floor_c": 3.0, "minutes": 8.0, "kinds": ["wash"],
    "bare_share": 0.5, "bare_floor_c": 42.0, "soak_share": 0.2,
}  # fmt: skip
BY_WATER = SOIL | {"kinds": ["prerinse", "wash"], "floor_c": 0.0, "bare_floor_c": 0.0}
COLD_WASH: dict[str, Any] = {
    "goal__dose": [
        SOIL,
        BY_WATER | {"name": "egg", "reference_c": 40.0, "z_k": 27.0},
        BY_WATER | {"name": "milk", "z_k": 49.0, "minutes": 10.0},
    ],
    "goal__detergent__spray_least_c": 0.0,
    "goal__detergent__dissolves_from_c": 0.0,
    "goal__detergent__drain_least_c": 0.0,
    "goal__rinse__first_least_c": 0.0,
    "goal__limits__first_wash_most_c": 0.0,
}
"""Changes that make everyday's cleaning one that cold water does in hours: there is no such soil."""


def _validated(parts: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    new = changed(parts, deepcopy(changes))  # a change of a change must not stay
    return {kind: model.model_validate(new[kind]) for kind, model in MODELS.items()}


@lru_cache
def _loaded(machine: str, goal: str, circuit: str | None, tariff: str | None) -> Inputs:
    return load_inputs(machine, goal, circuit, tariff)


def shipped(
    machine: str,
    goal: str,
    circuit: str | None = None,
    tariff: str | None = None,
    price_per_kwh: float | None = None,
    **changes: Any,
) -> Inputs:
    """Shipped profiles; changes by path with ``__`` for the dots (``goal__limits__duration_min=60.0``)."""
    inputs = _loaded(machine, goal, circuit, tariff)
    dotted = {path.replace("__", "."): value for path, value in changes.items()}
    parts = {kind: getattr(inputs, kind).model_dump(mode="python", exclude_none=True) for kind in MODELS}
    prices = inputs.prices if price_per_kwh is None else Prices(price_per_kwh, price_per_kwh, price_per_kwh)
    return replace(inputs, **_validated(parts, dotted), prices=prices)


def switch_at(litres: float) -> dict[str, Any]:
    """A level switch, as a change of a machine: it closes no lower than that."""
    level_l = {"nominal": round(litres + 0.1, 3), "low": litres, "high": round(litres + 0.2, 3)}
    return {"machine__inlet__control": "level", "machine__inlet__level_l": level_l}


WEAK: dict[str, Any] = {
    "machine__supply__voltage_v": {"nominal": 100.0, "low": 97.0, "high": 103.0},
    "machine__inlet__water_c": {"nominal": 14.0, "low": 6.0, "high": 23.0},
    "machine__inlet__flow_l_per_min": {"nominal": 5.0, "tolerance_pct": 8.0},
    "machine__element__rated_w": {"nominal": 1000.0, "low": 960.0, "high": 1030.0},
    "machine__element__rated_v": 100.0,
    "machine__tank__cut_out_room_k": 8.0,
    "circuit__voltage_v": 100.0,
    "circuit__rating_a": 20.0,
}
"""A weak 100 V element, and inlet water that is cold or warm."""


def weak(limit_c: float) -> Inputs:
    """The weak machine, with a drain that stands so much."""
    return shipped(
        "clubhouse", "everyday", "plug-10a", "two-rate", **WEAK, machine__drain_pump__drain_limit_c=limit_c
    )


def tiny(price_per_kwh: float = 0.3, **changes: Any) -> Inputs:
    """The small invented profiles, changed in the same way."""
    parts = {"machine": TINY_MACHINE, "goal": TINY_GOAL, "circuit": TINY_CIRCUIT, "tariff": TINY_TARIFF}
    models = _validated(parts, {path.replace("__", "."): value for path, value in changes.items()})
    names = ("tiny", "tiny-goal", "tiny-circuit", "tiny-tariff")
    return Inputs(**models, names=names, prices=Prices(price_per_kwh, price_per_kwh, price_per_kwh))


@lru_cache
def answer(machine: str, goal: str) -> Proven | NoPlanError:
    """What the planner says to a shipped pair: proven, or why not."""
    return planned_once(_loaded(machine, goal, None, None))


def planned_once(inputs: Inputs) -> Proven | NoPlanError:
    """What the planner says to some inputs: proven, or why not.

    Planned once a run of the tests: its workers share the plans in the folder that `conftest` makes. Outside
    of one they are planned as they are asked for.
    """
    if PLANS not in os.environ:
        return plan_and_prove(inputs)
    kept = Path(os.environ[PLANS]) / f"plan {hashlib.sha256(repr(inputs).encode()).hexdigest()}"
    with one_at_a_time(kept.parent, kept.name):
        if kept.exists():
            said = pickle.loads(kept.read_bytes())
            return said if isinstance(said, Proven) else NoPlanError(**said)
        try:
            found: Proven | NoPlanError = plan_and_prove(inputs)
        except NoPlanError as error:
            found = error
        new = kept.with_name(f"{kept.name} {os.getpid()}")
        new.write_bytes(pickle.dumps(found if isinstance(found, Proven) else vars(found)))
        new.replace(kept)
        return found


def plan_of(inputs: Inputs, **options: Any) -> Proven:
    """Answer as `plan_and_prove`; what is asked for with the usual options is planned once a run."""
    search = options.get("search", USUAL_SEARCH)
    unusual = options.keys() - {"solver", "report", "search"} or search != USUAL_SEARCH
    if unusual or options.get("solver", "auto") != "auto":
        return plan_and_prove(inputs, **options)
    found = planned_once(inputs)
    if isinstance(found, NoPlanError):
        raise found
    return found


def proven(machine: str, goal: str) -> Proven:
    """The proven plan of a shipped pair that has one."""
    found = answer(machine, goal)
    assert isinstance(found, Proven)
    return found


class Worth(NamedTuple):
    """What a programme costs: money alone, and with the value of the time [currency]."""

    money: float
    cost: float


NOTHING_FOUND = Worth(math.inf, math.inf)


def worth(inputs: Inputs, rounds_most: Mapping[str, int] = ROUNDS_MOST) -> Worth:
    """What the planner's best programme costs; inf where there is none."""
    assessor = Assessor(inputs, rounds_most=rounds_most)
    choice = choose(assessor)
    if choice is None:
        return NOTHING_FOUND
    _, bill = assessor.run(choice.trimmed.programme)
    return Worth(float(bill.money[0]), float(bill.with_waiting[0]))


def settings_of(**numbers: Any) -> Settings:
    """Numbers of rounds by name, lists or single numbers; what is not named is 0, and no setpoint."""
    rounds = max(np.size(value) for value in numbers.values())
    usual = {field.name: 0.0 for field in fields(Settings)} | {"setpoint_c": np.inf} | numbers
    return Settings(
        **{name: np.broadcast_to(np.asarray(value, float), (1, rounds)) for name, value in usual.items()}
    )
