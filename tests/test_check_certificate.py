"""What a row and a certificate conclude from their numbers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from optimizer.check.certificate import (
    Certificate,
    EarnedDose,
    Row,
    Trace,
    exact_row,
    failure_lines,
    held_value,
    least_covering_l,
    tightest,
)

LEAST = Row("dose.milk", "dose milk", "min", "at least", 8.0, 8.0, 8.5, "low voltage")
MOST = Row("tank.bath_c", "hottest bath", "°C", "at most", 75.0, 75.0, 74.0, "high voltage")
BAD = replace(LEAST, key="dose.fat", guaranteed=7.99)


def certificate(*rows: Row) -> Certificate:
    none, off = np.zeros(1), np.zeros(1, dtype=bool)
    return Certificate(rows, 9, 4, 1, Trace(none, none, none, none, off, off, off, off))


@pytest.mark.parametrize(
    ("row", "passed"),
    [
        (LEAST, True),
        (replace(LEAST, guaranteed=7.999), False),
        (replace(LEAST, worst=7.999), False),
        (replace(LEAST, guaranteed=None), True),
        (replace(LEAST, guaranteed=None, worst=7.999), False),
        (MOST, True),
        (replace(MOST, guaranteed=75.001), False),
        (replace(MOST, worst=75.001), False),
        (replace(MOST, guaranteed=None, worst=75.0), True),
        (replace(MOST, guaranteed=math.nan), False),
        (replace(MOST, worst=math.nan), False),
        (replace(LEAST, guaranteed=math.nan), False),
        (replace(LEAST, worst=math.nan), False),
    ],
)
def test_a_row_passes_by_the_worse_of_its_two_values(row: Row, passed: bool) -> None:
    assert row.passed is passed


def test_margins_by_hand() -> None:
    assert (LEAST.margin, replace(LEAST, guaranteed=10.0).margin) == (0.0, 0.5)
    assert replace(MOST, guaranteed=72.0).margin == 1.0
    assert replace(LEAST, guaranteed=6.0).margin_share == -0.25
    # A limit of 0 has no share: the margin itself.
    assert exact_row("k", "r", "l", ("at most", 0.0), 0.3).margin_share == -0.3
    assert replace(MOST, limit=-20.0, guaranteed=-25.0, worst=-30.0).margin_share == 0.25


@pytest.mark.parametrize("rows", [(BAD, LEAST, MOST), (LEAST, BAD, MOST), (LEAST, MOST, BAD), (BAD,)])
def test_one_row_that_fails_is_enough_wherever_it_stands(rows: tuple[Row, ...]) -> None:
    found = certificate(*rows)
    assert not found.passed
    assert not found.proven
    assert failure_lines(rows) == [BAD.margin_line()]


@pytest.mark.parametrize("place", [0, 1, 2])
def test_one_row_without_a_bound_is_enough_not_to_be_proven(place: int) -> None:
    rows = [LEAST, MOST, replace(MOST, key="overflow.level_l")]
    assert certificate(*rows).passed
    assert certificate(*rows).proven
    rows[place] = replace(rows[place], guaranteed=None)
    found = certificate(*rows)
    assert found.passed
    assert not found.proven
    assert found.unproven == [rows[place]]


def test_words_of_a_row() -> None:
    row = replace(LEAST, guaranteed=7.8)
    assert row.margin_line() == "dose milk: 7.8 min, at least 8 min asked, 0.2 min SHORT (low voltage)"
    warm = replace(MOST, guaranteed=73.0, worst=73.0)
    assert warm.margin_words() == "hottest bath: 73 °C, at most 75 °C asked, 2 K to spare"
    hot = replace(MOST, guaranteed=77.0, worst=77.0)
    assert hot.margin_words() == "hottest bath: 77 °C, at most 75 °C asked, 2 K OVER"
    # What four digits do not show is nothing to spare; what is short is said to its own digits.
    met = replace(LEAST, guaranteed=8.0000033)
    assert met.margin_words() == "dose milk: 8 min, at least 8 min asked, none to spare"
    assert replace(LEAST, guaranteed=8.001).margin_words().endswith("0.001 min to spare")
    assert replace(LEAST, guaranteed=7.9999967).margin_words().endswith("0.0000033 min SHORT")
    empty = replace(LEAST, guaranteed=None, worst=-math.inf)
    assert empty.margin_words() == "dose milk: no number, at least 8 min asked"


@pytest.mark.parametrize(
    ("point", "told"),
    [("a, b, c, d, e", "a, b, c, d, e"), ("a, b, c, d, e, f", "a, b, c, d, 2 more")],
)
def test_five_quantities_are_named_and_of_more_the_first_four(point: str, told: str) -> None:
    assert replace(LEAST, point=point).margin_line().endswith(f"({told})")


def test_the_tightest_come_first_without_those_met_exactly() -> None:
    tight = replace(LEAST, guaranteed=8.08)  # 1 %
    loose = replace(MOST, guaranteed=60.0, worst=60.0)  # 20 %
    exact = exact_row("rinse.rounds", "rinse rounds", "1", ("at least", 2.0), 2.0)
    rows = (loose, exact, tight)
    assert tightest(rows, 5) == [tight, loose]
    assert certificate(*rows).tightest(1) == [tight]
    # One that fails is told, whatever it is.
    failed = replace(exact, guaranteed=1.0, worst=1.0)
    assert tightest((loose, failed, tight), 1) == [failed]


@pytest.mark.parametrize(("mean_c", "far"), [(70.0, False), (70.1, True), (40.0, False), (39.9, True)])
def test_a_dose_is_far_from_its_reference_past_15_k(mean_c: float, far: bool) -> None:
    assert EarnedDose("fat", mean_c, 55.0).far is far


def test_ratios_are_written_in_one_way_and_no_share_is_below_none() -> None:
    """As the plan says them: so many in a million; ware colder than the air has no heat to dry with."""
    residue = replace(MOST, key="rinse.residue", unit="1", limit=0.001, guaranteed=0.0006023, worst=0.0006)
    assert residue.against_limit() == "602.3 in a million, at most 1000 in a million asked"
    assert residue.margin_words().endswith("398 in a million to spare")
    large = replace(residue, limit=0.1, guaranteed=0.05, worst=0.05)
    assert large.against_limit() == "0.05, at most 0.1 asked"
    cold = replace(LEAST, key="drying.ware_heat", unit="1", limit=0.4, guaranteed=-0.2, worst=-0.2)
    assert cold.against_limit() == "none: colder than the air, at least 0.4 asked"
    assert replace(cold, guaranteed=0.2, worst=0.2).against_limit() == "0.2, at least 0.4 asked"


def test_what_a_row_holds_for_is_that_of_its_key() -> None:
    """By the worse of its two values, whatever row comes first; none where no row has a number."""
    assert held_value([LEAST, MOST], "tank.bath_c") == max(MOST.worst, MOST.guaranteed or 0.0)
    assert held_value([MOST, LEAST], "dose.milk") == min(LEAST.worst, LEAST.guaranteed or 0.0)
    assert least_covering_l([LEAST, replace(LEAST, key="cover.element_l")]) == LEAST.held
    assert least_covering_l([LEAST, MOST]) is None
