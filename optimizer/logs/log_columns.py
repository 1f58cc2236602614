"""The columns of a log: how its first line names them, and their numbers.

Every log of a machine is read here, whoever wrote it; a `LogForm` says which columns a reader takes and which
it cannot do without.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.logs.log_cells import all_at_once, cell_by_cell, delimiter_of, is_number, rows_of
from optimizer.logs.log_form import CONVERTED, HEADS, LogForm
from optimizer.profile.messages import written

if TYPE_CHECKING:
    from numpy import ndarray

SPREADSHEET = re.compile(r"sep=.\n")
LONGEST_LINE = 500
"""A line of a log is some forty characters [1]."""


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
        return [line for line, _ in rows_of(self.text)][1:]

    def line(self, row: int) -> str:
        """Where a row stands in the file."""
        return f"line {self._lines[row]}"

    @property
    def began(self) -> datetime | None:
        """Date and time of the first row, where it has them."""
        rows = rows_of(self.text)
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
        numbers = all_at_once(text, heads, form) or cell_by_cell(subject, text, heads, form)
    except csv.Error as error:
        raise InputError([InputIssue(subject, "", "is not CSV", str(error), "one reading a line")]) from error
    return LogColumns(
        subject,
        text,
        {HEADS[name][0]: (called or {}).get(name, name) for name in heads if name},
        {HEADS[name][0]: np.asarray(HEADS[name][1](found)) for name, found in numbers.items()},  # type: ignore[arg-type]
        passed_over,
    )


def _heads(
    subject: str, text: str, form: LogForm, called: Mapping[str, str] | None
) -> tuple[list[str], tuple[str, ...]]:
    """Names of the columns, if they are ones of a log, empty where one is passed over; and those."""
    line, cells = next(rows_of(text), (1, [""]))
    at, found = f"line {line}", written(delimiter_of(text).join(cells))
    names = [name.strip().lower() for name in cells]
    passed_over: tuple[str, ...] = ()
    if called is not None:
        issues = [
            InputIssue(
                subject, at, f"has no column {written(theirs)}", found, f"one of these: --columns {ours}=NAME"
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
    if len(names) >= 2 and all(map(is_number, names[1:])):
        rule = "holds readings, where the names of the columns belong"
        raise InputError(
            [InputIssue(subject, at, rule, found, f"put a first line before it: {form.first_line}")]
        )
    if not any(holds):  # another file, given by mistake, may hold secrets
        rule = f"its first line must be {form.first_line}"
        raise InputError([InputIssue(subject, at, rule, "", f"name the columns so{form.or_said}")])
    issues = [
        InputIssue(
            subject, at, f"{written(name)} is no column of a log", "", _meant(name, cell.strip(), form)
        )
        for name, cell in zip(names, cells, strict=True)
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


def _meant(name: str, cell: str, form: LogForm) -> str:
    """Say which column was meant, and how to say so without editing the file."""
    bare = name.split("[")[0].split("(")[0].strip().replace(" ", "_")
    starts = [head for head in form.heads if bare and head.startswith(bare)]
    if not bare:
        return "take what parts the columns off the end of every line"
    near = get_close_matches(bare, form.heads, 1, cutoff=0.6)
    # Of what one probe may be called, nothing but its unit is a guess: °C comes first.
    of_probe = [head for head in form.heads if near and head.split("_")[0] == bare.split("_")[0]]
    near = starts[:1] or ([] if bare in near else of_probe[:1]) or near
    if near and form.or_said:
        return f"did you mean {near[0]}? Name it so, or say --columns {near[0]}={cell}"
    if near:
        return f"did you mean {near[0]}?"
    others = "leave others out"
    if form.or_said:
        others = f"--columns NAME={cell} says which of them it is; where it names one, others are passed over"
    return f"the columns are {', '.join(form.heads)}; {others}"
