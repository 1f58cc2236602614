"""The price of electricity over the whole period of a tariff: a week, or a file of prices."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.profile.messages import written
from optimizer.profile.tariff import MINUTES_PER_WEEK, PRICE, Electricity, Tariff, unbelievable

SERIES_HEADS = {"start_utc": "in UTC or with its offset", "start_local": "in the tariff's zone"}
"""Names that the first column of a price series may have, and what its times then are."""
PRICE_COLUMN = "price_per_kwh"
FIRST_LINE = "start_utc,price_per_kwh or start_local,price_per_kwh"
SERIES_WORDS = re.compile("start|time|date|price|utc|kwh", re.IGNORECASE)
"""What the first line of a file that is meant to be a price series has in it."""
STEPS_MIN = (15, 30, 60)
"""Steps that a price series may have [min]."""
YEARS = range(1970, 2200)
"""Years that a price series may be of [1]: one step past the last year of a calendar has no date."""
MOST_SERIES_BYTES = 4_000_000
"""Room for a year of quarter-hours with long decimals [B]."""
MOST_ISSUES = 10
"""Issues of lines that are listed: a wrong column gives one for every line [1]."""


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
        per_kwh = read_series(folder / series_csv, tariff).per_kwh
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


def readings(at: datetime, zone: ZoneInfo) -> list[datetime]:
    """Find the instants at which the clocks of a zone show a local time.

    Parameters
    ----------
    at : datetime
        The local time, without an offset.
    zone : ZoneInfo
        The zone.

    Returns
    -------
    list of datetime
        None where the clocks skip it, two where they show it twice, in order; with their offsets.

    Examples
    --------
    >>> twice = readings(datetime(2026, 10, 25, 2, 30), ZoneInfo("Europe/Berlin"))
    >>> [one.isoformat() for one in twice]
    ['2026-10-25T02:30:00+02:00', '2026-10-25T02:30:00+01:00']
    """
    found = [at.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    real = [one for one in found if one.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == at]
    return real[:1] if len(real) == 2 and real[0].utcoffset() == real[1].utcoffset() else real


def read_series(path: Path, tariff: Tariff) -> PriceSeries:
    """Read a price series: CSV with the columns ``start_utc,price_per_kwh`` or ``start_local,price_per_kwh``.

    The times are ISO 8601, one after the other at a constant step of 15, 30 or 60 min. One with a Z or with
    an offset from UTC is counted in it, whatever the column is called; one without is taken to be in the
    tariff's zone where the column is ``start_local``, and is refused where that zone's clocks show it twice
    or never. Columns are parted by commas, or by semicolons; with semicolons a price may have a decimal
    comma.

    Parameters
    ----------
    path : Path
        The file.
    tariff : Tariff
        The tariff that names it, for its zone and its currency.

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
    first = text.partition("\n")[0]
    delimiter = ";" if ";" in first else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    subject = str(path)
    try:
        lines = [(rows.line_num, [cell.strip() for cell in row]) for row in rows if row]
    except csv.Error as error:
        issue = InputIssue(
            subject, f"line {rows.line_num}", "is not CSV", str(error), "one time and one price a line"
        )
        raise InputError([issue]) from error
    head = lines[0][1] if lines else []
    if len(head) != 2 or head[0] not in SERIES_HEADS or head[1] != PRICE_COLUMN:
        # Another file, given by mistake, may hold secrets.
        found = written(first.strip()) if SERIES_WORDS.search(first) else ""
        rule = f"its first line must be {FIRST_LINE}"
        raise InputError([InputIssue(subject, "line 1", rule, found, "name the two columns so")])
    if len(lines) < 3:
        rule = "holds less than two prices, so that their step is not known"
        raise InputError([InputIssue(subject, "", rule, "", "one line for each step of the period")])
    return _Series(subject, head[0], delimiter, tariff).read(lines[1:])


@dataclass(frozen=True)
class _Series:
    """How the lines of one file are read."""

    subject: str
    column: str
    delimiter: str
    tariff: Tariff

    def read(self, lines: list[tuple[int, list[str]]]) -> PriceSeries:
        issues: list[InputIssue] = []
        starts: list[datetime] = []
        per_kwh: list[float] = []
        for number, row in lines:
            try:
                start, price = self._row(row)
            except _BadLineError as error:
                issues.append(InputIssue(self.subject, f"line {number}", *error.args))
            else:
                starts.append(start)
                per_kwh.append(price)
        # A line that cannot be read would show once more as a gap.
        if not issues:
            issues = self._step_issues(lines, starts)
        if issues:
            raise InputError(_first_and_how_many_more(self.subject, issues))
        step = starts[1] - starts[0]
        return PriceSeries(starts[0], step // timedelta(minutes=1), tuple(per_kwh))

    def _row(self, row: list[str]) -> tuple[datetime, float]:
        if len(row) != 2:
            fix = "a time, a comma, and a price with a decimal point"
            if self.delimiter == ";":
                fix = "a time, a semicolon, and a price"
            elif len(row) == 3 and (row[1] + row[2]).lstrip("+-").isdigit():
                fix = (
                    f"a decimal point, {row[1]}.{row[2]}, or semicolons between the columns in every line, "
                    f"the first too: {self.column};{PRICE_COLUMN}"
                )
            rule, found = "must hold one time and one price", written(self.delimiter.join(row))
            raise _BadLineError(rule, found, fix)
        start = self._instant(row[0])
        try:
            price = float(row[1].replace(",", ".") if self.delimiter == ";" else row[1])
        except ValueError:
            price = math.nan
        if not math.isfinite(price):
            fix = f"the price of 1 kWh in the tariff's currency, {self.tariff.currency}: 0.25"
            raise _BadLineError("price_per_kwh must be a finite number", written(row[1]), fix)
        if wrong := unbelievable(price, PRICE, self.tariff.currency):
            rule, fix = wrong
            raise _BadLineError(f"price_per_kwh {rule}", written(row[1]), fix)
        return start, price

    def _instant(self, text: str) -> datetime:
        rule = f"{self.column} must be a time {SERIES_HEADS[self.column]}, to the minute"
        fix = "2025-03-03T00:30:00Z" if self.column == "start_utc" else "2025-03-03T00:30"
        try:
            at = datetime.fromisoformat(text)
            utc = at.astimezone(UTC) if at.tzinfo else self._from_local(at)
        except (ValueError, OverflowError) as error:
            raise _BadLineError(rule, written(text), fix) from error
        if utc.second or utc.microsecond:
            raise _BadLineError(rule, written(text), fix)
        if utc.year not in YEARS:
            raise _BadLineError(f"its year must be {YEARS[0]} to {YEARS[-1]}", written(text), fix)
        return utc

    def _from_local(self, at: datetime) -> datetime:
        """Find the one instant at which the clocks of the tariff's zone show a time."""
        if self.column == "start_utc":
            raise ValueError("a time without its offset")
        zone = ZoneInfo(self.tariff.electricity.zone)
        found = readings(at, zone)
        if len(found) == 1:
            return found[0].astimezone(UTC)
        if not found:
            rule = f"the clocks of {zone.key} never show this time: they go forward over it"
            raise _BadLineError(rule, written(at.isoformat()), "leave the line out, or write its offset")
        first, second = found
        rule = f"the clocks of {zone.key} show this time twice that night"
        fix = f"write the offset of each: {first.isoformat()} first, then {second.isoformat()}"
        raise _BadLineError(rule, written(at.isoformat()), fix)

    def _step_issues(self, lines: list[tuple[int, list[str]]], starts: list[datetime]) -> list[InputIssue]:
        step = starts[1] - starts[0]
        if step not in [timedelta(minutes=minutes) for minutes in STEPS_MIN]:
            rule = "the step from the first time to the second must be 15, 30 or 60 min"
            found, fix = f"{step / timedelta(minutes=1):g} min", "times in order, one step apart"
            return [InputIssue(self.subject, f"line {lines[1][0]}", rule, found, fix)]
        issues = []
        for (number, row), before, start in zip(lines[1:], starts, starts[1:], strict=False):
            if start - before != step:
                if start == before:
                    rule = "has the time of the line before"
                elif start < before:
                    rule = "is earlier than the line before"
                else:
                    rule = "leaves a gap after the line before"
                found, fix = self._shown(start, row[0]), f"{self._shown(before + step)} comes next"
                issues.append(InputIssue(self.subject, f"line {number}", rule, found, fix))
        return issues

    def _shown(self, utc: datetime, given: str = "") -> str:
        """Write a time as the column has it; one in the tariff's zone as given, where it is."""
        if self.column == "start_utc":
            return f"{utc:%Y-%m-%dT%H:%M:%SZ}"
        zone = ZoneInfo(self.tariff.electricity.zone)
        local = utc.astimezone(zone)
        twice = len(readings(local.replace(tzinfo=None, fold=0), zone)) == 2
        return given or (local if twice else local.replace(tzinfo=None)).isoformat(timespec="minutes")


def _first_and_how_many_more(subject: str, issues: list[InputIssue]) -> list[InputIssue]:
    more = len(issues) - MOST_ISSUES
    if more <= 0:
        return issues
    lines = "1 more line has" if more == 1 else f"{more} more lines have"
    return [*issues[:MOST_ISSUES], InputIssue(subject, "", f"{lines} an issue")]


class _BadLineError(Exception):
    """A line of a price series is refused; its arguments are rule, value found and fix."""
