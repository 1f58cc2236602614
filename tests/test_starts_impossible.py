"""What is said where no start is possible, and how long a run there is room for."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from starts_cases import BERLIN, hours_case, run_case, shown, utc_s, windows_tariff

from optimizer.profile.price_series import PriceSeries
from optimizer.starts.hours import Hours, Rules, rules_of
from optimizer.starts.run_cost import Run
from optimizer.starts.scan import scan
from optimizer.starts.span import Span, longest_run_s
from optimizer.starts.when import no_start


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
