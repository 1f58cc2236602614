"""The shortest and the longest fill that are allowed, against the simulation that is the proof."""

from __future__ import annotations

from functools import cache

import pytest
from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme, with_bound
from iapws import IAPWS97
from kept_checks import no_bounds

from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import check
from optimizer.check.fills import (
    DENSEST_C,
    LEVEL_SPARE,
    all_fills_l,
    carry_over_l,
    drain_least_s,
    least_fill_s,
    level_fill_least_s,
    level_fill_most_s,
    most_fill_s,
    most_top_up_s,
    start_drain_least_s,
    start_drain_left_l,
    topped_up_l,
)
from optimizer.programme.constants import Constants, Round


def row(key: str, table: Constants) -> Row:
    """A row with its bound, and no other row's."""
    with no_bounds():
        found = searched(table)
    return with_bound(next(row for row in found.rows if row.key == key), table, machine(), goal())


@cache
def searched(table: Constants) -> Certificate:
    return check(table, machine(), goal(), circuit(), draws=0)


@pytest.mark.parametrize(
    ("wash", "key", "uncovers"),
    [
        (
            a_round("wash"),
            "cover.suction_l",
            True,
        ),  # 5 l of prime and 1.8 l of hold-up from 5.7 l/min into a dry machine
        (a_round("wash", heat_s=60), "cover.element_l", False),  # 7.5 l, pump off: 78.95 s
        (a_round("wash", spray_element_s=60, rest_s=30), "cover.element_l", True),  # 7.5 l and 1.8 l, pump on
    ],
)
def test_shortest_fill_is_where_the_simulation_uncovers(wash: Round, key: str, uncovers: bool) -> None:
    least_s = least_fill_s(machine(), wash, first=True)
    shortest = row(key, programme(Round(**{**vars(wash), "fill_s": least_s})))
    assert shortest.guaranteed is not None
    assert shortest.passed
    # A second is 0.095 l; water that warms while it sprays stands a few thousandths higher.
    shorter = row(key, programme(Round(**{**vars(wash), "fill_s": least_s - 1})))
    assert shorter.passed is not uncovers
    assert shorter.worst < shorter.limit * (1.0 + LEVEL_SPARE), "a thousandth more is filled than covers it"


def test_a_later_round_counts_with_what_was_left() -> None:
    wash = a_round("wash", heat_s=60)
    assert least_fill_s(machine(), wash, first=True) == 80  # 7.5 l and a thousandth at 5.7 l/min
    assert least_fill_s(machine(), wash, first=False) == 74  # 0.5 l less: 73.8 s


def test_longest_fill_does_not_run_over_however_hot() -> None:
    rig = machine()
    most_s = most_fill_s(rig)
    # 28 l, less 2.5 % for 75 °C, less 0.8 l and 0.25 l of carry-over, at 6.3 l/min.
    assert most_s == pytest.approx((28.0 * 0.975 - 1.05) / 6.3 * 60.0, abs=2.0)
    # A second run begins on a machine that is warm: 75 °C is reached in that one.
    hot = programme(a_round("prerinse"), a_round("wash", fill_s=most_s, heat_s=6600, drain_s=300))
    bath, level = row("tank.bath_c", hot), row("overflow.level_l", hot)
    assert 74.5 < bath.worst < 75.0
    # A timed element keeps 8 K from the limit, but no bath of its own is hotter than this one.
    assert (bath.limit, bath.passed) == (67.0, False)
    assert 27.7 < level.worst < 28.0
    assert level.passed
    cold = a_round("wash", fill_s=most_s + 8, drain_s=300)
    assert not row("overflow.level_l", programme(a_round("prerinse"), cold)).passed


def test_no_fill_where_the_tank_is_full_already() -> None:
    rig = machine({"tank.capacity_l": 10.6, "tank.residual_l": {"nominal": 9.0, "low": 8.0, "high": 10.5}})
    assert most_fill_s(rig) == 0
    assert least_fill_s(rig, a_round("wash", heat_s=9), first=False) == 0


@pytest.mark.parametrize(
    ("numbers", "first", "least_s"),
    [
        # A thousandth more than what is needed, at 5.7 l/min.
        ({}, True, 72),  # 5 l to prime and 1.8 l of hold-up: 71.65 s
        ({}, False, 67),  # 0.5 l are there: 66.4 s
        ({"heat_s": 60}, True, 80),  # 7.5 l over the element are more: 79.03 s
        ({"spray_element_s": 60}, True, 98),  # and 1.8 l of hold-up: 97.99 s
        ({"heat_s": 60, "spray_element_s": 60}, False, 93),  # 92.8 s
        ({"heat_s": 60, "spray_s": 0}, True, 80),
        ({"spray_s": 0}, True, 0),
    ],
)
def test_shortest_fill_by_hand(numbers: dict[str, int], first: bool, least_s: int) -> None:
    assert least_fill_s(machine(), a_round("wash", **numbers), first=first) == least_s


def test_a_warm_feed_in_a_cold_room_takes_more_water() -> None:
    """5.7 l/min of water at 35 °C that a room of 14 °C cools: 0.52 % (IAPWS-IF97), 98.4 s, not 97.9."""
    rig = machine({"inlet.water_c": {"nominal": 30.0, "low": 25.0, "high": 35.0}})
    needed_s = (7.5 + 1.8) * kg_per_l(14.0) / kg_per_l(35.0) / 5.7 * 60.0
    assert 98.0 < needed_s < 99.0
    assert least_fill_s(rig, a_round("wash", spray_element_s=60), first=True) == 99


def test_a_wide_range_of_inlet_temperatures_is_guaranteed_from_the_shortest_fill_on() -> None:
    """5 to 25 °C: 98 s at 5.7 l/min are 9.31 l, of which 25 °C over 14 °C take 0.2 %: too little."""
    rig = machine({"inlet.water_c": {"nominal": 12.0, "low": 5.0, "high": 25.0}})
    wash = a_round("wash", spray_element_s=60, rest_s=30)
    assert least_fill_s(rig, wash, first=True) == 99
    table = programme(Round(**{**vars(wash), "fill_s": 99}))
    rows = check(table, rig, goal(), circuit(), draws=0).rows
    assert next(row for row in rows if row.key == "cover.element_l").passed


def test_water_is_densest_at_4_c() -> None:
    """IAPWS-IF97: at 101.325 kPa water is densest at 4.0 °C."""
    assert kg_per_l(DENSEST_C) > max(kg_per_l(DENSEST_C - 0.5), kg_per_l(DENSEST_C + 0.5))


def kg_per_l(t_c: float) -> float:
    return float(IAPWS97(T=273.15 + t_c, P=0.101325).rho) / 1000.0


@pytest.mark.parametrize(("capacity_l", "limit_c", "hot_c"), [(26.0, 75.0, 75.0), (20.0, 110.0, 99.97)])
def test_longest_fill_by_hand(capacity_l: float, limit_c: float, hot_c: float) -> None:
    """The tank less what 8 °C swell by, less 1.05 l, at 6.3 l/min, in whole seconds that still fit."""
    rig = machine({"tank.capacity_l": capacity_l, "tank.limit_c": limit_c, "tank.material": "stainless"})
    fits_s = (capacity_l * kg_per_l(hot_c) / kg_per_l(8.0) - 1.05) / 6.3 * 60.0
    assert 0.05 < fits_s % 1.0 < 0.995
    assert most_fill_s(rig) == int(fits_s)


def test_a_level_switch_by_hand() -> None:
    """11 l at 5.7 l/min: 115.8 s; a twentieth and 10 s on top of it while it sticks."""
    rig = machine(THERMOSTAT)
    assert level_fill_least_s(rig) == pytest.approx(11.0 / 5.7 * 60.0)
    assert level_fill_most_s(rig) == pytest.approx(1.05 * 11.0 / 5.7 * 60.0 + 10.0)
    assert (level_fill_least_s(machine()), level_fill_most_s(machine())) == (0.0, 0.0)


def test_the_start_drain_by_hand() -> None:
    """Of 28 l 0.5 stay; 27.5 l at 10.8 l/min take 152.8 s."""
    assert start_drain_left_l(machine(), 100) == pytest.approx(27.5 - 18.0)
    assert start_drain_left_l(machine(), 152) == pytest.approx(27.5 - 27.36)
    assert start_drain_left_l(machine(), 153) == 0.0
    assert start_drain_least_s(machine()) == 153
    # Whole seconds need none more: 27 l at 10.8 l/min.
    assert start_drain_least_s(machine({"tank.capacity_l": 27.5})) == 150


def test_the_lag_of_a_drain_by_hand() -> None:
    """The longest lag, 12 s, is on top of volume over flow: the pump takes nothing for so long."""
    rig = machine({"drain_pump.drain_lag_s": {"nominal": 8.0, "low": 5.0, "high": 12.0}})
    assert start_drain_left_l(rig, 12) == start_drain_left_l(rig, 5) == pytest.approx(27.5)
    assert start_drain_left_l(rig, 164) == pytest.approx(27.5 - 27.36)
    assert start_drain_left_l(rig, 165) == 0.0
    assert start_drain_least_s(rig) == 153 + 12
    assert drain_least_s(rig, a_round("wash")) == drain_least_s(machine(), a_round("wash")) + 12


@pytest.mark.parametrize(
    ("numbers", "hot_c", "changes", "let_in_l"),
    [
        ({}, 45.0, {}, 10.5),
        ({"fill_s": 300}, 45.0, {}, 31.5),  # 176.7 s; at 25 °C they would be 175.6
        ({"heat_s": 60}, 75.0, {}, 10.5),
        ({"fill_s": 300, "heat_s": 60}, 75.0, {}, 31.5),  # 179.5 s
        ({"fill_s": 200}, 45.0, THERMOSTAT, 10.5),  # up to 11 l, 0.5 l were there
        ({"fill_s": 50}, 45.0, THERMOSTAT, 5.25),
    ],
)
def test_shortest_drain_by_hand(
    numbers: dict[str, int], hot_c: float, changes: dict[str, object], let_in_l: float
) -> None:
    """What 100 s at 6.3 l/min let in at 8 °C, as large as it gets, at 10.8 l/min.

    Unheated that is 20 K over a room of 25 °C, heated the 75 °C that the tank stands.
    """
    needs_s = let_in_l * kg_per_l(8.0) / kg_per_l(hot_c) / 10.8 * 60.0
    assert drain_least_s(machine(changes), a_round("wash", **numbers)) == int(needs_s) + 1


def test_carry_over_and_all_water_by_hand() -> None:
    assert carry_over_l(machine()) == pytest.approx(0.8 + 0.25)
    assert all_fills_l(programme(a_round("wash", fill_s=100), a_round("rinse", fill_s=50)), machine()) == (
        pytest.approx(150.0 / 60.0 * 6.3)
    )


@pytest.mark.parametrize("over_s", [-7, -1, 0, 1, 40])
def test_the_longest_top_up_is_what_the_fill_leaves(over_s: int) -> None:
    """Of a timed inlet: the longest fill less the fill, and nothing onto one that is longer than that."""
    assert most_top_up_s(machine(), most_fill_s(machine()) + over_s) == max(-over_s, 0)


def test_the_water_after_a_top_up_by_hand() -> None:
    """80 s and 20 s at 6.3 l/min and 1.05 l left over, swollen from 4 °C to the hottest that is drained."""
    rig = machine()
    hot_c = min(rig.drain_pump.drain_limit_c, rig.tank.limit_c, 99.97)
    expected_l = (100.0 * 6.3 / 60.0 + 1.05) * kg_per_l(4.0) / kg_per_l(hot_c)
    assert topped_up_l(rig, a_round("wash", fill_s=80, top_up_s=20)) == pytest.approx(expected_l, rel=2e-5)
    switched = machine(THERMOSTAT)
    level_l = switched.inlet.level_l
    assert level_l is not None
    hot_c = min(switched.drain_pump.drain_limit_c, switched.tank.limit_c, 99.97)
    there_l = level_l.high + switched.ware.film_l.high + 20.0 * switched.inlet.flow_l_per_min.high / 60.0
    found_l = topped_up_l(switched, a_round("wash", fill_s=80, top_up_s=20))
    assert found_l == pytest.approx(there_l * kg_per_l(4.0) / kg_per_l(hot_c), rel=2e-5)
