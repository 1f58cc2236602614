"""Takes an answer's words apart, as `marked` lays them out: titles, paragraphs, lists, tables, commands."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from optimizer.report.layout import CELL, NOTHING, ROW, TITLE

CAUTIONS = "CAUTIONS"
"""Title of the section that comes first on a page."""

BAR = re.compile(r"[█·]{6,}")
"""A bar of blocks, which a page has no need of beside its chart."""

FIGURE = re.compile(rf"[-−+<>≤≥~]?\d.*|{re.escape(NOTHING)}|")
COMMAND = re.compile(r" +scullion ")


@dataclass
class Item:
    """A line of a list, with the lines that belong to it."""

    text: str
    more: list[str] = field(default_factory=list)


@dataclass
class TableRow:
    """A row of a table, with the lines of words below it."""

    cells: list[str]
    words: list[str] = field(default_factory=list)


@dataclass
class Part:
    """A part of a section; its form is ``text``, ``list``, ``table`` or, to be copied, ``plain``."""

    form: str
    text: str = ""
    items: list[Item] = field(default_factory=list)
    rows: list[TableRow] = field(default_factory=list)


@dataclass
class Table:
    """A table as a page has it: names and units of its columns, which of them hold words, and its rows."""

    names: list[str]
    units: list[str]
    words: list[bool]
    rows: list[TableRow]


@dataclass
class Block:
    """A section of an answer."""

    title: str
    parts: list[Part]


def blocks_of(text: str) -> list[Block]:
    """Take the sections of an answer apart."""
    return [_block(lines.split("\n")) for lines in text.split("\n\n") if lines.strip()]


def _block(lines: Sequence[str]) -> Block:
    title = ""
    first = lines[0]
    if first.startswith(TITLE) or (len(lines) > 1 and first.isupper()):
        title, lines = first.removeprefix(TITLE), lines[1:]
    parts: list[Part] = []
    for line in lines:
        _add(parts, line)
    return Block(title if title == CAUTIONS else _lowered(title), parts)


def _lowered(title: str) -> str:
    """Write words in capitals, as a terminal has its titles, as a page has them."""
    lowered = re.sub(r"\b[A-Z-]{2,}\b", lambda found: found[0].lower(), title)
    return lowered[:1].upper() + lowered[1:]


def _add(parts: list[Part], line: str) -> None:
    last = parts[-1] if parts else None
    if line.startswith(ROW):
        if last is None or last.form != "table":
            parts.append(Part("table"))
        parts[-1].rows.append(TableRow(line.removeprefix(ROW).split(CELL)))
    elif line.startswith("- "):
        if last is None or last.form != "list":
            parts.append(Part("list"))
        parts[-1].items.append(Item(line[2:]))
    elif COMMAND.match(line) or "   " in line.strip():
        if last is None or last.form != "plain":
            parts.append(Part("plain", line.strip()))
        else:
            last.text += f"\n{line.strip()}"
    elif line.startswith("  ") and last is not None and last.form == "list":
        last.items[-1].more.append(line.strip())
    elif line.startswith("  ") and last is not None and last.form == "table":
        last.rows[-1].words.append(line.strip())
    elif line.strip():
        parts.append(Part("text", line.strip()))


def table_of(part: Part) -> Table:
    """Tell the names and units of a table from its rows, and leave out columns of bars and of nothing.

    Words below a row are what it is about, and come first.
    """
    rows = part.rows
    if any(row.words for row in rows):
        heads = next(at for at, row in enumerate(rows) if row.words)
        said = [["what"], *([""] for _ in rows[1:heads])]
        cells = [[*said[at], *row.cells] for at, row in enumerate(rows[:heads])]
        cells += [[row.words[0] if row.words else "", *row.cells] for row in rows[heads:]]
        words = [row.words[1:] for row in rows[heads:]]
    else:
        cells, heads = [row.cells for row in rows], 2 if len(rows) > 2 and not rows[1].cells[0] else 1
        words = [[] for _ in rows[heads:]]
    kept = [at for at in range(len(cells[0])) if any(_tells(row[at]) for row in cells[heads:])]
    cells = [[row[at] for at in kept] for row in cells]
    body = cells[heads:]
    return Table(
        names=cells[0],
        units=cells[1] if heads > 1 else [""] * len(kept),
        words=[
            2 * sum(bool(FIGURE.fullmatch(row[at])) for row in body) < len(body) for at in range(len(kept))
        ],
        rows=[TableRow(row, more) for row, more in zip(body, words, strict=True)],
    )


def _tells(cell: str) -> bool:
    return bool(cell) and not BAR.fullmatch(cell)


def caution_groups_of(block: Block) -> list[tuple[str, list[str]]]:
    """Give the sentences of a section of cautions by their headings; one without has an empty heading."""
    return list(_groups(block.parts))


def _groups(parts: Sequence[Part]) -> Iterator[tuple[str, list[str]]]:
    for before, part in pairwise([Part("text"), *parts]):
        if part.form == "list":
            yield before.text.removesuffix(":"), [item.text for item in part.items]
