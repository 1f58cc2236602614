"""Quiet hours and finish-by times to the minute, and what a scan finds within them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starts_cases import BERLIN, DENVER, SERIES, at, hours_case, run_case, shown, utc_s, windows_tariff

from optimizer.errors import InputError
from optimizer.profile.tariff import Quiet
from optimizer.starts.clock import local
from optimizer.starts.hours import Hours, Rules, rules_of
from optimizer.starts.scan import scan


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
