"""Tables and paragraphs of plain text that stay within the width of the terminal."""

from __future__ import annotations

import re
import shlex
import textwrap
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

NARROWEST, USUAL, WIDEST = 40, 80, 200
"""Widths of a terminal that answers are laid out for; `USUAL` where there is no terminal."""

LONGEST_PROSE = 80
"""Tables and charts use all of a wide terminal; longer lines of prose are hard to read."""

LEAST_ROOM = 20
"""Columns beside a label that prose needs; where they are not there it begins on the next line."""

NOTHING = "-"
AFTER_NUMBER = re.compile(r"(?<=\d) (?=\S)")
GLUE = "\0"

TITLE, ROW, CELL = "\2", "\3", "\37"
"""What `marked` puts before a title and before a row of a table, and between the cells of a row."""

_width = ContextVar("page_width", default=USUAL)
_marked = ContextVar("marked", default=False)


def page_width() -> int:
    """Width in which answers are laid out, in columns of the terminal."""
    return _width.get()


@contextmanager
def pages_of(width: int) -> Iterator[None]:
    """Lay out for a terminal of this width; one beyond `NARROWEST` or `WIDEST` counts as these."""
    token = _width.set(min(max(width, NARROWEST), WIDEST))
    try:
        yield
    finally:
        _width.reset(token)


@contextmanager
def marked() -> Iterator[None]:
    """Lay out for a page of HTML: a paragraph is one line, and titles and rows of tables carry marks."""
    token = _marked.set(True)
    try:
        yield
    finally:
        _marked.reset(token)


def wrapped(text: str, first: str = "", rest: str | None = None) -> str:
    """Break a paragraph into lines.

    A number stays on one line with its unit, and no word is cut, so that a path can be copied: only a single
    word can be wider than the page.

    Parameters
    ----------
    text : str
        The paragraph.
    first : str
        What its first line starts with, for example a label.
    rest : str, optional
        What the other lines start with; blanks as wide as `first` where left out.

    Returns
    -------
    str
        The lines.
    """
    if _marked.get():
        return first + text
    width = min(page_width(), LONGEST_PROSE)
    if rest is None and first.strip() and width - len(first) < LEAST_ROOM:
        margin = " " * (len(first) - len(first.lstrip()))
        return "\n".join([first.rstrip(), wrapped(text, margin or "  ")])
    indent = " " * len(first) if rest is None else rest
    room = width - max(len(first), len(indent))
    words = AFTER_NUMBER.sub(GLUE, text).split(" ")
    filled = textwrap.fill(
        " ".join(word if len(word) <= room else word.replace(GLUE, " ") for word in words),
        width,
        initial_indent=first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return filled.replace(GLUE, " ")


def bullets(texts: Iterable[str]) -> str:
    """Give each text a paragraph with a dash before it."""
    return "\n".join(wrapped(text, "- ") for text in texts)


def section(title: str, body: str) -> str:
    """Put a title over a part of an answer."""
    return f"{TITLE if _marked.get() else ''}{wrapped(title)}\n{body}"


def command_line(words: Sequence[str], indent: str = "") -> str:
    """Write a command so that it can be copied; where it is too wide a backslash stands before a line end."""
    whole = indent + shlex.join(words)
    if len(whole) <= page_width():
        return whole
    parts = list[str]()
    for word in map(shlex.quote, words):
        if parts and parts[-1].startswith("--") and " " not in parts[-1] and not word.startswith("--"):
            parts[-1] += f" {word}"  # an option and its value stay together
        else:
            parts.append(word)
    lines = [indent + parts[0]]
    for part in parts[1:]:
        if len(lines[-1]) + len(part) + len("  \\") <= page_width():
            lines[-1] += f" {part}"
        else:
            lines.append(f"{indent}  {part}")
    return " \\\n".join(lines)


def columns(rows: Sequence[Sequence[str]], left: int = 1, keys: int = 1) -> str:
    """Line up rows of cells, in several tables below each other where one would be too wide."""
    if _marked.get():
        return "\n".join(_marks(rows))
    tables = []
    for group in _groups(rows, keys, 0):
        cells = [[row[at] for at in group] for row in rows]
        cells = [row for row in cells if any(map(str.strip, row))]  # no line of units where none has one
        tables.append("\n".join(_lines(cells, sum(at < left for at in group), "")))
    return "\n\n".join(tables)


def column_lines(rows: Sequence[Sequence[str]], left: int = 0, indent: str = "") -> list[str]:
    """Line up rows of cells, for tables that put words between the lines."""
    if _marked.get():
        return _marks(rows)
    lines = []
    for group in _groups(rows, 0, len(indent)):
        cells = [[row[at] for at in group] for row in rows]
        lines.append(_lines(cells, sum(at < left for at in group), indent))
    return ["\n".join(parts) for parts in zip(*lines, strict=True)]


def _marks(rows: Sequence[Sequence[str]]) -> list[str]:
    return [ROW + CELL.join(cell.strip() for cell in row) for row in rows]


def _groups(rows: Sequence[Sequence[str]], keys: int, indent: int) -> list[list[int]]:
    """Share columns out among tables that are narrow enough, each with the key columns."""
    widths = [max(map(_width_of, cells)) for cells in zip(*rows, strict=True)]
    groups = [list(range(keys))]
    for at in range(keys, len(widths)):
        wider = [*groups[-1], at]
        if len(groups[-1]) > keys and indent + sum(widths[i] + 1 for i in wider) - 1 > page_width():
            groups.append([*range(keys), at])
        else:
            groups[-1] = wider
    return groups


def _lines(rows: Sequence[Sequence[str]], left: int, indent: str) -> list[str]:
    """Lay out one table; columns stand two blanks apart, or one where two would be too wide."""
    widths = [max(map(_width_of, cells)) for cells in zip(*rows, strict=True)]
    gap = "  " if len(indent) + sum(widths) + 2 * (len(widths) - 1) <= page_width() else " "
    if len(indent) + sum(widths) + len(widths) - 1 > page_width():
        return [_broken(row, widths[:-1], indent) for row in rows]
    lines = []
    for row in rows:
        padding = [" " * (width - _width_of(cell)) for cell, width in zip(row, widths, strict=True)]
        cells = [cell + blanks for cell, blanks in zip(row[:left], padding[:left], strict=True)]
        cells += [blanks + cell for cell, blanks in zip(row[left:], padding[left:], strict=True)]
        lines.append((indent + gap.join(cells)).rstrip())
    return lines


def _broken(row: Sequence[str], widths: Sequence[int], indent: str) -> str:
    """Lay out a row whose last cell is too wide for the page."""
    keys = "".join(f"{cell:<{width}} " for cell, width in zip(row[:-1], widths, strict=True))
    return wrapped(row[-1], indent + keys) if row[-1] else (indent + keys).rstrip()


def _width_of(text: str) -> int:
    """Columns that a text takes: letters of East Asia take two, marks over letters none."""
    if text.isascii():
        return len(text)
    wide = sum(unicodedata.east_asian_width(sign) in "WF" for sign in text)
    return len(text) + wide - sum(map(bool, map(unicodedata.combining, text)))
