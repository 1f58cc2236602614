"""The log of a thermometer on the bench: CSV in, arrays out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.errors import InputError
from optimizer.files import read_text
from optimizer.logs.log_columns import read_columns
from optimizer.logs.log_faults import clock_issues, gap_remarks, sensor_issues
from optimizer.logs.log_form import LogForm, first_and_how_many_more

if TYPE_CHECKING:
    from numpy import ndarray

MOST_LOG_BYTES = 200_000_000
"""Room for two million rows with long decimals and ISO times [B]."""

FORM = LogForm(
    holds=("time", "bath", "ware", "power"),
    needs=(("time",), ("bath",)),
    first_line="time_s,bath_c or time,bath_c, with ware_c and power_w where they were logged",
)
IN_PARTS = "give the parts as two tests, each with a log of its own"


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


def read_log(path: Path) -> BenchLog:
    """Read a log: CSV with the columns ``time_s,bath_c`` and perhaps ``ware_c`` and ``power_w``.

    Times are seconds (``time_s``), minutes (``time_min``) or ISO 8601 (``time``). Columns are parted by
    commas, by semicolons (a number may then have a decimal comma) or by tabs. Fahrenheit and kelvin are
    converted where the column says so (``bath_f``, ``bath_k``), and refused where it does not. Lines that
    begin with # are notes.

    `InputError` with the line of every issue, up to ten a kind, and how many more there are.
    """
    subject = str(path)
    columns = read_columns(read_text(path, "log", most_bytes=MOST_LOG_BYTES), subject, FORM)
    time_s = columns.numbers["time"]
    issues = clock_issues(columns, time_s, IN_PARTS)
    for name in ("bath", "ware"):
        if name in columns.numbers:
            # Out of order or with a stopped clock, the course of a temperature means nothing.
            issues += sensor_issues(columns, name, None if issues else time_s)
    if issues:
        raise InputError(first_and_how_many_more(subject, issues))
    return BenchLog(
        name=subject,
        time_s=time_s - time_s[0],
        bath_c=columns.numbers["bath"],
        ware_c=columns.numbers.get("ware"),
        power_w=columns.numbers.get("power"),
        remarks=(*columns.remarks, *gap_remarks(time_s)),
    )
