"""The trial book: one line for each wash and soil, as TOML or as CSV."""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, field_validator, model_validator

from optimizer.errors import InputError, InputIssue, attempt
from optimizer.files import read_text
from optimizer.profile.did_you_mean import choice_meant
from optimizer.profile.load import parse_toml
from optimizer.profile.measured import Breach, ProfileModel, Quantity, TextForm, broken, refuse
from optimizer.profile.messages import issues_of, written

WASH = TextForm(
    "[A-Za-z0-9][A-Za-z0-9._-]{0,23}", "1 to 24 letters, digits, . _ and -, a letter or a digit first", "w1"
)
SOIL = TextForm("[a-z][a-z0-9-]{0,23}", "the name of a dose of the goal, in small letters", "grease")
FILE = TextForm(r"[^\x00-\x1f\x7f]{1,400}", "the path of a file", "plan.json")
MOST_PIECES = 500
"""Most pieces of one wash [1]."""
MOST_LINES = 400
"""Most lines of a book [1]: one that is longer holds something else."""
FIRST_DAY = datetime.date(1970, 1, 1)
KIND = "trials"
COLUMNS = ("wash", "date", "soil", "plan", "log", "minutes", "ware_c", "pieces", "clean", "remark")
"""Columns of a book in CSV; those that no line fills may be left out."""
NEEDED = ("wash", "date", "soil", "pieces", "clean")
NUMBERS = {"minutes": float, "ware_c": float, "pieces": int, "clean": int}
TELLING = re.compile("wash|soil|pieces|clean", re.IGNORECASE)
"""What the first line of a file that is meant to be a trial book in CSV has in it."""


class Trial(ProfileModel):
    """One soil in one wash: what the ware was given, and how many pieces came out clean.

    What the ware was given is said by a ``plan`` that ran, by a ``log`` (with the plan, where there is
    one), or by hand: ``minutes`` of spray with the ware at ``ware_c``.
    """

    wash: Annotated[str, WASH]
    date: datetime.date
    soil: Annotated[str, SOIL]
    plan: Annotated[str, FILE] | None = None
    log: Annotated[str, FILE] | None = None
    minutes: Annotated[float, Quantity("min", 0.05, 600, 12, "spray with detergent at ware_c")] | None = None
    ware_c: Annotated[float, Quantity("°C", 5, 95, 50, "thermometer on a piece of ware")] | None = None
    pieces: Annotated[int, Quantity("1", 1, MOST_PIECES, 12, "pieces with this soil that were washed")]
    clean: Annotated[int, Quantity("1", 0, MOST_PIECES, 9, "how many of them came out clean")]
    remark: str = ""

    @field_validator("date", mode="before")
    @classmethod
    def _a_day(cls, value: Any) -> Any:
        if isinstance(value, str):
            try:
                value = datetime.date.fromisoformat(value)
            except ValueError:
                value = None
        if type(value) is not datetime.date or value < FIRST_DAY:
            raise broken("must be a day, year first", "2026-03-02")
        return value

    @model_validator(mode="after")
    def _makes_sense(self) -> Trial:
        found = []
        if self.clean > self.pieces:
            rule = f"more came out clean than were washed ({self.pieces} pieces)"
            found.append(Breach(("clean",), self.clean, rule, f"0 to {self.pieces}"))
        by_hand = self.minutes is not None or self.ware_c is not None
        if by_hand and (self.plan or self.log):
            key = "minutes" if self.minutes is not None else "ware_c"
            rule = "stands beside a plan or a log, which says what the ware was given"
            found.append(
                Breach((key,), getattr(self, key), rule, "leave minutes and ware_c out, or the files")
            )
        elif by_hand and (self.minutes is None or self.ware_c is None):
            key = "ware_c" if self.ware_c is None else "minutes"
            rule = "is missing: by hand a wash has both minutes and ware_c"
            found.append(Breach((key,), None, rule, f"{key} = {'50' if key == 'ware_c' else '12'}"))
        elif not by_hand and not self.plan and not self.log:
            rule = "is missing: a wash has a plan, a log, or minutes with ware_c"
            found.append(Breach(("plan",), None, rule, 'plan = "plan.json", the file of the plan that ran'))
        refuse(found)
        return self

    @property
    def given(self) -> tuple[object, ...]:
        """What the ware was given."""
        return (self.plan, self.log, self.minutes, self.ware_c)


class BookFile(ProfileModel):
    """A trial book in TOML."""

    kind: Literal["trials"]
    title: Annotated[str, TextForm(r"[^\x00-\x1f\x7f]{1,70}", "a title of 1 to 70 characters", "Trials")] = ""
    goal: Annotated[str, FILE] | None = None
    trial: Annotated[list[Trial], Field(default_factory=list)]


@dataclass(frozen=True)
class Book:
    """A trial book.

    Attributes
    ----------
    path : Path
        Its file; paths in it start from its folder.
    goal : str or None
        The goal that it names, as it stands in it.
    trials : tuple of Trial
        Its lines.
    places : tuple of str
        Where each line stands, for the messages.
    """

    path: Path
    goal: str | None
    trials: tuple[Trial, ...]
    places: tuple[str, ...]

    @property
    def soils(self) -> tuple[str, ...]:
        """The soils in it, in the order in which they come."""
        return tuple(dict.fromkeys(line.soil for line in self.trials))

    def issue(self, at: int, key: str, rule: str, found: str, fix: str) -> InputIssue:
        """Make an issue of a line."""
        return InputIssue(str(self.path), f"{self.places[at]}{key}", rule, found, fix)


def read_book(path: Path) -> Book:
    """Read a trial book: CSV where its name ends in ``.csv``, else TOML; `InputError` with every issue."""
    text = read_text(path, "trial book")
    book = _from_csv(path, text) if path.suffix.lower() == ".csv" else _from_toml(path, text)
    if len(book.trials) > MOST_LINES:
        rule, fix = f"has more than {MOST_LINES} lines", "a book for each soil"
        raise InputError([InputIssue(str(path), "", rule, str(len(book.trials)), fix)])
    if issues := [*_duplicates(book), *_out_of_order(book)]:
        raise InputError(issues)
    return book


def _from_toml(path: Path, text: str) -> Book:
    subject = str(path)
    data = parse_toml(text, subject)
    said = data.get("kind")
    if said != KIND:
        rule = 'must be "trials" here' if said is not None else "is missing"
        fix = f'kind = "{KIND}" as the first line, or give a trial book (scullion profiles new trials FILE)'
        raise InputError([InputIssue(subject, "kind", rule, written(said), fix)])
    try:
        stored = BookFile.model_validate(data)
    except ValidationError as error:
        raise InputError(issues_of(error, BookFile, subject)) from error
    places = tuple(f"trial[{number}]." for number in range(1, len(stored.trial) + 1))
    return Book(path, stored.goal, tuple(stored.trial), places)


def _from_csv(path: Path, text: str) -> Book:
    """Columns parted by commas, or by semicolons or tabs, with which a number may have a decimal comma."""
    subject = str(path)
    rows, delimiter = _csv_rows(text, subject)
    head = [name.lower() for name in rows[0][1]] if rows else []
    issues = list(_wrong_head(subject, head, rows[0][0] if rows else 1, text))
    if issues:
        raise InputError(issues)
    lines, places = [], []
    for number, cells in rows[1:]:
        place = f"line {number}"
        line = attempt(issues, partial(_csv_line, subject, place, head, cells, delimiter))
        if line is not None:
            lines.append(line)
            places.append(f"{place}, ")
    if issues:
        raise InputError(issues)
    return Book(path, None, tuple(lines), tuple(places))


def _csv_rows(text: str, subject: str) -> tuple[list[tuple[int, list[str]]], str]:
    """Split a CSV text into rows with their line numbers; lines that are empty or begin with # are left
    out."""
    kept = [("" if line.lstrip().startswith("#") else line) for line in text.split("\n")]
    first = next((line for line in kept if line.strip()), "")
    delimiter = next((sign for sign in ";\t" if sign in first), ",")
    rows = csv.reader(io.StringIO("\n".join(kept), newline=""), delimiter=delimiter)
    try:
        found = [(rows.line_num, [cell.strip() for cell in row]) for row in rows if any(map(str.strip, row))]
    except csv.Error as error:
        place, fix = f"line {rows.line_num}", "one line for each wash and soil"
        raise InputError([InputIssue(subject, place, "is not CSV", str(error), fix)]) from error
    return found, delimiter


def _wrong_head(subject: str, head: list[str], number: int, text: str) -> Iterator[InputIssue]:
    place, all_of = f"line {number}", ",".join(COLUMNS)
    if not TELLING.search(",".join(head)):  # another file, given by mistake, may hold secrets
        rule = f"the first line must name the columns: {all_of}"
        yield InputIssue(
            subject, place, rule, "", "scullion profiles new trials book.csv writes one to fill in"
        )
        return
    for name in head:
        if name not in COLUMNS:
            meant = choice_meant(name, COLUMNS)
            fix = f"did you mean {meant}?" if meant else f"one of {all_of}"
            yield InputIssue(subject, place, "is no column of a trial book", written(name), fix)
    for name in COLUMNS:
        if head.count(name) > 1:
            yield InputIssue(subject, place, "a column stands twice", written(name), "leave one of them out")
    if missing := [name for name in NEEDED if name not in head]:
        many = f"the columns {', '.join(missing)} are" if len(missing) > 1 else f"the column {missing[0]} is"
        yield InputIssue(subject, place, f"{many} missing", "", f"the columns: {all_of}")


def _csv_line(subject: str, place: str, head: list[str], cells: list[str], delimiter: str) -> Trial:
    if len(cells) != len(head):
        rule = f"must have {len(head)} columns, as the first line has"
        fix = "a cell for every column, empty where there is nothing; quotes around a remark with a comma"
        if delimiter == "," and len(cells) > len(head):
            fix += "; a decimal point in every number, or semicolons between the columns of every line"
        raise InputError([InputIssue(subject, place, rule, str(len(cells)), fix)])
    data = {name: _value(name, cell, delimiter) for name, cell in zip(head, cells, strict=True) if cell}
    try:
        return Trial.model_validate(data)
    except ValidationError as error:
        found = issues_of(error, Trial, subject)
        raise InputError([replace(one, key=f"{place}, {one.key}") for one in found]) from error


def _value(name: str, cell: str, delimiter: str) -> object:
    """Turn a cell into the number that its column holds; a text stays one, and the line's rules refuse it."""
    number = NUMBERS.get(name)
    if number is None:
        return cell
    try:
        return number(cell.replace(",", ".") if delimiter != "," and number is float else cell)
    except ValueError:
        return cell


def _duplicates(book: Book) -> Iterator[InputIssue]:
    """Each soil once a wash; and all lines of a wash agree on what it was."""
    first: dict[str, int] = {}
    seen: Mapping[tuple[str, str], int] = {}
    for at, line in enumerate(book.trials):
        before = first.setdefault(line.wash, at)
        same_soil = seen.get((line.wash, line.soil))
        seen = {**seen, (line.wash, line.soil): at} if same_soil is None else seen
        where = book.places[before].rstrip("., ")
        if same_soil is not None:
            rule = f"has the wash and the soil of {book.places[same_soil].rstrip('., ')}"
            fix = "one line for each wash and soil; another wash has another name"
            yield book.issue(at, "wash", rule, written(f"{line.wash} {line.soil}"), fix)
        elif line.date != book.trials[before].date:
            fix = "another name for another wash"
            yield book.issue(
                at, "date", f"is not the day that {where} has for this wash", str(line.date), fix
            )
        elif line.given != book.trials[before].given:
            rule = f"does not say the same as {where} about what the ware was given in this wash"
            yield book.issue(at, "wash", rule, written(line.wash), "the same plan, log, minutes and ware_c")


def _out_of_order(book: Book) -> Iterator[InputIssue]:
    for at in range(1, len(book.trials)):
        before, day = book.trials[at - 1].date, book.trials[at].date
        if day < before:
            rule = f"is earlier than the line before ({before})"
            yield book.issue(at, "date", rule, str(day), "lines in the order of the washes; look at the year")
