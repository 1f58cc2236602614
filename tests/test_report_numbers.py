"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.report.numbers import amount, count, mmss, money, money_decimals, plain
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
    [
        (0.0, "0.00 EUR"),
        (0.5825, "0.58 EUR"),
        (12.0, "12.00 EUR"),
        (0.099, "0.099 EUR"),
        (0.00412, "0.0041 EUR"),
        (-0.5, "-0.50 EUR"),
        (-0.0, "0.00 EUR"),
        (99.99, "99.99 EUR"),
        (100.0, "100 EUR"),
        (3000.4, "3000 EUR"),
        (-1234567.0, "-1234567 EUR"),
    ],
)
def test_money(amount: float, text: str) -> None:
    assert money(amount, "EUR") == text


@given(st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=6), st.booleans())
def test_amounts_in_a_column_have_the_same_decimals(amounts: list[float], fine: bool) -> None:
    decimals = money_decimals(amounts, fine=fine)
    texts = [amount(value, decimals) for value in amounts]
    assert {len(text.partition(".")[2]) for text in texts} == {decimals}
    errors = [abs(float(text) - value) for text, value in zip(texts, amounts, strict=True)]
    assert max(errors) <= 0.5000001 * 10.0**-decimals
    assert not any(float(text) == 0.0 and "-" in text for text in texts)
    most = max(map(abs, amounts))
    assert most == 0.0 or most < 1e-200 or abs(float(amount(most, decimals)) / most - 1.0) <= 0.05


def test_counts_and_units() -> None:
    assert [count(n, "corner") for n in (0, 1, 2)] == ["0 corners", "1 corner", "2 corners"]
    assert [with_unit("3", unit) for unit in ("min", "1", "")] == ["3 min", "3", "3"]
