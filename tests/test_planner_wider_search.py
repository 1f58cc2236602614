"""The wider search: from rounds that cannot do to a programme that holds, and nothing where there is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from planner_cases import FEW_ROUNDS, tiny

from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose_by_model
from optimizer.planner.structure import Mode, Programme
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space
from optimizer.planner.wider_search import _evolved, _from_afar, _Near, wider_search


def unheated(assessor: Assessor) -> Programme:
    """The planner's programme with its wash unheated: cold water never melts the fat."""
    choice = choose_by_model(assessor)
    assert choice is not None
    structure, settings = choice.trimmed.programme
    return Programme(replace(structure, modes=tuple(Mode.UNHEATED for _ in structure.modes)), settings)


def least_margin(assessor: Assessor, programme: Programme) -> float:
    margins, _ = assessor.run(programme)
    return min(float(margin.min()) for margin in margins.values())


def test_it_finds_what_is_a_step_away() -> None:
    assessor = Assessor(tiny(), rounds_most=FEW_ROUNDS)
    start = unheated(assessor)
    assert trim(Space(assessor, start.structure), start.settings) is None
    found = wider_search(assessor, [start])
    assert found is not None
    assert least_margin(assessor, found.programme) >= -1e-9
    again = wider_search(assessor, [start])
    assert again is not None
    assert again.objective == found.objective
    assert np.array_equal(again.programme.settings.spray_s, found.programme.settings.spray_s)


@pytest.mark.parametrize("way", [_from_afar, _evolved])
def test_each_way_finds_numbers_from_nothing(way: object) -> None:
    """Every number at its least: no heat, no spray, water that does not cover the pump."""
    assessor = Assessor(tiny(), rounds_most=FEW_ROUNDS)
    choice = choose_by_model(assessor)
    assert choice is not None
    space = Space(assessor, choice.trimmed.programme.structure)
    start = space.programme(space.low[None])
    assert least_margin(assessor, start) < 0.0
    found = way(_Near(space, start, 1.0))  # type: ignore[operator]
    assert found is not None
    assert least_margin(assessor, found.programme) >= -1e-9


def test_it_finds_nothing_where_there_is_nothing() -> None:
    start = unheated(Assessor(tiny(), rounds_most=FEW_ROUNDS))
    hopeless = Assessor(tiny(goal__limits__duration_min=12.0), rounds_most=FEW_ROUNDS)
    assert wider_search(hopeless, [start]) is None
