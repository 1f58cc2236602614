"""Logs of a thermometer: every way they are written, and every way they are wrong."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from exploring import cases
from hypothesis import example, given
from hypothesis import strategies as st
from measure_cases import cooling, log_text, one_issue
from test_bad_input_fuzz import check

from optimizer.measure.bench_log import BenchLog, read_log

Rows = Sequence[tuple[Any, Any]]
ROWS: Rows = [(10.0 * at, 60.0 - 0.02 * at) for at in range(100)]


def text(rows: Rows, head: str = "time_s,bath_c", form: str = "{:g},{:.2f}") -> str:
    return "\n".join([head, *(form.format(*row) for row in rows)])


@pytest.fixture
def read(tmp_path: Path) -> object:
    def read_text(content: str | bytes) -> BenchLog:
        path = tmp_path / "a.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return read_log(path)

    return read_text


def issue(read, content: str) -> tuple[str, str, str, str]:  # type: ignore[no-untyped-def]
    found = one_issue(lambda: read(content))
    assert found.subject.endswith("a.csv")
    return found.key, found.rule, found.found, found.fix


def iso(at: float, offset: str = "") -> str:
    return (datetime(2026, 3, 2, 14) + timedelta(seconds=at)).isoformat() + offset


WRITTEN = {
    "plain": text(ROWS),
    "semicolons and decimal commas": text(ROWS, "time_s;bath_c", "{:g};{:.2f}").replace(".", ","),
    "tabs": text(ROWS, "time_s\tbath_c", "{:g}\t{:.2f}"),
    "byte order mark": "\ufeff" + text(ROWS),
    "line ends": text(ROWS).replace("\n", "\r\n"),
    "blank lines and notes": text(ROWS).replace("\n10,", "\n\n# a note\n10,"),
    "note first": "# a note\n" + text(ROWS),
    "quotes": text(ROWS, form='"{:g}","{:.2f}"'),
    "capitals and blanks": text(ROWS, "Time_s, Bath_C", "{:g}, {:.2f}"),
    "minutes": text([(at / 60.0, bath) for at, bath in ROWS], "time_min,bath_c", "{!r},{:.2f}"),
    "any zero": text([(at + 1.7e9, bath) for at, bath in ROWS], form="{:.0f},{:.2f}"),
    "°F": text([(at, bath * 1.8 + 32.0) for at, bath in ROWS], "time_s,bath_f", "{:g},{:.6f}"),
    "kelvin": text([(at, bath + 273.15) for at, bath in ROWS], "time_s,bath_k"),
    "ISO": text([(iso(at), bath) for at, bath in ROWS], "time,bath_c", "{},{:.2f}"),
    "ISO with offsets": text([(iso(at, "+01:00"), bath) for at, bath in ROWS], "time,bath_c", "{},{:.2f}"),
    "ISO in UTC": text([(iso(at, "Z"), bath) for at, bath in ROWS], "time,bath_c", "{},{:.2f}"),
    "other columns": text([(at, bath) for at, bath in ROWS], "bath_c,time_s", "{1:.2f},{0:g}"),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_ways_to_write_one_log(read, name: str) -> None:  # type: ignore[no-untyped-def]
    found = read(WRITTEN[name])
    assert found.time_s == pytest.approx([at for at, _ in ROWS], abs=1e-6)
    assert found.bath_c == pytest.approx([bath for _, bath in ROWS], abs=1e-3)
    assert found.ware_c is None
    assert bool(found.remarks) == (name in ("°F", "kelvin"))


def test_ware_and_watts(read) -> None:  # type: ignore[no-untyped-def]
    lines = "\n".join(f"{10 * at},{60 - at / 50},{20 + at / 10},{0.9}" for at in range(60))
    found = read(f"time_s,bath_c,ware_c,power_kw\n{lines}\n")
    assert found.ware_c is not None
    assert found.power_w is not None
    assert (found.ware_c[10], found.power_w[0]) == (pytest.approx(21.0), pytest.approx(900.0))


def with_row(at: int, row: tuple[object, object]) -> str:
    rows = list(ROWS)
    rows[at] = row
    return text(rows, form="{},{}")


def in_iso(other: dict[float, str]) -> str:
    return text([(other.get(at, iso(at)), bath) for at, bath in ROWS], "time,bath_c", "{},{:.2f}")


def in_unit(factor: float, zero: float) -> str:
    return text([(at, bath * factor + zero) for at, bath in ROWS])


def later(factor: float, more_s: float = 0.0, since: int = 0) -> str:
    return text([(at * factor + more_s * (row >= since), bath) for row, (at, bath) in enumerate(ROWS)])


def stuck(since_s: float, until_s: float) -> str:
    """A bath that falls by 5 mK a second."""
    return text([(at, 60.0 - 0.005 * (since_s if since_s <= at <= until_s else at)) for at, _ in ROWS])


Case = tuple[str, str, str, str]
WRONG: dict[str, Case] = {
    "empty": (" \n", "", "is empty", "time_s,bath_c"),
    "no head": (text(ROWS).split("\n", 1)[1], "line 1", "holds readings", "put a first line before it"),
    "column": (text(ROWS, "time_s,bath"), "line 1", '"bath" is no column', "did you mean bath_c?"),
    "no bath": (text(ROWS, "time_s,ware_c"), "line 1", "has no column of bath", "time_s,bath_c"),
    "two baths": (text(ROWS, "bath_f,bath_c"), "line 1", "has two columns of bath", "leave the other"),
    "no rows, ISO": ("time,bath_c\n", "", "holds 0 rows", "every 10 s"),
    "too few": (text(ROWS[:5]), "", "holds 5 rows", "every 10 s"),
    "text": (with_row(20, ("200", "ERR")), "line 22", "bath_c must be a number", "20.5"),
    "nan": (with_row(20, ("200", "nan")), "line 22", "bath_c must be a number", "20.5"),
    "digits with a line": (with_row(20, ("200", "5_9")), "line 22", "bath_c must be a number", "20.5"),
    "empty cell": (with_row(20, ("200", "")), "line 22", "bath_c must be a number", "20.5"),
    "cells": (text(ROWS).replace("\n200,", "\n200,1,"), "line 22", "must hold 2 cells", "semicolons"),
    "ISO in seconds": (with_row(0, (iso(0), 60.0)), "line 2", "time_s must be", "a column named time"),
    "no time": (in_iso({100.0: "noon"}), "line 12", "time must be a time like the first", "2026-03-02"),
    "offset": (in_iso({500.0: iso(500.0, "Z")}), "line 52", "time must be a time", "all with an offset"),
    "°F": (in_unit(1.8, 32.0), "bath_c", "no temperatures of water", "bath_f"),
    "kelvin": (in_unit(1.0, 273.15), "bath_c", "no temperatures of water", "bath_k"),
    "°C as kelvin": (text(ROWS, "time_s,bath_k"), "bath_k", "no temperatures of water", "bath_c"),
    "milliseconds": (later(1e3), "time_s", "a row every 60 s", "millisec"),
    "seconds as minutes": (text(ROWS, "time_min,bath_c"), "time_min", "a row every 60 s", "time_s"),
    "duplicate": (with_row(50, (490.0, 59.0)), "line 52", "has the time of the line before", "keep one"),
    "order": (text([*ROWS[:50], ROWS[51], ROWS[50], *ROWS[52:]]), "line 53", "is earlier", "in the order"),
    "clock set back": (later(1.0, -300.0, 50), "line 52", "is earlier", "add 300 s"),
    "clock set on": (later(1.0, 3600.0, 50), "line 52", "leaves a gap of 3610 s", "take 3600 s off"),
    "gap": (text([*ROWS[:50], *ROWS[70:]]), "line 52", "leaves a gap of 210 s", "two tests"),
    "no contact": (with_row(30, (300.0, -127.0)), "line 32", "between -10 and 106", "take the line out"),
    "spike": (with_row(30, (300.0, 20.0)), "line 32", "jumps away", "take the line out"),
    "plunge": (with_row(0, (0.0, 20.0)), "line 3", "faster than a bath", "begin"),
    "stuck throughout": (in_unit(0.0, 60.0), "bath_c", "one value throughout", "log again"),
    "stuck": (stuck(300.0, 800.0), "line 32", "is stuck: one value for 8 min", "end the log before"),
    "stuck to its end": (stuck(300.0, 1e9), "line 32", "is stuck: one value for 12 min", "end the log"),
    "long line": ("time_s,bath_c\n" + "1" * 600, "", "has a line of more than 500", "one time"),
}


@pytest.mark.parametrize("name", WRONG)
def test_ways_to_be_wrong(read, name: str) -> None:  # type: ignore[no-untyped-def]
    content, key, rule, fix = WRONG[name]
    found = issue(read, content)
    assert found[0] == key
    assert rule in found[1]
    assert fix in found[3]


def test_many_lines_are_not_listed_one_by_one(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text(ROWS).replace(".", ","), encoding="utf-8")
    with pytest.raises(Exception, match="more of its lines have an issue") as caught:
        read_log(path)
    assert len(caught.value.issues) == 4  # type: ignore[attr-defined]


def test_two_probes_are_judged_together(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    lines = [f"{10 * at},{-127 if at == 3 else 60},{999 if at == 5 else 20 + at / 10}" for at in range(40)]
    path.write_text("\n".join(["time_s,bath_c,ware_c", *lines]), encoding="utf-8")
    with pytest.raises(Exception, match="line 5: bath_c") as caught:
        read_log(path)
    assert "line 7: ware_c" in str(caught.value)


def test_small_gaps_are_remarked_on(read) -> None:  # type: ignore[no-untyped-def]
    found = read(text([*ROWS[:50], *ROWS[53:]]))
    assert found.remarks == ("rows are missing: a gap of 40 s, in steps of 10 s",)


@pytest.mark.parametrize(
    "course",
    [
        cooling,
        lambda at: 20.0 + 8.0 * (1.0 - np.exp(-at / 400.0)),
        lambda at: 20.0 + 0.001 * at,
        lambda at: 20.0 + 0.02 * at if at < 600.0 else 32.0 - 0.001 * (at - 600.0),
    ],
)
def test_sound_courses_are_read(read, course) -> None:  # type: ignore[no-untyped-def]
    """Slow drifts in steps of 0.1 K, and an element that goes off, are no stuck probe."""
    assert read(log_text(course, rows=360)).bath_c.size == 360


def test_a_long_log_is_read_whole(read) -> None:  # type: ignore[no-untyped-def]
    rows = 100_000
    found = read("time_s,bath_c\n" + "\n".join(f"{at / 100:.2f},{60 - at / 1e5:.3f}" for at in range(rows)))
    assert found.time_s[-1] == pytest.approx(999.99)


pieces = st.sampled_from(
    ["nan", "1e999", "-", ",", ";", "\n", '"', "\ufeff", "°", "2026", "#", "1_0", "\t", " "]
)


@cases(200)
@given(st.data())
def test_logs_with_a_piece_replaced(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    base = data.draw(st.sampled_from(sorted(WRITTEN.values())))[:400]
    start = data.draw(st.integers(0, len(base) - 1))
    length = data.draw(st.integers(0, 30))
    piece = "".join(data.draw(st.lists(pieces | st.text(max_size=4), max_size=4)))
    path = tmp_path_factory.getbasetemp() / "piece.csv"
    path.write_text(
        base[:start] + piece + base[start + length :], encoding="utf-8", errors="replace", newline=""
    )
    check(lambda: read_log(path))


@cases(150)
@example([(0.0, 0.0)] * 9 + [(1.0, 3.6e307)], "f")
@given(
    st.lists(st.tuples(st.floats(), st.floats()), min_size=8, max_size=14), st.sampled_from(["c", "f", "k"])
)
def test_logs_of_any_numbers(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[float, float]], unit: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "numbers.csv"
    path.write_text(text(rows, f"time_s,bath_{unit}", "{!r},{!r}"), encoding="utf-8")
    check(lambda: read_log(path))


@cases(100)
@given(st.binary(max_size=200))
def test_logs_of_any_bytes(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(content)
    check(lambda: read_log(path))
