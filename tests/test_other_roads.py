"""No other road finds a cheaper plan: what explain, frontier and upgrades find is held against `plan`."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from exploring import few_of
from planner_cases import FEW, FEW_ROUNDS, proven, tiny
from single_steps import Row, programme_of_rows
from test_planner_shipped import PAIRS, WITHOUT

from optimizer.check.certify import check
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.alternatives import Alternatives, Held
from optimizer.planner.convert_constants import constants_of
from optimizer.planner.known_programmes import known_here
from optimizer.planner.margins import Assessor
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.structure import Programme
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs
from optimizer.whatif.explain import explain
from optimizer.whatif.frontier import frontier
from optimizer.whatif.upgrades import upgrades

NOISE = 0.002
"""What whole seconds may turn a cost by [1]."""

QUICK = [("cold-shed", "fresh-cups")]
"""The cheapest to plan; all others are slow."""
EVERY = [
    (pair, road) for pair in PAIRS if pair not in WITHOUT for road in ("explain", "frontier", "upgrades")
]
SHORT = [
    *((pair, road) for pair, road in EVERY if pair in QUICK),
    (("clubhouse", "fresh-cups"), "explain"),
    (("garage-120v", "fresh-cups"), "frontier"),
]
"""Those that take seconds, not minutes, timed and with a thermostat; `SCULLION_EXPLORE=1` adds every road of
every shipped pair. What all of them gave is in `benchmarks/README.md`."""


def by_explain(plan: Proven, search: Search) -> Iterator[Constants]:
    found = explain(plan.plan, plan.certificate, search=search)
    assert found.cheaper is None
    others = [row.other for row in (*found.rounds, *found.moved)] + [found.next_best]
    yield from (written(plan.plan.inputs, one.found.programme) for one in others if one is not None)
    yield from (one.proven.plan.constants for one in found.binding if one.proven is not None)


def by_frontier(plan: Proven, search: Search) -> Iterator[Constants]:
    for axes in (("cost", "minutes"), ("energy", "water")):
        found = frontier(plan.plan.inputs, axes, 3, search=search)
        yield from (point.proven.plan.constants for point in found.points)


def by_upgrades(plan: Proven, search: Search) -> Iterator[Constants]:
    found = upgrades(plan.plan.inputs, search=search)
    yield from (row.proven.plan.constants for row in found.rows if row.proven is not None)


def written(inputs: Inputs, programme: Programme) -> Constants:
    simulator = Assessor(inputs).simulator
    return constants_of(inputs, simulator, programme, simulator.run(programme))


ROADS = {"explain": by_explain, "frontier": by_frontier, "upgrades": by_upgrades}


def assert_none_is_cheaper(plan: Proven, road: str, search: Search) -> None:
    """Whatever the road was for: what holds for the plan's own profiles, by the check, costs no less."""
    inputs, cost = plan.plan.inputs, plan.plan.costs.with_waiting
    known = list(ROADS[road](plan, search))
    assert known
    for other in known_here(Assessor(inputs), known):
        if other.costs.with_waiting < cost - NOISE * abs(cost):
            certificate = check(
                other.constants, inputs.machine, inputs.goal, inputs.circuit, leave_out="closeness"
            )
            assert not certificate.passed, f"{other.costs.with_waiting} for {cost}"


@pytest.mark.parametrize("road", ROADS)
def test_no_road_is_cheaper_on_the_tiny_machine(road: str) -> None:
    assert_none_is_cheaper(plan_and_prove(tiny(), search=FEW), road, FEW)


@pytest.mark.parametrize(
    ("pair", "road"),
    [
        pytest.param(
            pair, road, id=f"{'/'.join(pair)}-{road}", marks=[] if pair in QUICK else [pytest.mark.slow]
        )
        for pair, road in few_of(EVERY, SHORT)
    ],
)
def test_no_road_is_cheaper(pair: tuple[str, str], road: str) -> None:
    assert_none_is_cheaper(proven(*pair), road, USUAL_SEARCH)


def test_a_known_programme_that_is_cheaper_is_the_plan() -> None:
    """The plan of a whole search, known to one that may not step: what that makes of it is no dearer."""
    inputs = tiny(goal__limits__duration_min=45.0)
    best = plan_and_prove(inputs, search=FEW).plan
    known = Search(rounds_most=FEW_ROUNDS | {"prerinse": 0}, known=(best.constants,), neighbours=False)
    assert plan_and_prove(inputs, search=known).plan.costs.with_waiting <= best.costs.with_waiting * (
        1.0 + 1e-6
    )


def test_a_known_programme_is_the_plan_where_the_search_finds_none() -> None:
    """One rinse does not reach that residue (`test_one_rinse_cannot_do`); a plan with two is known."""
    inputs = tiny(goal__rinse__residue_max=0.02)
    best = plan_and_prove(inputs, search=FEW).plan
    known = Search(rounds_most=FEW_ROUNDS | {"rinse": 1}, why=False, known=(best.constants,))
    assert plan_and_prove(inputs, search=known).certificate.passed


@pytest.mark.parametrize("heat_s", [120.0, 134.0, 900.0])
def test_an_element_on_for_two_minutes_has_no_less_to_try(heat_s: float) -> None:
    """A tenth less than 134 s is 120.6 s, which an element may be on for; a tenth less than 120 s is not."""
    rows = (Row("wash", 45.0, 900.0, heat_s=heat_s), Row("rinse", 39.0, 120.0))
    others = Alternatives(Assessor(tiny()), programme_of_rows(rows))
    assert (others.moved(Held((0,), "heat", -1)) is None) is (heat_s < 133.0)
    assert others.moved(Held((0,), "heat", 1)) is not None
