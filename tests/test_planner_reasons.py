"""Why there is no plan: the words, and that the nearest value is the nearest.

Each case takes the value that a reason names, sets it, and plans; then a value clearly beyond it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from planner_cases import shipped

from optimizer.errors import EXIT_NO_PLAN, NoPlanError, Reason
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose_by_model

Changes = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """A goal that can't be met, a reason that must be given, and how to follow it."""

    pair: tuple[str, str]
    changes: Changes
    requirement: str
    follow: Callable[[float], Changes]
    beyond: float
    words: tuple[str, ...] = ()
    others: tuple[str, ...] = field(default=())


def switch_at(litres: float) -> Changes:
    level_l = {"nominal": litres + 0.1, "low": litres, "high": litres + 0.2}
    return {"machine__inlet__control": "level", "machine__inlet__level_l": level_l}


NO_DRYING: Changes = {"goal__drying": {"method": "none"}}
HOT_FEED: Changes = {"machine__inlet__water_c": {"nominal": 50.0, "low": 45.0, "high": 55.0}}
CASES = {
    "dose": Case(
        ("cold-shed", "everyday"),
        {"goal__dose__0__minutes": 12.0},
        "dose grease",
        lambda minutes: {"goal__dose__0__minutes": minutes},
        beyond=1.05,
        words=("12 min at 50 °C", "within reach", "fit an element, or fill with hot water", "more time"),
        others=("longest duration",),
    ),
    "hygiene": Case(
        ("narrowboat", "nursery"),
        NO_DRYING | {"goal__hygiene": {"method": "a0", "target_s": 700.0}},
        "hygiene, A0",
        lambda seconds: {"goal__hygiene": {"method": "a0", "target_s": seconds}},
        beyond=1.05,
        words=("700 s", "within reach", "more time, a higher tank limit, or a stronger element"),
        others=("longest duration", "tank limit"),
    ),
    "residue": Case(
        ("narrowboat", "everyday"),
        {"goal__limits__water_l": 20.0},
        "rinse residue",
        lambda share: {"goal__rinse__residue_max": share},
        beyond=1 / 1.3,
        words=("0.001", "leave less behind after a drain"),
        others=("water of a run",),
    ),
    "duration": Case(
        ("cold-shed", "everyday"),
        {"goal__limits__duration_min": 120.0},
        "longest duration",
        lambda minutes: {"goal__limits__duration_min": minutes},
        beyond=0.95,
        words=("120 min", "allow more time"),
    ),
    "duration of a heated programme": Case(
        ("narrowboat", "everyday"),
        {"goal__limits__duration_min": 6.0},
        "longest duration",
        lambda minutes: {"goal__limits__duration_min": minutes},
        beyond=0.95,
        words=("6 min",),
    ),
    "water": Case(
        ("cold-shed", "everyday"),
        {"goal__limits__water_l": 20.0},
        "water of a run",
        lambda litres: {"goal__limits__water_l": litres},
        beyond=0.95,
        words=("20 l", "spare more water"),
    ),
    "circuit": Case(
        ("narrowboat", "everyday"),
        {"goal__detergent": None, "circuit__rating_a": 2.5},
        "current of the circuit",
        lambda amperes: {"circuit__rating_a": amperes + 0.5},
        beyond=0.95,
        words=("2.0 A left", "the element alone", "a circuit of its own"),
    ),
    "tank": Case(
        ("narrowboat", "roasting-tins"),
        {"machine__tank__limit_c": 40.0},
        "tank limit",
        lambda celsius: {"machine__tank__limit_c": celsius},
        beyond=0.95,
        words=("40 °C", "only if every part stands it"),
    ),
    "level switch": Case(
        ("cold-shed", "everyday"),
        switch_at(6.1),
        "litres at the level switch",
        switch_at,
        beyond=0.99,
        words=("6.1 l at its lowest", "the pump would draw air"),
    ),
    "size of the tank": Case(
        ("cold-shed", "everyday"),
        {"machine__tank__capacity_l": 6.2},
        "size of the tank",
        lambda litres: {"machine__tank__capacity_l": litres},
        beyond=0.95,
        words=("6.2 l to the lip", "a bigger tank"),
    ),
    "drying": Case(
        ("narrowboat", "nursery"),
        {},
        "drying by a hot rinse",
        lambda factor: {"goal__drying__heat_factor": factor},
        beyond=1.1,
        words=("0.4 of the film's", "a hotter last rinse"),
    ),
    "hot feed": Case(
        ("narrowboat", "everyday"),
        HOT_FEED,
        "hottest prerinse",
        lambda celsius: {"goal__prerinse__limit_c": celsius},
        beyond=0.95,
        words=("40 °C", "feed cooler water"),
    ),
}


def why(pair: tuple[str, str], changes: Changes) -> dict[str, Reason]:
    """Reasons by requirement."""
    with pytest.raises(NoPlanError) as caught:
        plan(shipped(*pair, **changes))
    assert caught.value.exit_code == EXIT_NO_PLAN == 4
    assert pair[0] in caught.value.headline
    assert pair[1] in caught.value.headline
    return {reason.requirement: reason for reason in caught.value.reasons}


def has_plan(pair: tuple[str, str], changes: Changes) -> bool:
    return choose_by_model(Assessor(shipped(*pair, **changes))) is not None


def number(text: str) -> float:
    found = re.match(r"[0-9][0-9.e-]*", text)
    assert found, text
    return float(found.group())


@pytest.mark.parametrize("name", CASES)
def test_the_nearest_value_is_the_nearest(name: str) -> None:
    case = CASES[name]
    found = why(case.pair, case.changes)
    assert {case.requirement, *case.others} <= set(found)
    reason = found[case.requirement]
    text = f"{reason.asked} {reason.nearest} {reason.advice}"
    assert all(word in text for word in case.words), text
    assert "nan" not in text
    assert "inf" not in text.replace("infusion", "")
    nearest = number(reason.nearest)
    assert has_plan(case.pair, case.changes | case.follow(nearest))
    assert not has_plan(case.pair, case.changes | case.follow(nearest * case.beyond))


def test_what_stands_in_the_way_only_together() -> None:
    """Half an hour and twenty litres: neither alone would do, and giving way in both does."""
    pair, changes = (
        ("cold-shed", "everyday"),
        {"goal__limits__duration_min": 100.0, "goal__limits__water_l": 20.0},
    )
    found = why(pair, changes)
    assert set(found) == {"longest duration", "water of a run"}
    minutes, litres = number(found["longest duration"].nearest), number(found["water of a run"].nearest)
    assert not has_plan(pair, changes | {"goal__limits__duration_min": minutes})
    assert not has_plan(pair, changes | {"goal__limits__water_l": litres})
    # Each is the least without the other: a tenth more of both is asked for together at the most.
    both = {"goal__limits__duration_min": minutes * 1.1, "goal__limits__water_l": litres * 1.1}
    assert has_plan(pair, changes | both)


def test_what_no_programme_reaches_is_said_with_the_temperature_missing() -> None:
    """Tallow does not melt in cold water (beef tallow 40–50 °C: food-chemistry textbooks, secondary)."""
    found = why(("cold-shed", "roasting-tins"), {})
    assert found["dose fat"].nearest == "0 min at the most"
    assert "the ware stays under 40 °C, below which nothing counts" in found["dose fat"].advice
    timed = NO_DRYING | {"machine__element__control": "timed"}
    hygiene = why(("narrowboat", "nursery"), timed)["hygiene, A0"]
    assert hygiene.nearest == "0 s at the most"
    assert "under 65 °C" in hygiene.advice
    assert "a thermostat on the element" in hygiene.advice
    assert has_plan(("narrowboat", "nursery"), NO_DRYING), "which is a thermostat's"


def test_a_spray_longer_than_the_run_may_take() -> None:
    """Sixty minutes of rinse spray in a run of six: no traceback, and the least minutes."""
    changes = {"goal__limits__duration_min": 6.0, "goal__rinse__spray_least_min": 60.0}
    reason = why(("cold-shed", "everyday"), changes)["longest duration"]
    assert math.isfinite(number(reason.nearest))
    assert number(reason.nearest) > 180.0
