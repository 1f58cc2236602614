"""The page of an answer: verdict, cautions, charts, then its words, each table one that can be sorted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.page.drawing import Chart
from optimizer.page.marked_text import CAUTIONS, blocks_of, caution_groups_of, table_of
from optimizer.page.render import rendered, sound
from optimizer.report.layout import marked, pages_of

TEXT_COLUMNS = 100
"""Width of what is laid out in columns [1]."""


@dataclass(frozen=True)
class Rounds:
    """The rounds of one plan of an answer: a title, and cells as `rounds_cells` gives them."""

    title: str
    cells: list[list[str]]


def answer_page(
    title: str, said: Callable[[], str], charts: Sequence[Chart] = (), rounds: Sequence[Rounds] = ()
) -> str:
    """Write an answer as one HTML page; ``said`` lays its words out.

    Cautions come right after the verdict, wherever the answer has them.
    """
    with pages_of(TEXT_COLUMNS), marked():
        verdict, *blocks = blocks_of(said())
    return rendered(
        "answer.html",
        title=title,
        verdict=[part.text for part in verdict.parts],
        cautions=[caution_groups_of(block) for block in blocks if block.title == CAUTIONS],
        charts=[(chart, [sound(svg) for svg in chart.svgs]) for chart in charts],
        blocks=[block for block in blocks if block.title != CAUTIONS],
        table_of=table_of,
        rounds=rounds,
    )
