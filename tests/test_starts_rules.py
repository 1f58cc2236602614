"""Quiet hours, finish-by times, the starts that are looked at, and what is said where none is possible."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import plan_case, trace_case
from starts_cases import BERLIN, DENVER, at, hours_case, run_case, utc_s, windows_tariff

from optimizer.errors import InputError
from optimizer.profile.load import load_profile
from optimizer.profile.price_series import PriceSeries
from optimizer.profile.tariff import Quiet
from optimizer.starts.clock import clock_text, local
from optimizer.starts.hours import Hours, Rules, rules_of
from optimizer.starts.run_cost import Run, power_steps
from optimizer.starts.scan import Scan, scan, scan_usual
from optimizer.starts.span import Span, SpanRequest, longest_run_s, span_of, usual_span
from optimizer.starts.when import no_start


def shown(found: Scan, number: int) -> str:
    return clock_text(found.starts_s[number], found.hours.zone)


def test_a_run_ends_when_the_quiet_begins_and_not_a_minute_later() -> None:
    """Winter in Berlin: 22:00 to 07:00 is 21:00 to 06:00 UTC; the run takes an hour."""
    hours = hours_case("Europe/Berlin", "2026-01-10", "2026-01-12", quiet="22:00-07:00")
    starts = at("2026-01-10T20:00", "2026-01-10T20:01", "2026-01-11T05:59", "2026-01-11T06:00")
    assert hours.out_of_quiet(run_case(), starts).tolist() == [True, False, False, True]
    second_longer = replace(run_case(), longest_s=3601.0)
    assert hours.out_of_quiet(second_longer, starts).tolist() == [False, False, False, True]


def test_a_run_longer_than_the_quiet_touches_it_too() -> None:
    hours = hours_case("UTC", "2026-01-10", "2026-01-12", quiet="12:00-12:01")
    starts = at("2026-01-10T11:00", "2026-01-10T11:30", "2026-01-10T12:00", "2026-01-10T12:01")
    assert hours.out_of_quiet(run_case(), starts).tolist() == [True, False, False, True]


@pytest.mark.parametrize(
    ("zone", "first", "last_before", "first_after"),
    [
        (BERLIN, "2026-03-28", "2026-03-28T20:00", "2026-03-29T05:00"),
        (BERLIN, "2026-10-24", "2026-10-24T19:00", "2026-10-25T06:00"),
        (DENVER, "2026-03-07", "2026-03-08T04:00", "2026-03-08T13:00"),
        (DENVER, "2026-10-31", "2026-11-01T03:00", "2026-11-01T14:00"),
    ],
    ids=["23 h in Europe", "25 h in Europe", "23 h in America", "25 h in America"],
)
def test_quiet_nights_in_which_the_clock_changes(
    zone, first: str, last_before: str, first_after: str
) -> None:
    """By hand, in UTC: the last start before 22:00 less an hour, and 07:00 by the new clock."""
    hours = hours_case(zone.key, f"{first}T12:00", f"{first}T23:00", quiet="22:00-07:00")
    minutes = np.arange(utc_s(f"{first}T16:00"), utc_s(f"{first}T16:00") + 86400, 60.0)
    blocked = minutes[~hours.out_of_quiet(run_case(), minutes)]
    assert (blocked[0] - 60, blocked[-1] + 60) == (utc_s(last_before), utc_s(first_after))


def test_the_quiet_hours_of_tariff_and_option_add_up() -> None:
    tariff = windows_tariff("UTC").model_copy(update={"quiet": [Quiet(start="01:00", until="02:00")]})
    rules = rules_of(tariff, ["22:00-23:00"], "06:30")
    assert [(quiet.start, quiet.until) for quiet in rules.quiet] == [("01:00", "02:00"), ("22:00", "23:00")]
    assert rules.finish_by == "06:30"
    assert rules_of(windows_tariff("UTC", finish_by="05:00")).finish_by == "05:00"
    assert rules_of(windows_tariff("UTC", finish_by="05:00"), (), "06:30").finish_by == "06:30"


def test_what_is_no_time_of_day() -> None:
    with pytest.raises(InputError) as caught:
        rules_of(windows_tariff("UTC"), ["22:00", "24:00-07:00", "07:00-07:00", "22:00-07:00"], "6:30")
    assert [f"{issue.subject} {issue.found} {issue.fix}" for issue in caught.value.issues] == [
        '--quiet "22:00" 22:00-07:00',
        '--quiet "24:00-07:00" 22:00-07:00',
        '--quiet "07:00-07:00" 22:00-07:00',
        '--finish-by "6:30" 06:30',
    ]


def test_ready_by_the_minute_and_not_one_later() -> None:
    """An hour's run and twenty minutes of standing: to be ready by 06:30 it starts by 05:10."""
    hours = hours_case("UTC", "2026-01-10", "2026-01-12", finish_by="06:30")
    starts = at("2026-01-10T05:10", "2026-01-10T05:11", "2026-01-10T06:29", "2026-01-10T06:30")
    assert hours.in_time(run_case(stand_min=20.0), starts).tolist() == [True, False, False, True]


def test_the_stand_may_lie_in_the_quiet_hours() -> None:
    hours = hours_case("UTC", "2026-01-10", "2026-01-12", quiet="22:00-07:00")
    assert hours.out_of_quiet(run_case(stand_min=20.0), at("2026-01-10T21:00")).tolist() == [True]


def test_finish_by_on_the_day_that_skips_it() -> None:
    """02:30 does not come on 2026-03-29 in Berlin: ready by 03:00, which is 01:00 UTC."""
    hours = hours_case("Europe/Berlin", "2026-03-28T20:00", "2026-03-29T20:00", finish_by="02:30")
    assert hours.in_time(run_case(), at("2026-03-29T00:00", "2026-03-29T00:01")).tolist() == [True, False]


def test_the_cheapest_start_follows_the_night_window() -> None:
    """An hour's kilowatt, and 0.25 for water: 0.47 in the window, 0.59 outside."""
    hours = hours_case("Europe/Berlin", "2026-03-28T12:00", "2026-03-29T12:00", ("22:00", "06:00", 0.22))
    found = scan(run_case(), hours, np.arange(utc_s("2026-03-28T12:00"), utc_s("2026-03-29T12:00"), 900.0))
    assert (shown(found, found.cheapest), shown(found, found.dearest)) == (
        "Sat 28 Mar 2026 22:00",
        "Sat 28 Mar 2026 13:00",
    )
    assert (found.costs.min(), found.costs.max()) == pytest.approx((0.47, 0.59))
    cheap_h = np.count_nonzero(found.costs < 0.47 + 1e-9) / 4
    assert cheap_h == 7 - 1 + 0.25  # 22:00 to 06:00 lasts 7 h in this night


@given(
    st.integers(0, 3 * 96),
    st.sampled_from(["", "22:00-07:00", "23:30-00:15"]),
    st.sampled_from([None, "06:30"]),
)
def test_possible_is_what_every_minute_says(first: int, quiet: str, finish_by: str | None) -> None:
    """Minute by minute with zoneinfo: no run is on in a quiet minute or past the finish-by time."""
    begin_s = utc_s("2026-10-24") + 900 * first
    hours = hours_case("Europe/Berlin", "2026-10-24", "2026-10-28", quiet=quiet, finish_by=finish_by)
    run = run_case(minutes=75.0, stand_min=30.0)
    on = [f"{local(begin_s + 60 * minute, BERLIN):%H:%M}" for minute in range(75)]
    start, _, until = quiet.partition("-")
    noisy = [
        at for at in on if quiet and (start <= at < until if start < until else at >= start or at < until)
    ]
    until_ready = [f"{local(begin_s + 60 * minute, BERLIN):%H:%M}" for minute in range(1, 105)]
    late = finish_by is not None and finish_by in until_ready
    assert bool(hours.possible(run, np.array([float(begin_s)]))[0]) == (not noisy and not late)


SERIES = PriceSeries(datetime(2026, 3, 28, tzinfo=UTC), 60, tuple([0.3, -0.2, 0.1] * 8))


def test_a_series_ends_where_it_ends() -> None:
    hours = Hours.of(windows_tariff("UTC"), SERIES, Rules(), utc_s("2026-03-28"), utc_s("2026-03-29"))
    run = run_case()
    found = scan(run, hours, np.arange(utc_s("2026-03-27"), utc_s("2026-03-30"), 1800.0))
    assert (shown(found, 0), shown(found, -1)) == ("Sat 28 Mar 2026 00:00", "Sat 28 Mar 2026 23:00")
    # Paid for an hour of a kilowatt at −0.20, on top of 0.25 for water.
    assert found.costs.min() == pytest.approx(0.05)
    assert shown(found, found.cheapest) == "Sat 28 Mar 2026 01:00"


def test_equal_costs_are_won_by_the_earliest() -> None:
    hours = hours_case("UTC", "2026-01-10", "2026-01-12")
    found = scan(
        run_case(minutes=67.0, power_w=613.7),
        hours,
        np.arange(utc_s("2026-01-10"), utc_s("2026-01-12"), 420.0),
    )
    assert (found.cheapest, found.dearest) == (0, 0)


# --- which starts are looked at --------------------------------------------------------------------


def span_case(zone: str = "Europe/Berlin", series: PriceSeries | None = None, **asked: object) -> Span:
    rules = Rules(finish_by=asked.pop("finish_by", None))
    return span_of(SpanRequest(**asked), windows_tariff(zone), series, rules)


def ends(span: Span) -> tuple[str, str, int]:
    first, until = (datetime.fromtimestamp(at_s, UTC) for at_s in (span.first_s, span.until_s))
    return f"{first:%d %H:%M}", f"{until:%d %H:%M}", len(span.starts_s)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"now": "2026-03-10T14:07"}, ("10 13:15", "11 13:15", 96)),
        ({"now": "2026-03-10T14:15"}, ("10 13:15", "11 13:15", 96)),
        ({"now": "2026-03-28T14:07"}, ("28 13:15", "29 12:15", 92)),
        ({"now": "2026-03-10T14:07", "finish_by": "06:30"}, ("10 13:15", "11 05:30", 65)),
        ({"now": "2026-03-10T06:30", "finish_by": "06:30"}, ("10 05:30", "11 05:30", 96)),
        ({"first": "2026-03-28", "until": "2026-03-30", "every_min": 60}, ("27 23:00", "29 22:00", 47)),
        ({"now": "2026-03-28T14:07", "series": SERIES}, ("28 13:15", "29 00:00", 43)),
        ({"now": "2027-01-01", "series": SERIES}, ("28 00:00", "29 00:00", 96)),
        (
            {"now": "2026-03-10T14:07", "zone": "Asia/Kathmandu", "every_min": 60},
            ("10 09:15", "11 09:15", 24),
        ),
    ],
)
def test_spans(asked: dict[str, object], found: tuple[str, str, int]) -> None:
    assert ends(span_case(**asked)) == found


@pytest.mark.parametrize(
    ("asked", "texts"),
    [
        (
            {"first": "2026-03-28T12:00", "until": "2026-03-28T12:00"},
            ["--until must come after the first start, by 400 days at the most "
             '"2026-03-28T12:00" a time after 2026-03-28T12:00'],
        ),
        (
            {"first": "2026-01-01", "until": "2027-03-01"},
            ["--until must come after the first start, by 400 days at the most "
             '"2027-03-01" a time after 2026-01-01T00:00'],
        ),
        (
            {"first": "2026-03-29T12:00", "series": SERIES},
            ["--from must lie within the price series, which runs from 2026-03-28T01:00 to 2026-03-29T01:00 "
             '(Europe/Berlin) "2026-03-29T12:00" 2026-03-28T01:00'],
        ),
        (
            {"first": "soon", "until": "late", "now": "2026-03-29T02:10"},
            ["--now does not exist in Europe/Berlin, where the clock goes forward then "
             '"2026-03-29T02:10" 2026-03-29T03:10',
             'must be a date or a time to the minute, from 2000 to 2099 "soon"',
             'must be a date or a time to the minute, from 2000 to 2099 "late"'],
        ),
    ],
)  # fmt: skip
def test_spans_that_are_none(asked: dict[str, object], texts: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        span_case(**asked)
    found = [f"{issue.subject} {issue.rule} {issue.found} {issue.fix}" for issue in caught.value.issues]
    assert len(found) == len(texts)
    assert all(text in one for text, one in zip(texts, found, strict=True))


def test_the_usual_span_is_the_whole_period() -> None:
    """A week from a Monday's local midnight, or the whole series."""
    week = usual_span(windows_tariff("America/Denver"), None, 30)
    assert clock_text(week.first_s, DENVER) == "Mon 06 Jan 2025 00:00"
    assert clock_text(week.until_s, DENVER) == "Mon 13 Jan 2025 00:00"
    assert len(week.starts_s) == 7 * 48
    assert ends(usual_span(windows_tariff("UTC"), SERIES, 30)) == ("28 00:00", "29 00:00", 48)


def test_the_usual_scan_keeps_the_tariffs_own_rules() -> None:
    """A week of quarter-hours without the quiet hours of each night."""
    tariff = load_profile("tariff", "two-rate").model_copy(
        update={"quiet": [Quiet(start="23:00", until="05:00")]}
    )
    plan = plan_case()
    plan = replace(plan, inputs=replace(plan.inputs, tariff=tariff))
    found = scan_usual(plan, power_steps(trace_case(plan.constants), plan.inputs.machine), None)
    # 5254 s is 87:34 min: the last start is at 21:30, the first at 05:00.
    assert len(found.starts_s) == 7 * (4 * 16.5 + 1)
    assert (shown(found, 0), shown(found, -1)) == ("Mon 06 Jan 2025 05:00", "Sun 12 Jan 2025 21:30")
    # Both ends of the day have about an hour at 0.22; from 06:00 to 20:30 all of a run is paid at 0.34.
    assert f"{local(found.starts_s[found.cheapest], BERLIN):%H:%M}" in ("05:00", "21:30")
    assert found.costs.max() - found.run.fixed == pytest.approx(0.34 * found.run.kwh)


# --- why no start is possible ----------------------------------------------------------------------


def reasons(run: Run, first: str, last: str, **rules: str) -> list[tuple[str, str, str]]:
    hours = hours_case("Europe/Berlin", first, last, **rules)
    found = rules_of(windows_tariff("Europe/Berlin"), rules.get("quiet", "").split(), rules.get("finish_by"))
    span = Span(utc_s(first), utc_s(last), utc_s(first), 900)
    assert not scan(run, hours, span.starts_s).starts_s.size
    error = no_start(run, hours, found, span, "supper on tote")
    assert error.headline == "supper on tote can start at none of the times asked for"
    return [(reason.requirement, reason.asked, reason.nearest) for reason in error.reasons]


def test_quiet_hours_that_leave_too_little() -> None:
    assert reasons(run_case(61.0), "2026-01-10T00:00", "2026-01-11T00:00", quiet="08:00-07:00") == [
        (
            "quiet hours",
            "08:00 to 07:00; a run takes up to 61 min",
            "the longest stretch without quiet hours is 60 min, 1 min too short",
        )
    ]


@pytest.mark.parametrize(("until", "advised"), [("07:56", False), ("07:55", True)])
def test_no_goal_is_advised_that_no_goal_may_have(until: str, advised: bool) -> None:
    """A goal's longest duration is 5 min at the least; 4 min and 5 min are left here."""
    first, last = "2026-01-10T00:00", "2026-01-11T00:00"
    hours = hours_case("Europe/Berlin", first, last, quiet=f"08:00-{until}")
    found = rules_of(windows_tariff("Europe/Berlin"), [f"08:00-{until}"])
    (reason, *_) = no_start(
        run_case(61.0), hours, found, Span(utc_s(first), utc_s(last), 0, 900), "x"
    ).reasons
    assert ("limits.duration_min = 5" in reason.advice) == ("limits" in reason.advice) == advised
    assert "quiet hours shorter by" in reason.advice


def test_a_stretch_that_just_holds_the_run() -> None:
    hours = hours_case("Europe/Berlin", "2026-01-10", "2026-01-11", quiet="08:00-07:00")
    minutes = np.arange(utc_s("2026-01-10"), utc_s("2026-01-11"), 60.0)
    found = scan(run_case(60.0), hours, minutes)
    assert [shown(found, number) for number in range(len(found.starts_s))] == ["Sat 10 Jan 2026 07:00"]


def test_times_that_lie_in_the_quiet_hours() -> None:
    assert reasons(run_case(), "2026-01-10T22:00+01:00", "2026-01-11T06:00+01:00", quiet="21:30-07:00") == [
        (
            "start",
            "from Sat 10 Jan 2026 22:00, before Sun 11 Jan 2026 06:00, every 15 min",
            "Sun 11 Jan 2026 07:00 is the first that works",
        )
    ]


def test_too_late_to_be_ready() -> None:
    assert reasons(
        run_case(stand_min=7.0), "2026-01-10T06:00+01:00", "2026-01-10T06:30+01:00", finish_by="06:30"
    ) == [
        (
            "finish by",
            "ready by 06:30; a run takes up to 67 min",
            "started Sat 10 Jan 2026 06:00 it is ready by Sat 10 Jan 2026 07:07",
        ),
        (
            "start",
            "from Sat 10 Jan 2026 06:00, before Sat 10 Jan 2026 06:30, every 15 min",
            "Sat 10 Jan 2026 06:30 is the first that works",
        ),
    ]


def test_quiet_hours_and_a_finish_by_time_that_leave_nothing_between_them() -> None:
    """07:00 to 08:15 is free and 07:45 cuts it: half an hour on either side, for a run of an hour."""
    found = reasons(run_case(), "2026-01-10", "2026-01-11", quiet="08:15-07:00", finish_by="07:45")
    assert found == [
        (
            "finish by",
            "ready by 07:45; a run takes up to 60 min",
            "started Sat 10 Jan 2026 07:00 it is ready by Sat 10 Jan 2026 08:00",
        )
    ]


def test_prices_that_end_too_soon() -> None:
    series = PriceSeries(datetime(2026, 1, 10, tzinfo=UTC), 15, (0.3, 0.2))
    hours = Hours.of(windows_tariff("UTC"), series, Rules(), utc_s("2026-01-10"), utc_s("2026-01-11"))
    span = Span(utc_s("2026-01-10"), utc_s("2026-01-10T00:30"), 0, 900)
    (reason,) = no_start(run_case(), hours, Rules(), span, "x").reasons
    assert (reason.requirement, reason.nearest) == ("prices", "the prices end Sat 10 Jan 2026 00:30")


@pytest.mark.parametrize(
    ("first", "last", "rules", "minutes"),
    [
        ("2026-01-10T12:00", "2026-01-10T13:00", {"quiet": "22:00-07:00"}, 10 * 60),
        ("2026-03-28T23:00", "2026-03-29T06:00", {"quiet": "07:00-22:00"}, 7 * 60),
        ("2026-10-24T22:00", "2026-10-25T06:00", {"quiet": "07:00-00:00"}, 8 * 60),
        ("2026-01-10T12:00", "2026-01-10T13:00", {"finish_by": "15:30"}, 210 - 20),
        ("2026-01-10T12:00", "2026-01-10T13:00", {"quiet": "16:00-07:00", "finish_by": "15:30"}, 210 - 20),
        ("2026-01-10T12:00", "2026-01-10T13:00", {"quiet": "15:00-07:00", "finish_by": "15:10"}, 190 - 20),
        ("2026-01-10T12:00", "2026-01-10T13:00", {"quiet": "12:00-15:00"}, 0),
    ],
)
def test_room_for_a_run(first: str, last: str, rules: dict[str, str], minutes: float) -> None:
    """Local times; the load stands for 20 min, which the finish-by time counts and quiet does not."""
    ends_s = [int(datetime.fromisoformat(text).replace(tzinfo=BERLIN).timestamp()) for text in (first, last)]
    span = Span(ends_s[0], ends_s[1], 0, 900)
    laid = rules_of(windows_tariff("Europe/Berlin"), rules.get("quiet", "").split(), rules.get("finish_by"))
    hours = Hours.of(windows_tariff("Europe/Berlin"), None, laid, *ends_s)
    assert longest_run_s(hours, span, 1200.0) == 60.0 * minutes
