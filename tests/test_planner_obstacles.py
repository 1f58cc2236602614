"""What rules out every programme is named whatever else is asked, with a value that a plan was proven for."""

from __future__ import annotations

import re
from typing import Any, ClassVar

import pytest
from exploring import few_of
from planner_cases import FOUR_RINSES, tiny

from optimizer.errors import NoPlanError, Reason
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import COVER, obstacles
from optimizer.planner.search import Search
from optimizer.programme.plan import Inputs

FOUR = Search(rounds_most=FOUR_RINSES)


def refusal(inputs: Inputs, search: Search = FOUR) -> NoPlanError:
    with pytest.raises(NoPlanError) as caught:
        plan_and_prove(inputs, search=search)
    return caught.value


class TestElementThatNoFillCovers:
    """By hand, 12 l to the lip, 6 l/min ± 15 %: at least 0.85/1.15 of (12 − 0.5 − 0.15) l, and 0.3 l left.

    That is 8.69 l at the slowest where the quickest just reaches the lip.
    """

    WIDE: ClassVar[dict[str, Any]] = {
        "machine__inlet__flow_l_per_min": {"nominal": 6.0, "tolerance_pct": 15.0}
    }

    def found(self, cover_l: float, **changes: Any) -> list[Reason]:
        inputs = tiny(**self.WIDE, machine__element__cover_l=cover_l, **changes)
        return obstacles(Assessor(inputs, rounds_most=FOUR_RINSES))

    def test_it_is_an_obstacle_only_beyond_what_a_fill_covers(self) -> None:
        assert [one.key for one in self.found(8.70)] == [COVER]
        assert self.found(8.68) == []

    def test_it_is_said_with_litres_flow_and_what_to_change(self) -> None:
        (one,) = self.found(11.9)
        for word in ("cover_l = 11.9 l", "capacity_l = 12 l", "5.1 to 6.9 l/min"):
            assert word in one.asked
        assert "bigger tank" in one.advice

    def test_it_is_none_where_no_warmth_is_needed(self) -> None:
        fat = {"name": "fat", "reference_c": 50.0, "z_k": 33.0, "floor_c": 0.0, "minutes": 0.1}
        assert self.found(11.9, goal__dose=[fat | {"kinds": ["wash"]}]) == []

    def test_whoever_lowers_the_element_to_what_is_printed_gets_a_plan(self) -> None:
        inputs = tiny(**self.WIDE, machine__element__cover_l=11.9)
        found = refusal(inputs)
        assert found.proven
        (one,) = found.reasons
        lower = re.fullmatch(r"cover_l = ([0-9.]+) l", one.nearest)
        assert lower is not None, one.nearest
        again = tiny(**self.WIDE, machine__element__cover_l=float(lower[1]))
        assert plan_and_prove(again, search=FOUR).certificate.passed

    def test_a_value_that_no_plan_was_made_for_is_not_printed(self) -> None:
        inputs = tiny(**self.WIDE, machine__element__cover_l=11.9)
        (one,) = refusal(inputs, Search(rounds_most=FOUR_RINSES, why=False)).reasons
        assert (one.key, one.nearest) == (COVER, "")


class TestFedTooHotForAPrerinse:
    """A feed of up to 58 °C, no element: the nearest limit of a prerinse hangs on the machine alone."""

    FED: ClassVar[dict[str, Any]] = {
        "machine__element": None,
        "machine__inlet__water_c": {"nominal": 55.0, "low": 50.0, "high": 58.0},
        "machine__drain_pump__drain_limit_c": 60.0,
        "goal__prerinse__rounds_min": 1,
    }

    def nearest_c(self, limit_c: float) -> float:
        found = refusal(tiny(**self.FED, goal__prerinse__limit_c=limit_c))
        values = [one.nearest for one in found.reasons if one.key == "prerinse.bath_c"]
        assert len(values) == 1, found.reasons
        return float(values[0].removesuffix(" °C"))

    @pytest.mark.slow
    def test_the_nearest_is_the_same_from_wherever_it_is_asked_and_plans(self) -> None:
        nearest_c = self.nearest_c(40.0)
        for less_k in few_of((2.0, 1.0), [1.0]):
            assert self.nearest_c(nearest_c - less_k) == nearest_c
        inputs = tiny(**self.FED, goal__prerinse__limit_c=nearest_c)
        assert plan_and_prove(inputs, search=FOUR).certificate.passed

    def test_a_rise_that_the_feed_makes_too_large_is_told_beside_it(self) -> None:
        """By hand: 3.9 l of 58 °C warm a tank of 3 kJ/K from 16 °C to over 30 K above the ware."""
        inputs = tiny(**self.FED, goal__prerinse__limit_c=40.0, goal__limits__ware_rise_k=30.0)
        found = refusal(inputs)
        assert found.proven
        assert [one.key for one in found.reasons] == ["prerinse.bath_c", "ware.rise_k"]
        assert all("with all else that is asked" in one.nearest for one in found.reasons)
