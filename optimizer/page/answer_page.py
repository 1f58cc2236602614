"""The page of any answer with a table: verdict, cautions, the table to be sorted, and all of it in words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from optimizer.page.render import rendered
from optimizer.report.layout import NOTHING, pages_of
from optimizer.units import short

TEXT_COLUMNS = 100
CAUTIONS = "CAUTIONS"
"""Title of the section that comes first on a page."""


@dataclass(frozen=True)
class Rounds:
    """The rounds of one plan of an answer: a title, and cells as `rounds_cells` gives them."""

    title: str
    cells: list[list[str]]


def answer_page(title: str, answer: Any, rounds: Sequence[Rounds] = ()) -> str:
    """Write an answer that prints as a report and holds a frame as one HTML page."""
    with pages_of(TEXT_COLUMNS):
        blocks = str(answer).split("\n\n")
    cautions = [block for block in blocks if block.startswith(f"{CAUTIONS}\n")]
    others = [block for block in blocks[1:] if block not in cautions]
    frame = answer.frame
    return rendered(
        "answer.html",
        title=title,
        verdict=" ".join(blocks[0].split()),
        cautions=[_groups(block) for block in cautions],
        heads=[str(name) for name in frame.columns],
        rows=[[_cell(value) for value in row] for row in frame.itertuples(index=False)],
        rounds=rounds,
        words=others,
    )


def _groups(block: str) -> list[tuple[str, list[str]]]:
    """Take a section of cautions apart: perhaps a heading with a colon, then sentences with a dash before."""
    found: list[tuple[str, list[str]]] = []
    for line in block.splitlines()[1:]:
        if line.startswith("- "):
            if not found:
                found.append(("", []))
            found[-1][1].append(line[2:])
        elif line.startswith("  ") and found and found[-1][1]:
            found[-1][1][-1] += f" {line.strip()}"
        else:
            found.append((re.sub(":$", "", line), []))
    return found


def _cell(value: Any) -> str:
    if value is None or value != value:
        return NOTHING
    return short(float(value)) if isinstance(value, float) else str(value)
