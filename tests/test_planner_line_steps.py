"""Steps by straight lines: whole numbers that may only move together, against brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from planner_cases import FEW, tiny

from optimizer.physics import Array
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.line_steps import Run, cheaper_seconds, stepped_by_lines
from optimizer.planner.margins import Assessor
from optimizer.planner.trim_space import FEASIBLE, Space


def run_of(slopes: Array, least: Array, prices: Array, bend: float = 0.0) -> Run:
    """Margins that are lines but for a bend downwards, and a cost that is a line."""

    def run(values: Array) -> tuple[Array, Array]:
        margins = values @ slopes.T - least - bend * (values**2).sum(axis=1, keepdims=True)
        return margins, values @ prices

    return run


def cheapest(run: Run, most: int, size: int) -> float:
    """By trying all of them."""
    every = np.array(list(product(range(most + 1), repeat=size)), dtype=float)
    margins, cost = run(every)
    return float(cost[margins.min(axis=1) >= FEASIBLE].min())


def test_two_numbers_that_go_down_only_together_do() -> None:
    """Neither may be more than half a second over the other: a step of one alone never holds."""
    run = run_of(np.array([[1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]]), np.array([-0.5, -0.5, 20.0]), np.ones(2))
    start = np.array([50.0, 50.0])
    for single in ([49.0, 50.0], [50.0, 49.0]):
        assert run(np.array([single]))[0].min() < FEASIBLE
    found = stepped_by_lines(run, start, np.zeros(2), np.full(2, 90.0))
    assert found.tolist() == [10.0, 10.0]


@pytest.mark.parametrize("seed", range(40))
def test_lines_that_are_exact_give_the_best_of_all(seed: int) -> None:
    random = np.random.default_rng(seed)
    slopes, prices = random.uniform(-0.3, 1.0, (4, 3)), random.uniform(0.1, 1.0, 3)
    start = np.full(3, 9.0)
    least = (slopes @ start) * random.uniform(0.3, 1.0, 4)
    run = run_of(slopes, np.minimum(least, slopes @ start), prices)
    found = stepped_by_lines(run, start, np.zeros(3), np.full(3, 9.0))
    margins, cost = run(found[None])
    assert margins.min() >= FEASIBLE
    assert cost[0] == pytest.approx(cheapest(run, 9, 3), abs=1e-5)


@pytest.mark.parametrize("seed", range(20))
def test_what_lines_miss_never_breaks_a_limit_nor_costs_more(seed: int) -> None:
    random = np.random.default_rng(seed)
    slopes, prices = random.uniform(0.1, 1.0, (4, 3)), random.uniform(0.1, 1.0, 3)
    start = np.full(3, 30.0)
    least = (slopes @ start - 0.004 * (start**2).sum()) * random.uniform(0.3, 1.0, 4)
    run = run_of(slopes, least, prices, bend=0.004)
    found = stepped_by_lines(run, start, np.zeros(3), np.full(3, 40.0))
    margins, cost = run(found[None])
    assert margins.min() >= FEASIBLE
    assert cost[0] <= run(start[None])[1][0]
    assert np.array_equal(found, np.rint(found))


def test_a_plan_with_seconds_to_spare_is_made_cheaper_and_the_planners_own_is_not() -> None:
    inputs = tiny()
    best = plan_and_prove(inputs, search=FEW)
    structure, settings = programme_of(best.plan.constants, inputs.machine)
    assessor = Assessor(inputs, best.kept)
    assert cheaper_seconds(Space(assessor, structure), settings) is None
    spare = replace(settings, spray_s=settings.spray_s + 30.0)
    space = Space(assessor, structure)
    found = cheaper_seconds(space, spare)
    assert found is not None
    values = space.pack(found.settings)
    assert space.holds(values)
    assert space.run(values[None])[1][0] < space.run(space.pack(spare)[None])[1][0]


def test_numbers_that_do_not_hold_are_left_alone() -> None:
    inputs = tiny()
    structure, settings = programme_of(plan_and_prove(inputs, search=FEW).plan.constants, inputs.machine)
    short = replace(settings, spray_s=np.full_like(settings.spray_s, 61.0))
    assert cheaper_seconds(Space(Assessor(inputs), structure), short) is None
