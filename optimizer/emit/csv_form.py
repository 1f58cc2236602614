"""The constants as CSV (RFC 4180): one row a number, for a spreadsheet or a script."""

from __future__ import annotations

import csv
import io

from optimizer.emit.notes import limits_of, notes
from optimizer.emit.numbers import names, unit_of
from optimizer.emit.opening import cautions, harmless
from optimizer.emit.reading import Reader
from optimizer.profile.messages import written
from optimizer.programme.plan import Plan

HEAD = ("name", "unit", "value", "low", "high", "comment")
CAUTION = "caution"
TITLES = ("machine", "goal", "circuit", "tariff")
HASH = "input_sha256"


def to_csv(plan: Plan) -> str:
    """Write the constants of a plan as CSV.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    str
        Rows of name, unit, value, range and comment; titles and cautions are rows without a value.
    """
    noted = notes(plan, limits_of(plan))
    inputs = plan.inputs
    profiles = (inputs.machine, inputs.goal, inputs.circuit, inputs.tariff)
    rows: list[tuple[object, ...]] = [HEAD]
    rows += [(profile.kind, "", "", "", "", harmless(profile.title)) for profile in profiles]
    rows.append((HASH, "", plan.constants.input_sha256, "", "", "hash of the profiles behind the numbers"))
    for name in names(len(plan.constants.rounds)):
        note = noted[name]
        comment = "; ".join(filter(None, (note.meaning, note.aside)))
        rows.append((name, note.unit, note.value, note.low, note.high, comment))
    rows += [(CAUTION, "", "", "", "", caution) for caution in cautions(plan)]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def read_csv(text: str, subject: str) -> Reader:
    """Read constants from CSV.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Reader
        The numbers, and what is wrong with them. Ranges and comments are not read: they bind nobody.
    """
    reader = Reader(subject, lambda name: name if name.isidentifier() else written(name))
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        for row in rows:
            if rows.line_num > 1 and row:
                _take_row(reader, row, f"line {rows.line_num}")
    except csv.Error as error:
        reader.issue(f"line {rows.line_num}", f"is not CSV: {error}")
    return reader


def _take_row(reader: Reader, row: list[str], place: str) -> None:
    if len(row) != len(HEAD):
        reader.issue(place, f"must have {len(HEAD)} cells: {', '.join(HEAD)}", str(len(row)))
        return
    name, unit, value, *_ = row
    if name in (CAUTION, *TITLES):
        if unit or value:
            reader.issue(f"{place}, {name}", "has neither unit nor value", written(unit or value))
    elif name == HASH:
        reader.take_sha256(value, place)
    elif unit != unit_of(name):
        reader.refuse(name, place, f"its unit is {unit_of(name)}", written(unit))
    else:
        reader.take_text(name, value, place)
