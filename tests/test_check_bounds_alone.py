"""A bound that does not hold with the boxes of all requirements is looked for once more with its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

import pytest
from planner_cases import weak

from optimizer.check import bound_search
from optimizer.check.bound_aims import PASSES, Aim
from optimizer.check.certify import check
from optimizer.programme.constants import Constants, Round

ROUNDS = (
    Round("prerinse", 91, 0, 120, 0, 0, 0, 79, 0),
    Round("wash", 118, 0, 3530, 2555, 0, 0, 100, 410),
    Round("rinse", 94, 1106, 120, 0, 0, 0, 82, 0),
    Round("rinse", 86, 0, 120, 0, 0, 0, 76, 0),
    Round("rinse", 86, 0, 120, 0, 0, 0, 75, 0),
    Round("rinse", 86, 0, 120, 0, 0, 0, 75, 0),
)
"""Passed with a drain that stands 65 °C, and was refused with 66 and 70 for the bath of its first rinse."""


TABLE = Constants(237, 2, ROUNDS, 0, "timed", "timed", 0, 0, "")


@pytest.mark.slow
@pytest.mark.parametrize("limit_c", [65.0, 66.0, 70.0])
def test_what_passes_still_passes_once_the_drain_stands_more(limit_c: float) -> None:
    inputs = weak(limit_c)
    certificate = check(TABLE, inputs.machine, inputs.goal, inputs.circuit)
    assert [row.key for row in certificate.rows if not row.passed] == []


class Searched:
    """A search that comes to 9 for every requirement, and keeps what it was asked for."""

    def __init__(self) -> None:
        self.asked: list[dict[str, Aim]] = []

    def bounds(self, aims: Mapping[str, Aim]) -> dict[str, float]:
        self.asked.append(dict(aims))
        return dict.fromkeys(aims, 9.0)


AIM = Aim("at least", 8.0, 10.0).kept()


@pytest.mark.parametrize(
    ("aim", "bound", "again"),
    [
        (AIM, 7.9, {"dose": 9.0}),
        (AIM, 8.0, {}),
        (replace(AIM, worst=7.99), 7.9, {}),
        (replace(AIM, worst=8.0), 7.9, {"dose": 9.0}),
        (replace(AIM, limit=9.5), 9.2, {"dose": 9.2}),
        (replace(AIM, rough=PASSES - 1), 7.9, {}),
        (Aim("at most", 8.0, 7.0).kept(), 8.1, {"dose": 8.1}),
        (Aim("at most", 8.0, 7.0).kept(), 8.0, {}),
    ],
)
def test_only_what_misses_by_its_bound_is_asked_again(
    aim: Aim, bound: float, again: dict[str, float]
) -> None:
    search = Searched()
    found = bound_search._once_more_alone(
        cast(Any, search), {"dose": aim, "other": AIM}, {"dose": bound, "other": 8.5}
    )
    assert found == again
    assert search.asked == ([{"dose": aim}] if again else [])
