"""Fills made whole first: a second of water is a hundredth of a bath, and many seconds of heat."""

from __future__ import annotations

import numpy as np
import pytest
from planner_cases import proven

from optimizer.planner import trim as trims
from optimizer.planner.coarse_numbers import WATER, with_whole_fills
from optimizer.planner.continuous import continuous
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import KeptBack
from optimizer.planner.margins import Assessor
from optimizer.planner.trim_space import Space


def kept_back(fat: float) -> tuple[Space, np.ndarray]:
    """The rounds of a shipped plan with so much fat kept back, and the best numbers between seconds."""
    plan = proven("clubhouse", "roasting-tins").plan
    structure, settings = programme_of(plan.constants, plan.inputs.machine)
    shares = {"dose.fat": fat, "first_rinse.bath_c": 0.0235, "drain.bath_c": 0.0016}
    space = Space(Assessor(plan.inputs, KeptBack(backoff=shares)), structure)
    start = space.pack(settings)
    space.look_at_binding_corners(start)
    return space, continuous(space, start)


@pytest.mark.slow
@pytest.mark.parametrize("fat", [0.0, 0.005, 0.0105, 0.015, 0.0205, 0.026])
def test_whole_seconds_are_found_close_above_the_best_between_seconds(fat: float) -> None:
    space, values = kept_back(fat)
    found = with_whole_fills(space, values)
    assert found is not None
    assert space.holds(found)
    assert np.array_equal(found, np.rint(found))
    costs = [float(space.run(one[None])[1][0]) for one in (values, found)]
    assert costs[0] < costs[1] < 1.005 * costs[0]


@pytest.mark.slow
def test_the_numbers_stay_between_the_ends_that_are_given() -> None:
    space, values = kept_back(0.015)
    water = np.array([name in WATER for name, _ in space.slots])
    up = np.where(water, np.ceil(values), space.low), np.where(water, np.ceil(values), space.high)
    found = continuous(space, np.clip(values, *up), up)
    assert np.array_equal(found[water], np.ceil(values[water]))
    assert not np.array_equal(found[~water], values[~water])


@pytest.mark.slow
@pytest.mark.parametrize("fat", [0.0, 0.005, 0.0105, 0.0115, 0.015, 0.0205, 0.026])
def test_a_trim_ends_close_above_the_best_between_seconds(fat: float) -> None:
    space, values = kept_back(fat)
    least = float(space.run(values[None])[1][0])
    trimmed = trims.trim(space, space.settings(values[None]))
    assert trimmed is not None
    assert least < trimmed.objective < 1.005 * least


@pytest.mark.slow
@pytest.mark.parametrize("aim", ["", "dose.fat"])
def test_whole_fills_are_asked_for_where_no_whole_seconds_hold(
    aim: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of what is made least, and of a requirement that is brought as far as it goes."""
    space, values = kept_back(0.015)
    if aim:
        space = Space(space.assessor, space.structure, aim)
    asked: list[bool] = []
    for name in ("whole_seconds", "by_straight_lines"):
        monkeypatch.setattr(trims, name, lambda *_: None)
    monkeypatch.setattr(trims, "with_whole_fills", lambda *_: asked.append(True))
    assert trims.trim(space, space.settings(values[None])) is None
    assert asked == [True]
