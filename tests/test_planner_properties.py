"""What must hold whatever the numbers: asking for more, or paying more, never makes a run cheaper."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import pytest
from _pytest.mark import ParameterSet
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import COLD_WASH, FEW, FEW_ROUNDS, Worth, shipped, tiny, worth

from optimizer.planner.make_plan import plan

ROUNDING = 0.997
"""Whole seconds and tenths of a degree may turn the scale by so much [1]."""

PAIRS = {
    "timed": ("clubhouse", "everyday"),
    "level switch": ("narrowboat", "everyday"),
    "thermostat": ("garage-120v", "everyday"),
    "no element": ("cold-shed", "everyday"),
}
BASES = {"no element": COLD_WASH}
"""Changes of a pair before any other."""


@lru_cache
def base(pair: str) -> Worth:
    return now(pair)


def now(pair: str, **changes: Any) -> Worth:
    return worth(shipped(*PAIRS[pair], **BASES.get(pair, {}), **changes))


def slow(*case: Any) -> ParameterSet:
    return pytest.param(*case, marks=pytest.mark.slow)


DEARER = [
    slow("timed", {"price_per_kwh": 0.9}),
    ("no element", {"price_per_kwh": 0.9}),
    slow("level switch", {"tariff__waste_per_m3": 20.0}),
    ("no element", {"goal__detergent__price_per_kg": 20.0}),
    slow("level switch", {"tariff__value_per_min": 0.02}),
]


@pytest.mark.parametrize(("pair", "prices"), DEARER, ids=str)
def test_dearer_prices_make_dearer_runs(pair: str, prices: dict[str, Any]) -> None:
    assert now(pair, **prices).cost > base(pair).cost


TIGHTER = [
    slow("timed", {"goal__limits__duration_min": 66.0}),
    slow("timed", {"machine__tank__limit_c": 55.0}),
    ("no element", {"goal__rinse__spray_least_min": 4.0}),
    slow("level switch", {"goal__dose__2__minutes": 16.0}),
    slow("thermostat", {"machine__tank__limit_c": 45.0}),
    slow("level switch", {"goal__rinse__residue_max": 1e-4}),
    ("no element", {"goal__limits__duration_min": 210.0}),
    ("no element", {"goal__dose__1__minutes": 12.0}),
]


@pytest.mark.parametrize(("pair", "limit"), TIGHTER, ids=str)
def test_tighter_limits_are_never_cheaper(pair: str, limit: dict[str, Any]) -> None:
    assert now(pair, **limit).cost >= base(pair).cost * ROUNDING


@pytest.mark.slow
def test_a_circuit_that_carries_less_is_never_cheaper() -> None:
    """At 4.7 A the element no longer fits beside the wash pump, at 4.0 A not at all.

    The plan with enough of both heats with the pump off as well, so the first step costs nothing.
    """
    without_both, without_element = (now("timed", circuit__rating_a=amperes).cost for amperes in (5.9, 5.2))
    assert base("timed").cost <= without_both < without_element


WIDER = [
    slow("timed", {"machine__inlet__flow_l_per_min": {"nominal": 6.0, "tolerance_pct": 20.0}}),
    ("no element", {"machine__tank__residual_l": {"nominal": 0.5, "low": 0.2, "high": 1.2}}),
    slow("level switch", {"machine__inlet__level_l": {"nominal": 5.5, "tolerance_pct": 9.0}}),
    ("thermostat", {"machine__element__sensor_error_k": 4.0}),
    slow("level switch", {"machine__supply__voltage_v": {"nominal": 230.0, "low": 214.0, "high": 244.0}}),
    ("no element", {"machine__inlet__water_c": {"nominal": 9.0, "low": 3.0, "high": 17.0}}),
]


@pytest.mark.parametrize(("pair", "tolerance"), WIDER, ids=str)
def test_wider_tolerances_are_never_cheaper(pair: str, tolerance: dict[str, Any]) -> None:
    assert now(pair, **tolerance).cost >= base(pair).cost * ROUNDING


@pytest.mark.parametrize("pair", [slow(pair) if pair == "timed" else pair for pair in PAIRS])
def test_time_worth_nothing_never_costs_more_money(pair: str) -> None:
    free = now(pair, goal__limits__time_weight=0.0)
    assert free.money <= base(pair).money / ROUNDING
    assert free.cost == free.money


SOME = cases(10)
NO_ELEMENT = {"machine__element": None, "goal__dose__0__floor_c": 5.0}


@SOME
@given(st.floats(0.05, 1.0), st.floats(1.05, 4.0), st.floats(0.1, 1.0), st.floats(1.0, 4.0))
def test_price_dose_and_residue_on_a_tiny_machine(
    price: float, dearer: float, residue: float, minutes: float
) -> None:
    """Dearer power, more to wash, a cleaner rinse: each costs more, the first no more than in proportion."""

    def at(price_per_kwh: float, dose_min: float, residue_max: float) -> float:
        changes = {"goal__dose__0__minutes": dose_min, "goal__rinse__residue_max": residue_max}
        return worth(tiny(price_per_kwh, **NO_ELEMENT, **changes), FEW_ROUNDS).cost

    cheap, dear = at(price, minutes, 0.02), at(price * dearer, minutes, 0.02)
    more, cleaner = at(price * dearer, minutes * 1.3, 0.02), at(price * dearer, minutes, 0.02 * residue)
    assert cheap * ROUNDING <= dear <= cheap * dearer / ROUNDING
    assert dear * ROUNDING <= min(more, cleaner)


def test_fewer_rounds_are_enough_for_the_tiny_machine() -> None:
    """Tests of upgrades, frontier and starts rely on it: the rounds left out are in none of its plans."""
    assert plan(tiny(), search=FEW).constants == plan(tiny()).constants
    clean = tiny(goal__rinse__residue_max=0.012)
    assert plan(clean, search=FEW).constants == plan(clean).constants
