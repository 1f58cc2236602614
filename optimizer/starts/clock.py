"""Local clocks: instants from what a person writes, and clock times laid over UTC.

Inside, an instant is a number of seconds since 1970-01-01 UTC. A window such as 22:00 to 07:00 is in local
time, so the local time of every minute of UTC is looked up: where the clock goes forward a window loses what
is skipped, where it goes back it holds the repeated hour twice. No start can be lost or doubled, because
starts are counted in UTC.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError, InputIssue, quoted
from optimizer.profile.price_series import readings
from optimizer.profile.tariff import MINUTES_PER_DAY, MINUTES_PER_WEEK
from optimizer.starts.step_function import Array, Steps
from optimizer.units import S_PER_MIN

FIRST_YEAR, LAST_YEAR = 2000, 2099
"""Years an instant may lie in [1]: before, clocks followed other rules than the zones of today."""

MONDAY_MIN = 3 * MINUTES_PER_DAY
"""From the Monday before 1970-01-01, a Thursday, to that day [min]."""


def instant_s(text: str, zone: ZoneInfo, option: str) -> int:
    """Read an instant as seconds since 1970-01-01 UTC: a date, a local time, or a time with its offset.

    The text is ISO 8601 to the minute: ``2026-03-29`` (the first minute of that day), ``2026-03-29T07:00``,
    ``2026-03-29T07:00+02:00`` or ``2026-03-29T05:00Z``. `InputError` where it is no time, lies outside of
    2000 to 2099, or is a local time that the zone skips or has twice.

    Examples
    --------
    >>> instant_s("2026-03-29T03:00", ZoneInfo("Europe/Berlin"), "--from")
    1774746000
    """
    at = _to_the_minute(text)
    if at is None:
        rule = f"must be a date or a time to the minute, from {FIRST_YEAR} to {LAST_YEAR}"
        raise InputError([InputIssue(option, "", rule, quoted(text), "2026-03-28 or 2026-03-28T22:00")])
    if at.tzinfo is not None:
        return int(at.timestamp())
    if _is_date(text):
        return day_start_s(at.date(), zone)
    found = readings(at, zone)
    if len(found) == 1:
        return int(found[0].timestamp())
    if found:
        rule = f"comes twice in {zone.key}, where the clock goes back then"
        fix = " or ".join(f"{reading.isoformat(timespec='minutes')}" for reading in found)
    else:
        rule = f"does not exist in {zone.key}, where the clock goes forward then"
        fix = f"{at.replace(tzinfo=zone).astimezone(UTC).astimezone(zone):%Y-%m-%dT%H:%M}"
    raise InputError([InputIssue(option, "", rule, quoted(text), fix)])


def _to_the_minute(text: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    off_s = at.replace(tzinfo=at.tzinfo or UTC).timestamp() % S_PER_MIN
    return at if FIRST_YEAR <= at.year <= LAST_YEAR and not off_s else None


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def day_start_s(day: date, zone: ZoneInfo) -> int:
    """Find the first instant of a local day; where midnight is skipped, the instant after the skip.

    Examples
    --------
    >>> zone = ZoneInfo("America/Denver")
    >>> (day_start_s(date(2026, 3, 9), zone) - day_start_s(date(2026, 3, 8), zone)) // 3600
    23
    """
    return int(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp())


def local(time_s: float, zone: ZoneInfo) -> datetime:
    """Show an instant on a local clock."""
    return datetime.fromtimestamp(time_s, zone)


def is_ambiguous(at: datetime) -> bool:
    """Tell whether the clock shows this time twice, so that only the offset tells them apart."""
    return at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()


def clock_text(time_s: float, zone: ZoneInfo, form: str = "%a %d %b %Y %H:%M") -> str:
    """Write an instant as the local clock shows it, with its offset where the clock shows it twice.

    Examples
    --------
    >>> zone = ZoneInfo("Europe/Berlin")
    >>> clock_text(1792888200, zone), clock_text(1792891800, zone), clock_text(1792895400, zone)
    ('Sun 25 Oct 2026 02:30 +0200', 'Sun 25 Oct 2026 02:30 +0100', 'Sun 25 Oct 2026 03:30')
    """
    at = local(time_s, zone)
    return at.strftime(form) + (f" {at:%z}" if is_ambiguous(at) else "")


def a_day_later_s(time_s: int, zone: ZoneInfo) -> int:
    """Find the instant at which the clock shows the same time on the next day: 23, 24 or 25 hours later."""
    at = local(time_s, zone).replace(tzinfo=None) + timedelta(days=1)
    return int(at.replace(tzinfo=zone).timestamp())


@dataclass(frozen=True)
class ClockMinutes:
    """What a local clock shows in each of many minutes.

    Attributes
    ----------
    first_s : int
        Start of the first minute, since 1970-01-01 UTC [s].
    shown_min : ndarray of int
        What the clock shows in each minute, since 1970-01-01 00:00 of the clock [min].
    """

    first_s: int
    shown_min: NDArray[np.int64]

    @classmethod
    def between(cls, first_s: float, last_s: float, zone: ZoneInfo) -> ClockMinutes:
        """Ask the clock about every minute of a stretch of time, which is widened to whole minutes."""
        import pandas as pd

        first_min = int(first_s // S_PER_MIN)
        count = max(int(-(-last_s // S_PER_MIN)) - first_min, 1)
        start = pd.Timestamp(first_min * 60, unit="s", tz="UTC")
        minutes = pd.date_range(start, periods=count, freq="min", unit="s").tz_convert(zone)
        return cls(first_min * 60, minutes.tz_localize(None).asi8 // 60)

    def steps(self, table: Sequence[float]) -> Steps:
        """Lay a table over UTC: one value a minute of the day, or of the week from Monday 00:00."""
        if len(table) not in (MINUTES_PER_DAY, MINUTES_PER_WEEK):
            raise ValueError("a table has the minutes of a day or of a week")
        values = np.asarray(table, dtype=float)[(self.shown_min + MONDAY_MIN) % len(table)]
        return Steps.of(self.first_s + 60.0 * np.arange(values.size + 1), values)

    def daily_s(self, minute: int) -> Array:
        """Find, for each local day, the first instant at which the clock shows a time of day or a later one.

        Where the clock goes back over that time it is the first of the two, where the time is skipped the
        end of the skip. The day of the first minute is left out.
        """
        day = self.shown_min // MINUTES_PER_DAY
        late = np.flatnonzero(self.shown_min % MINUTES_PER_DAY >= minute)
        days, firsts = np.unique(day[late], return_index=True)
        found = late[firsts[days > day[0]]]
        return np.asarray(self.first_s + 60.0 * found, dtype=float)
