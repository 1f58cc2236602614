"""A wash is drained before the fat in it sets: a rest after the spray must not cool it below that.

Butter melts at 32-35 °C, lard at 28-40 °C (textbooks); that liquor is drained warm is our choice, *no
source*. The cooling is worked out by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from check_cases import a_round, circuit, goal, machine, programme
from planner_cases import FEW, proven, shipped, tiny

from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.check.detergent_rows import sets_above
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.eased_goals import eased
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.trim_space import Space
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants
from optimizer.whatif.binding import relaxed

KEY, SPRAY = "detergent.drain_c", "detergent.bath_c"
RIG = {
    "inlet.water_c": 15.0, "room.air_c": 20.0, "tank.vent_m2": 0.0, "tank.loss_still_w_per_k": 10.0,
    "ware.porcelain_kg": 0.1, "element.cover_l": 1.0,
}  # fmt: skip
WASH = a_round("wash", heat_s=1500, spray_s=900, rest_s=1800, drain_s=80, detergent_dg=324)
TABLE = programme(WASH, a_round("rinse", spray_s=600), start_drain_s=155)


def rows_of(table: Constants = TABLE, **asked_c: float) -> dict[str, Row]:
    aim = goal({f"detergent.{name}": value for name, value in asked_c.items()})
    return {
        row.key: row for row in check(table, machine(RIG, tolerances=False), aim, circuit(), draws=0).rows
    }


def test_a_rest_cools_what_is_drained_by_hand() -> None:
    """10.6 l with a tank of 4.5 kJ/K and 0.1 kg of ware lose 10 W/K to 20 °C for half an hour."""
    found = rows_of(spray_least_c=30.0, drain_least_c=30.0)
    kj_per_k = 10.6 * 4.18 + 4.5 + 0.1 * 1.05
    cooled_c = 20.0 + (found[SPRAY].worst - 20.0) * math.exp(-1804 * 10.0 / 1000.0 / kj_per_k)
    assert found[KEY].worst == pytest.approx(cooled_c, abs=0.3)
    assert found[KEY].worst < found[SPRAY].worst - 4.0


def test_without_a_rest_it_is_drained_as_its_spray_ends() -> None:
    found = rows_of(
        replace(TABLE, rounds=(replace(WASH, rest_s=60), TABLE.rounds[1])),
        drain_least_c=30.0,
        spray_least_c=30.0,
    )
    assert found[KEY].worst == pytest.approx(found[SPRAY].worst, abs=0.5)


def test_the_limit_is_judged_on_both_sides_and_only_where_it_is_asked() -> None:
    found = rows_of(spray_least_c=30.0, drain_least_c=30.0)[KEY]
    assert found.guaranteed is not None
    assert found.guaranteed <= found.worst
    # A limit 0.4 K below the worst found is shown to hold; one that is further off asks for no closer bound.
    assert rows_of(spray_least_c=60.0, drain_least_c=found.worst - 0.4)[KEY].passed
    assert rows_of(spray_least_c=60.0, drain_least_c=found.held)[KEY].passed
    # The guaranteed value judges, which is a little below the worst found.
    close = rows_of(spray_least_c=60.0, drain_least_c=found.worst - 0.01)[KEY]
    assert close.guaranteed < close.limit < close.worst
    assert not close.passed
    assert KEY not in rows_of(spray_least_c=30.0)


def test_a_round_without_detergent_may_be_drained_cold() -> None:
    bare = replace(TABLE, rounds=(replace(WASH, detergent_dg=0), TABLE.rounds[1]))
    assert KEY not in rows_of(bare, spray_least_c=30.0, drain_least_c=30.0)


def test_the_planner_counts_the_rest_as_the_check_does() -> None:
    inputs = tiny(goal__detergent__spray_least_c=30.0, goal__detergent__drain_least_c=30.0)
    planned = plan_and_prove(inputs, search=FEW)
    assert {row.key: row for row in planned.certificate.rows}[KEY].passed
    rounds = planned.plan.constants.rounds
    rested = tuple(replace(row, rest_s=3600) if row.kind == "wash" else row for row in rounds)
    slow = replace(planned.plan.constants, rounds=rested)
    margins, _ = Assessor(inputs).run(programme_of(slow, inputs.machine))
    row = {row.key: row for row in check(slow, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows}[
        KEY
    ]
    assert not row.passed
    assert 30.0 * (1.0 + float(margins[KEY].min()) + Assessor(inputs).backoff(KEY)) == pytest.approx(
        row.worst, abs=0.5
    )


def test_a_spray_that_may_end_colder_may_be_drained_colder() -> None:
    inputs = tiny(goal__detergent__spray_least_c=35.0, goal__detergent__drain_least_c=32.0)
    assert eased(inputs.goal, {SPRAY: 30.0}).drain_least_c == 30.0
    planned = plan(inputs, search=FEW)
    structure = programme_of(planned.constants, inputs.machine).structure
    assert {KEY} == Space(Assessor(inputs), structure, aim=SPRAY).drop
    assert not Space(Assessor(inputs), structure).drop


def test_explain_tries_five_kelvin_less() -> None:
    inputs = tiny(goal__detergent__spray_least_c=35.0, goal__detergent__drain_least_c=32.0)
    for key, least_c in ((KEY, 27.0), (SPRAY, 30.0)):
        change = relaxed(inputs, key, "it")
        assert change is not None
        assert change.inputs is not None
        assert change.inputs.goal.drain_least_c == least_c


@pytest.mark.slow
def test_the_shipped_plan_that_saves_energy_drains_before_fat_sets() -> None:
    (row,) = [row for row in proven("clubhouse", "eco-everyday").certificate.rows if row.key == KEY]
    assert row.passed
    assert row.limit == 32.0


@pytest.mark.parametrize("name", ["everyday", "eco-everyday", "nursery", "roasting-tins", "glasses"])
def test_goals_with_fat_ask_for_it(name: str) -> None:
    aim = shipped("clubhouse", name).goal
    assert aim.drain_least_c == 32.0 <= max(dose.floor_c for dose in aim.dose)


@pytest.mark.parametrize(("spray_c", "asked_c"), [(35.0, 32.0), (30.0, 30.0), (0.0, 32.0)])
def test_no_more_is_asked_than_a_spray_has_to_end_with(spray_c: float, asked_c: float) -> None:
    asked = {"detergent.spray_least_c": spray_c, "detergent.drain_least_c": 32.0}
    assert goal(asked).drain_least_c == asked_c
    assert goal(asked | {"detergent": None}).drain_least_c == 0.0


@pytest.mark.parametrize(("value", "sound"), [(0.0, True), (90.0, True), (90.1, False), (-0.1, False)])
def test_the_key_has_a_range(value: float, sound: bool) -> None:
    data = goal().model_dump()
    data["detergent"]["drain_least_c"] = value
    if sound:
        assert Goal.model_validate(data).drain_least_c == value
    else:
        with pytest.raises(ValueError, match="drain_least_c"):
            Goal.model_validate(data)


@pytest.mark.parametrize(
    ("floor_c", "said"), [(35.0, ""), (35.1, "fat (below 35.1 °C)"), (40.0, "fat (below 40 °C)")]
)
def test_what_is_solid_at_the_least_bath_is_named_where_no_spray_keeps_its_floor(
    floor_c: float, said: str
) -> None:
    """Tallow sets at 40 to 50 °C (food chemistry); a spray of the goal may end at 35."""
    asked = shipped("clubhouse", "roasting-tins").goal
    assert asked.spray_least_c == 35.0
    want = asked.model_copy(update={"dose": [asked.dose[0].model_copy(update={"floor_c": floor_c})]})
    for least_c in (32.0, 35.0):
        found = sets_above(want, least_c)
        assert found.endswith(said)
        assert ("may set again" in found) == bool(said)
    assert not sets_above(want, floor_c)
    assert not sets_above(want.model_copy(update={"detergent": None}), 32.0), "no least bath was asked for"
