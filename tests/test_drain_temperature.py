"""No drain takes water hotter than its pipe stands: rests, cold top-ups, stirred or not, by hand.

That many drain pipes and codes allow about 60 °C: from memory and secondary pages. The balances are of heat
and litres, *no source* but the specific heat of water (IAPWS-IF97, 4.18 kJ/(kg K)).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of
from check_cases import a_round, circuit, goal, machine, programme, row_of
from fault_cases import CARRY_L, IN_L_PER_S, LIP_L, cut_rows, plain_machine, row
from planner_cases import proven
from pydantic import ValidationError

from optimizer.check.bound_rows import values_of
from optimizer.check.box import box_of
from optimizer.check.certificate import Row
from optimizer.check.certify import Runs
from optimizer.check.faults.guard_words import PIPE
from optimizer.check.fills import most_top_up_s
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.programme.constants import Constants

LOSSLESS: dict[str, Any] = {
    "inlet.water_c": 15.0,
    "room.air_c": 15.0,
    "tank.vent_m2": 0.0,
    "tank.loss_still_w_per_k": 0.2,
    "tank.loss_spraying_w_per_k": 0.2,
    "tank.limit_c": 95.0,
    "wash_pump.heat_share": 0.0,
    "ware.response_still_s": 20000.0,
    "drain_pump.drain_limit_c": 60.0,
}
HOT: dict[str, Any] = {"drain_pump.drain_limit_c": 50.0, "element.rated_w": 900.0, "element.cover_l": 7.0}
WATER, TANK, WARE = 4.18, 4.5, 4.2
"""Heat capacities: a kilogram of water, the tank, the porcelain [kJ/K]."""


def heated(**numbers: int) -> Constants:
    """Heat 10 l in a prerinsed machine and stir them: 900 W for 3200 s."""
    return programme(a_round("prerinse"), a_round("wash", heat_s=3200, **numbers), start_drain_s=1)


def drain_row(table: Constants, **changes: Any) -> Row:
    rig = machine(LOSSLESS | changes, tolerances=False)
    return row_of("drain.bath_c", table, rig, goal(), circuit(), bounded=False)


def drained_c(table: Constants, **changes: Any) -> float:
    """Hottest water that a drain takes in a first run."""
    rig = machine(LOSSLESS | changes, tolerances=False)
    runs = Runs(table, rig, goal(), circuit(), box_of(rig))
    return float(runs.run(runs.box.nominal[None]).heat.drained_c[0])


def test_a_bath_that_is_not_cooled_goes_down_the_drain_as_it_is() -> None:
    """2880 kJ into 10.8 kg of water, tank and ware, from the 15 °C that everything had: 53 K more."""
    by_hand_c = 15.0 + 0.9 * 3200 / (10.8 * WATER + TANK + WARE)
    assert drained_c(heated()) == pytest.approx(by_hand_c, abs=0.6)
    found = drain_row(heated())
    assert not found.passed
    assert found.worst >= drained_c(heated()), "a second run begins warm"
    assert drain_row(heated(), **{"drain_pump.drain_limit_c": found.worst + 0.01}).passed
    assert not drain_row(heated(), **{"drain_pump.drain_limit_c": found.worst - 0.01}).passed


@pytest.mark.parametrize(
    ("limit_c", "line"), [(60.0, ""), (61.0, ""), (80.0, "own line into a tempering device")]
)
def test_a_limit_above_that_of_common_codes_says_where_the_water_goes(limit_c: float, line: str) -> None:
    """60 °C at the sewer: IPC 803.1, from memory."""
    found = drain_row(heated(), **{"drain_pump.drain_limit_c": limit_c, "drain_pump.drain_line": line})
    assert ("above the 60 °C of common pipes and codes" in found.requirement) == (limit_c > 60.0)
    assert (line or "NOBODY SAYS WHERE (drain_pump.drain_line)") in found.requirement or limit_c == 60.0


def test_a_stirred_top_up_mixes_with_bath_tank_and_ware() -> None:
    """By hand: 4 l at 15 °C more."""
    share = (10.8 * WATER + TANK + WARE) / (14.8 * WATER + TANK + WARE)
    table = heated(top_up_s=40, mix_s=300, drain_s=100)
    assert drained_c(table) == pytest.approx(15.0 + share * (drained_c(heated()) - 15.0), abs=0.3)
    assert drain_row(table).passed


@pytest.mark.parametrize("unmixed", [1.0, 0.3, 0.0])
def test_a_top_up_that_is_not_stirred_counts_by_the_measured_share(unmixed: float) -> None:
    """The ware, and the film on it, hang over the bath and stay out of the balance of the still water."""
    share = (10.6 * WATER + TANK) / (14.6 * WATER + TANK)
    mean_c = 15.0 + share * (drained_c(heated()) - 15.0)
    found_c = drained_c(heated(top_up_s=40, drain_s=100), **{"inlet.unmixed_share": unmixed})
    by_hand_c = mean_c + unmixed * (drained_c(heated()) - mean_c)
    assert found_c == pytest.approx(by_hand_c, abs=0.4)


def test_less_than_a_minute_of_stirring_counts_for_nothing() -> None:
    assert drain_row(heated(top_up_s=40, mix_s=60, drain_s=100)).passed
    short_c = drained_c(heated(top_up_s=40, mix_s=59, drain_s=100))
    assert short_c == pytest.approx(drained_c(heated()), abs=0.3)


def test_a_rest_cools_by_the_losses() -> None:
    """Newton's law of cooling: an hour at 12 W/K and 45.1 + 4.5 + 4.2 kJ/K."""
    cooling = {"tank.loss_still_w_per_k": 12.0, "ware.response_still_s": 120.0}
    warm_c = drained_c(heated(), **cooling)
    by_hand_c = 15.0 + (warm_c - 15.0) * np.exp(-12.0 * 3600 / 53_800)
    assert drained_c(heated(rest_s=3600), **cooling) == pytest.approx(by_hand_c, abs=0.3)


def test_a_pipe_that_stands_the_boil_asks_for_nothing() -> None:
    rig = machine(LOSSLESS | {"drain_pump.drain_limit_c": 100.0}, tolerances=False)
    runs = Runs(heated(), rig, goal(), circuit(), box_of(rig))
    found = runs.run(runs.box.nominal[None])
    assert "drain.bath_c" not in [one.key for one in found.judged()]


def test_a_top_up_neither_cleans_nor_thins() -> None:
    """Doses end as it begins, and the residue stays 0.8 of 10.8 l, however much water comes after."""
    rig = machine(LOSSLESS, tolerances=False)
    plain, topped = (
        programme(a_round("wash", heat_s=3200, drain_s=200, **more), a_round("rinse", drain_s=200, **more))
        for more in ({}, {"top_up_s": 60, "mix_s": 300})
    )

    def worst(key: str, table: Constants) -> float:
        return row_of(key, table, rig, goal(), circuit(), bounded=False).worst

    assert worst("rinse.residue", topped) == pytest.approx(worst("rinse.residue", plain), rel=1e-3)
    assert worst("rinse.residue", topped) == pytest.approx(0.8 / 10.8, rel=0.01)
    # What the ware soaks in a drain of 200 s, a fifth of the rate, is all that a top-up may take.
    assert 0.85 * worst("dose.milk", plain) < worst("dose.milk", topped) <= worst("dose.milk", plain)


def test_a_top_up_may_not_run_over() -> None:
    """28 l to the lip, 0.8 l carried over, 10 l filled: 172 s at 0.1 l/s, less what warm water swells by."""
    rig = machine(LOSSLESS, tolerances=False)
    assert most_top_up_s(rig, 100) == pytest.approx(172 - 10, abs=2)
    for top_up_s, holds in ((160, True), (175, False)):
        table = heated(top_up_s=top_up_s, drain_s=300)
        found = row_of("overflow.level_l", table, rig, goal(), circuit(), bounded=False)
        assert found.passed == holds


def test_the_bound_holds_at_points_of_the_tolerances() -> None:
    """Stirred, not stirred and after a boil: nothing inside the box drains hotter than the bound."""
    rig = machine({"drain_pump.drain_limit_c": 60.0, "inlet.unmixed_share": 0.2, "tank.limit_c": 100.0})
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    steam = a_round("steam", heat_s=4800, spray_s=0, rest_s=600, top_up_s=60, drain_s=200)
    for table in (
        heated(top_up_s=40, mix_s=90, drain_s=120),
        heated(rest_s=900, top_up_s=40, drain_s=120),
        programme(a_round("wash"), steam),
    ):
        runs = Runs(table, rig, goal(), circuit(), box)
        points = np.vstack([box.vertices(box.screening()), box.draws(32, 3), box.nominal])
        found = {one.key: one for one in runs.run(points).judged()}
        bounds = values_of(table, rig, goal(), boxes)
        for key in ("drain.bath_c", "overflow.level_l"):
            assert bounds[key][0] >= found[key].values.max(), key  # type: ignore[union-attr]
        assert bounds["rinse.residue"][0] >= found["rinse.residue"].values.max()  # type: ignore[union-attr]
        assert bounds["drain.bath_c"][0] <= found["drain.bath_c"].values.max() + 8.0  # type: ignore[union-attr]


def test_what_boils_away_is_counted_as_run_back_at_a_top_up() -> None:
    """10 l filled, 0.8 l carried over, and as much let in: 20.8 l of warm water, however long it boiled."""
    rig = machine(LOSSLESS | {"tank.limit_c": 100.0}, tolerances=False)
    steam = a_round("steam", heat_s=7000, spray_s=0, rest_s=30, top_up_s=100, drain_s=300)
    table = programme(a_round("wash"), steam)
    level = row_of("overflow.level_l", table, rig, goal(), circuit(), bounded=False)
    assert level.worst == pytest.approx(20.8, rel=0.02)


def test_a_top_up_that_does_not_come_drains_hot() -> None:
    rig = plain_machine(HOT)
    table = programme(a_round("wash", heat_s=2400, rest_s=30, top_up_s=100, mix_s=60, drain_s=140))
    found = row(table, rig, "inlet.no_top_up")
    assert found.severity == "damage"
    assert "Water too hot for the drain pipe goes down it in round 1 (wash)" in found.happens
    assert found.guard == f"{PIPE}: before a drain in its turn nothing reads the bath"
    unused = row(programme(a_round("wash")), rig, "inlet.no_top_up")
    assert unused.happens == "The programme does not use it."


def test_an_inlet_that_stays_open_after_a_top_up_runs_over() -> None:
    """20.8 l as the top-up ends; what is missing to the lip comes at 0.1 l/s."""
    table = programme(a_round("wash", top_up_s=100, mix_s=600, drain_s=140))
    found = row(table, plain_machine(), "inlet.open")
    assert found.overflows
    assert pytest.approx(found.after_s, abs=1.0) == (LIP_L - CARRY_L - 20.0) / IN_L_PER_S


def test_the_start_drain_after_a_cut_may_be_too_hot() -> None:
    rig = plain_machine(HOT)
    table = programme(a_round("wash", heat_s=2400, rest_s=30, top_up_s=100, mix_s=60, drain_s=140))
    found = {one.key: one for one in cut_rows(table, rig)}
    assert "too hot for the drain pipe goes down it in the drain at the start" in found["power.rest"].happens
    assert "until a sensor, if you fit one, reads what the drain pipe stands" in found["power.rest"].guard
    assert "too hot for the drain pipe" not in found["power.drain"].happens


def test_a_feed_hotter_than_the_drain_pipe_is_refused() -> None:
    with pytest.raises(ValidationError, match="must stay below drain_pump"):
        machine({"inlet.water_c": 60.0, "drain_pump.drain_limit_c": 60.0})
    machine({"inlet.water_c": 60.0, "drain_pump.drain_limit_c": 60.1})
    with pytest.raises(ValidationError):
        machine({"drain_pump.drain_limit_c": 101.0})


@pytest.mark.slow
@pytest.mark.parametrize("aim", ["nursery", "steamed-glasses"])
def test_hot_plans_are_cooled_before_their_drain(aim: str) -> None:
    """They drained at 92 to 100 °C before; a rest or a top-up is what the planner chose."""
    found = proven("garage-120v", aim)
    rows = {one.key: one for one in found.certificate.rows}
    assert rows["drain.bath_c"].passed
    assert rows["drain.bath_c"].guaranteed is not None
    last = found.plan.constants.rounds[-1]
    assert last.top_up_s or last.rest_s > 300
    judge = Assessor(found.plan.inputs, found.kept)
    margins, _ = judge.run(programme_of(found.plan.constants, found.plan.inputs.machine))
    assert margins["drain.bath_c"].min() > -1e-3
