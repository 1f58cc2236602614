"""Nearest values work: whoever sets what is printed gets a plan, for one of them or for all together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from planner_cases import FOUR_RINSES, tiny

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import Feasibility, Proof, nearest
from optimizer.planner.search import Search
from optimizer.programme.plan import Inputs

FOUR = Search(rounds_most=FOUR_RINSES)
CASES: dict[str, tuple[dict[str, Any], str]] = {
    "any": ({"goal__limits__water_l": 9.0, "goal__rinse__residue_max": 0.001}, "any"),
    "all": (
        {
            "goal__limits__water_l": 6.0,
            "goal__limits__duration_min": 15.0,
            "goal__rinse__residue_max": 0.15,
        },
        "all",
    ),
}
"""Changes of the tiny machine, and what has to be eased; by hand: two rounds take 7.8 l, the heat 20 min."""


def refusal(inputs: Inputs) -> NoPlanError:
    with pytest.raises(NoPlanError) as caught:
        plan_and_prove(inputs, search=FOUR)
    return caught.value


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_whoever_sets_what_is_printed_gets_a_plan(name: str) -> None:
    inputs = tiny(**CASES[name][0])
    found = refusal(inputs)
    assert found.easing == CASES[name][1]
    assert found.proven
    values = {reason.key: printed_value(reason) for reason in found.reasons}
    ways = [values] if found.easing == "all" else [{key: value} for key, value in values.items()]
    for way in ways:
        assert plan_and_prove(replace(inputs, goal=eased(inputs.goal, way)), search=FOUR).certificate.passed


def test_a_value_that_gives_no_plan_is_taken_back() -> None:
    """The proof refuses all litres under 20.5: a nearest value is never one of them."""
    asked: list[float] = []

    def proves(inputs: Inputs) -> bool:
        litres = inputs.goal.limits.water_l
        assert litres is not None
        asked.append(litres)
        return litres >= 20.5

    changes = CASES["any"][0]
    assessor = Assessor(tiny(**changes), rounds_most=FOUR_RINSES)
    reason = nearest(Feasibility(assessor, proof=Proof(proves=proves)), "limits.water_l")
    assert reason is not None
    assert asked == sorted(asked)
    assert asked[0] < 20.5 <= printed_value(reason) == asked[-1]
    never = Feasibility(assessor, proof=Proof(proves=lambda _: False))
    assert nearest(never, "limits.water_l") is None
