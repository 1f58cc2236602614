"""What an obstacle names as nearest is a value with which there is a plan that the check passes."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from planner_cases import COLD_WASH, FOUR_RINSES, shipped, switch_at
from steel_cases import steel

from optimizer.errors import NoPlanError, Reason
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacle_values import VALUES
from optimizer.planner.obstacles import CAPACITY, STRONGEST, SWITCH, obstacles
from optimizer.planner.search import Search

FOUR = Search(rounds_most=FOUR_RINSES)
Changes = dict[str, Any]
COLD_AND_STRONG: Changes = {
    "spray_least_c": 0.0,
    "drain_least_c": 0.0,
    "dissolves_from_c": 0.0,
    "g_per_setting": 14.0,
    "least_g_per_l": 3.0,
    "most_g_per_l": 5.0,
    "price_per_kg": 4.0,
}


def tank_of(litres: float) -> Changes:
    return {"machine__tank__capacity_l": litres, "machine__tank__ware_from_l": None}


def strongest(g_per_l: float) -> Changes:
    return {"goal__detergent": COLD_AND_STRONG | {"most_g_per_l": g_per_l}}


CASES: dict[str, tuple[str, Callable[[float], Changes], float, str]] = {
    "tank": (CAPACITY, tank_of, 6.2, "l"),
    "switch": (SWITCH, switch_at, 6.1, "l"),
    "strongest": (STRONGEST, strongest, 5.0, "g/l"),
}


def refused(changes: Changes, *, why: bool = True) -> Reason:
    search = Search(rounds_most=FOUR_RINSES, why=why)
    with pytest.raises(NoPlanError) as caught:
        plan_and_prove(shipped("cold-shed", "everyday", **COLD_WASH | changes), search=search)
    (reason,) = caught.value.reasons
    return reason


@pytest.mark.parametrize("name", CASES)
def test_whoever_takes_the_printed_value_gets_a_plan(name: str) -> None:
    key, put, asked, unit = CASES[name]
    reason = refused(put(asked))
    found = re.fullmatch(r"([0-9.]+) (.+)", reason.nearest)
    assert found is not None, reason.nearest
    assert (reason.key, found[2]) == (key, unit)
    proven = plan_and_prove(shipped("cold-shed", "everyday", **COLD_WASH | put(float(found[1]))), search=FOUR)
    assert proven.certificate.passed


@pytest.mark.parametrize("name", CASES)
def test_a_value_that_no_plan_was_made_for_is_not_printed(name: str) -> None:
    key, put, asked, _ = CASES[name]
    reason = refused(put(asked), why=False)
    assert (reason.key, reason.nearest) == (key, "")


def test_where_something_else_stands_in_the_way_that_is_said() -> None:
    """A tank too small for its pump, and a run too short for any plan."""
    reason = refused(tank_of(6.2) | {"goal__limits__duration_min": 20.0})
    assert reason.nearest.startswith("no plan found up to ")
    assert reason.nearest.endswith(" l, with all else that is asked")


def test_a_tank_too_small_for_a_prerinse_is_no_matter_of_its_feed() -> None:
    """The first round takes most water, as the machine may have dried out; its feed is 16 °C at the most."""
    (reason,) = obstacles(Assessor(steel(capacity_l=12.3)))
    assert reason.key == CAPACITY
    assert reason.asked == "12.3 l to the lip"
    assert obstacles(Assessor(steel(capacity_l=12.5))) == []


def test_a_feed_too_hot_for_a_prerinse_is_no_matter_of_its_tank() -> None:
    hot = {"machine__inlet__water_c": {"nominal": 50.0, "low": 45.0, "high": 55.0}}
    (reason,) = obstacles(Assessor(shipped("narrowboat", "everyday", **hot)))
    assert reason.key == "prerinse.bath_c"


def test_every_key_has_a_value_that_can_be_put() -> None:
    assert {CAPACITY, SWITCH, STRONGEST, "cover.element_l", "prerinse.bath_c"} <= set(VALUES)
