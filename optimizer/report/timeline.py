"""The nominal run over time: what is on, and how warm the bath is.

It ends with the last drain: while the load stands afterwards there is neither a bath nor an output on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from optimizer.check.certificate import Trace
from optimizer.check.trace_rounds import round_starts
from optimizer.report.layout import page_width, wrapped
from optimizer.units import S_PER_MIN

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


MARGIN = 12
BESIDE_TIME = 20
"""Columns of the page that the time axis leaves: the labels, and the end of its last number [1]."""

TICK_COLUMNS = 10
MINUTES_A_COLUMN = (0.25, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0)
BLOCKS = " ▁▂▃▄▅▆▇█"
EIGHTHS = len(BLOCKS) - 1
OFF = "·"
COOL_PEAK_C = 70.0


def minutes_a_column(duration_min: float, time_columns: int) -> float:
    """Choose how much time one column stands for.

    Parameters
    ----------
    duration_min : float
        Length of the run [min].
    time_columns : int
        Columns that there are for it [1].

    Returns
    -------
    float
        The finest round number with which the run fits [min].

    Examples
    --------
    >>> [minutes_a_column(minutes, 60) for minutes in (30.0, 92.0, 600.0, 1000.0)]
    [0.5, 2.0, 10.0, 20.0]
    """
    fits = (step for step in MINUTES_A_COLUMN if step * time_columns >= duration_min)
    return next(fits, 10.0 * math.ceil(duration_min / time_columns / 10.0))


def timeline(trace: Trace) -> str:
    """Draw a run."""
    duration_min = (float(trace.time_s[trace.drain_pump][-1]) + 1.0) / S_PER_MIN
    step_min = minutes_a_column(duration_min, page_width() - BESIDE_TIME)
    width = max(math.ceil(duration_min / step_min), 1)
    edges = trace.time_s.searchsorted([column * step_min * S_PER_MIN for column in range(width + 1)])
    parts = [slice(int(a), int(b)) for a, b in pairwise(edges)]
    outputs = {
        "inlet": trace.inlet,
        "element": trace.element,
        "wash pump": trace.wash_pump,
        "drain pump": trace.drain_pump,
    }
    lines = [_label("round") + _round_marks(trace, parts)]
    lines += [_label(name) + _shares(on, parts, step_min) for name, on in outputs.items() if on.any()]
    lines += _temperatures([float(trace.bath_c[part].mean()) for part in parts])
    lines += _axis(width, step_min)
    key = f"One column is {step_min:g} min; the taller a block, the longer in it that output is on."
    return "\n".join([*(line.rstrip() for line in lines), wrapped(key)])


def _label(text: str) -> str:
    return f"{text:<{MARGIN - 1}} "


def _shares(on: NDArray[np.bool_], parts: Sequence[slice], step_min: float) -> str:
    """Draw the share of each column in which an output is on; at least the lowest block where it was on."""
    shares = [float(on[part].sum()) / (step_min * S_PER_MIN) for part in parts]
    return "".join(BLOCKS[max(round(share * EIGHTHS), 1)] if share else OFF for share in shares)


def _round_marks(trace: Trace, parts: Sequence[slice]) -> str:
    """Put each round's number over the start of its fill, where there is room."""
    line = ""
    for number, start in enumerate(round_starts(trace), start=1):
        column = next(i for i, part in enumerate(parts) if start < part.stop)
        if column > len(line) or not line:
            line = f"{line:<{column}}{number}"
    return line


def _temperatures(column_c: Sequence[float]) -> list[str]:
    """Draw columns from 0 °C up; the label of a row is the temperature at its upper edge."""
    step_c = 10 if max(column_c) <= COOL_PEAK_C else 20
    levels = [max(round(c / step_c * EIGHTHS), 0) for c in column_c]
    lines: list[str] = []
    for row in range(math.ceil(max(*levels, 1) / EIGHTHS), 0, -1):
        below = (row - 1) * EIGHTHS
        name = "" if lines else "bath"
        label = f"{name:<4}{f'{row * step_c} °C':>{MARGIN - 5}} "
        lines.append(label + "".join(BLOCKS[min(max(level - below, 0), EIGHTHS)] for level in levels))
    return lines


def _axis(width: int, step_min: float) -> list[str]:
    ticks = "".join("┴" if column % TICK_COLUMNS == 0 else "─" for column in range(width))
    labels = "".join(f"{column * step_min:<{TICK_COLUMNS}g}" for column in range(0, width, TICK_COLUMNS))
    return [_label("") + ticks, _label("minutes") + labels]
