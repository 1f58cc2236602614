"""Fills and set points made whole first, up or down, where no whole seconds near the best numbers hold."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import iapws
import numpy as np
import pytest
from planner_cases import tiny
from steel_cases import steel

from optimizer.plan_and_prove import _finder, _refused
from optimizer.planner import trim as trims
from optimizer.planner.coarse_numbers import _rounded_both_ways, from_either_side
from optimizer.planner.make_plan import Proof, plan
from optimizer.planner.margins import Assessor
from optimizer.planner.search import USUAL_SEARCH, choose_by_model
from optimizer.planner.structure import Mode, Structure
from optimizer.planner.trim_space import Space
from optimizer.planner.water_margins import BY_LITRES
from optimizer.planner.worst_corners import worst_corners
from optimizer.programme.plan import Plan


def one_wash(capacity_l: float) -> tuple[Space, np.ndarray]:
    """The rounds that the model chooses for the steel machine, with worst points, and their numbers."""
    inputs = steel(capacity_l=capacity_l)
    assessor = Assessor(inputs)
    choice = choose_by_model(assessor)
    assert choice is not None
    structure, settings = choice.trimmed.programme
    assert structure.kinds.count(1) == 1
    assessor.count_with(worst_corners(assessor, choice.trimmed.programme, _finder(inputs.machine)))
    space = Space(assessor, structure)
    return space, space.pack(settings)


def planned(capacity_l: float) -> Plan:
    """A plan that holds at the worst points; what their bounds ask more is left out."""
    inputs = steel(capacity_l=capacity_l)
    proof = Proof(_finder(inputs.machine), _refused)
    return plan(inputs, proof=proof, search=replace(USUAL_SEARCH, why=False))


@pytest.mark.slow
def test_rounds_without_whole_seconds_near_their_best_numbers_are_not_given_up() -> None:
    """A wash of 72.3 s of water at the best: 73 s run over, and 72 s hold with a prerinse of 419 s alone."""
    space, start = one_wash(12.45)
    settings = space.settings(start[None])
    assert trims.trim(space, settings) is None
    found = trims.trim(Space(space.assessor, space.structure), settings, thorough=True)
    assert found is not None
    values = space.pack(found.programme.settings)
    assert space.holds(values)
    assert np.array_equal(np.rint(values / space.unit), np.round(values / space.unit, 6))
    numbers = dict(zip(space.slots, values, strict=True))
    assert numbers["fill_s", 1] == 72.0
    assert numbers["spray_s", 0] > 300.0


@pytest.mark.slow
def test_a_larger_tank_loses_no_plan_and_costs_no_more() -> None:
    """Before fills were made whole either way: none at 12.5 l, and a second wash, 26 % dearer, at 12.65 l."""
    costs = [planned(capacity_l).costs.with_waiting for capacity_l in (12.42, 12.5, 12.52, 12.65)]
    for harder, easier in pairwise(costs):
        assert easier <= 1.002 * harder
    assert costs[-1] < 0.98 * costs[0]


def tight(capacity_l: float, fills_s: tuple[float, float]) -> tuple[Space, np.ndarray]:
    """A prerinse and a heated rinse on the tiny machine, with fills between seconds."""
    inputs = tiny(machine__tank__capacity_l=capacity_l)
    space = Space(Assessor(inputs), Structure((0, 1), (Mode.UNHEATED, Mode.WHILE_SPRAYING)))
    values = space.pack(space.settings(space.low[None]))
    for place, slot in enumerate(space.slots):
        if slot[0] == "fill_s":
            values[place] = fills_s[slot[1]]
    return space, np.clip(values, space.low, space.high)


def shorts(space: Space, values: np.ndarray) -> float:
    """What is short in litres."""
    margins, _ = space.assessor.run(space.programme(values[None]), space.corner_numbers)
    found = [margin.min() for key, margin in margins.items() if key.startswith(BY_LITRES)]
    return float(min(0.0, *found))


@pytest.mark.parametrize("capacity_l", [9.0, 10.0, 10.5, 11.0, 12.0])
@pytest.mark.parametrize("fills_s", [(85.5, 90.5), (97.3, 90.5), (90.5, 101.2), (99.5, 99.5)])
def test_water_is_rounded_to_what_neither_runs_over_nor_lays_bare(
    capacity_l: float, fills_s: tuple[float, float]
) -> None:
    """Oracle: all ways to round two fills; a way that is short of no litres is found where there is one."""
    space, values = tight(capacity_l, fills_s)
    water = np.array([name == "fill_s" for name, _ in space.slots])
    ways = []
    for up in product((np.floor, np.ceil), repeat=2):
        tried = values.copy()
        tried[water] = [way(one) for way, one in zip(up, values[water], strict=True)]
        ways.append(shorts(space, tried))
    for base in _rounded_both_ways(space, values):
        assert np.array_equal(base[water], np.rint(base[water]))
        assert np.array_equal(base[~water], values[~water])
        assert (np.abs(base - values)[water] < 1.0).all()
        if max(ways) == 0.0:
            assert shorts(space, base) == 0.0


def test_set_points_are_made_whole_either_way() -> None:
    """Two washes with thermostats: four ways; a whole one has one."""
    space = Space(Assessor(steel()), Structure((0, 1, 1), (Mode.UNHEATED, *[Mode.THEN_SPRAY] * 2)))
    values = space.pack(space.settings(space.low[None]))
    places = [place for place, (name, _) in enumerate(space.slots) if name == "setpoint_c"]
    values[places] = 51.24, 60.07
    found = [tuple(np.round(base[places], 6)) for base in _rounded_both_ways(space, values)]
    assert sorted(found) == [(51.2, 60.0), (51.2, 60.1), (51.3, 60.0), (51.3, 60.1)]
    values[places[1]] = 60.0
    assert len(list(_rounded_both_ways(space, values))) == 2


def test_nothing_is_found_where_nothing_holds() -> None:
    space, values = tight(7.0, (60.5, 60.5))
    assert from_either_side(space, values) is None


def test_a_bath_grows_as_the_steam_tables_have_it() -> None:
    """IAPWS-IF97 by the library `iapws`: from the densest water to a bath of 58 °C and the 2 K of room."""
    water = Assessor(tiny()).water
    densest, hot = (iapws.IAPWS97(T=at_c + 273.15, P=0.101325).rho for at_c in (4.0, 60.0))
    assert float(water.growth(np.array(58.0))) == pytest.approx(densest / hot, abs=5e-5)
    assert float(water.growth(np.array(300.0))) == water.hot_growth
