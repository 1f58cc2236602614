"""Which starts are looked at: from when, until when, how far apart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from optimizer.errors import InputError, InputIssue, attempt, quoted
from optimizer.option_defaults import EVERY_MIN
from optimizer.profile.price_series import PriceSeries
from optimizer.profile.tariff import Tariff, minute_of_day
from optimizer.starts.clock import ClockMinutes, a_day_later_s, instant_s, local
from optimizer.starts.hours import DAY_S, DAYS_ON, Hours, Rules
from optimizer.starts.step_function import Array
from optimizer.units import S_PER_MIN

LONGEST_D = 400
"""A year of starts and some days [d]."""

USUAL_MONDAY = datetime(2025, 1, 6, tzinfo=UTC)
"""A Monday of a week in which no zone's clock changes."""

WEEK_D = 7


@dataclass(frozen=True)
class SpanRequest:
    """Which starts were asked for, as written.

    Attributes
    ----------
    first, until, now : str or None
        Instants as `instant_s` reads them.
    every_min : int
        Distance of the starts [min].
    """

    first: str | None = None
    until: str | None = None
    now: str | None = None
    every_min: int = EVERY_MIN


@dataclass(frozen=True)
class Span:
    """The starts that are looked at, in seconds since 1970-01-01 UTC.

    Attributes
    ----------
    first_s : int
        First start [s].
    until_s : int
        No start from here on [s].
    now_s : int
        The present [s].
    every_s : int
        Distance of the starts [s].
    """

    first_s: int
    until_s: int
    now_s: int
    every_s: int

    @property
    def starts_s(self) -> Array:
        """Every start [s]."""
        return np.arange(self.first_s, self.until_s, self.every_s, dtype=float)


def usual_span(tariff: Tariff, series: PriceSeries | None, every_min: int = EVERY_MIN) -> Span:
    """Take a tariff's whole period: its series, or a week of its windows in which no clock changes."""
    every_s = every_min * int(S_PER_MIN)
    if series is not None:
        first_s, until_s = _ends(series)
    else:
        monday = USUAL_MONDAY.replace(tzinfo=ZoneInfo(tariff.electricity.zone))
        first_s = int(monday.timestamp())
        until_s = first_s + WEEK_D * DAY_S
    return Span(first_s, until_s, first_s, every_s)


def span_of(request: SpanRequest, tariff: Tariff, series: PriceSeries | None, rules: Rules) -> Span:
    """Work out which starts are meant.

    Without a first start they begin now, or with the price series where now lies outside of it. Without an
    end they go on to the next finish-by time, or else to the end of the series, or for a day. `InputError`
    for a time that cannot be read, an end before the beginning, more than `LONGEST_D` days, or a first
    start without a price.
    """
    zone = ZoneInfo(tariff.electricity.zone)
    issues: list[InputIssue] = []

    def read(text: str | None, option: str) -> int | None:
        return None if text is None else attempt(issues, lambda: instant_s(text, zone, option))

    now_s, wanted_s = read(request.now, "--now"), read(request.first, "--from")
    until_s = read(request.until, "--until")
    if issues:
        raise InputError(issues)
    now_s = int(datetime.now(UTC).timestamp()) if now_s is None else now_s
    every_s = request.every_min * int(S_PER_MIN)
    first_s = _next_on_clock_s(now_s, every_s, zone) if wanted_s is None else wanted_s
    if series is not None:
        first_s = _within(series, first_s, request.first, zone)
    if until_s is None:
        until_s = _usual_until_s(first_s, series, rules, zone)
    elif not first_s < until_s <= first_s + LONGEST_D * DAY_S:
        rule = f"must come after the first start, by {LONGEST_D} days at the most"
        fix = f"a time after {local(first_s, zone):%Y-%m-%dT%H:%M}"
        raise InputError([InputIssue("--until", "", rule, quoted(request.until or ""), fix)])
    return Span(first_s, until_s, now_s, every_s)


def _within(series: PriceSeries, first_s: int, asked: str | None, zone: ZoneInfo) -> int:
    """Move a first start that was not asked for into the series."""
    begin_s, end_s = _ends(series)
    if begin_s <= first_s < end_s:
        return first_s
    if asked is None:
        return begin_s
    first, last = (f"{local(at_s, zone):%Y-%m-%dT%H:%M}" for at_s in (begin_s, end_s))
    rule = f"must lie within the price series, which runs from {first} to {last} ({zone.key})"
    raise InputError([InputIssue("--from", "", rule, quoted(asked), first)])


def _usual_until_s(first_s: int, series: PriceSeries | None, rules: Rules, zone: ZoneInfo) -> int:
    if rules.finish_by is not None:
        return _next_due_s(first_s, rules.finish_by, zone)
    return a_day_later_s(first_s, zone) if series is None else _ends(series)[1]


def _ends(series: PriceSeries) -> tuple[int, int]:
    first_s = int(series.start_utc.timestamp())
    return first_s, first_s + series.step_min * int(S_PER_MIN) * len(series.per_kwh)


def _next_on_clock_s(now_s: int, every_s: int, zone: ZoneInfo) -> int:
    """First instant from now on at which the clock shows a multiple of the distance since midnight."""
    shown = local(now_s, zone)
    offset = shown.utcoffset()
    ahead_s = 0 if offset is None else int(offset.total_seconds())
    return now_s + -(now_s + ahead_s) % every_s


def _next_due_s(first_s: int, finish_by: str, zone: ZoneInfo) -> int:
    due_s = ClockMinutes.between(first_s - DAY_S, first_s + 3 * DAY_S, zone).daily_s(minute_of_day(finish_by))
    return int(due_s[due_s > first_s][0])


def stretches(hours: Hours, first_s: float, last_s: float) -> list[tuple[float, float]]:
    """List the stretches without quiet hours."""
    edges_s = hours.quiet.edges_s
    ends = zip(edges_s[:-1], edges_s[1:], hours.quiet.values, strict=True)
    cut = [(max(a, first_s), min(b, last_s)) for a, b, quiet in ends if not quiet]
    return [(float(a), float(b)) for a, b in cut if a < b]


def longest_run_s(hours: Hours, span: Span, stand_s: float) -> float:
    """Longest run for which any of the starts asked for leaves time [s]; 0 where none leaves any.

    The load stands for `stand_s` after its last drain: the finish-by time counts that, the quiet hours do
    not.
    """
    longest_s = 0.0
    for begin_s, end_s in stretches(hours, span.first_s, span.until_s + DAYS_ON * DAY_S):
        due_s = [float(at_s) for at_s in hours.due_s if begin_s < at_s < end_s + stand_s]
        for start_s, ready_s in pairwise([begin_s, *due_s, end_s + stand_s]):
            if start_s < span.until_s:
                longest_s = max(longest_s, min(ready_s - stand_s, end_s) - start_s)
    return longest_s
