"""What the check hands back: one row a requirement, and the nominal run to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


Sense = Literal["at least", "at most"]

EXACT_KEYS = frozenset(
    {
        "rinse.rounds",
        "prerinse.rounds",
        "drain.left_l",
        "outputs.conflicts",
        "prerinse.spray_min",
        "rinse.spray_min",
    }
)
"""Rows that hold or do not: a good programme meets their limit exactly, so their margin says nothing."""


@dataclass(frozen=True)
class Row:
    """One requirement and how the worst case stands to it.

    Attributes
    ----------
    key : str
        Machine-readable name: ``dose.grease``, ``tank.bath_c``, ``cover.element_l`` …
    requirement : str
        The requirement in words.
    unit : str
        Unit of the numbers.
    sense : str
        ``at least`` or ``at most``.
    limit, worst : float
        The limit and the worst value met [unit of the row].
    corner : str
        The corner that caused it, in words (``low voltage, cold inlet, …``), or ``draw 17``.
    """

    key: str
    requirement: str
    unit: str
    sense: Sense
    limit: float
    worst: float
    corner: str

    @property
    def margin(self) -> float:
        """Distance from the limit, positive on the safe side [unit of the row]."""
        return self.worst - self.limit if self.sense == "at least" else self.limit - self.worst

    @property
    def margin_share(self) -> float:
        """Margin as a share of the limit [1]; of one unit where the limit is 0."""
        return self.margin / (abs(self.limit) or 1.0)

    @property
    def passed(self) -> bool:
        """Whether the requirement holds in every corner and draw."""
        return self.margin >= 0.0


@dataclass(frozen=True)
class Trace:
    """The nominal run, one sample a second.

    Attributes
    ----------
    time_s, bath_c, ware_c, level_l : ndarray
        Time [s], bath and ware temperature [°C], litres in the tank [l].
    inlet, element, wash_pump, drain_pump : ndarray of bool
        Outputs.
    """

    time_s: NDArray[np.float64]
    bath_c: NDArray[np.float64]
    ware_c: NDArray[np.float64]
    level_l: NDArray[np.float64]
    inlet: NDArray[np.bool_]
    element: NDArray[np.bool_]
    wash_pump: NDArray[np.bool_]
    drain_pump: NDArray[np.bool_]


@dataclass(frozen=True)
class Certificate:
    """The result of a check.

    Attributes
    ----------
    rows : tuple of Row
        One a requirement.
    corners, draws : int
        How many corners of the tolerances and how many random draws inside them were run [1].
    seed : int
        Seed of the draws [1].
    trace : Trace
        The nominal run.
    """

    rows: tuple[Row, ...]
    corners: int
    draws: int
    seed: int
    trace: Trace

    @property
    def passed(self) -> bool:
        """Whether every requirement holds."""
        return all(row.passed for row in self.rows)

    def tightest(self, count: int) -> list[Row]:
        """Rows with the smallest margin relative to their limit, as `tightest` picks them.

        Parameters
        ----------
        count : int
            How many rows [1].

        Returns
        -------
        list of Row
            Tightest first.
        """
        return tightest(self.rows, count)


def tightest(rows: Sequence[Row], count: int) -> list[Row]:
    """Rows with the smallest margin relative to their limit.

    Rows that a good programme meets exactly (``EXACT_KEYS``) are left out while they hold.

    Parameters
    ----------
    rows : sequence of Row
        The rows of a certificate.
    count : int
        How many to give [1].

    Returns
    -------
    list of Row
        Tightest first.
    """
    telling = [row for row in rows if row.key not in EXACT_KEYS or not row.passed]
    return sorted(telling, key=lambda row: row.margin_share)[:count]
