"""A cold top-up under ware that is to dry by its heat: it ends below the ware. Litres by hand.

That a load takes water's place, and cold water takes heat from ware that it reaches, needs no source; where
the ware begins is measured, or taken to be at half of the tank (*no source*).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from check_cases import a_round, circuit, goal, machine, programme
from planner_cases import proven

from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.check.fills import most_dry_top_up_s, topped_up_l, tops_up_dry_ware
from optimizer.emit.limits import limits
from optimizer.profile.machine import WARE_FROM_SHARE, Machine
from optimizer.programme.constants import Constants

DRIES: dict[str, Any] = {"drying": {"method": "hot_rinse", "heat_factor": 0.1}}
KEY = "drying.top_up_l"


def table(top_up_s: int = 40, mix_s: int = 0) -> Constants:
    last = a_round("rinse", heat_s=1800, rest_s=60, top_up_s=top_up_s, mix_s=mix_s, drain_s=150)
    return programme(a_round("wash", detergent_dg=324), last, start_drain_s=155)


def rig(**changes: Any) -> Machine:
    return machine({"drain_pump.drain_limit_c": 60.0, **changes}, tolerances=False)


def rows_of(constants: Constants, aim: dict[str, Any] = DRIES, **changes: Any) -> dict[str, Row]:
    found = check(constants, rig(**changes), goal(aim), circuit(), draws=0)
    return {row.key: row for row in found.rows}


def test_litres_after_the_top_up_by_hand() -> None:
    """100 and 40 s at 0.1 l/s onto 0.8 l; 1.7 % more at 60 °C than at 4 °C (IAPWS-IF97)."""
    assert topped_up_l(rig(), table().rounds[-1]) == pytest.approx(14.8 * 1.017, rel=1e-3)
    row = rows_of(table(), **{"tank.ware_from_l": 20.0})[KEY]
    assert row.guaranteed == row.worst == pytest.approx(14.8 * 1.017, rel=1e-3)


def test_it_is_judged_on_both_sides_of_where_the_ware_begins() -> None:
    least_l = topped_up_l(rig(), table().rounds[-1])
    for ware_from_l, passes in ((least_l + 0.001, True), (least_l - 0.001, False)):
        assert rows_of(table(), **{"tank.ware_from_l": ware_from_l})[KEY].passed == passes


@pytest.mark.parametrize("level", [False, True])
def test_the_longest_top_up_is_the_last_one_that_holds(level: bool) -> None:
    changes: dict[str, Any] = {"tank.ware_from_l": 16.0}
    changes |= {"inlet.control": "level", "inlet.level_l": 10.5} if level else {}
    one = rig(**changes)
    most_s = most_dry_top_up_s(one, 100)
    rounds = [replace(table().rounds[-1], top_up_s=s) for s in (most_s, most_s + 1)]
    assert [topped_up_l(one, row) <= 16.0 for row in rounds] == [True, False]


@pytest.mark.parametrize(
    ("constants", "aim"), [(table(), {}), (table(top_up_s=0), DRIES), (table(mix_s=60), DRIES)]
)
def test_nothing_is_asked_where_nothing_dries_or_the_spray_stirs(
    constants: Constants, aim: dict[str, Any]
) -> None:
    assert tops_up_dry_ware(constants, goal(aim)) is None
    assert KEY not in rows_of(constants, aim)


def test_a_tank_that_does_not_say_has_its_ware_from_half_of_it_on() -> None:
    assert machine().tank.ware_begins_l == WARE_FROM_SHARE * 28.0 == 14.0
    assert machine({"tank.ware_from_l": 28.0}).tank.ware_begins_l == 28.0
    with pytest.raises(ValueError, match="must not lie above capacity_l"):
        machine({"tank.ware_from_l": 28.1})


@pytest.mark.slow
@pytest.mark.parametrize("aim", ["nursery", "steamed-glasses"])
def test_shipped_plans_that_dry_keep_their_ware_dry(aim: str) -> None:
    found = proven("garage-120v", aim)
    inputs, constants = found.plan.inputs, found.plan.constants
    last = tops_up_dry_ware(constants, inputs.goal)
    if last is None:
        return
    assert topped_up_l(inputs.machine, last) <= inputs.machine.tank.ware_begins_l
    _, most_s = limits(found.plan).range_of(f"round_{len(constants.rounds)}_top_up_s")
    # As far as it may be edited: other limits may end it before the ware does.
    longest = replace(last, top_up_s=most_s)
    assert topped_up_l(inputs.machine, longest) <= inputs.machine.tank.ware_begins_l
