"""Local clocks over UTC, on days of 23, 24 and 25 hours.

The program takes them from the packaged IANA database. Held against, from memory: Directive 2000/84/EC, at
01:00 UTC on the last Sundays of March and October; United States Code, title 15, section 260a, at 02:00 local
time on the second Sunday of March and the first of November.
"""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starts_cases import BERLIN, DENVER, at, hours_case, utc_s, windows_tariff

from optimizer.errors import InputError
from optimizer.profile.load import load_profile
from optimizer.starts.clock import ClockMinutes, a_day_later_s, clock_text, day_start_s, instant_s, local
from optimizer.starts.hours import Hours, Rules
from optimizer.starts.span import SpanRequest, span_of

LORD_HOWE, HAVANA = ZoneInfo("Australia/Lord_Howe"), ZoneInfo("America/Havana")
CHANGES = {
    "spring in Europe": (BERLIN, date(2026, 3, 29), 23, "2026-03-29T01:00"),
    "autumn in Europe": (BERLIN, date(2026, 10, 25), 25, "2026-10-25T01:00"),
    "spring in America": (DENVER, date(2026, 3, 8), 23, "2026-03-08T09:00"),
    "autumn in America": (DENVER, date(2026, 11, 1), 25, "2026-11-01T08:00"),
}
changes = pytest.mark.parametrize(("zone", "day", "hours", "change"), CHANGES.values(), ids=CHANGES)


@changes
def test_the_day_has_its_hours(zone: ZoneInfo, day: date, hours: int, change: str) -> None:
    begin_s = day_start_s(day, zone)
    assert a_day_later_s(begin_s, zone) - begin_s == 3600 * hours
    shift_s = local(utc_s(change), zone).utcoffset() - local(utc_s(change) - 1, zone).utcoffset()
    assert shift_s.total_seconds() == 3600 * (24 - hours)


@changes
def test_no_start_is_lost_or_doubled(zone: ZoneInfo, day: date, hours: int, change: str) -> None:
    """Half-hours from midnight to midnight: 46 or 50 of them, each with a time and offset of its own."""
    tariff = windows_tariff(zone.key)
    span = span_of(SpanRequest(first=str(day), now="2026-01-01", every_min=30), tariff, None, Rules())
    assert len(span.starts_s) == 2 * hours
    assert set(np.diff(span.starts_s)) == {1800.0}
    assert len({local(start, zone).isoformat() for start in span.starts_s}) == 2 * hours
    texts = [clock_text(start, zone) for start in span.starts_s]
    assert len(set(texts)) == 2 * hours
    offset_shown = [text for text in texts if text[-5] in "+-"]
    assert len(offset_shown) == (4 if hours == 25 else 0)


@changes
def test_a_night_window_follows_the_clock(zone: ZoneInfo, day: date, hours: int, change: str) -> None:
    """22:00 to 07:00 lasts 8 h over the night to a day of 23 hours, 10 h to one of 25."""
    begin_s = day_start_s(day, zone)
    clock = ClockMinutes.between(begin_s - 86400, begin_s + 86400 * 2, zone)
    night = clock.steps([1.0 if minute < 420 or minute >= 1320 else 0.0 for minute in range(1440)])
    rises = night.edges_s[:-1][night.values == 1.0]
    falls = night.edges_s[1:][night.values == 1.0]
    ends = [(local(a, zone), local(b, zone), (b - a) / 3600) for a, b in zip(rises, falls, strict=True)]
    shown = [(f"{a:%H:%M}", f"{b:%H:%M}", hours) for a, b, hours in ends]
    assert shown[1] == ("22:00", "07:00", 9 + hours - 24)
    assert shown[2][2] == 9
    assert night.integral_to([begin_s])[0] < night.integral_to([utc_s(change)])[0]


@changes
def test_the_price_is_that_of_the_clock(zone: ZoneInfo, day: date, hours: int, change: str) -> None:
    """Every minute of three days: the price is the window's where the clock shows 22:00 to 06:59."""
    begin_s = day_start_s(day, zone)
    first, last = (local(at_s, zone).isoformat() for at_s in (begin_s, begin_s + 86400))
    laid = hours_case(zone.key, first, last, ("22:00", "07:00", 0.2))
    minutes_s = np.arange(begin_s - 86400, begin_s + 2 * 86400, 60.0)
    by_clock = [0.2 if local(at_s, zone).hour in (22, 23, *range(7)) else 0.34 for at_s in minutes_s]
    assert laid.price.at(minutes_s).tolist() == by_clock


def test_a_window_of_weekdays_knows_the_weekday() -> None:
    """The shipped three-rate tariff in Denver: 0.43 from 16:00 to 21:00 on Friday the 30th, not on the 31st.

    Summer time ends in the night to Sunday, when 23:00 to 07:00 at 0.12 lasts nine hours.
    """
    tariff = load_profile("tariff", "three-rate")
    hours = Hours.of(tariff, None, Rules(), utc_s("2026-10-30"), utc_s("2026-11-02"))
    price = hours.price.at(
        at(
            *("2026-10-30T15:59-06:00", "2026-10-30T16:00-06:00", "2026-10-30T20:59-06:00"),
            *("2026-10-30T21:00-06:00", "2026-10-31T17:00-06:00", "2026-10-31T23:00-06:00"),
            *("2026-11-01T06:59-07:00", "2026-11-01T07:00-07:00", "2026-11-02T17:00-07:00"),
        )
    )
    assert price.tolist() == [0.21, 0.43, 0.43, 0.21, 0.21, 0.12, 0.12, 0.21, 0.43]


@pytest.mark.parametrize(
    ("zone", "day", "clock", "instants"),
    [
        # 02:30 is skipped: the time has passed as soon as the clock shows 03:00.
        (BERLIN, date(2026, 3, 29), "02:30", ["2026-03-29T01:00", "2026-03-30T00:30"]),
        (DENVER, date(2026, 3, 8), "02:30", ["2026-03-08T09:00", "2026-03-09T08:30"]),
        # It comes twice: the first one counts.
        (BERLIN, date(2026, 10, 25), "02:30", ["2026-10-25T00:30", "2026-10-26T01:30"]),
        (DENVER, date(2026, 11, 1), "01:30", ["2026-11-01T07:30", "2026-11-02T08:30"]),
        (BERLIN, date(2026, 10, 25), "06:30", ["2026-10-25T05:30", "2026-10-26T05:30"]),
        (BERLIN, date(2026, 3, 29), "00:00", ["2026-03-28T23:00", "2026-03-29T22:00"]),
        # Clocks that change by half an hour, and at midnight.
        (LORD_HOWE, date(2026, 4, 5), "01:45", ["2026-04-04T14:45", "2026-04-05T15:15"]),
        (HAVANA, date(2026, 3, 8), "00:00", ["2026-03-08T05:00", "2026-03-09T04:00"]),
    ],
)  # fmt: skip
def test_a_time_of_day_once_a_day(zone: ZoneInfo, day: date, clock: str, instants: list[str]) -> None:
    begin_s = day_start_s(day, zone)
    minutes = ClockMinutes.between(begin_s - 7200, begin_s + 2 * 86400 - 7200, zone)
    hour, minute = map(int, clock.split(":"))
    assert minutes.daily_s(60 * hour + minute).tolist() == [utc_s(text) for text in instants]


@given(
    st.sampled_from([BERLIN, DENVER, LORD_HOWE, HAVANA, ZoneInfo("Asia/Kathmandu")]),
    st.integers(utc_s("2024-01-01") // 60, utc_s("2027-01-01") // 60),
    st.integers(0, 1439),
)  # fmt: skip
def test_every_day_has_its_time(zone: ZoneInfo, first_min: int, minute: int) -> None:
    """Property: one instant a local day; the clock shows the time there, or skips it."""
    clock = ClockMinutes.between(60 * first_min, 60 * first_min + 4 * 86400, zone)
    found = [local(at_s, zone) for at_s in clock.daily_s(minute)]
    assert len(found) in (3, 4)
    assert len({seen.date() for seen in found}) == len(found)
    for seen in found:
        shown, before = seen.hour * 60 + seen.minute, local(seen.timestamp() - 60, zone)
        skipped = before.date() < seen.date() or before.hour * 60 + before.minute < minute
        assert shown == minute or (shown > minute and skipped)


@given(st.sampled_from(["Europe/Berlin", "America/Denver", "Asia/Kathmandu"]), st.integers(0, 2**21))
def test_the_clock_shows_what_the_zone_says(zone_key: str, minute: int) -> None:
    """pandas against zoneinfo."""
    at_s, zone = utc_s("2023-01-01") + 60 * minute, ZoneInfo(zone_key)
    shown = local(at_s, zone).replace(tzinfo=None)
    (found,) = ClockMinutes.between(at_s, at_s + 60, zone).shown_min
    assert found * 60 == utc_s(shown.isoformat())


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("2026-03-29", "2026-03-28T23:00"),
        ("2026-03-29T03:00", "2026-03-29T01:00"),
        ("2026-03-29 03:00", "2026-03-29T01:00"),
        ("2026-10-25T02:30+02:00", "2026-10-25T00:30"),
        ("2026-10-25T02:30+01:00", "2026-10-25T01:30"),
        ("2026-10-25T00:30Z", "2026-10-25T00:30"),
        ("2026-10-25T03:00", "2026-10-25T02:00"),
    ],
)
def test_instants(text: str, instant: str) -> None:
    assert instant_s(text, BERLIN, "--from") == utc_s(instant)


def test_a_day_without_a_midnight_begins_later() -> None:
    assert clock_text(instant_s("2026-03-08", HAVANA, "--from"), HAVANA) == "Sun 08 Mar 2026 01:00"


NO_TIME = "must be a date or a time to the minute, from 2000 to 2099"
EXAMPLE = "2026-03-28 or 2026-03-28T22:00"


@pytest.mark.parametrize(
    ("text", "zone", "rule", "fix"),
    [
        ("tomorrow", BERLIN, NO_TIME, EXAMPLE),
        ("", BERLIN, NO_TIME, EXAMPLE),
        ("2026-02-30", BERLIN, NO_TIME, EXAMPLE),
        ("1999-12-31", BERLIN, NO_TIME, EXAMPLE),
        ("2026-03-28T22:00:01", BERLIN, NO_TIME, EXAMPLE),
        ("2026-03-28T22:00+01:00:30", BERLIN, NO_TIME, EXAMPLE),
        (
            "2026-03-29T02:00",
            BERLIN,
            "does not exist in Europe/Berlin, where the clock goes forward then",
            "2026-03-29T03:00",
        ),
        (
            "2026-03-08T02:59",
            DENVER,
            "does not exist in America/Denver, where the clock goes forward then",
            "2026-03-08T03:59",
        ),
        (
            "2026-10-25T02:00",
            BERLIN,
            "comes twice in Europe/Berlin, where the clock goes back then",
            "2026-10-25T02:00+02:00 or 2026-10-25T02:00+01:00",
        ),
        (
            "2026-11-01T01:59",
            DENVER,
            "comes twice in America/Denver, where the clock goes back then",
            "2026-11-01T01:59-06:00 or 2026-11-01T01:59-07:00",
        ),
    ],
)
def test_what_is_no_instant(text: str, zone: ZoneInfo, rule: str, fix: str) -> None:
    with pytest.raises(InputError) as caught:
        instant_s(text, zone, "--until")
    (issue,) = caught.value.issues
    assert (issue.subject, issue.rule, issue.found, issue.fix) == ("--until", rule, f'"{text}"', fix)
