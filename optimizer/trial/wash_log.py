"""The log of a trial wash: time, temperature of ware or bath, and whether the pump sprayed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.profile.messages import written
from optimizer.trial.dose_response import Array
from optimizer.trial.trial_book import csv_rows

LOG_COLUMNS = ("time_s", "ware_c", "bath_c", "wash_pump")
MOST_LOG_BYTES = 4_000_000
"""Room for half a day of seconds [B]."""
MOST_ISSUES = 10
"""Issues of lines that are listed [1]: a wrong column gives one for every line."""
LONGEST_GAP_S = 120.0
"""Longest step from a row to the next [s]: what happened in a longer one is not known; our choice."""
LEAST_C, MOST_C = 0.0, 110.0
"""Temperatures of a wash [°C]: anything else is a sensor that fell off, or °F."""
FIX = "columns time_s, ware_c (or bath_c) and, where the pump was not on all the time, wash_pump (0 or 1)"


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
    """

    time_s: Array
    temperature_c: Array
    sprays: NDArray[np.bool_]
    of_ware: bool


def read_log(path: Path) -> WashLog:
    """Read a log; `InputError` with the line of every issue, up to ten."""
    subject = str(path)
    rows, delimiter = csv_rows(read_text(path, "log of a wash", most_bytes=MOST_LOG_BYTES), subject, FIX)
    head = rows[0][1] if rows else []
    if len(set(head)) < len(head) or "time_s" not in head or not {"ware_c", "bath_c"} & set(head):
        found = written(",".join(head)) if {"time_s", "ware_c", "bath_c"} & set(head) else ""
        raise InputError([InputIssue(subject, "line 1", "must name the columns of a log", found, FIX)])
    issues: list[InputIssue] = []
    read = [
        _row(issues, subject, number, dict(zip(head, cells, strict=False)), delimiter)
        for number, cells in rows[1:]
    ]
    table = np.array([row for row in read if row is not None]).reshape(-1, 3)
    if not issues:
        numbers = [number for number, _ in rows[1:]]
        issues = _bad_steps(subject, numbers, table[:, 0])
    if not issues and len(table) < 2:
        issues = [InputIssue(subject, "", "holds less than two readings", str(len(table)), FIX)]
    if issues:
        raise InputError(issues[:MOST_ISSUES])
    return WashLog(table[:, 0], table[:, 1], table[:-1, 2] > 0.5, "ware_c" in head)


def _row(
    issues: list[InputIssue], subject: str, number: int, cells: dict[str, str], delimiter: str
) -> tuple[float, float, float] | None:
    of = "ware_c" if "ware_c" in cells else "bath_c"
    rules = {"time_s": (0.0, 1e7, "s"), of: (LEAST_C, MOST_C, "°C"), "wash_pump": (0.0, 1.0, "")}
    found = []
    for name, (least, most, unit) in rules.items():
        cell = cells.get(name, "1" if name == "wash_pump" else "")
        value = _number(cell, delimiter)
        if not least <= value <= most or (name == "wash_pump" and value not in (0.0, 1.0)):
            rule = (
                "must be 0 or 1"
                if name == "wash_pump"
                else f"must be a number from {least:g} to {most:g} {unit}"
            )
            issues.append(InputIssue(subject, f"line {number}, {name}", rule, written(cell), FIX))
            return None
        found.append(value)
    return found[0], found[1], found[2]


def _number(cell: str, delimiter: str) -> float:
    try:
        return float(cell.replace(",", ".") if delimiter == ";" else cell)
    except ValueError:
        return math.nan


def _bad_steps(subject: str, numbers: list[int], time_s: Array) -> list[InputIssue]:
    issues = []
    for number, step in zip(numbers[1:], np.diff(time_s).tolist(), strict=True):
        if step <= 0.0:
            rule, fix = "is no later than the line before", "times in seconds, rising"
            issues.append(InputIssue(subject, f"line {number}, time_s", rule, f"{step:g} s", fix))
        elif step > LONGEST_GAP_S:
            rule, fix = (
                f"leaves a gap of more than {LONGEST_GAP_S:g} s",
                "a log without the gap, or the plan alone",
            )
            issues.append(InputIssue(subject, f"line {number}, time_s", rule, f"{step:g} s", fix))
    return issues
