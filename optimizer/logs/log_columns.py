"""The columns of a log: how its first line names them, and its cells as numbers.

Every log of a machine is read here, whoever wrote it; a `LogForm` says which columns a reader takes and which
it cannot do without.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written
from optimizer.units import S_PER_MIN, celsius_from_fahrenheit

if TYPE_CHECKING:
    from numpy import ndarray

MOST_ISSUES = 3
"""Lines of a log that are listed: a wrong column gives an issue for every line [1]."""
KELVIN_AT_0_C = 273.15
LARGEST = 1e30
"""No reading in any unit has a larger number; nan is not smaller either [1]."""
SPREADSHEET = re.compile(r"sep=.\n")
LONGEST_LINE = 500
"""A line of a log is some forty characters [1]."""

Convert = Callable[[float], float]


def _as_it_is(value: float) -> float:
    return value


SWITCHES = ("inlet", "element", "wash_pump", "drain_pump")
"""Columns that hold whether an output is on: 0 or 1."""

SWITCHED_AS = {"on": "1", "true": "1", "off": "0", "false": "0"}
"""Words that controllers write for it."""

TOLD = ("state", "round", "error")
"""Columns that hold what a controller says of itself, as numbers."""

HEADS: dict[str, tuple[str, Convert]] = {
    "time_s": ("time", _as_it_is),
    "time_min": ("time", lambda minutes: minutes * S_PER_MIN),
    "time": ("time", _as_it_is),
    **{
        f"{probe}_{unit}": (probe, convert)
        for probe in ("bath", "ware")
        for unit, convert in (
            ("c", _as_it_is),
            ("f", celsius_from_fahrenheit),
            ("k", lambda kelvin: kelvin - KELVIN_AT_0_C),
        )
    },
    "power_w": ("power", _as_it_is),
    "power_kw": ("power", lambda kilowatts: kilowatts * 1000.0),
    "current_a": ("current", _as_it_is),
    "water_l": ("water", _as_it_is),
    **{name: (name, _as_it_is) for name in (*SWITCHES, *TOLD)},
}
"""By the name of a column: what it holds, and how its numbers become s, °C, W, A or l."""
CONVERTED = {"_f": "°F", "_k": "K", "_kw": "kW"}
ISO = "2026-03-02T14:30:05"


@dataclass(frozen=True)
class LogForm:
    """What a reader takes for a log.

    Attributes
    ----------
    holds : tuple of str
        What its columns may hold.
    needs : tuple of tuple of str
        What they must hold: of each group one at least.
    first_line : str
        How its first line looks, for messages.
    least_rows : int
        Rows below which it is no log [1].
    may_be_empty : tuple of str
        What a row may leave out: nan then.
    parted : str
        What to do with a file that holds two logs.
    """

    holds: tuple[str, ...]
    needs: tuple[tuple[str, ...], ...]
    first_line: str
    least_rows: int = 10
    may_be_empty: tuple[str, ...] = ()
    parted: str = "put each log into a file of its own"

    @property
    def heads(self) -> tuple[str, ...]:
        """Names that a column may have."""
        return tuple(name for name, (what, _) in HEADS.items() if what in self.holds)


@dataclass(frozen=True)
class LogColumns:
    """The columns of a log as numbers.

    Attributes
    ----------
    subject : str
        The file, for messages.
    text : str
        What it holds.
    names : dict of str to str
        By what a column holds (``time``, ``bath``, ``ware``, ``power``, …): its name in the file.
    numbers : dict of str to ndarray, shape (rows,)
        The same: its numbers [s, °C, W, A, l or 0 and 1]; nan where a cell that may be empty is.
    passed_over : tuple of str
        Columns that were not read.
    """

    subject: str
    text: str
    names: dict[str, str]
    numbers: dict[str, ndarray]
    passed_over: tuple[str, ...] = ()

    @cached_property
    def _lines(self) -> list[int]:
        return [line for line, _ in _rows(self.text)][1:]

    def line(self, row: int) -> str:
        """Where a row stands in the file."""
        return f"line {self._lines[row]}"

    @property
    def began(self) -> datetime | None:
        """Date and time of the first row, where it has them."""
        rows = _rows(self.text)
        place = [cell.strip().lower() for cell in next(rows)[1]].index(self.names["time"].strip().lower())
        try:
            return datetime.fromisoformat(next(rows)[1][place].strip())
        except ValueError:
            return None

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was converted."""
        return tuple(
            f"{name} was converted from {unit}"
            for name in self.names.values()
            for ending, unit in CONVERTED.items()
            if name.endswith(ending)
        )


def first_and_how_many_more(subject: str, issues: Sequence[InputIssue]) -> list[InputIssue]:
    """Keep the first issues of lines, and say that there are more."""
    if len(issues) <= MOST_ISSUES:
        return list(issues)
    return [
        *issues[:MOST_ISSUES],
        InputIssue(subject, "", "more of its lines have an issue", "", "mend these first"),
    ]


def read_columns(
    text: str, subject: str, form: LogForm, called: Mapping[str, str] | None = None
) -> LogColumns:
    """Read the columns of a log; `InputError` with the line of each issue.

    `called` says how the file calls some columns, by the name that they have here; where it is given, columns
    of other names are passed over.
    """
    text = text.replace("\r\n", "\n")
    if SPREADSHEET.match(text):
        text = f"#{text}"  # a note of spreadsheets about what parts the columns
    if not text.strip():
        raise InputError([InputIssue(subject, "", "is empty", "", f"a log: {form.first_line}")])
    if max(map(len, text.split("\n"))) > LONGEST_LINE:
        rule = f"has a line of more than {LONGEST_LINE} characters"
        raise InputError([InputIssue(subject, "", rule, "", "one time and its readings a line")])
    try:
        heads, passed_over = _heads(subject, text, form, called)
        numbers = _all_at_once(text, heads, form) or _cell_by_cell(subject, text, heads, form)
    except csv.Error as error:
        raise InputError([InputIssue(subject, "", "is not CSV", str(error), "one reading a line")]) from error
    return LogColumns(
        subject,
        text,
        {HEADS[name][0]: (called or {}).get(name, name) for name in heads if name},
        {HEADS[name][0]: np.asarray(HEADS[name][1](found)) for name, found in numbers.items()},  # type: ignore[arg-type]
        passed_over,
    )


def _delimiter(text: str) -> str:
    first = next((line for line in text.split("\n") if line.strip() and not line.startswith("#")), "")
    return next((sign for sign in ";\t" if sign in first), ",")


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Number and cells of each line that is neither blank nor a note."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    for row in rows:
        if any(row) and not row[0].startswith("#"):
            yield rows.line_num, row


def _heads(
    subject: str, text: str, form: LogForm, called: Mapping[str, str] | None
) -> tuple[list[str], tuple[str, ...]]:
    """Names of the columns, if they are ones of a log, empty where one is passed over; and those."""
    line, cells = next(_rows(text), (1, [""]))
    at, found = f"line {line}", written(_delimiter(text).join(cells))
    names = [name.strip().lower() for name in cells]
    passed_over: tuple[str, ...] = ()
    if called is not None:
        issues = [
            InputIssue(
                subject, at, f"has no column {written(theirs)}", found, f"name it in --columns: {ours}=…"
            )
            for ours, theirs in called.items()
            if theirs.strip().lower() not in names
        ]
        if issues:
            raise InputError(issues)
        ours_by_theirs = {theirs.strip().lower(): ours for ours, theirs in called.items()}
        renamed = [ours_by_theirs.get(name, name if name not in called else "") for name in names]
        passed_over = tuple(
            cell.strip() for cell, name in zip(cells, renamed, strict=True) if name not in form.heads
        )
        names = [name if name in form.heads else "" for name in renamed]
    holds = [HEADS[name][0] if name in form.heads else "" for name in names]
    if len(names) >= 2 and all(map(_is_number, names[1:])):
        rule = "holds readings, where the names of the columns belong"
        raise InputError(
            [InputIssue(subject, at, rule, found, f"put a first line before it: {form.first_line}")]
        )
    if not any(holds):  # another file, given by mistake, may hold secrets
        rule = f"its first line must be {form.first_line}"
        raise InputError([InputIssue(subject, at, rule, "", "name the columns so")])
    issues = [
        InputIssue(subject, at, f"{written(name)} is no column of a log", "", _meant(name, form))
        for name in names
        if name not in form.heads and called is None
    ]
    fix = "one of each: leave the other column out"
    issues += [
        InputIssue(subject, at, f"has two columns of {what}", found, fix)
        for what in form.holds
        if holds.count(what) > 1
    ]
    if not issues:
        issues = [
            InputIssue(subject, at, f"has no column of {' or '.join(group)}", found, fix)
            for group in form.needs
            for fix in [f"the first line is {form.first_line}"]
            if not set(group) & set(holds)
        ]
    if issues:
        raise InputError(issues)
    return names, passed_over


def _meant(name: str, form: LogForm) -> str:
    """Say which column was meant."""
    bare = name.split("[")[0].split("(")[0].strip().replace(" ", "_")
    starts = [head for head in form.heads if bare and head.startswith(bare)]
    if not bare:
        return "take what parts the columns off the end of every line"
    near = starts[:1] or get_close_matches(bare, form.heads, 1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]}?"
    return f"the columns are {', '.join(form.heads)}; leave others out"


def _all_at_once(text: str, heads: list[str], form: LogForm) -> dict[str, ndarray] | None:
    """Read a log that holds nothing but plain numbers; None where it has to be read cell by cell."""
    if text.startswith("#") or "\n#" in text:
        text = "\n".join(line for line in text.split("\n") if not line.startswith("#"))
    rest = text.partition("\n")[2]
    if "time" in heads or not rest.strip() or any(sign in rest for sign in '"#_'):
        return None
    delimiter = _delimiter(text)
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


def _cell_by_cell(subject: str, text: str, heads: list[str], form: LogForm) -> dict[str, ndarray]:
    """Read any log, or say what is wrong with which line."""
    rows = _rows(text)
    first_line = next(rows)[1]
    delimiter, many = _delimiter(text), len(heads)
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


def _is_number(text: str) -> bool:
    return _numbers([text]) is not None
