"""The constants as CSV (RFC 4180): one row a number, for a spreadsheet or a script.

A spreadsheet may save it again with quotes, in another order of rows, or with semicolons or tabs between the
cells, as it does where the comma is the decimal sign.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from optimizer.emit.opening import harmless
from optimizer.emit.sheet import Form, Ranges, Sheet, Statement, UnreadableError, whole
from optimizer.profile.messages import written
from optimizer.profile.shipped import PROFILE_KINDS

HEAD = ("name", "unit", "value", "low", "high", "comment")
CAUTION = "caution"
_OTHER_CELLS = r"\2".join(rf"\1{cell}\1" for cell in HEAD[1:])
SIGN = re.compile(rf"""\A\s*("?)name\1([,;\t]){_OTHER_CELLS}\s*$""", re.MULTILINE)


def _write(sheet: Sheet) -> str:
    rows: list[tuple[object, ...]] = [HEAD]
    rows += [(kind, "", "", "", "", harmless(title)) for kind, title in sheet.titles.items()]
    rows.append(("input_sha256", "", sheet.input_sha256, "", "", "hash of the profiles behind the numbers"))
    notes = [*sheet.top, *(note for _, notes in sheet.rounds() for note in notes)]
    for note in notes:
        comment = "; ".join(filter(None, (note.meaning, note.aside)))
        ends = ("", "") if note.follows else (note.low, note.high)
        rows.append((note.name, note.unit, note.value, *ends, comment))
    rows += [(CAUTION, "", "", "", "", caution) for caution in sheet.cautions]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _statements(text: str) -> Iterator[Statement]:
    """Name, unit and value of every row; ranges, comments, titles and cautions are only words."""
    sign = SIGN.match(text)
    rows = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=sign[2] if sign else ",")
    try:
        next(rows, None)
        for row in rows:
            place = f"line {rows.line_num}"
            if row and len(row) != len(HEAD):
                rule = f"must have {len(HEAD)} cells: {', '.join(HEAD)}"
                raise UnreadableError((place, rule, str(len(row))))
            if row and not (row[0] in (CAUTION, *PROFILE_KINDS) and row[1] == row[2] == ""):
                yield Statement(place, ",".join(row[:3]))
    except csv.Error as error:
        raise UnreadableError((f"line {rows.line_num}", f"is not CSV: {error}", "")) from error


def _printed(text: str) -> Ranges:
    """Read the ranges in the rows that have one; what is no range is only words."""
    sign = SIGN.match(text)
    rows = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=sign[2] if sign else ",")
    found = {}
    for row in rows:
        low, high = (whole(cell) for cell in row[3:5]) if len(row) == len(HEAD) else (None, None)
        if low is not None and high is not None:
            found[CSV.shown(row[0])] = low, high
    return found


CSV = Form(
    sign=SIGN,
    write=_write,
    statements=_statements,
    named=re.compile(r"(?P<name>[^,]*),[^,]*,(?P<value>[^,]*)"),
    shown=lambda name: name if name.isidentifier() else written(name),
    literal=lambda _, value: str(value),
    value=lambda _, literal: whole(literal),
    quote="",
    ordered=False,
    printed=_printed,
)
