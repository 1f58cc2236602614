"""The log of a trial wash: time, temperature of ware or bath, and whether the pump sprayed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.logs.log_columns import LogColumns, read_columns
from optimizer.logs.log_faults import clock_issues, gap_remarks, reading_issues
from optimizer.logs.log_form import SWITCHES, LogForm, first_and_how_many_more
from optimizer.trial.dose_response import Array

MOST_LOG_BYTES = 4_000_000
"""Room for half a day of seconds [B]."""

FORM = LogForm(
    holds=("time", "ware", "bath", "power", "current", "water", *SWITCHES),
    needs=(("time",), ("ware", "bath")),
    first_line="time_s,ware_c (or bath_c), with wash_pump (0 or 1) where it was not on all the time",
    least_rows=2,
)
IN_PARTS = "leave this log out of the book, so that its plan counts"

HOTTEST_C, WARMEST_C = 99.0, 95.0
"""Ware in water is never so warm [°C]; nor is it in the middle of a wash: such readings are °F."""


@dataclass(frozen=True)
class WashLog:
    """A log of the rounds that count for a dose.

    Attributes
    ----------
    time_s : ndarray, shape (rows,)
        Rising times [s].
    temperature_c : ndarray, shape (rows,)
        Temperature of the ware or, where it was not logged, of the bath [°C].
    sprays : ndarray of bool, shape (rows - 1,)
        Whether the pump was on from a row to the next.
    of_ware : bool
        Whether the temperature is the ware's.
    remarks : tuple of str
        What was noticed in the file, a sentence without a full stop each.
    """

    time_s: Array
    temperature_c: Array
    sprays: NDArray[np.bool_]
    of_ware: bool
    remarks: tuple[str, ...] = ()


def read_log(path: Path) -> WashLog:
    """Read a log; `InputError` with the line of every issue, up to some of a kind."""
    subject = str(path)
    columns = read_columns(read_text(path, "log of a wash", most_bytes=MOST_LOG_BYTES), subject, FORM)
    time_s = columns.numbers["time"]
    what = "ware" if "ware" in columns.numbers else "bath"
    issues = [
        *clock_issues(columns, time_s, IN_PARTS),
        *(reading_issues(columns, what) or _too_warm(columns, what)),
    ]
    if issues:
        raise InputError(first_and_how_many_more(subject, issues))
    pump = columns.numbers.get("wash_pump", np.ones(len(time_s)))
    return WashLog(
        time_s=time_s,
        temperature_c=columns.numbers[what],
        sprays=pump[:-1] > 0.5,
        of_ware=what == "ware",
        remarks=(*columns.remarks, *gap_remarks(time_s)),
    )


def _too_warm(columns: LogColumns, what: str) -> list[InputIssue]:
    """Readings that only water under pressure has: degrees Fahrenheit of a cool wash."""
    name, readings_c = columns.names[what], columns.numbers[what]
    if np.median(readings_c) <= WARMEST_C and readings_c.max() <= HOTTEST_C:
        return []
    found = f"{np.median(readings_c):g} in the middle, {readings_c.max():g} at the most"
    fix = f"°F has a column of its own: {what}_f"
    return [
        InputIssue(
            columns.subject, name, f"no wash is so warm: over {WARMEST_C:g} °C in the middle", found, fix
        )
    ]
