"""Logs of runs spoilt in every way: a report whose numbers are in order, or issues; never anything else."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import proven
from test_bad_input_fuzz import check

from optimizer.programme.plan import Plan
from optimizer.report.review import review_report
from optimizer.review.reviewed import reviewed
from optimizer.review.run_log import read_called, read_run
from optimizer.review.simulated_run import simulate_run

EVERY_S = 5


@cache
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


@cache
def lines() -> tuple[str, ...]:
    """A simulated run, a line every few seconds, without its notes."""
    text = simulate_run(plan(), 3, (), EVERY_S).csv()
    return tuple(line for line in text.splitlines() if not line.startswith("#"))


cells = st.sampled_from(
    ["", "1", "0", "nan", "-40", "1e9", "1e400", "99.5", "x", "on", '"', "#", "2", "0,5", "\x00"]
)
places = st.floats(0.0, 1.0)
spoilings = st.one_of(
    st.tuples(st.just("cut"), places, places),
    st.tuples(st.just("leave out"), places, places),
    st.tuples(st.just("twice"), places, places),
    st.tuples(st.just("backwards"), places, places),
    st.tuples(st.just("shift"), places, st.sampled_from([-3600.0, -5.0, 0.0, 1.0, 60.0, 3600.0, 1e7])),
    st.tuples(st.just("scale"), st.integers(0, 6), st.sampled_from([0.0, 0.001, 0.1, 1.8, 10.0, -1.0])),
    st.tuples(st.just("without"), st.integers(1, 6), places),
    st.tuples(
        st.just("head"), st.integers(0, 6), st.sampled_from(["", "time", "water_l", "error", "x", "bath_f"])
    ),
    st.tuples(st.just("column"), st.integers(0, 6), cells),
    st.tuples(st.just("cell"), places, st.tuples(st.integers(0, 6), cells)),
)


def spoilt(text: list[str], spoiling: tuple[str, Any, Any]) -> list[str]:
    """Spoil a log in one way."""
    how, one, other = spoiling
    head, rows = text[0].split(","), [line.split(",") for line in text[1:]]
    many = len(rows)
    if how in ("cut", "leave out", "twice", "backwards"):
        first, last = sorted((int(one * many), int(other * many)))
        part = rows[first:last]
        rows = {
            "cut": part,
            "leave out": rows[:first] + rows[last:],
            "twice": rows[:last] + part + rows[last:],
            "backwards": rows[:first] + part[::-1] + rows[last:],
        }[how]
    elif how == "shift":
        at = int(one * many)
        rows = rows[:at] + [[str(number(row[0]) + other), *row[1:]] for row in rows[at:]]
    elif how == "cell" and rows:
        at, (place, cell) = min(int(one * many), many - 1), other
        rows[at] = [*rows[at][: place % len(head)], cell, *rows[at][place % len(head) + 1 :]]
    elif how in ("scale", "without", "head", "column"):
        place = one % len(head)
        if how == "scale":
            rows = [[*row[:place], f"{number(row[place]) * other:g}", *row[place + 1 :]] for row in rows]
        elif how == "without" and len(head) > 1:
            head, rows = head[:place] + head[place + 1 :], [row[:place] + row[place + 1 :] for row in rows]
        elif how == "head":
            head = [*head[:place], other, *head[place + 1 :]]
        elif how == "column":
            rows = [[*row[:place], other, *row[place + 1 :]] for row in rows]
    return [",".join(head), *(",".join(row) for row in rows)]


def number(cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        return 0.0


def look(file: Path, *, whole: bool) -> None:
    log = read_run(file, 230.0, None, plan().constants.input_sha256)
    if not whole:
        from dataclasses import replace

        log = replace(log, bath_c=None) if log.power_w is not None or log.segments else log
    text = review_report(reviewed(plan(), log, consequences=False))
    assert not re.search(r"\bnan\b|\binf\b", text)


@cases(60)
@given(st.lists(spoilings, min_size=1, max_size=3))
def test_spoilt_logs(tmp_path: Path, spoil: list[tuple[str, Any, Any]]) -> None:
    text = list(lines())
    for spoiling in spoil:
        text = spoilt(text, spoiling)
    (tmp_path / "run.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    check(lambda: look(tmp_path / "run.csv", whole=False))


@pytest.mark.slow
@cases(25)
@given(st.lists(spoilings, min_size=1, max_size=2))
def test_spoilt_logs_with_the_machine(tmp_path: Path, spoil: list[tuple[str, Any, Any]]) -> None:
    text = list(lines())
    for spoiling in spoil:
        text = spoilt(text, spoiling)
    (tmp_path / "run.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    check(lambda: look(tmp_path / "run.csv", whole=True))


@cases(150)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
def test_files_of_anything(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "run.csv").write_bytes(data)
    check(lambda: look(tmp_path / "run.csv", whole=False))


@cases(100)
@given(st.lists(st.text(alphabet="=,abct_1 ", max_size=12), max_size=3))
def test_columns_of_anything(texts: list[str]) -> None:
    check(lambda: read_called(texts))
