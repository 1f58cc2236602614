"""What the watts of a log say against its outputs: a supply that was cut, a weak or a dead element."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.check.phases import OFF, Outputs
from optimizer.profile.machine import Machine
from optimizer.review.phases_found import drawn_w
from optimizer.review.run_log import RunLog, Segment

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

# What follows is our choice, no source.
LEAST_W = 30.0
"""What draws less than this is not missed in the watts of a meter [W]."""

DEAD_SHARE = 0.2
"""Below this share of what it draws a part is taken to draw nothing [1]."""

DEAD_S, WEAK_S, ROWS = 10.0, 120.0, 3
"""A supply is cut, or an element weak, from so long on, and from so many rows [s, s, 1]."""

WEAK_SHARE = 0.07
"""An element is weak or strong from such a distance to the rest of its run on [1]: 3.5 % of the voltage."""

MOST_SHARE = 0.5
"""Where more of a run is so, it is no exception, and the watts are judged as a whole [1]."""


@dataclass(frozen=True)
class Drew:
    """A stretch in which the watts are not those of what was on.

    Attributes
    ----------
    start_s, end_s : float
        When it begins and ends, by the log's clock [s].
    element_share : float or None
        Power of the element over that of the rest of the run [1]; None where all was without a supply.
    """

    start_s: float
    end_s: float
    element_share: float | None


def as_drawn(machine: Machine, log: RunLog) -> tuple[RunLog, tuple[Drew, ...]]:
    """Correct the outputs of a log by its watts, and say where.

    A pump or an element that the controller switches on does nothing while a lid switch, a guard or a fuse
    has cut the supply, and an element heats by the voltage of the minute.

    Parameters
    ----------
    machine : Machine
        As its profile has it.
    log : RunLog
        A log with outputs; without watts it stays as it is.

    Returns
    -------
    tuple
        The log, its stretches parted where the watts say so, and these.
    """
    if log.power_w is None or not log.segments:
        return log, ()
    dead, share = _dead(machine, log), _shares(machine, log)
    found = [Drew(start_s, end_s, None) for start_s, end_s in _stretches(log, dead, DEAD_S)]
    burnt = np.isfinite(share) & (share < DEAD_SHARE) & ~dead
    weak = np.isfinite(share) & (np.abs(share - 1.0) > WEAK_SHARE) & ~burnt & ~dead
    for rows, least_s in ((burnt, DEAD_S), (weak, WEAK_S)):
        for start_s, end_s in _stretches(log, rows, least_s):
            inside = rows & (log.time_s >= start_s) & (log.time_s < end_s)
            mean = 0.0 if rows is burnt else float(np.median(share[inside]))
            found.append(Drew(start_s, end_s, mean))
    found.sort(key=lambda one: one.start_s)
    parted = [part for one in log.segments for part in _parted(one, found)]
    return replace(log, segments=tuple(parted)), tuple(found)


def _dead(machine: Machine, log: RunLog) -> Bools:
    """Rows in which something is on that draws much, and nothing is drawn."""
    assert log.power_w is not None
    idle_w = drawn_w(machine, OFF)
    found, on = np.zeros(len(log.time_s), dtype=bool), np.zeros(len(log.time_s), dtype=bool)
    for one in log.segments:
        # Where the pump draws its watts the element alone is dead.
        parts_w = [
            drawn_w(machine, replace(OFF, **{name: True})) - idle_w
            for name, is_on in vars(one.outputs).items()
            if is_on
        ]
        least_w = min((watts for watts in parts_w if watts >= LEAST_W), default=None)
        if least_w is not None:
            rows = _rows(log, one)
            on |= rows
            found |= rows & (log.power_w < idle_w + DEAD_SHARE * least_w)
    return found if found.sum() < MOST_SHARE * on.sum() else np.zeros_like(found)


def _shares(machine: Machine, log: RunLog) -> Array:
    """The element's power over its middle one of the run, smoothed over some rows; nan while it is off."""
    assert log.power_w is not None
    found = np.full(len(log.time_s), np.nan)
    for one in log.segments:
        if one.outputs.element:
            rows = np.flatnonzero(_rows(log, one))[1:]  # the first may be from before it went on
            others_w = drawn_w(machine, replace(one.outputs, element=False))
            found[rows] = log.power_w[rows] - others_w
    there = np.isfinite(found)
    heats_w = drawn_w(machine, replace(OFF, element=True)) - drawn_w(machine, OFF)
    alive = there & (np.nan_to_num(found) > DEAD_SHARE * heats_w)
    if alive.sum() < ROWS:
        return np.full(len(found), np.nan)
    middle_w = float(np.median(found[alive]))
    found[there] = _smoothed(found[there]) / middle_w
    return found


def _smoothed(values: Array) -> Array:
    """Median of each value and its neighbours."""
    padded = np.pad(values, ROWS // 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, ROWS), axis=1))


def _rows(log: RunLog, one: Segment) -> Bools:
    assert log.power_w is not None
    return (log.time_s >= one.start_s) & (log.time_s < one.end_s) & np.isfinite(log.power_w)


def _stretches(log: RunLog, rows: Bools, least_s: float) -> Iterator[tuple[float, float]]:
    """Stretches of rows that are long enough; each ends where the next row that is not so begins."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(int)))
    for start, end in edges.reshape(-1, 2):
        end_s = float(log.time_s[min(end, len(rows) - 1)])
        if end - start >= ROWS and end_s - float(log.time_s[start]) >= least_s:
            yield float(log.time_s[start]), end_s


def _parted(one: Segment, drew: Sequence[Drew]) -> Iterator[Segment]:
    """Part a stretch of a log where its watts are other than those of what was on."""
    at_s = one.start_s
    for other in drew:
        start_s, end_s = max(other.start_s, at_s), min(other.end_s, one.end_s)
        if start_s >= end_s or not _is_meant(one.outputs, other):
            continue
        if start_s > at_s:
            yield replace(one, start_s=at_s, end_s=start_s)
        within = replace(one, start_s=start_s, end_s=end_s)
        if other.element_share is None:
            yield replace(within, outputs=OFF, said=one.outputs)
        elif other.element_share == 0.0:
            yield replace(within, outputs=replace(one.outputs, element=False), said=one.outputs)
        else:
            yield replace(within, element_share=other.element_share)
        at_s = end_s
    if at_s < one.end_s or one.start_s == one.end_s:
        yield replace(one, start_s=at_s)


def _is_meant(on: Outputs, drew: Drew) -> bool:
    return on != OFF if drew.element_share is None else on.element
