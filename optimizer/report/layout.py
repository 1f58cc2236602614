"""Tables and paragraphs of plain text that stay within the width of a terminal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

WIDTH = 80
NOTHING = "-"
AFTER_NUMBER = re.compile(r"(?<=\d) (?=\S)")
GLUE = "\0"


def wrapped(text: str, first: str = "", rest: str | None = None) -> str:
    """Break a paragraph at the width; no word is cut, so that a path can be copied.

    A number stays on one line with its unit.

    Parameters
    ----------
    text : str
        The paragraph.
    first : str
        What its first line starts with.
    rest : str, optional
        What the other lines start with; blanks as wide as `first` where left out.

    Returns
    -------
    str
        The lines.
    """
    indent = " " * len(first) if rest is None else rest
    filled = textwrap.fill(
        AFTER_NUMBER.sub(GLUE, text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return filled.replace(GLUE, " ")


def columns(rows: Sequence[Sequence[str]], left: int = 1) -> str:
    """Line up rows of cells; columns stand two blanks apart, or one where two would be too wide.

    Parameters
    ----------
    rows : sequence of sequence of str
        The cells, heads included; each row has as many.
    left : int
        How many columns are flush left; the others are flush right [1].

    Returns
    -------
    str
        One line a row.
    """
    widths = [max(map(len, cells)) for cells in zip(*rows, strict=True)]
    gap = "  " if sum(widths) + 2 * (len(widths) - 1) <= WIDTH else " "
    lines = []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row[:left], widths[:left], strict=True)]
        cells += [cell.rjust(width) for cell, width in zip(row[left:], widths[left:], strict=True)]
        lines.append(gap.join(cells).rstrip())
    return "\n".join(lines)
