"""The first rinse after a wash: warm enough that what fat was carried over does not set again.

That a first rinse is warm is common practice of the trade, its temperature ours (*no source*); the melting
ranges behind it, butter 32-35 °C and lard 28-40 °C, are those of the doses (textbooks). The mixture is worked
out by hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_cases import a_round, circuit, goal, machine, programme
from planner_cases import proven, shipped, tiny
from test_ware_step import STEADY

from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.reasons import reason_of
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants, first_rinse

KEY = "first_rinse.bath_c"
WASH = a_round("wash", heat_s=2400, spray_s=900, rest_s=60, drain_s=80, detergent_dg=324)
TABLE = programme(WASH, a_round("rinse", spray_s=600), a_round("rinse"), start_drain_s=155)


def rows_of(least_c: float, table: Constants = TABLE) -> dict[str, Row]:
    rig = machine(STEADY, tolerances=False)
    aim = goal({"rinse.first_least_c": least_c})
    return {row.key: row for row in check(table, rig, aim, circuit(), draws=0).rows}


def test_the_first_rinse_mixes_with_what_the_wash_left_by_hand() -> None:
    """10 l of 15 °C with tank, 0.8 kg left over and ware, all but the ware as hot as the wash was."""
    rig = machine(STEADY, tolerances=False)
    trace = check(TABLE, rig, goal(), circuit(), draws=0).trace
    drains = [i for i in range(1, len(trace.time_s)) if trace.drain_pump[i] and not trace.drain_pump[i - 1]]
    hot_c = float(trace.ware_c[drains[0]])
    kept, ware, let_in = 4.5 + 0.6 * 4.18, 4.0 * 1.05 + 0.2 * 4.18, 10.0 * 4.18
    mixed_c = ((kept + ware) * hot_c + let_in * 15.0) / (kept + ware + let_in)
    assert rows_of(1.0)[KEY].worst == pytest.approx(mixed_c, abs=0.4)


def test_the_limit_is_judged_on_both_sides_and_only_where_it_is_asked() -> None:
    found = rows_of(1.0)[KEY]
    assert found.guaranteed is not None
    assert found.guaranteed <= found.worst <= found.guaranteed + 0.6
    assert rows_of(found.held - 0.01)[KEY].passed
    assert not rows_of(found.held + 0.5)[KEY].passed
    assert KEY not in rows_of(0.0)


def test_it_is_the_first_rinse_after_a_wash_and_none_without_one() -> None:
    assert first_rinse(TABLE) == 1
    assert first_rinse(replace(TABLE, rounds=(TABLE.rounds[0],))) is None
    assert first_rinse(programme(a_round("prerinse"), a_round("rinse"))) is None


@pytest.mark.parametrize(("least_c", "heated"), [(0.0, False), (34.0, True)])
def test_the_planner_heats_it_where_that_is_asked_and_not_else(least_c: float, heated: bool) -> None:
    planned = plan(tiny(goal__rinse__first_least_c=least_c))
    row = next(row for row in planned.constants.rounds if row.kind == "rinse")
    assert row.heated == heated


@pytest.mark.parametrize("machine_name", ["clubhouse", pytest.param("narrowboat", marks=pytest.mark.slow)])
def test_shipped_plans_against_fat_keep_it_warm(machine_name: str) -> None:
    found = proven(machine_name, "everyday")
    (row,) = [row for row in found.certificate.rows if row.key == KEY]
    assert row.passed
    assert row.guaranteed is not None
    assert row.limit == 32.0


def test_fat_soils_of_the_shipped_goals_but_eco_ask_for_their_melting_floor() -> None:
    asked = {name: shipped("clubhouse", name).goal for name in ("everyday", "roasting-tins")}
    asked["nursery"] = shipped("garage-120v", "nursery").goal
    for aim in asked.values():
        fats = [dose.floor_c for dose in aim.dose if dose.name in ("grease", "fat", "butterfat")]
        assert 32.0 == aim.rinse.first_least_c <= fats[0] <= 40.0
    for name in ("glasses", "eco-everyday"):
        assert shipped("clubhouse", name).goal.rinse.first_least_c == 0.0


def test_where_it_is_out_of_reach_the_reason_names_the_key() -> None:
    inputs = tiny(goal__rinse__first_least_c=50.0)
    reason = reason_of(Assessor(inputs), KEY, -0.2)
    assert reason.key == KEY
    assert "first rinse" in reason.requirement
    assert reason.asked == "50 °C as it ends"


@pytest.mark.parametrize(("value", "sound"), [(0.0, True), (60.0, True), (60.1, False), (-0.1, False)])
def test_the_key_has_a_range(value: float, sound: bool) -> None:
    data = goal().model_dump() | {"rinse": {"residue_max": 0.01, "first_least_c": value}}
    if sound:
        assert Goal.model_validate(data).rinse.first_least_c == value
    else:
        with pytest.raises(ValueError, match="first_least_c"):
            Goal.model_validate(data)
