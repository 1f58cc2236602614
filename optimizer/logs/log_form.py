"""What columns a log may have, how they are named, and what a reader takes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.errors import InputIssue
from optimizer.units import S_PER_MIN, celsius_from_fahrenheit

MOST_ISSUES = 3
"""Lines of a log that are listed: a wrong column gives an issue for every line [1]."""
KELVIN_AT_0_C = 273.15

Convert = Callable[[float], float]


def _as_it_is(value: float) -> float:
    return value


SWITCHES = ("inlet", "element", "wash_pump", "drain_pump")
"""Columns that hold whether an output is on: 0 or 1."""

SWITCHED_AS = {"on": "1", "true": "1", "off": "0", "false": "0"}
"""Words that controllers write for it."""

TOLD = ("state", "round", "error")
"""Columns that hold what a controller says of itself, as numbers."""

HEADS: dict[str, tuple[str, Convert]] = {
    "time_s": ("time", _as_it_is),
    "time_min": ("time", lambda minutes: minutes * S_PER_MIN),
    "time": ("time", _as_it_is),
    **{
        f"{probe}_{unit}": (probe, convert)
        for probe in ("bath", "ware")
        for unit, convert in (
            ("c", _as_it_is),
            ("f", celsius_from_fahrenheit),
            ("k", lambda kelvin: kelvin - KELVIN_AT_0_C),
        )
    },
    "power_w": ("power", _as_it_is),
    "power_kw": ("power", lambda kilowatts: kilowatts * 1000.0),
    "current_a": ("current", _as_it_is),
    "water_l": ("water", _as_it_is),
    **{name: (name, _as_it_is) for name in (*SWITCHES, *TOLD)},
}
"""By the name of a column: what it holds, and how its numbers become s, °C, W, A or l."""
CONVERTED = {"_f": "°F", "_k": "K", "_kw": "kW"}
ISO = "2026-03-02T14:30:05"


@dataclass(frozen=True)
class LogForm:
    """What a reader takes for a log.

    Attributes
    ----------
    holds : tuple of str
        What its columns may hold.
    needs : tuple of tuple of str
        What they must hold: of each group one at least.
    first_line : str
        How its first line looks, for messages.
    least_rows : int
        Rows below which it is no log [1].
    may_be_empty : tuple of str
        What a row may leave out: nan then.
    parted : str
        What to do with a file that holds two logs.
    or_said : str
        How to say what the columns are called without naming them anew; empty where a reader is not told.
    """

    holds: tuple[str, ...]
    needs: tuple[tuple[str, ...], ...]
    first_line: str
    least_rows: int = 10
    may_be_empty: tuple[str, ...] = ()
    parted: str = "put each log into a file of its own"
    or_said: str = ""

    @property
    def heads(self) -> tuple[str, ...]:
        """Names that a column may have."""
        return tuple(name for name, (what, _) in HEADS.items() if what in self.holds)


def first_and_how_many_more(subject: str, issues: Sequence[InputIssue]) -> list[InputIssue]:
    """Keep the first issues of lines, and say that there are more."""
    if len(issues) <= MOST_ISSUES:
        return list(issues)
    return [
        *issues[:MOST_ISSUES],
        InputIssue(subject, "", "more of its lines have an issue", "", "mend these first"),
    ]
