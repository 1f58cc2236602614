"""The constants as CSV (RFC 4180): one row a number, for a spreadsheet or a script.

A spreadsheet may save it again with quotes, in another order of rows, or with semicolons or tabs between the
cells, as it does where the comma is the decimal sign.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence

from optimizer.emit.meanings import MEANT_FOR
from optimizer.emit.one_form import Form, Ranges, Statement, UnreadableError, whole
from optimizer.emit.opening import harmless
from optimizer.emit.several import Several
from optimizer.emit.sheet import Note, Sheet
from optimizer.profile.messages import written
from optimizer.profile.shipped import PROFILE_KINDS

HEAD = ("name", "unit", "value", "low", "high", "comment")
CAUTION = "caution"
_OTHER_CELLS = r"\2".join(rf"\1{cell}\1" for cell in HEAD[1:])
SIGN = re.compile(rf"""\A\s*("?)name\1([,;\t]){_OTHER_CELLS}\s*$""", re.MULTILINE)


def _write(sheet: Sheet) -> str:
    rows: list[tuple[object, ...]] = [HEAD]
    rows += [(kind, "", "", "", "", harmless(title)) for kind, title in sheet.titles.items()]
    if sheet.meant_for:
        rows.append((MEANT_FOR, "", "", "", "", sheet.meant_for))
    rows.append(("input_sha256", "", sheet.input_sha256, "", "", "hash of the profiles behind the numbers"))
    rows += map(_row, [*sheet.top, *sheet.facts, *(note for _, notes in sheet.rounds() for note in notes)])
    return _text(rows, sheet.cautions)


def _write_several(several: Several) -> str:
    rows: list[tuple[object, ...]] = [HEAD]
    rows += [(kind, "", "", "", "", harmless(title)) for kind, title in several.titles.items()]
    rows += map(_row, (*several.shared, *several.facts))
    for one in several.programmes:
        if title := one.sheet.titles.get("goal"):
            rows.append(("goal", "", "", "", "", harmless(f"{one.name}: {title}")))
        if one.sheet.meant_for:
            rows.append((MEANT_FOR, "", "", "", "", f"{one.name}: {one.sheet.meant_for}"))
        comments = ("name of the programme", "hash of the profiles behind its numbers")
        texts = zip(one.texts.items(), comments, strict=True)
        rows += [(name, "", text, "", "", comment) for (name, text), comment in texts]
        rows += map(_row, [*one.top, *(note for _, notes in one.rounds() for note in notes)])
    return _text(rows, several.cautions)


def _row(note: Note) -> tuple[object, ...]:
    comment = "; ".join(filter(None, (note.meaning, note.aside)))
    ends = ("", "") if note.follows else (note.low, note.high)
    return (note.name, note.unit, note.value, *ends, comment)


def _text(rows: list[tuple[object, ...]], cautions: Sequence[str]) -> str:
    rows = [*rows, *((CAUTION, "", "", "", "", caution) for caution in cautions)]
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
            if row and not (row[0] in (CAUTION, MEANT_FOR, *PROFILE_KINDS) and row[1] == row[2] == ""):
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
    write_several=_write_several,
    statements=_statements,
    named=re.compile(r"(?P<name>[^,]*),[^,]*,(?P<value>[^,]*)"),
    shown=lambda name: name if name.isidentifier() else written(name),
    literal=lambda _, value: str(value),
    value=lambda _, literal: whole(literal),
    quote="",
    ordered=False,
    printed=_printed,
)
