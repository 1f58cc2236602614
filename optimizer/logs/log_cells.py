"""The cells of a log as numbers: all at once where they hold nothing else, else cell by cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.logs.log_form import (
    HEADS,
    ISO,
    MOST_ISSUES,
    SWITCHED_AS,
    SWITCHES,
    LogForm,
    first_and_how_many_more,
)
from optimizer.profile.messages import written

if TYPE_CHECKING:
    from numpy import ndarray

LARGEST = 1e30
"""No reading in any unit has a larger number; nan is not smaller either [1]."""


def delimiter_of(text: str) -> str:
    """Find what parts the columns: a semicolon, a tab, or else a comma."""
    first = next((line for line in text.split("\n") if line.strip() and not line.startswith("#")), "")
    return next((sign for sign in ";\t" if sign in first), ",")


def rows_of(text: str) -> Iterator[tuple[int, list[str]]]:
    """Number and cells of each line that is neither blank nor a note."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text))
    for row in rows:
        if any(row) and not row[0].startswith("#"):
            yield rows.line_num, row


def all_at_once(text: str, heads: list[str], form: LogForm) -> dict[str, ndarray] | None:
    """Read a log that holds nothing but plain numbers; None where it has to be read cell by cell."""
    if text.startswith("#") or "\n#" in text:
        text = "\n".join(line for line in text.split("\n") if not line.startswith("#"))
    rest = text.partition("\n")[2]
    if "time" in heads or not rest.strip() or any(sign in rest for sign in '"#_'):
        return None
    delimiter = delimiter_of(text)
    if delimiter != ",":
        rest = rest.replace(",", ".")
    try:
        found = np.loadtxt(io.StringIO(rest), delimiter=delimiter, comments=None, ndmin=2)
    except ValueError:
        return None
    if found.shape[0] < form.least_rows or found.shape[1] != len(heads) or not _sound(found):
        return None
    numbers = {name: column for name, column in zip(heads, found.T.copy(), strict=True) if name}
    return numbers if all(_switched(numbers[name]) for name in heads if name in SWITCHES) else None


def cell_by_cell(subject: str, text: str, heads: list[str], form: LogForm) -> dict[str, ndarray]:
    """Read any log, or say what is wrong with which line."""
    rows = rows_of(text)
    first_line = next(rows)[1]
    delimiter, many = delimiter_of(text), len(heads)
    lines, cells, issues = list[int](), list[str](), list[InputIssue]()
    for line, row in rows:
        if len(row) != many and len(issues) <= MOST_ISSUES:
            rule = f"must hold {many} cells, as the first line does"
            found, fix = written(delimiter.join(row)), _cells_fix(delimiter, len(row) > many)
            if len(row) > many and not any(row[many:]):
                fix = f'take the "{delimiter}" at the end of the lines off'
            issues.append(InputIssue(subject, f"line {line}", rule, found, fix))
        if row == first_line and len(issues) <= MOST_ISSUES:
            rule = "is the first line once more: two logs in one file"
            issues.append(InputIssue(subject, f"line {line}", rule, "", form.parted))
        lines.append(line)
        cells += row
    if issues:
        raise InputError(first_and_how_many_more(subject, issues))
    if len(lines) < form.least_rows:
        rule = f"holds {len(lines)} rows, too few for a log"
        raise InputError([InputIssue(subject, "", rule, "", "a row every 10 s, for some minutes")])
    numbers = dict[str, "ndarray"]()
    for at, name in enumerate(heads):
        if not name:
            continue
        column = [cell.strip() for cell in cells[at::many]]
        if name != "time" and delimiter != ",":
            column = [cell.replace(",", ".") for cell in column]
        if name in SWITCHES:
            column = [SWITCHED_AS.get(cell.lower(), cell) for cell in column]
        empty = HEADS[name][0] in form.may_be_empty
        read = _times(column) if name == "time" else _numbers(column, empty)
        if read is not None and (name not in SWITCHES or _switched(read)):
            numbers[name] = read
            continue
        bad = (
            (row, cell)
            for row, cell in enumerate(column)
            if not (empty and not cell) and not _is_sound(name, cell, column[0])
        )
        rule = f"{name} must be {RULES.get(name, 'a number')}"
        of_name = [
            InputIssue(
                subject,
                f"line {lines[row]}",
                rule,
                written(cell),
                FIXES.get(name, "a plain number: 20.5; or leave the line out"),
            )
            for row, cell in islice(bad, MOST_ISSUES + 1)
        ]
        issues += first_and_how_many_more(subject, of_name)
    if issues:
        raise InputError(issues)
    return numbers


RULES = {"time": "a time like the first: ISO 8601", **dict.fromkeys(SWITCHES, "0 or 1")}
FIXES = {
    **dict.fromkeys(SWITCHES, "1 where it is on, 0 where it is off"),
    "time_s": f"a plain number; a time like {ISO} goes into a column named time",
    "time": f"{ISO}, all with an offset from UTC or none; seconds go into a column named time_s",
}


def _cells_fix(delimiter: str, more: bool) -> str:
    if delimiter == "," and more:
        return (
            "a decimal point in every number, or, with decimal commas, semicolons between the columns in "
            "every line, the first too"
        )
    return "a reading for every column, or leave the line out"


def _numbers(column: Sequence[str], empty: bool = False) -> ndarray | None:
    """Numbers of a column, nan for a cell that is empty if one may be; None where one is none."""
    try:
        found = np.array([float(cell) if cell or not empty else np.nan for cell in column])
    except ValueError:
        return None
    said = found[[bool(cell) for cell in column]] if empty else found
    return found if _sound(said) and not any("_" in cell for cell in column) else None


def _sound(found: ndarray) -> bool:
    return bool((np.abs(found) < LARGEST).all())


def _times(column: Sequence[str]) -> ndarray | None:
    """Seconds since the first of ISO times; None where one is none."""
    try:
        times = list(map(datetime.fromisoformat, column))
        return np.array([(at - times[0]).total_seconds() for at in times])
    except (ValueError, TypeError):
        return None


def _is_sound(name: str, cell: str, first: str) -> bool:
    if name == "time":
        return _times([first, cell]) is not None
    found = _numbers([cell])
    return found is not None and (name not in SWITCHES or _switched(found))


def _switched(found: ndarray) -> bool:
    return bool(((found == 0.0) | (found == 1.0)).all())


def is_number(text: str) -> bool:
    """Whether a cell is a plain number."""
    return _numbers([text]) is not None
