"""What several charts have in common: limits with their names, the names of lines, stretches of time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from optimizer.page.drawing import Frame
from optimizer.page.palette import stand_in
from optimizer.units import S_PER_MIN

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LANES = (("inlet", "inlet", "bath"), ("element", "element", "heat"), ("wash pump", "wash_pump", "ware"),
         ("drain pump", "drain_pump", "quiet"))  # fmt: skip
"""Outputs: name, field, colour."""

LIMIT_DASHES = ((0, (4, 2)), (0, (1.5, 1.5)), (0, (7, 2, 1.5, 2)))
LEAST_GAP = 0.1
"""Room between the names of two limits, as a share of the axis [1]."""


def limits(axes: Axes, frame: Frame, found: Sequence[tuple[float, str]]) -> None:
    """Draw limits: their names stand right of the axes or, on a phone, among those of the lines."""
    top = axes.get_ylim()[1]
    place = -math.inf
    for (at, text), dashes in zip(sorted(found), LIMIT_DASHES, strict=False):
        label = text if frame.narrow else None
        axes.axhline(at, color=stand_in("heat"), linewidth=1.4, linestyle=dashes, label=label)
        place = max(at, place + LEAST_GAP * top)
        if not frame.narrow:
            axes.annotate(text, (1.0, place), xycoords=("axes fraction", "data"), xytext=(6, 0), va="center",
                          textcoords="offset points", color=stand_in("heat"))  # fmt: skip


def legend(figure: Figure, axes: Axes, columns: int) -> int:
    """Put the names of the lines over the chart; how many lines of words they take."""
    handles, labels = axes.get_legend_handles_labels()
    if not labels:
        return 0
    figure.legend(handles, labels, loc="upper left", ncols=columns, borderaxespad=0.2, handlelength=3.2)
    return math.ceil(len(labels) / columns)


def spans(on: Any) -> Sequence[tuple[float, float]]:
    """Give start and length of each stretch in which an output is on, second by second [min]."""
    found, at = [], 0
    for value, seconds in groupby(on.tolist()):
        length = len(list(seconds))
        if value:
            found.append((at / S_PER_MIN, length / S_PER_MIN))
        at += length
    return found
