"""The shortest and the longest fill that are allowed, against the simulation that is the proof."""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, goal, machine, programme

from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.check.fills import least_fill_s, most_fill_s
from optimizer.programme.constants import Constants, Round


def row(key: str, table: Constants) -> Row:
    found = check(table, machine(), goal(), circuit(), draws=0).rows
    return next(row for row in found if row.key == key)


@pytest.mark.parametrize(
    ("wash", "key"),
    [
        (
            a_round("wash"),
            "cover.suction_l",
        ),  # 5 l of prime and 1.8 l of hold-up from 5.7 l/min into a dry machine
        (a_round("wash", heat_s=60), "cover.element_l"),  # 7.5 l, pump off
        (a_round("wash", spray_element_s=60, rest_s=30), "cover.element_l"),  # 7.5 l and 1.8 l, pump on
    ],
)
def test_shortest_fill_is_where_the_simulation_uncovers(wash: Round, key: str) -> None:
    least_s = least_fill_s(machine(), wash, first=True)
    assert row(key, programme(Round(**{**vars(wash), "fill_s": least_s}))).passed
    # A second is 0.095 l; water that warms while it sprays stands a few thousandths higher.
    assert not row(key, programme(Round(**{**vars(wash), "fill_s": least_s - 1}))).passed


def test_a_later_round_counts_with_what_was_left() -> None:
    wash = a_round("wash", heat_s=60)
    assert least_fill_s(machine(), wash, first=True) == 79  # 7.5 l at 5.7 l/min
    assert least_fill_s(machine(), wash, first=False) == 74  # 0.5 l less


def test_longest_fill_does_not_run_over_however_hot() -> None:
    rig = machine()
    most_s = most_fill_s(rig)
    # 28 l, less 2.5 % for 75 °C, less 0.8 l and 0.25 l of carry-over, at 6.3 l/min.
    assert most_s == pytest.approx((28.0 * 0.975 - 1.05) / 6.3 * 60.0, abs=2.0)
    hot = programme(a_round("prerinse"), a_round("wash", fill_s=most_s, heat_s=6650, drain_s=300))
    assert 74.0 < row("tank.bath_c", hot).worst < 75.0
    assert 27.7 < row("overflow.level_l", hot).worst < 28.0
    cold = a_round("wash", fill_s=most_s + 8, drain_s=300)
    assert not row("overflow.level_l", programme(a_round("prerinse"), cold)).passed


def test_no_fill_where_the_tank_is_full_already() -> None:
    rig = machine({"tank.capacity_l": 10.6, "tank.residual_l": {"nominal": 9.0, "low": 8.0, "high": 10.5}})
    assert most_fill_s(rig) == 0
    assert least_fill_s(rig, a_round("wash", heat_s=9), first=False) == 0
