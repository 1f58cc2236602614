"""The price of electricity over the whole period of a tariff: a week, or a file of prices."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.profile.messages import written
from optimizer.profile.tariff import MINUTES_PER_WEEK, Electricity, Tariff

SERIES_HEAD = ["start_utc", "price_per_kwh"]
STEPS_MIN = (15, 30, 60)
"""Steps that a price series may have [min]."""
MOST_SERIES_BYTES = 4_000_000
"""Room for a year of quarter-hours with long decimals [B]."""
BELIEVABLE_PER_KWH = 10.0
"""No price, up or down, is further from zero [currency/kWh]."""
MOST_ISSUES = 10
"""A wrong column breaks every line: so many of them say enough [1]."""


@dataclass(frozen=True)
class Prices:
    """Price of electricity over the tariff's whole period.

    Attributes
    ----------
    mean_per_kwh, least_per_kwh, most_per_kwh : float
        Mean over time, lowest and highest price [currency/kWh].
    """

    mean_per_kwh: float
    least_per_kwh: float
    most_per_kwh: float


@dataclass(frozen=True)
class PriceSeries:
    """Prices at a constant step.

    Attributes
    ----------
    start_utc : datetime
        Start of the first step, in UTC.
    step_min : int
        Length of a step [min]: 15, 30 or 60.
    per_kwh : tuple of float
        Price of each step [currency/kWh].
    """

    start_utc: datetime
    step_min: int
    per_kwh: tuple[float, ...]


def price_summary(tariff: Tariff, folder: Path) -> Prices:
    """Sum up the price of electricity over the tariff's period.

    Parameters
    ----------
    tariff : Tariff
        The tariff.
    folder : Path
        Folder of its file, from which the path of a price series starts.

    Returns
    -------
    Prices
        Mean over time, lowest and highest price [currency/kWh].

    Raises
    ------
    InputError
        With every issue of the price series.
    """
    series_csv = tariff.electricity.series_csv
    if series_csv is None:
        per_kwh = week_prices(tariff.electricity)
    else:
        per_kwh = read_series(folder / series_csv).per_kwh
    return Prices(math.fsum(per_kwh) / len(per_kwh), min(per_kwh), max(per_kwh))


def week_prices(electricity: Electricity) -> tuple[float, ...]:
    """Lay one price, or windows over a base price, out over a week of local time.

    Parameters
    ----------
    electricity : Electricity
        A price of the form ``flat`` or ``windows``.

    Returns
    -------
    tuple of float
        Price of each minute from Monday 00:00 on [currency/kWh].

    Raises
    ------
    ValueError
        If the form is ``series``, which has no week.
    """
    if electricity.price_per_kwh is None:
        raise ValueError("a price series has no week")
    week = [electricity.price_per_kwh] * MINUTES_PER_WEEK
    for window in electricity.window:
        for minute in window.week_minutes():
            week[minute] = window.price_per_kwh
    return tuple(week)


def read_series(path: Path) -> PriceSeries:
    """Read a price series: CSV with the columns ``start_utc,price_per_kwh``.

    The times are ISO 8601, each with a Z or with its own offset from UTC, in which they are counted; one
    after the other at a constant step of 15, 30 or 60 min.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    PriceSeries
        The series [currency/kWh].

    Raises
    ------
    InputError
        With the line number of every issue, up to ten, and how many more there are.
    """
    text = read_text(path, "price series", most_bytes=MOST_SERIES_BYTES)
    rows = csv.reader(io.StringIO(text, newline=""))
    subject = str(path)
    try:
        lines = [(rows.line_num, row) for row in rows if row]
    except csv.Error as error:
        issue = InputIssue(
            subject, f"line {rows.line_num}", "is not CSV", str(error), "one time and one price a line"
        )
        raise InputError([issue]) from error
    if not lines or lines[0][1] != SERIES_HEAD:
        found = written(",".join(lines[0][1])) if lines else ""
        rule = f"its first line must be {','.join(SERIES_HEAD)}"
        raise InputError([InputIssue(subject, "line 1", rule, found, "name the two columns so")])
    if len(lines) < 3:
        rule = "holds less than two prices, so that their step is not known"
        raise InputError([InputIssue(subject, "", rule, "", "one line for each step of the period")])
    return _series(subject, lines[1:])


def _series(subject: str, lines: list[tuple[int, list[str]]]) -> PriceSeries:
    issues: list[InputIssue] = []
    starts: list[datetime] = []
    per_kwh: list[float] = []
    for number, row in lines:
        issue = _row_issue(subject, f"line {number}", row)
        if issue:
            issues.append(issue)
        else:
            starts.append(datetime.fromisoformat(row[0]).astimezone(UTC))
            per_kwh.append(float(row[1]))
    # A line that cannot be read would show once more as a gap.
    if not issues:
        issues = _step_issues(subject, [number for number, _ in lines], starts)
    if issues:
        raise InputError(_first_and_how_many_more(subject, issues))
    step = starts[1] - starts[0]
    return PriceSeries(starts[0], step // timedelta(minutes=1), tuple(per_kwh))


def _first_and_how_many_more(subject: str, issues: list[InputIssue]) -> list[InputIssue]:
    more = len(issues) - MOST_ISSUES
    if more <= 0:
        return issues
    lines = "1 more line has" if more == 1 else f"{more} more lines have"
    return [*issues[:MOST_ISSUES], InputIssue(subject, "", f"{lines} an issue")]


def _row_issue(subject: str, key: str, row: list[str]) -> InputIssue | None:
    if len(row) != len(SERIES_HEAD):
        fix = "a time, a comma, and a price with a decimal point"
        return InputIssue(subject, key, "must hold one time and one price", written(",".join(row)), fix)
    if not _is_instant(row[0]):
        rule, fix = (
            "start_utc must be a time in UTC or with its offset, to the minute",
            "2025-03-03T00:30:00Z",
        )
        return InputIssue(subject, key, rule, written(row[0]), fix)
    try:
        price = float(row[1])
    except ValueError:
        price = math.nan
    if not abs(price) <= BELIEVABLE_PER_KWH:
        rule = f"price_per_kwh must be a number from {-BELIEVABLE_PER_KWH:g} to {BELIEVABLE_PER_KWH:g}"
        return InputIssue(
            subject, key, rule, written(row[1]), "the price of 1 kWh in the tariff's currency: 0.25"
        )
    return None


def _is_instant(text: str) -> bool:
    try:
        at = datetime.fromisoformat(text)
        utc = at.astimezone(UTC)
    except (ValueError, OverflowError):
        return False
    return at.tzinfo is not None and utc.second == utc.microsecond == 0


def _step_issues(subject: str, numbers: list[int], starts: list[datetime]) -> list[InputIssue]:
    step = starts[1] - starts[0]
    if step not in [timedelta(minutes=minutes) for minutes in STEPS_MIN]:
        rule = "the step from the first time to the second must be 15, 30 or 60 min"
        found = f"{step / timedelta(minutes=1):g} min"
        return [InputIssue(subject, f"line {numbers[1]}", rule, found, "times in order, one step apart")]
    issues = []
    for number, before, start in zip(numbers[1:], starts, starts[1:], strict=False):
        if start - before != step:
            if start == before:
                rule = "has the time of the line before"
            elif start < before:
                rule = "is earlier than the line before"
            else:
                rule = "leaves a gap after the line before"
            fix = f"{before + step:%Y-%m-%dT%H:%M:%SZ} comes next"
            issues.append(InputIssue(subject, f"line {number}", rule, f"{start:%Y-%m-%dT%H:%M:%SZ}", fix))
    return issues
