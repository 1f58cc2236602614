"""A quantity that is constant between edges: the power of a run, the price of electricity, quiet or not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Steps:
    """A step function of time.

    Attributes
    ----------
    edges_s : ndarray
        Where the steps begin, rising, and where the last one ends: from the start of a run, or from
        1970-01-01 UTC [s].
    values : ndarray
        Value of each step, one fewer than edges [in unit] of the quantity.

    Examples
    --------
    >>> steps = Steps.of([0, 60, 90], [10.0, 40.0])
    >>> steps.integral, steps.integral_to([30.0, 75.0]).tolist()
    (1800.0, [300.0, 1200.0])
    """

    edges_s: Array
    values: Array

    @classmethod
    def of(cls, edges_s: Iterable[float], values: Iterable[float]) -> Steps:
        """Make a step function, equal neighbours joined; `ValueError` unless the edges rise."""
        edges, heights = np.asarray(edges_s, dtype=float), np.asarray(values, dtype=float)
        if heights.size == 0 or edges.size != heights.size + 1 or not (np.diff(edges) > 0.0).all():
            raise ValueError("steps need rising edges, one more than values")
        begins = np.flatnonzero(np.diff(heights, prepend=np.nan) != 0.0)
        return cls(np.append(edges[begins], edges[-1]), heights[begins])

    @property
    def first_s(self) -> float:
        """Where the first step begins [s]."""
        return float(self.edges_s[0])

    @property
    def last_s(self) -> float:
        """Where the last step ends [s]."""
        return float(self.edges_s[-1])

    @property
    def integral(self) -> float:
        """Integral over the whole length [unit · s]."""
        return float(self._integrals[-1])

    @cached_property
    def _integrals(self) -> Array:
        return np.concatenate([[0.0], np.cumsum(self.values * np.diff(self.edges_s))])

    def integral_to(self, time_s: Array | Iterable[float]) -> Array:
        """Integral from the first edge up to each time [unit · s]."""
        return np.asarray(np.interp(np.asarray(time_s, dtype=float), self.edges_s, self._integrals))

    def at(self, time_s: Array | Iterable[float]) -> Array:
        """Value at each time, which lies from the first edge to before the last one."""
        times = np.asarray(time_s, dtype=float)
        return np.asarray(self.values[np.searchsorted(self.edges_s, times, side="right") - 1])
