"""Bench books to measure: a small one of plain tests, logs made of straight lines and exponentials."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path

from optimizer.errors import InputError, InputIssue

MARKED = re.compile(r"# (\[|[a-z_]+ = |        )")
"""A line of a new book that stands behind a mark."""

HEAD = 'kind = "bench"\ntitle = "A book"\n'
PLAIN = """\
kind = "bench"
title = "A small book"

[fills]
water_c = 12
runs = [{ kg = 6.03, s = 60.2 }, { kg = 5.91, s = 59.8 }, { kg = 6.11, s = 60.4 },
        { kg = 5.98, s = 60.0 }, { kg = 6.07, s = 60.1 }, { kg = 5.95, s = 59.9 }]

[sponge]
kg = [0.58, 0.66, 0.55, 0.62, 0.60, 0.71]

[buckets]
lip = { kg = [28.1, 28.0, 28.1] }
"""
THERMAL = """
[[thermal]]
name = "cooling"
log = "cooling.csv"
water_kg = 8
room_c = 20
pump_on = false
"""


def log_text(
    course_c: Callable[[float], float], rows: int = 90, step_s: float = 10.0, head: str = "time_s,bath_c"
) -> str:
    """A log of a bath."""
    lines = [f"{step_s * at:g},{course_c(step_s * at):.1f}" for at in range(rows)]
    return "\n".join([head, *lines, ""])


def cooling(time_s: float) -> float:
    """A bath that cools from 60 °C in a room of 20 °C."""
    return 20.0 + 40.0 * math.exp(-time_s / 5000.0)


def book(folder: Path, text: str = PLAIN, **logs: str) -> Path:
    """Write a book; a log by its name without ``.csv``."""
    folder.mkdir(exist_ok=True)
    (folder / "bench.toml").write_text(text, encoding="utf-8")
    for name, content in logs.items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")
    return folder


def issues(step: Callable[[], object]) -> Sequence[InputIssue]:
    """What is wrong with an input."""
    try:
        step()
    except InputError as error:
        return error.issues
    raise AssertionError("nothing was found wrong")


def one_issue(step: Callable[[], object]) -> InputIssue:
    """The one thing that is wrong."""
    (issue,) = issues(step)
    assert issue.fix, "a fix is always named"
    return issue


def without_marks(text: str) -> str:
    """A new book with its readings in place."""
    lines = [line[2:] if MARKED.match(line) else line for line in text.splitlines()]
    return "\n".join(lines)
