"""Single faults of inlet, drain and level switch, against litres and seconds counted by hand.

No source: arithmetic on the numbers of `fault_cases`.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from check_cases import a_round, programme
from exploring import cases
from fault_cases import CARRY_L, IN_L_PER_S, LEVEL, LIP_L, NO_ELEMENT, START_S, plain_machine, row
from hypothesis import example, given
from hypothesis import strategies as st

from optimizer.check.faults.outcome import FaultRow, lasting
from optimizer.programme.cautions import SCALDING_C
from optimizer.programme.constants import Constants

S = 0.2
"""Seconds within which a moment is met [s]: the pause of one sample, and a limit's 5 ml of noise."""


def three_rounds(**numbers: int) -> Constants:
    """Fill 100, spray 300, drain 70 s, a pause of 2 s after each: 476 s a round."""
    return programme(*(a_round(kind, **numbers) for kind in ("prerinse", "wash", "rinse")))


ROUND_S = 100 + 2 + 300 + 2 + 70 + 2


def test_dead_drain_stacks_water_until_it_runs_over() -> None:
    found = row(three_rounds(), plain_machine(), "drain.dead")
    # 0.8 l at the start, 10 l a round: 20.8 l when the third fill begins, 7.2 l short of the lip.
    over_s = START_S + 2 * ROUND_S + (LIP_L - CARRY_L - 20.0) / IN_L_PER_S
    assert (found.severity, found.round, found.overflows) == ("damage", 3, True)
    assert found.after_s == pytest.approx(over_s, abs=S)
    assert found.level_l == LIP_L
    assert "runs over in round 3 (rinse)" in found.happens
    assert "closes a second valve, at the tap" in found.guard


def test_dead_drain_that_the_tank_holds_only_spoils_the_wash() -> None:
    found = row(three_rounds(), plain_machine({"tank.capacity_l": 31.0}), "drain.dead")
    assert (found.severity, found.after_s, found.guard) == ("spoils the wash", None, "")
    assert found.level_l == pytest.approx(30.8, abs=0.01)
    # Nothing leaves: the rinse thins the 20.8 l of the wash to 30.8 l.
    share = 20.8 / 30.8
    assert f"over that in the last wash {share:.3g}, at most 0.1 asked" in found.happens


WITH_DETERGENT = programme(a_round("prerinse"), a_round("wash", detergent_dg=300), a_round("rinse"))


def test_dead_drain_that_the_tank_holds_leaves_detergent_on_the_ware() -> None:
    found = row(WITH_DETERGENT, plain_machine({"tank.capacity_l": 31.0}), "drain.dead")
    # From the wash's own drain on, which is the second.
    assert (found.severity, found.round) == ("damage", 2)
    assert found.after_s == pytest.approx(START_S + 2 * ROUND_S - 72, abs=S)
    assert "comes out with detergent on it: rinse it by hand" in found.happens
    assert found.guards == ("controller that stops where the float switch is closed after a drain "
                            "(WASH_ERROR_FLOAT_CLOSED)",)  # fmt: skip
    by_level_switch = (
        "controller that stops where the level switch sees water after a drain (WASH_ERROR_NOT_DRAINED)"
    )
    by_switch = replace(WITH_DETERGENT, fill_control="level")
    assert row(by_switch, plain_machine(LEVEL), "drain.dead").guards == (by_level_switch,)
    # Where the tank runs over as well, that is told first, and both are told.
    both = row(WITH_DETERGENT, plain_machine(), "drain.dead")
    assert (both.round, both.overflows) == (3, True)
    assert "rinse it by hand" in both.happens


def test_slow_drain_leaves_detergent_on_the_ware_too() -> None:
    assert "rinse it by hand" in row(WITH_DETERGENT, plain_machine(), "drain.slow").happens


@cases(6)
@given(fill_s=st.integers(70, 200), spray_s=st.integers(60, 900), capacity_l=st.integers(22, 50))
@example(fill_s=73, spray_s=60, capacity_l=30)
@example(fill_s=106, spray_s=60, capacity_l=22)
def test_dead_drain_for_any_fill(fill_s: int, spray_s: int, capacity_l: int) -> None:
    """The examples fill the tank exactly to its lip, with the last fill and with one before."""
    constants = programme(*(a_round("rinse", fill_s=fill_s, spray_s=spray_s) for _ in range(4)))
    found = row(constants, plain_machine(NO_ELEMENT, {"tank.capacity_l": float(capacity_l)}), "drain.dead")
    # In seconds of the inlet, which are whole numbers: four fills exactly to the lip do not run over.
    free_s = round((capacity_l - CARRY_L) / IN_L_PER_S)
    full_fills = free_s // fill_s
    if 4 * fill_s <= free_s:
        assert not found.overflows
    else:
        over_s = START_S + full_fills * (fill_s + spray_s + 76) + free_s % fill_s
        assert found.round == full_fills + 1
        assert found.after_s == pytest.approx(over_s, abs=S)


def test_slow_drain_leaves_water_behind() -> None:
    found = row(three_rounds(), plain_machine(), "drain.slow")
    # Half of 0.2 l/s for 70 s is 7 l of the 10 l that come in: 3 l more are there after each of two drains.
    assert (found.severity, found.overflows) == ("spoils the wash", False)
    assert found.level_l == pytest.approx(CARRY_L + 10.0 + 2 * 3.0, abs=0.01)
    # The wash leaves 6.8 of its 13.8 l in the 16.8 l of the rinse.
    share = 6.8 / 16.8
    assert f"over that in the last wash {share:.3g}, at most 0.1 asked" in found.happens


def test_inlet_that_stays_open_runs_over() -> None:
    found = row(three_rounds(), plain_machine(), "inlet.open")
    # Full to 10.8 l, the lip is 17.2 l away, in whatever round it sticks.
    assert (found.severity, found.overflows) == ("damage", True)
    assert found.after_s == pytest.approx((LIP_L - 10.8) / IN_L_PER_S, abs=S)
    assert "takes more than comes in: 12 l/min against 6" in found.happens
    assert "second valve" in found.guard


def test_inlet_that_stays_open_against_the_drain() -> None:
    """Short sprays: the drain works against the inlet at 0.2 less 0.1 l/s, and the water stacks up."""
    constants = three_rounds(spray_s=120)
    found = row(constants, plain_machine({"tank.capacity_l": 24.0}), "inlet.open")
    # From the end of a fill 124 s to the drain: 10.8 + 12.4 l are under the lip. The drain takes 7 l in 70 s,
    # 16.2 l are left; 0.2 + 10 + 0.2 l later the tank would hold 26.6 l: it runs over in the fill.
    before_s = 2 + 120 + 2 + 70 + 2
    level_l = 10.8 + 12.4 - 7.0 + 0.2
    assert found.after_s == pytest.approx(before_s + (24.0 - level_l) / IN_L_PER_S, abs=S)
    assert found.round == 2
    slow = row(constants, plain_machine({"drain_pump.flow_l_per_min": 5.0}), "inlet.open")
    assert "does NOT take what comes in: 5 l/min against 6" in slow.happens


def test_without_water_the_wash_pump_runs_dry() -> None:
    found = row(three_rounds(), plain_machine(NO_ELEMENT), "inlet.shut")
    assert (found.severity, found.round) == ("damage", 1)
    # From the first fill on: 100 s of it and the pause. Three sprays of 300 s in all.
    assert found.after_s == pytest.approx(102.0, abs=S)
    assert "for 15 min 0 s or more in all" in found.happens
    # Shut from a later round on, the rounds before it are as asked.
    assert found.level_l == pytest.approx(CARRY_L + 10.0, abs=0.01)
    assert found.uncovered_s == 0.0


def by_level() -> Constants:
    rounds = (a_round(kind, fill_s=200) for kind in ("prerinse", "wash", "rinse"))
    return programme(*rounds, fill_control="level")


LEVEL_ROUND_S = 200 + 2 + 300 + 2 + 70 + 2


def test_level_switch_that_never_closes_fills_for_the_longest() -> None:
    found = row(by_level(), plain_machine(LEVEL), "level.open")
    # 20 l come in and 14 l leave a round: 0.8, 6.8, 12.8 l when the fills begin.
    # The film may drip into a full tank, so that it counts to the lip although the switch does not see it.
    after_s = 2 * LEVEL_ROUND_S + (LIP_L - 12.8) / IN_L_PER_S
    assert (found.severity, found.round) == ("damage", 3)
    assert found.after_s == pytest.approx(after_s, abs=S)
    assert "level switch has not closed within the longest fill" in found.guard


def test_level_switch_that_never_closes_and_a_fill_that_the_tank_holds() -> None:
    """0.8 and 20 l; 70 s of drain leave 6.8 l, and 20 l more stay under the lip."""
    table = programme(a_round("wash", fill_s=200), a_round("rinse", fill_s=200), fill_control="level")
    found = row(table, plain_machine(LEVEL), "level.open")
    assert (found.severity, found.overflows, found.guard) == ("spoils the wash", False, "")
    assert found.level_l == pytest.approx(26.8, abs=0.01)


def test_level_switch_that_is_closed_lets_no_water_in() -> None:
    found = row(by_level(), plain_machine(LEVEL), "level.closed")
    assert (found.severity, found.round) == ("damage", 1)
    assert found.after_s == pytest.approx(2.0, abs=S)
    assert found.level_l == pytest.approx(10.7, abs=0.01)


def test_level_switch_keeps_a_dead_drain_from_running_over() -> None:
    found = row(by_level(), plain_machine(LEVEL), "drain.dead")
    assert (found.severity, found.overflows, found.guard) == ("spoils the wash", False, "")
    # 10.5 l where the switch closes, and 0.2 l of film that may drip.
    assert found.level_l == pytest.approx(10.7, abs=0.01)


def hot_over(limit_s: int) -> FaultRow:
    """A dead drain: the element heats what two fills left, and the third runs over onto it."""
    constants = programme(
        a_round("prerinse"), a_round("wash", heat_s=limit_s, spray_s=60), a_round("rinse"), start_drain_s=10
    )
    return row(constants, plain_machine({"element.rated_w": 3000.0}), "drain.dead")


def test_water_that_scalds_and_runs_over_is_a_danger() -> None:
    """20.8 l of 18 °C, 3 kW for 1200 s: 41 K at most (4.18 kJ/(kg K)), and what runs over is no hotter."""
    cold, hot = hot_over(900), hot_over(1200)
    assert (cold.severity, hot.severity) == ("damage", "danger")
    assert "keep away" not in cold.happens
    said = re.search(
        r"Hot water of up to (\d+) °C runs over, [^.:]+: keep away, shut the tap, pull the plug", hot.happens
    )
    assert said
    assert SCALDING_C <= float(said[1]) <= 18.0 + 3000.0 * 1200.0 / (20.8 * 4180.0)
    # The column's time is that of the scalding water, and so is the sentence's: it is not when it runs over.
    assert hot.after_s is not None
    assert f"runs over, {lasting(hot.after_s)} or sooner after the start: keep away" in hot.happens
    assert hot.guard.count("overflow switch under the lip") == 1
