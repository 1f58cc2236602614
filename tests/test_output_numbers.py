"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.report.layout import wrapped
from optimizer.report.numbers import count, mmss, money, plain
from optimizer.units import figure, short, with_unit


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0:00"),
        (1, "0:01"),
        (59.4, "0:59"),
        (59.6, "1:00"),
        (60, "1:00"),
        (3599.5, "60:00"),
        (36061, "601:01"),
    ],
)
def test_minutes_and_seconds(seconds: float, text: str) -> None:
    assert mmss(seconds) == text


@given(st.integers(0, 10**6))
def test_minutes_and_seconds_add_up(seconds: int) -> None:
    minutes, rest = mmss(seconds).split(":")
    assert len(rest) == 2
    assert int(minutes) * 60 + int(rest) == seconds


@given(st.floats(1e-9, 1e9) | st.floats(-1e9, -1e-9), st.integers(1, 6))
def test_figures_are_right_to_their_digits_and_have_no_exponent(value: float, digits: int) -> None:
    for text in (figure(value, digits), short(value, digits)):
        assert set(text) <= set("-0123456789.")
        assert float(text) == pytest.approx(value, rel=0.5000001 * 10.0 ** (1 - digits))
    assert not short(value, digits).endswith(".")


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (-0.0, "0"), (9.99996, "10"), (100.0, "100"), (-0.5, "-0.5"), (math.inf, "no value")],
)
def test_short(value: float, text: str) -> None:
    assert short(value) == text


def test_no_figure_is_nan() -> None:
    assert figure(math.nan) == "no value"
    assert [plain(value) for value in (math.nan, math.inf, 1)] == [None, None, 1.0]


@pytest.mark.parametrize(
    ("amount", "text"),
    [(0.0, "0.00 EUR"), (0.5825, "0.58 EUR"), (12.0, "12.00 EUR"), (0.099, "0.099 EUR"), (-0.5, "-0.50 EUR")],
)
def test_money(amount: float, text: str) -> None:
    assert money(amount, "EUR") == text


def test_counts_and_units() -> None:
    assert [count(n, "corner") for n in (0, 1, 2)] == ["0 corners", "1 corner", "2 corners"]
    assert [with_unit("3", unit) for unit in ("min", "1", "")] == ["3 min", "3", "3"]


@given(st.integers(1, 40))
def test_no_line_ends_between_a_number_and_its_unit(words: int) -> None:
    text = wrapped("so " * words + "it takes 25.9 l and 0.21 GBP, " * 5)
    assert max(map(len, text.splitlines())) <= 80
    assert not any(line.endswith(("25.9", "0.21")) for line in text.splitlines())
    assert "\0" not in text
