"""Which starts are looked at: the times asked for, the usual span and the usual scan."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from plan_cases import plan_case, trace_case
from starts_cases import BERLIN, DENVER, SERIES, shown, windows_tariff

from optimizer.errors import InputError
from optimizer.profile.load import load_profile
from optimizer.profile.price_series import PriceSeries
from optimizer.profile.tariff import Quiet
from optimizer.starts.clock import clock_text, local
from optimizer.starts.hours import Rules
from optimizer.starts.run_cost import power_steps
from optimizer.starts.scan import scan_usual
from optimizer.starts.span import Span, SpanRequest, span_of, usual_span


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
