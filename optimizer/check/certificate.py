"""The result of a check: one row a requirement, the words for a row, and the nominal run to draw."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from optimizer.check.dosing_moment import DosedSpray
from optimizer.units import short, with_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


Sense = Literal["at least", "at most"]

EVERY_POINT = "every point"
"""Point of a row whose value no tolerance touches."""

WARE_HEAT = "drying.ware_heat"
"""Key of the row of the ware's heat for drying."""

IN_A_MILLION, MILLION = frozenset({"rinse.residue", "rinse.soil"}), 1e6
"""Rows whose small ratios are written as so many in a million."""
SMALL_RATIO = 0.01
"""A limit under this is a small ratio [1]."""

WARE_END, RISE = "ware.end_c", "ware.rise_k"
"""Key of what is told of the ware's temperature."""

TOLD = 4
"""Quantities of a point that a line names; how many more there are is said [1]."""

EXACT_KEYS = frozenset(
    {
        "rinse.rounds",
        "prerinse.rounds",
        "drain.left_l",
        "outputs.conflicts",
        "prerinse.spray_min",
        "rinse.spray_min",
        "start_drain.left_l",
        "detergent.least_g",
        "detergent.least_g_per_l",
        "detergent.elsewhere_g",
        "drying.stand_min",
        "lid.shut_s",
        "lid.ajar_s",
        "fill.reaches_s",
        "fill.stuck_s",
        "heat.cold_sensor_s",
        "soak.min",
        "soak.rest_min",
        "soak.spray_min",
    }
)
"""Rows that a good programme meets exactly, so that their margin says nothing."""


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
        Unit of the numbers; ``1`` for a pure number.
    limit : float
        What is asked [unit of the row].
    guaranteed : float or None
        What a bound says of every point of the tolerances; None without a bound [unit of the row].
    worst : float
        The worst value found [unit of the row].
    point : str
        The point that caused it, in words (``low voltage, cold inlet, …``), or ``draw 17``.
    """

    key: str
    requirement: str
    unit: str
    sense: Sense
    limit: float
    guaranteed: float | None
    worst: float
    point: str

    @property
    def held(self) -> float:
        """What the requirement is judged by: the guaranteed value, or the worst found without a bound.

        Where the two contradict each other it is the worse of them.
        """
        if self.guaranteed is None:
            return self.worst
        both = (self.guaranteed, self.worst)
        if any(map(math.isnan, both)):
            return math.nan
        return min(both) if self.sense == "at least" else max(both)

    @property
    def margin(self) -> float:
        """Distance from the limit, positive on the safe side [unit of the row]."""
        return self.held - self.limit if self.sense == "at least" else self.limit - self.held

    @property
    def margin_share(self) -> float:
        """Margin as a share of the limit [1]; of one unit where the limit is 0."""
        return self.margin / (abs(self.limit) or 1.0)

    @property
    def passed(self) -> bool:
        """Whether the requirement holds: by its guaranteed value, and at every point that was run."""
        return self.margin >= 0.0

    def against_limit(self, digits: int = 4) -> str:
        """Say what was met and what is asked: ``7.8 min, at least 8 min asked``."""
        held = self.shown(self.held, digits) if math.isfinite(self.held) else "no number"
        if self.key == WARE_HEAT and self.held < 0.0:
            held = "none: colder than the air"
        return f"{held}, {self.sense} {self.shown(self.limit, digits)} asked"

    def shown(self, value: float, digits: int = 4) -> str:
        """Write a value of this row with its unit; a small ratio as so many in a million."""
        return with_unit(short(self.scale * value, digits), self.shown_unit)

    @property
    def shown_unit(self) -> str:
        """Unit of its values as they are written; ``1`` for a pure number."""
        return self.unit if self.scale == 1.0 else "in a million"

    @property
    def scale(self) -> float:
        """What its values are multiplied by as they are written [1]."""
        return MILLION if self.key in IN_A_MILLION and self.limit < SMALL_RATIO else 1.0

    @property
    def met_exactly(self) -> bool:
        """Whether it holds, and what it has to spare is less than its four digits show."""
        return self.passed and self.shown(self.held) == self.shown(self.limit)

    def margin_words(self) -> str:
        """Say how far the worst case stays from the limit, without the point and without a full stop."""
        if not math.isfinite(self.margin):
            return f"{self.requirement}: {self.against_limit()}"
        gap = self.shown(abs(self.margin), 2).replace("°C", "K")
        wrong = "SHORT" if self.sense == "at least" else "OVER"
        to_spare = f"{'none' if self.met_exactly else gap} to spare" if self.passed else f"{gap} {wrong}"
        return f"{self.requirement}: {self.against_limit()}, {to_spare}"

    def margin_line(self) -> str:
        """Say how far the worst case stays from the limit, and at which point, in few words."""
        words = self.point.split(", ")
        more = [f"{len(words) - TOLD} more"] if len(words) > TOLD + 1 else []
        return f"{self.margin_words()} ({', '.join(words[:TOLD] + more if more else words)})"


def exact_row(
    key: str,
    requirement: str,
    unit: str,
    limit: tuple[Sense, float],
    value: float,
    point: str = EVERY_POINT,
) -> Row:
    """Make a row whose worst value is worked out and not searched for: it is guaranteed."""
    return Row(key, requirement, unit, *limit, value, value, point)


def failure_lines(rows: Iterable[Row]) -> list[str]:
    """Give a line for each requirement that does not hold."""
    return [row.margin_line() for row in rows if not row.passed]


@dataclass(frozen=True)
class Trace:
    """The nominal run, one sample a second; the outputs are true where they are on."""

    time_s: NDArray[np.float64]
    bath_c: NDArray[np.float64]
    ware_c: NDArray[np.float64]
    level_l: NDArray[np.float64]
    inlet: NDArray[np.bool_]
    element: NDArray[np.bool_]
    wash_pump: NDArray[np.bool_]
    drain_pump: NDArray[np.bool_]


FAR_K = 15.0
"""A dose earned further than this from its reference depends more on its z than on its minutes [K]; our
choice: over 15 K a z of 33 K makes one minute count as three, or three as one."""


@dataclass(frozen=True)
class EarnedDose:
    """Where a dose of the nominal run was earned: the mean temperature of the ware, weighted by the dose."""

    name: str
    mean_c: float
    reference_c: float

    @property
    def far(self) -> bool:
        """Whether it was earned so far from its reference that a wrong z matters."""
        return abs(self.mean_c - self.reference_c) > FAR_K


@dataclass(frozen=True)
class Told:
    """A value that is told whether it is asked for or not: on the nominal machine, and at its worst.

    Attributes
    ----------
    key, what, unit : str
        As in a `Row`.
    sense : str
        ``at least`` where the least is the worst.
    nominal : float
        The value on the nominal machine [unit].
    guaranteed : float
        What no point of the tolerances passes [unit]; not as close as that of a requirement.
    """

    key: str
    what: str
    unit: str
    sense: Sense
    nominal: float
    guaranteed: float


@dataclass(frozen=True)
class Certificate:
    """The result of a check.

    Attributes
    ----------
    rows : tuple of Row
        The requirements.
    points : int
        How many points of the tolerances were run [1].
    draws, seed : int
        How many of them were drawn at random [1], and the seed.
    trace : Trace
        The nominal run.
    earned : tuple of EarnedDose
        Where its doses were earned.
    worst_points : mapping
        By requirement key: the worst point found, each quantity of `Tolerances` in its unit.
    restarts : bool
        Whether the constants let the machine start by itself as the power comes back.
    told : tuple of Told
        What is left on the ware, how warm it comes out, and, where no limit is asked, how far a bath may be
        over it as a spray begins.
    on_your_minutes : tuple of str
        Doses whose minutes are one number, as the goal has them: how far they may be off is not in the proof.
    dosed : tuple of DosedSpray
        The sprays that detergent goes into, and when they begin.
    """

    rows: tuple[Row, ...]
    points: int
    draws: int
    seed: int
    trace: Trace
    earned: tuple[EarnedDose, ...] = ()
    worst_points: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    restarts: bool = False
    told: tuple[Told, ...] = ()
    on_your_minutes: tuple[str, ...] = ()
    dosed: tuple[DosedSpray, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether every requirement holds."""
        return all(row.passed for row in self.rows)

    def told_of(self, key: str) -> Told | None:
        """What is told under a key; None where nothing is."""
        return next((one for one in self.told if one.key == key), None)

    @property
    def unproven(self) -> list[Row]:
        """Requirements without a bound: what is known of them is the worst of the runs."""
        return [row for row in self.rows if row.guaranteed is None]

    @property
    def proven(self) -> bool:
        """Whether every requirement holds, and by a bound at every point of the tolerances."""
        return self.passed and not self.unproven

    def tightest(self, count: int) -> list[Row]:
        """Pick the rows with the smallest margin relative to their limit, as `tightest` does."""
        return tightest(self.rows, count)


def held_value(rows: Iterable[Row], key: str) -> float | None:
    """Give what the row of a key holds for [unit of the row]; None where no row or no number says it."""
    found = (row.held for row in rows if row.key == key)
    return next((held for held in found if math.isfinite(held)), None)


def hottest_bath_c(rows: Iterable[Row]) -> float | None:
    """Give the hottest bath that the rows hold for [°C]; None where no row or no number says it."""
    return held_value(rows, "tank.bath_c")


def hottest_reading_c(rows: Iterable[Row]) -> float | None:
    """Give the hottest reading of the sensor that the rows hold for [°C]; None where none says it."""
    return held_value(rows, "watchdog.reading_c")


def least_covering_l(rows: Iterable[Row]) -> float | None:
    """Give the least water while the element is on [l]; None where no row or no number says it."""
    return held_value(rows, "cover.element_l")


def longest_min(rows: Iterable[Row]) -> float | None:
    """Give the longest run that the tolerances allow [min]; None where no row or no number says it."""
    return held_value(rows, "limits.duration_min")


def tightest(rows: Sequence[Row], count: int) -> list[Row]:
    """Pick the rows with the smallest margin relative to their limit, the tightest first.

    Rows that a good programme meets exactly (``EXACT_KEYS``) are left out while they hold.
    """
    telling = [row for row in rows if row.key not in EXACT_KEYS or not row.passed]
    return sorted(telling, key=lambda row: row.margin_share)[:count]
