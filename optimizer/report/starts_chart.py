"""What a run costs by its start, as columns over a day."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from optimizer.report.layout import page_width, wrapped
from optimizer.report.timeline import BLOCKS, EIGHTHS
from optimizer.starts.clock import a_day_later_s, day_start_s, local
from optimizer.starts.scan import Scan
from optimizer.starts.span import Span

ROWS = 5
DAY_COLUMNS = 52
"""A day of 25 hours in half-hours that begins within one of them [1]."""

BESIDE_CHART = 28
"""Columns of a wide page that the chart leaves free [1]."""

COLUMN_S = (60, 120, 300, 600, 900, 1200, 1800, 3600, 7200)
TICK_COLUMNS = 6
"""Columns from one time to the next [1]; a time is five wide."""

LONGEST_DAY_S = 25 * 3600
NO_START = "·"


def starts_chart(scan: Scan, span: Span, decimals: int) -> str:
    """Draw the cost of a run by its start: over all starts asked for, or over the day of the cheapest."""
    most = max(abs(float(scan.costs.max())), abs(float(scan.costs.min())))
    margin = len(f"{-most:.{decimals}f} ")
    # The last time on the axis is wider than its column.
    room = page_width() - margin - TICK_COLUMNS
    columns_s = _columns_s(scan, span, min(room, max(DAY_COLUMNS, page_width() - BESIDE_CHART)))
    width_s = columns_s[1] - columns_s[0]
    costs = _least_by_column(scan, columns_s)
    there = [cost for cost in costs if cost is not None]
    low, high = min(there), max(there)
    if high - low < 0.5 * 10.0**-decimals:
        high = low  # rounding, or nothing that the labels could show
    heights = [None if cost is None else _height(cost, low, high) for cost in costs]
    labels = {0: f"{low:.{decimals}f}"} | ({ROWS - 1: f"{high:.{decimals}f}"} if high > low else {})
    margin = max(map(len, labels.values())) + 1
    rows = range(ROWS - 1, -1, -1) if high > low else [0]
    lines = [f"{labels.get(row, ''):>{margin - 1}} {_row(heights, row)}".rstrip() for row in rows]
    lines += [" " * margin + line for line in _axis(scan, columns_s[:-1])]
    day = f"{local(columns_s[0], scan.hours.zone):%a %d %b %Y}"
    key = f"One column is {width_s // 60} min and shows its cheapest start. "
    key += "The lowest columns stand for the lowest cost, not for nothing. " if high > low else ""
    key += f"{NO_START} no start." if None in costs else ""
    shown = f"from {day}"
    if _over_a_day(span):
        shown = f"{day} alone, the day of the cheapest; --csv has all days"
    return "\n".join([wrapped(shown), *lines, wrapped(key.strip())])


def _over_a_day(span: Span) -> bool:
    return span.until_s - span.first_s > LONGEST_DAY_S


def _columns_s(scan: Scan, span: Span, most_columns: int) -> list[int]:
    """Choose the columns: where each begins, and where the last one ends [s]."""
    zone = scan.hours.zone
    begin_s, end_s = span.first_s, span.until_s
    if _over_a_day(span):
        begin_s = day_start_s(local(scan.starts_s[scan.cheapest], zone).date(), zone)
        end_s = a_day_later_s(begin_s, zone)
    fits = (
        size_s
        for size_s in COLUMN_S
        if size_s >= span.every_s and (end_s - begin_s) / size_s <= most_columns - 1
    )
    size_s = next(fits, COLUMN_S[-1])
    begin_s -= (_shown_min(scan, begin_s) * 60) % size_s
    count = max(math.ceil((end_s - begin_s) / size_s), 1)
    return [begin_s + number * size_s for number in range(count + 1)]


def _shown_min(scan: Scan, time_s: float) -> int:
    at = local(time_s, scan.hours.zone)
    return at.hour * 60 + at.minute


def _least_by_column(scan: Scan, columns_s: Sequence[int]) -> list[float | None]:
    edges = scan.starts_s.searchsorted(columns_s)
    parts = [scan.costs[a:b] for a, b in pairwise(edges)]
    return [float(part.min()) if part.size else None for part in parts]


def _height(cost: float, low: float, high: float) -> int:
    """Height of a column in eighths of a row, at least one."""
    if high <= low:
        return 1
    return 1 + round((cost - low) / (high - low) * (ROWS * EIGHTHS - 1))


def _row(heights: Sequence[int | None], row: int) -> str:
    nothing = NO_START if row == 0 else " "
    return "".join(
        nothing if height is None else BLOCKS[min(max(height - row * EIGHTHS, 0), EIGHTHS)]
        for height in heights
    )


def _axis(scan: Scan, columns_s: Sequence[int]) -> list[str]:
    """Mark the clock: where an hour is skipped or comes twice, the marks move with it."""
    every_min = TICK_COLUMNS * (columns_s[1] - columns_s[0]) // 60 if len(columns_s) > 1 else 60
    marks, times = "", ""
    for column, begin_s in enumerate(columns_s):
        marked = column == 0 or _shown_min(scan, begin_s) % every_min == 0
        marks += "┴" if marked else "─"
        if marked and (column == 0 or column > len(times)):
            times = f"{times:<{column}}{local(begin_s, scan.hours.zone):%H:%M}"
    return [marks, times]
