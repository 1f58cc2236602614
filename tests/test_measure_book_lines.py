"""What is wrong with a bench book is told with the line of its file."""

from __future__ import annotations

from pathlib import Path

import pytest
from measure_cases import HEAD, PLAIN, THERMAL, book, cooling, issues, log_text

from optimizer.errors import InputIssue
from optimizer.measure.book_lines import with_lines
from optimizer.measure.measurement import measure

TEXT = """\
kind = "bench"
title = "x"
[fills]
water_c = 12
runs = [
    { kg = 6.03, s = 60 }, { kg = 5.9, s = 59 },
    # { kg = 1 }
    { kg = 6.1, s = 60 },
]
[buckets]
lip = { kg = [28] }
[ware.glass]
dry_kg = [
    1.5,
]
[[thermal]]
name = "a"
[[thermal]]
name = "b"
"""


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("title", 2),
        ("fills", 3),
        ("fills.water_c", 4),
        ("fills.runs", 5),
        ("fills.runs[2].kg", 6),
        ("fills.runs[3]", 8),
        ("buckets.lip.kg[1]", 11),
        ("buckets.lips", 10),
        ("ware.glass.dry_kg[1]", 13),
        ("thermal[1].name", 17),
        ("thermal[2].name", 19),
        ("thermal[2].log", 18),
        ("drains", None),
        ("", None),
    ],
)
def test_line_of_a_key(key: str, line: int | None) -> None:
    (one,) = with_lines([InputIssue("b", key, "is wrong", "x", "y")], TEXT, "b")
    assert one.rule == ("is wrong" if line is None else f"is wrong (line {line})")


def test_issues_of_other_files_stay_as_they_are() -> None:
    one = InputIssue("a.csv", "title", "is wrong")
    assert with_lines([one], TEXT, "b") == [one]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (PLAIN.replace("5.98", "-5.98"), 7),
        (PLAIN.replace("0.58", "580"), 10),
        (HEAD + "[sponge]\ngk = [1]", 4),
        (HEAD + "[fills]\nruns = [{ kg = 6, s = 3600 }]", 3),
        (PLAIN + THERMAL + "drained_kg = 7\n", 21),
        (PLAIN.replace("lip =", "spits = { kg = [29, 29.1, 29] }\nlip ="), 13),
    ],
)
def test_a_book_that_is_refused_names_the_line(tmp_path: Path, text: str, line: int) -> None:
    """Schema, range, what a number comes to, a condition, and two tests that contradict each other."""
    folder = book(tmp_path / "b", text, cooling=log_text(cooling))
    (one,) = issues(lambda: measure(str(folder), "clubhouse"))
    assert one.rule.endswith(f"(line {line})")
    assert text.split("\n")[line - 1]
