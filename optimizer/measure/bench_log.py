"""The log of a thermometer on the bench: CSV in, arrays out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import ndarray


@dataclass(frozen=True)
class BenchLog:
    """A log of one thermal test.

    Attributes
    ----------
    name : str
        Its file, for messages.
    time_s : ndarray, shape (rows,)
        Time since its first row [s]: 0 first, then rising.
    bath_c : ndarray, shape (rows,)
        Thermometer in the bath [°C].
    ware_c : ndarray, shape (rows,), or None
        Thermometer on a plate [°C].
    power_w : ndarray, shape (rows,), or None
        Plug-in meter [W], all that is on together.
    remarks : tuple of str
        What was noticed in the file, a sentence without a full stop each.
    """

    name: str
    time_s: ndarray
    bath_c: ndarray
    ware_c: ndarray | None = None
    power_w: ndarray | None = None
    remarks: tuple[str, ...] = ()
