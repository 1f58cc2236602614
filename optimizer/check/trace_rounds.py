"""Rounds of a trace: when each begins, and how warm the bath gets in it."""

from __future__ import annotations

from itertools import pairwise

from optimizer.check.certificate import Trace


def round_starts(trace: Trace) -> list[int]:
    """Find the sample with which each round begins: its inlet opens, for the first time since a drain."""
    inlet, starts = trace.inlet, [0]
    for before in (inlet[1:] & ~inlet[:-1]).nonzero()[0]:
        if trace.drain_pump[starts[-1] : before + 1].any():
            starts.append(int(before) + 1)
    return starts[1:]


def round_parts(trace: Trace) -> list[slice]:
    """Give the samples of each round; the last one ends with the trace."""
    return [slice(*ends) for ends in pairwise([*round_starts(trace), len(trace.inlet)])]


def round_peaks_c(trace: Trace) -> list[float]:
    """Find how warm the bath gets in each round while it is heated or sprayed."""
    at_work = trace.wash_pump | trace.element
    return [float(trace.bath_c[part][at_work[part]].max()) for part in round_parts(trace)]
