"""The demo's bench book with its tests and logs spoilt: an answer whose numbers are in order, or issues."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from test_bad_input_fuzz import check

from optimizer.measure.bench_log import BenchLog, read_log
from optimizer.measure.conditions import condition_issues
from optimizer.measure.measured_profile import known_of, measured_parts
from optimizer.measure.measurement import measure_book
from optimizer.measure.read_book import Book, make_book, validate_bench
from optimizer.profile.load import load_profile, parse_profile
from optimizer.profile.shipped import bench_path

FILE = Path(str(bench_path("clubhouse")))
TABLES = tomllib.loads(FILE.read_text(encoding="utf-8"))
LOGS = {path.name: replace(read_log(path), name=path.name) for path in FILE.parent.glob("*.csv")}
LIKE = load_profile("machine", "clubhouse")

Test = dict[str, Any]


def cut(log: BenchLog, rows: int) -> BenchLog:
    ware = None if log.ware_c is None else log.ware_c[:rows]
    power = None if log.power_w is None else log.power_w[:rows]
    return replace(log, time_s=log.time_s[:rows], bath_c=log.bath_c[:rows], ware_c=ware, power_w=power)


SPOILT_LOGS: tuple[Callable[[BenchLog], BenchLog], ...] = (
    lambda log: cut(log, 12),
    lambda log: cut(log, log.time_s.size // 2),
    lambda log: replace(log, bath_c=np.full(log.bath_c.size, 30.0)),
    lambda log: replace(log, bath_c=log.bath_c[::-1].copy()),
    lambda log: replace(log, bath_c=log.bath_c + np.where(np.arange(log.bath_c.size) % 7 == 0, 3.0, 0.0)),
    lambda log: replace(log, bath_c=log.bath_c + np.linspace(0.0, 8.0, log.bath_c.size)),
    lambda log: replace(log, time_s=log.time_s * 10.0),
    lambda log: replace(log, time_s=log.time_s / 10.0),
    lambda log: replace(log, ware_c=None),
    lambda log: replace(log, power_w=np.full(log.bath_c.size, 400.0)),
)
numbers = st.sampled_from([0.0, 0.3, 1.0, 5.0, 20.0, 60.0, 99.0, 600.0, 1700.0, 1e5])
changes = st.one_of(
    st.tuples(
        st.sampled_from(["pump_on", "ware_in", "ware_wet", "stood_at_room", "ware_at_room"]), st.booleans()
    ),
    st.tuples(st.sampled_from(["water_kg", "room_c", "poured_c", "room_error_k", "voltage_v"]), numbers),
    st.tuples(st.sampled_from(["element_from_s", "element_until_s", "begins_s", "ends_s"]), numbers),
    st.tuples(st.just("follows"), st.sampled_from(["", *(test["name"] for test in TABLES["thermal"])])),
    st.tuples(st.just("log"), st.sampled_from(sorted(LOGS))),
    st.tuples(st.just("meter"), st.just([{"s": 10.0, "kwh": 0.1}, {"s": 700.0, "kwh": 0.2}])),
)
spoilt = st.tuples(
    st.lists(st.tuples(st.integers(0, 4), changes), max_size=3),
    st.lists(st.tuples(st.sampled_from(sorted(LOGS)), st.sampled_from(SPOILT_LOGS)), max_size=2),
    st.sets(st.integers(0, 4), max_size=3),
)
Spoilt = tuple[list[tuple[int, tuple[str, Any]]], list[tuple[str, Callable[[BenchLog], BenchLog]]], set[int]]


def spoil(how: Spoilt) -> Book:
    """Change keys of tests, then logs; leave tests out."""
    tables, logs = copy.deepcopy(TABLES), dict(LOGS)
    keys, of_logs, left_out = how
    for at, (key, value) in keys:
        tables["thermal"][at][key] = value
    for name, change in of_logs:
        logs[name] = change(logs[name])
    tables["thermal"] = [test for at, test in enumerate(tables["thermal"]) if at not in left_out]
    return make_book(validate_bench(tables, "bench.toml"), logs, "bench.toml")


def test_the_demo_is_sound() -> None:
    book = spoil(([], [], set()))
    assert condition_issues(book.tests, known_of(measured_parts([], {}, LIKE)), "bench.toml") == []


@cases(150)
@given(spoilt)
def test_conditions_of_spoilt_tests(how: Spoilt) -> None:
    def step() -> None:
        book = spoil(how)
        known = known_of(measured_parts([], {}, LIKE))
        for issue in condition_issues(book.tests, known, "bench.toml"):
            assert issue.subject == "bench.toml"
            assert issue.key.startswith("thermal[")
            assert issue.rule
            assert issue.fix

    check(step)


@pytest.mark.slow
@cases(40)
@given(spoilt)
def test_spoilt_books_measured(how: Spoilt) -> None:
    def step() -> None:
        found = measure_book(spoil(how), LIKE, "clubhouse")
        for one in found.estimates:
            assert np.isfinite([one.low, one.nominal, one.high]).all()
            assert one.low <= one.nominal <= one.high
        assert parse_profile("machine", found.text(), "out.toml") == found.machine

    check(step)
