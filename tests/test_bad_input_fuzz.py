"""Broken profiles of every sort end in a list of issues, never in anything else."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from profile_cases import shipped_text

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.profile.load import load_profile, parse_profile, validate_profile
from optimizer.profile.price_series import read_series
from optimizer.profile.shipped import PROFILE_KINDS, ProfileKind, folder_of, shipped_profiles
from optimizer.report.errors import issue_report

SHIPPED = [(one.kind, one.path.read_text(encoding="utf-8")) for one in shipped_profiles()]
TARIFF = load_profile("tariff", "half-hourly")
SERIES = (folder_of("tariff") / "half-hourly.csv").read_text(encoding="utf-8")[:700]

quick = cases(150)


def check(step: Callable[[], object]) -> None:
    """Take a step; if it fails, it must be with issues that can be shown."""
    try:
        step()
    except InputError as error:
        assert_can_be_shown(error.issues)


def assert_can_be_shown(issues: Sequence[InputIssue]) -> None:
    """Every issue is whole and in our own words, and nothing in the message could move a cursor."""
    assert issues
    for issue in issues:
        assert issue.subject
        assert issue.rule
        assert issue.fix
        assert not issue.rule.startswith("Input should")
        assert "nan" not in issue.fix.split()
    assert all(char == "\n" or char.isprintable() for char in issue_report(issues))


scalars = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(10**300, 10**320)
    | st.floats()
    | st.text(max_size=8)
    | st.dates()
    | st.sampled_from(["timed", "level", "wash", "22:30", "a0", "EUR"])
)
values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["nominal", "low", "high", "tolerance_pct"]) | st.text(), inner, max_size=3
        )
    ),
    max_leaves=6,
)


@quick
@given(st.binary(max_size=300), st.sampled_from(PROFILE_KINDS))
def test_random_bytes(tmp_path_factory: pytest.TempPathFactory, data: bytes, kind: ProfileKind) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.toml"
    path.write_bytes(data)
    check(lambda: parse_profile(kind, read_text(path, "profile"), "my.toml"))


@quick
@given(st.text(alphabet=st.sampled_from("abz_09.,-+=\"'[]{}#\n \t\r\\u°:einfTZ"), max_size=80))
def test_random_toml(text: str) -> None:
    check(lambda: parse_profile("machine", text, "my.toml"))


@cases(300)
@given(st.sampled_from(SHIPPED), st.data())
def test_shipped_text_with_a_piece_replaced(shipped: tuple[ProfileKind, str], data: st.DataObject) -> None:
    kind, text = shipped
    start = data.draw(st.integers(0, len(text) - 1))
    length = data.draw(st.integers(0, 40))
    piece = data.draw(
        st.text(max_size=12) | st.sampled_from(["nan", "inf", '"', "[[dose]]\n", "1e400", "-1"])
    )
    check(lambda: parse_profile(kind, text[:start] + piece + text[start + length :], "my.toml"))


@cases(300)
@given(st.sampled_from(SHIPPED), values, st.data())
def test_shipped_data_with_one_value_replaced(
    shipped: tuple[ProfileKind, str], value: Any, data: st.DataObject
) -> None:
    kind, text = shipped
    tables = tomllib.loads(text)
    places = list(places_in(tables))
    table, key = data.draw(st.sampled_from(range(len(places))).map(places.__getitem__))
    table[key] = value
    check(lambda: validate_profile(kind, tables, "my.toml"))


def places_in(node: Any) -> Any:
    """Every place of nested tables and lists, as the container and the key in it."""
    keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
    for key in keys:
        yield node, key
        yield from places_in(node[key])


@quick
@given(st.dictionaries(st.sampled_from(["tank", "element", "dose", "kind"]) | st.text(), values, max_size=4))
def test_random_data(data: dict[str, Any]) -> None:
    for kind in PROFILE_KINDS:
        check(lambda kind=kind: validate_profile(kind, data, "my.toml"))


@quick
@given(st.integers(0, len(SERIES)), st.integers(0, 30), st.text(max_size=12))
def test_price_series_with_a_piece_replaced(
    tmp_path_factory: pytest.TempPathFactory, start: int, length: int, piece: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "series.csv"
    text = SERIES[:start] + piece + SERIES[start + length :]
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    check(lambda: read_series(path, TARIFF))


def test_the_check_itself_fails_on_what_is_no_input_error() -> None:
    def wrong() -> None:
        raise KeyError("k")

    with pytest.raises(KeyError):
        check(wrong)


def test_shipped_texts_are_the_ones_that_are_broken() -> None:
    assert ("goal", shipped_text("goal", "everyday")) in SHIPPED
