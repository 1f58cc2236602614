"""Mean, least and most price of electricity, over a week of windows or over a file of prices."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import tiny
from profile_cases import changed, issues_in

from optimizer.errors import InputError
from optimizer.planner.make_plan import plan
from optimizer.profile.did_you_mean import zone_meant
from optimizer.profile.load import load_profile, parse_profile
from optimizer.profile.price_series import (
    MOST_ISSUES,
    Prices,
    PriceSeries,
    price_summary,
    read_series,
    week_prices,
)
from optimizer.profile.shipped import folder_of
from optimizer.profile.tariff import (
    DAYS,
    MINUTES_PER_DAY,
    MINUTES_PER_WEEK,
    Electricity,
    Tariff,
    minute_of_day,
)
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan

HEAD = "start_utc,price_per_kwh\n"
FIRST = "its first line must be start_utc,price_per_kwh or start_local,price_per_kwh"
EUROS = load_profile("tariff", "two-rate")


def windows(*rows: tuple[str, str, str, float], base: float = 0.3) -> Electricity:
    """Windows over a base price; days are written with blanks between them."""
    tables = [
        {"days": days.split(), "start": start, "until": until, "price_per_kwh": price}
        for days, start, until, price in rows
    ]
    data: dict[str, Any] = {"form": "windows", "price_per_kwh": base, "window": tables}
    return Electricity.model_validate(data)


def series_issues(path: Path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_series(path, EUROS)
    return [f"{issue.key}: {issue.rule} | {issue.found} | {issue.fix}" for issue in caught.value.issues]


def summary(electricity: Electricity) -> Prices:
    return price_summary(
        load_profile("tariff", "flat").model_copy(update={"electricity": electricity}), Path()
    )


def test_flat() -> None:
    prices = summary(Electricity(form="flat", price_per_kwh=0.27))
    assert (prices.least_per_kwh, prices.most_per_kwh) == (0.27, 0.27)
    assert prices.mean_per_kwh == pytest.approx(0.27, rel=1e-12)


def test_mean_is_weighted_by_time() -> None:
    """By hand: 25 h of peak, 56 h of night and 87 h of the rest in the 168 h of a week."""
    week = (("mon tue wed thu fri", "16:00", "21:00", 0.43), (" ".join(DAYS), "23:00", "07:00", 0.12))
    prices = summary(windows(*week, base=0.21))
    assert prices.mean_per_kwh == pytest.approx((25 * 0.43 + 56 * 0.12 + 87 * 0.21) / 168, rel=1e-12)
    assert (prices.least_per_kwh, prices.most_per_kwh) == (0.12, 0.43)


def test_window_across_midnight_belongs_to_the_day_it_starts_on() -> None:
    week = week_prices(windows(("sun", "23:00", "01:00", 0.1)))
    cheap = [minute for minute in range(MINUTES_PER_WEEK) if week[minute] == 0.1]
    # Sunday from 23:00, and the first hour of the Monday after it, with which the week begins.
    assert cheap == [*range(60), *range(MINUTES_PER_WEEK - 60, MINUTES_PER_WEEK)]


def test_until_equal_to_start_is_a_whole_day() -> None:
    week = week_prices(windows(("sat", "00:00", "00:00", 0.1)))
    saturday = DAYS.index("sat") * MINUTES_PER_DAY
    assert [m for m, price in enumerate(week) if price == 0.1] == [
        *range(saturday, saturday + MINUTES_PER_DAY)
    ]


def test_window_of_one_minute() -> None:
    assert sum(price == 0.1 for price in week_prices(windows(("wed", "23:59", "00:00", 0.1)))) == 1


def test_windows_with_one_price_may_overlap() -> None:
    week = week_prices(windows(("mon", "10:00", "14:00", 0.1), ("mon", "12:00", "16:00", 0.1)))
    assert sum(price == 0.1 for price in week) == 6 * 60


def test_touching_windows_do_not_overlap() -> None:
    week = week_prices(windows(("mon", "10:00", "14:00", 0.1), ("mon", "14:00", "16:00", 0.2)))
    assert sum(price == 0.2 for price in week) == 2 * 60


def test_overlapping_windows_are_refused() -> None:
    """The night window of Sunday reaches into Monday morning, around the end of the week."""
    text = changed("tariff", "three-rate", ('start = "16:00"', 'start = "06:00"'))
    assert [str(issue) for issue in issues_in("tariff", text)] == [
        "my.toml: electricity.window[2]: overlaps window[1], which has another price, "
        'found "23:00 to 07:00"\n    fix: end one where the other starts, or give both one price'
    ]


clocks = st.integers(0, MINUTES_PER_DAY - 1).map(lambda minute: f"{minute // 60:02d}:{minute % 60:02d}")


@given(st.lists(st.sampled_from(DAYS), min_size=1, unique=True), clocks, clocks)
def test_window_covers_its_length_on_each_of_its_days(days: list[str], start: str, until: str) -> None:
    week = week_prices(windows((" ".join(days), start, until, 0.1)))
    length = (minute_of_day(until) - minute_of_day(start)) % MINUTES_PER_DAY or MINUTES_PER_DAY
    assert sum(price == 0.1 for price in week) == length * len(days)
    for day in days:
        assert week[DAYS.index(day) * MINUTES_PER_DAY + minute_of_day(start)] == 0.1


def test_series_has_no_week() -> None:
    with pytest.raises(ValueError, match="no week"):
        week_prices(load_profile("tariff", "half-hourly").electricity)


def bump(hour: float, centre: float, width: float) -> float:
    return math.exp(-(((hour - centre) / width) ** 2))


def test_shipped_series_is_the_formula_of_its_profile() -> None:
    """The formula stands in the profile's own `about`."""
    lines = [HEAD.strip()]
    for step in range(7 * 48):
        start = datetime(2025, 3, 3) + timedelta(minutes=30 * step)
        hour = start.hour + start.minute / 60
        price = (
            0.20 + 0.05 * bump(hour, 7.5, 1.5) + 0.16 * bump(hour, 18.0, 2.0) - 0.09 * bump(hour, 3.0, 2.5)
        )
        if start.weekday() >= DAYS.index("sat"):
            price -= 0.12 * bump(hour, 13.0, 2.5)
        lines.append(f"{start:%Y-%m-%dT%H:%M:%SZ},{price:.4f}")
    text = (folder_of("tariff") / "half-hourly.csv").read_text(encoding="utf-8")
    assert text.splitlines() == lines


def test_series_is_found_beside_its_profile() -> None:
    series = read_series(folder_of("tariff") / "half-hourly.csv", EUROS)
    prices = price_summary(load_profile("tariff", "half-hourly"), folder_of("tariff"))
    assert (series.step_min, len(series.per_kwh)) == (30, 7 * 48)
    assert series.start_utc.isoformat() == "2025-03-03T00:00:00+00:00"
    assert prices.mean_per_kwh == pytest.approx(sum(series.per_kwh) / len(series.per_kwh), rel=1e-12)
    assert prices.least_per_kwh < prices.mean_per_kwh < prices.most_per_kwh


@pytest.mark.parametrize("minutes", [15, 30, 60])
def test_series_steps(tmp_path: Path, minutes: int) -> None:
    path = tmp_path / "a.csv"
    starts = [datetime(2025, 3, 29, 23) + timedelta(minutes=minutes * step) for step in range(12)]
    path.write_text(HEAD + "".join(f"{start:%Y-%m-%dT%H:%MZ},-0.05\n" for start in starts) + "\n")
    assert read_series(path, EUROS).step_min == minutes


@pytest.mark.parametrize(
    ("text", "issue"),
    [
        ("", f"line 1: {FIRST} |  | name the two columns so"),
        (
            "time;price\n1;2\n",
            f'line 1: {FIRST} | "time;price" | name the two columns so',
        ),
        (
            HEAD + "2025-03-03T00:00Z,0.2\n",
            ": holds less than two prices, so that their step is not known "
            "|  | one line for each step of the period",
        ),
        (
            HEAD + "2025-03-03T00:00Z,0.2\n2025-03-03T00:20Z,0.2\n",
            "line 3: the step from the first time to the second must be 15, 30 or 60 min | 20 min "
            "| times in order, one step apart",
        ),
    ],
)  # fmt: skip
def test_series_that_is_none(tmp_path: Path, text: str, issue: str) -> None:
    assert series_issues(tmp_path / "a.csv", text) == [issue]


NOT_UTC = "start_utc must be a time in UTC or with its offset, to the minute"
NO_PRICE = "price_per_kwh must be a finite number"
OUTSIDE = "price_per_kwh must lie between -5 and 10 EUR/kWh"
BILL = "(the supplier's bill, taxes included)"
EXAMPLE = "the price of 1 kWh in the tariff's currency, EUR: 0.25"


@pytest.mark.parametrize(
    ("line", "issue"),
    [
        ("2025-03-03T01:00,0.2", f'line 4: {NOT_UTC} | "2025-03-03T01:00" | 2025-03-03T00:30:00Z'),
        ("2025-03-03,0.2", f'line 4: {NOT_UTC} | "2025-03-03" | 2025-03-03T00:30:00Z'),
        (
            "0001-01-01T00:00+01:00,0.2",
            f'line 4: {NOT_UTC} | "0001-01-01T00:00+01:00" | 2025-03-03T00:30:00Z',
        ),
        (
            "2025-03-03T01:00:00.5Z,0.2",
            f'line 4: {NOT_UTC} | "2025-03-03T01:00:00.5Z" | 2025-03-03T00:30:00Z',
        ),
        (
            "2025-03-03T02:00+01:30,0.2",
            "line 4: has the time of the line before "
            "| 2025-03-03T00:30:00Z | 2025-03-03T01:00:00Z comes next",
        ),
        (
            "2025-03-03T01:00+01:00,0.2",
            "line 4: is earlier than the line before "
            "| 2025-03-03T00:00:00Z | 2025-03-03T01:00:00Z comes next",
        ),
        (
            "2025-03-03T01:00-00:30,0.2",
            "line 4: leaves a gap after the line before "
            "| 2025-03-03T01:30:00Z | 2025-03-03T01:00:00Z comes next",
        ),
        ("2025-02-30T01:00Z,0.2", f'line 4: {NOT_UTC} | "2025-02-30T01:00Z" | 2025-03-03T00:30:00Z'),
        ("2025-03-03T01:00:07Z,0.2", f'line 4: {NOT_UTC} | "2025-03-03T01:00:07Z" | 2025-03-03T00:30:00Z'),
        ("2025-03-03T01:00Z,nan", f'line 4: {NO_PRICE} | "nan" | {EXAMPLE}'),
        ("2025-03-03T01:00Z,-inf", f'line 4: {NO_PRICE} | "-inf" | {EXAMPLE}'),
        (
            "2025-03-03T01:00Z,10.01",
            f'line 4: {OUTSIDE} | "10.01" | did you mean 0.1001 EUR/kWh? {BILL}',
        ),
        ("2025-03-03T01:00Z,30.1", f'line 4: {OUTSIDE} | "30.1" | did you mean 0.301 EUR/kWh? {BILL}'),
        ("2025-03-03T01:00Z,80.1", f'line 4: {OUTSIDE} | "80.1" | did you mean 0.801 EUR/kWh? {BILL}'),
        ("2025-03-03T01:00Z,-5.01", f'line 4: {OUTSIDE} | "-5.01" | did you mean -0.0501 EUR/kWh? {BILL}'),
        ("2025-03-03T01:00Z,5000", f'line 4: {OUTSIDE} | "5000" | typical: 0.3 EUR/kWh {BILL}'),
        ("2025-03-03T01:00Z,cheap", f'line 4: {NO_PRICE} | "cheap" | {EXAMPLE}'),
        (
            "2025-03-03T01:00Z,0,2",
            'line 4: must hold one time and one price | "2025-03-03T01:00Z,0,2" '
            "| a decimal point, 0.2, or semicolons between the columns in every line, the first too: "
            "start_utc;price_per_kwh",
        ),
        (
            "2025-03-03T01:00Z,0.2,late",
            'line 4: must hold one time and one price | "2025-03-03T01:00Z,0.2,late" '
            "| a time, a comma, and a price with a decimal point",
        ),
        (
            "2025-03-03T00:30Z,0.2",
            "line 4: has the time of the line before "
            "| 2025-03-03T00:30:00Z | 2025-03-03T01:00:00Z comes next",
        ),
        (
            "2025-03-03T00:00Z,0.2",
            "line 4: is earlier than the line before "
            "| 2025-03-03T00:00:00Z | 2025-03-03T01:00:00Z comes next",
        ),
        (
            "2025-03-03T02:00Z,0.2",
            "line 4: leaves a gap after the line before "
            "| 2025-03-03T02:00:00Z | 2025-03-03T01:00:00Z comes next",
        ),
    ],
)
def test_series_with_a_bad_line(tmp_path: Path, line: str, issue: str) -> None:
    text = HEAD + "2025-03-03T00:00Z,0.2\n2025-03-03T00:30Z,0.2\n" + line + "\n"
    assert series_issues(tmp_path / "a.csv", text) == [issue]


def test_offsets_are_counted_in_utc(tmp_path: Path) -> None:
    """Local half-hours over the night on which Europe's clocks go back: 02:00 and 02:30 come twice."""
    times = ["01:30+02:00", "02:00+02:00", "02:30+02:00", "02:00+01:00", "02:30+01:00", "03:00+01:00"]
    mixed = ["2025-10-25T23:30Z", "2025-10-25T20:00-04:00", *(f"2025-10-26T{time}" for time in times[2:])]
    for starts in ([f"2025-10-26T{time}" for time in times], mixed):
        path = tmp_path / "a.csv"
        path.write_text(HEAD + "".join(f"{start},-0.05\n" for start in starts), encoding="utf-8")
        series = read_series(path, EUROS)
        assert (series.step_min, len(series.per_kwh)) == (30, 6)
        assert series.start_utc.isoformat() == "2025-10-25T23:30:00+00:00"


LOCAL_HEAD = "start_local;price_per_kwh\n"


def local_series(path: Path, *lines: str, head: str = LOCAL_HEAD) -> PriceSeries:
    path.write_text(head + "".join(f"{line}\n" for line in lines), encoding="utf-8")
    return read_series(path, EUROS)


class TestLocalTimes:
    """Europe/Berlin, the zone of the tariff: clocks go forward at 01:00 UTC on 30 March 2025 and back at
    01:00 UTC on 26 October 2025 (IANA time zone database)."""

    def test_winter_and_summer(self, tmp_path: Path) -> None:
        winter = local_series(tmp_path / "a.csv", "2025-01-10T00:00;0,2", "2025-01-10 00:15;-0,05")
        assert winter.start_utc.isoformat() == "2025-01-09T23:00:00+00:00"
        assert (winter.step_min, winter.per_kwh) == (15, (0.2, -0.05))
        summer = local_series(tmp_path / "a.csv", "2025-07-10T00:00;0.2", '"2025-07-10T01:00";"0,3"')
        assert summer.start_utc.isoformat() == "2025-07-09T22:00:00+00:00"
        assert (summer.step_min, summer.per_kwh) == (60, (0.2, 0.3))

    def test_commas_between_columns_keep_the_point(self, tmp_path: Path) -> None:
        head = "start_local,price_per_kwh\n"
        found = local_series(tmp_path / "a.csv", "2025-07-10T00:00,0.2", "2025-07-10T01:00,0.3", head=head)
        assert found.per_kwh == (0.2, 0.3)

    def test_spring_skips_an_hour(self, tmp_path: Path) -> None:
        """01:30 is followed by 03:00, half an hour later; 02:00 does not exist."""
        found = local_series(tmp_path / "a.csv", "2025-03-30T01:30;0,2", "2025-03-30T03:00;0,3")
        assert found.step_min == 30
        (issue,) = series_issues(
            tmp_path / "a.csv", LOCAL_HEAD + "2025-03-30T01:30;0,2\n2025-03-30T02:00;0,2\n"
        )
        assert issue == (
            "line 3: the clocks of Europe/Berlin never show this time: they go forward over it "
            '| "2025-03-30T02:00:00" | leave the line out, or write its offset'
        )

    def test_autumn_repeats_an_hour(self, tmp_path: Path) -> None:
        """From 02:00 to 02:59 each time comes twice, so each has to say which it is."""
        text = LOCAL_HEAD + "2025-10-26T01:30;0,2\n2025-10-26T02:00;0,2\n"
        (issue,) = series_issues(tmp_path / "a.csv", text)
        assert issue == (
            "line 3: the clocks of Europe/Berlin show this time twice that night "
            '| "2025-10-26T02:00:00" | write the offset of each: '
            "2025-10-26T02:00:00+02:00 first, then 2025-10-26T02:00:00+01:00"
        )
        found = local_series(
            tmp_path / "a.csv",
            *("2025-10-26T01:00;0,1", "2025-10-26T02:00+02:00;0,2", "2025-10-26T02:00+01:00;0,3"),
            "2025-10-26T03:00;0,4",
        )
        assert (found.step_min, found.per_kwh) == (60, (0.1, 0.2, 0.3, 0.4))

    @pytest.mark.parametrize(
        ("line", "rule", "found", "comes_next"),
        [
            ("2025-10-26T04:00;0,2", "leaves a gap after", "2025-10-26T04:00", "2025-10-26T02:00+02:00"),
            ("2025-10-26 04:00;0,2", "leaves a gap after", "2025-10-26 04:00", "2025-10-26T02:00+02:00"),
            ("2025-10-26T01:00;0,2", "has the time of", "2025-10-26T01:00", "2025-10-26T02:00+02:00"),
        ],
    )
    def test_a_gap_is_shown_in_the_times_of_the_file(
        self, tmp_path: Path, line: str, rule: str, found: str, comes_next: str
    ) -> None:
        text = f"{LOCAL_HEAD}2025-10-26T00:00;0,2\n2025-10-26T01:00;0,2\n{line}\n"
        assert series_issues(tmp_path / "a.csv", text) == [
            f"line 4: {rule} the line before | {found} | {comes_next} comes next"
        ]
        summer = f"{LOCAL_HEAD}2025-07-10T00:00;0,2\n2025-07-10T01:00;0,2\n2025-07-10T03:00;0,2\n"
        (issue,) = series_issues(tmp_path / "a.csv", summer)
        assert issue.endswith("| 2025-07-10T03:00 | 2025-07-10T02:00 comes next")

    @pytest.mark.parametrize("line", ["03.03.2025 00:30;0,2", "soon;0,2", "2025-03-03T00:30:07;0,2", ";0,2"])
    def test_what_is_no_time(self, tmp_path: Path, line: str) -> None:
        (issue,) = series_issues(tmp_path / "a.csv", f"{LOCAL_HEAD}2025-03-03T00:00;0,2\n{line}\n")
        assert issue.startswith("line 3: start_local must be a time in the tariff's zone, to the minute")

    @pytest.mark.parametrize("price", ["1.000,5", "0,2,5", "", "0 2"])
    def test_what_is_no_price(self, tmp_path: Path, price: str) -> None:
        text = f"{LOCAL_HEAD}2025-03-03T00:00;0,2\n2025-03-03T01:00;{price}\n"
        (issue,) = series_issues(tmp_path / "a.csv", text)
        assert issue.startswith(f"line 3: {NO_PRICE}")


class TestCurrencyOfAnySize:
    """300 yen a kilowatt-hour is a price; 300 pounds is a mistake. No source: the size of the two units."""

    YEN: tuple[tuple[str, str], ...] = (
        ('currency = "GBP"', 'currency = "JPY"'),
        ("price_per_kwh = 0.27", "price_per_kwh = 300"),
        ("water_per_m3 = 2.1", "water_per_m3 = 900"),
    )

    def test_yen_and_forint(self) -> None:
        for code in ("JPY", "HUF", "KRW"):
            text = changed("tariff", "flat", *self.YEN).replace("JPY", code)
            tariff = parse_profile("tariff", text, "my.toml")
            assert isinstance(tariff, Tariff)
            assert price_summary(tariff, Path()).most_per_kwh == 300.0

    def test_the_same_in_pounds_is_a_mistake(self) -> None:
        found = issues_in("tariff", changed("tariff", "flat", *self.YEN[1:]))
        assert [str(issue) for issue in found] == [
            "my.toml: electricity.price_per_kwh: must lie between -5 and 10 GBP/kWh, found 300\n"
            "    fix: did you mean 3 GBP/kWh? (the supplier's bill, taxes included)",
            "my.toml: water_per_m3: must lie between 0 and 500 GBP/m3, found 900\n"
            "    fix: did you mean 9 GBP/m3? (the water bill)",
        ]

    def test_a_price_below_nothing_is_told_in_the_currency_of_the_tariff(self) -> None:
        """Together with what is wrong elsewhere in the file."""
        changes = ("water_per_m3 = 2.1", "water_per_m3 = -1"), ('title = "', 'titel = "')
        found = issues_in("tariff", changed("tariff", "flat", *changes))
        assert {(issue.key, issue.rule) for issue in found} == {
            ("water_per_m3", "must lie between 0 and 500 GBP/m3"),
            ("titel", "is not a key of this table"),
        }
        yen = changed("tariff", "flat", self.YEN[0], ("water_per_m3 = 2.1", "water_per_m3 = -1"))
        (issue,) = issues_in("tariff", yen)
        assert issue.rule == "must lie between 0 and 5e+07 JPY/m3"

    @pytest.mark.parametrize(
        ("price", "sound"), [(10.0, True), (10.001, False), (-5.0, True), (-5.01, False)]
    )
    def test_ends_of_the_range_in_pounds(self, price: float, sound: bool) -> None:
        text = changed("tariff", "flat", ("price_per_kwh = 0.27", f"price_per_kwh = {price}"))
        assert (issues_in("tariff", text) == []) is sound

    def test_series_in_yen(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_text(HEAD + "2025-03-03T00:00Z,300\n2025-03-03T01:00Z,-40\n")
        yen = EUROS.model_copy(update={"currency": "JPY"})
        assert read_series(path, yen).per_kwh == (300.0, -40.0)

    def test_the_programme_does_not_depend_on_the_size_of_the_unit(self) -> None:
        """Every price 400 times as large, in another currency: the same table at 400 times the cost."""

        def planned(times: float, currency: str) -> Plan:
            return plan(
                tiny(
                    price_per_kwh=0.3 * times,
                    tariff__currency=currency,
                    tariff__electricity__price_per_kwh=0.3 * times,
                    tariff__water_per_m3=2.2 * times,
                    tariff__waste_per_m3=2.4 * times,
                    tariff__value_per_min=0.004 * times,
                    goal__detergent__price_per_kg=4.0 * times,
                )
            )

        euros, forint = planned(1.0, "EUR"), planned(400.0, "HUF")
        assert forint.constants.rounds == euros.constants.rounds
        assert forint.costs.money == pytest.approx(400.0 * euros.costs.money)

    def test_detergent_is_held_against_the_currency_of_the_tariff(self, tmp_path: Path) -> None:
        goal, tariff = tmp_path / "goal.toml", tmp_path / "tariff.toml"
        goal.write_text(changed("goal", "everyday", ("price_per_kg = 4", "price_per_kg = 900")))
        with pytest.raises(InputError) as caught:
            load_inputs("clubhouse", str(goal), tariff="flat")
        (issue,) = caught.value.issues
        assert (issue.subject, issue.key) == (str(goal), "detergent.price_per_kg")
        assert issue.fix.startswith("did you mean 9 GBP/kg?")
        tariff.write_text(changed("tariff", "flat", *self.YEN))
        assert load_inputs("clubhouse", str(goal), tariff=str(tariff)).tariff.currency == "JPY"


def test_all_bad_lines_are_reported_together_up_to_a_limit(tmp_path: Path) -> None:
    lines = [f"2025-03-03T{hour:02d}:00Z,much\n" for hour in range(20)]
    found = series_issues(tmp_path / "a.csv", HEAD + "".join(lines))
    assert found[1].startswith("line 3: price_per_kwh")
    assert found[MOST_ISSUES:] == [f": {20 - MOST_ISSUES} more lines have an issue |  | "]
    one_more = series_issues(tmp_path / "a.csv", HEAD + "".join(lines[: MOST_ISSUES + 1]))
    assert one_more[MOST_ISSUES:] == [": 1 more line has an issue |  | "]
    assert len(series_issues(tmp_path / "a.csv", HEAD + "".join(lines[:MOST_ISSUES]))) == MOST_ISSUES


@pytest.mark.parametrize("head", [HEAD, LOCAL_HEAD])
def test_prices_at_the_end_of_the_calendar(tmp_path: Path, head: str) -> None:
    sign = ";" if ";" in head else ","
    times = ["9999-12-31T23:00+00:00", "9999-12-31T23:30+00:00", "9999-12-31T23:00+00:00"]
    found = series_issues(tmp_path / "a.csv", head + "".join(f"{time}{sign}0.2\n" for time in times))
    assert [issue.split(" | ")[0] for issue in found] == [
        f"line {number}: its year must be 1970 to 2199" for number in (2, 3, 4)
    ]


def test_field_longer_than_csv_allows(tmp_path: Path) -> None:
    found = series_issues(tmp_path / "a.csv", HEAD + '"' + "x" * 200_000)
    assert len(found) == 1
    assert "is not CSV" in found[0]


def test_missing_series_names_its_own_file(tmp_path: Path) -> None:
    text = changed("tariff", "half-hourly", ("half-hourly.csv", "nowhere.csv"))
    tariff = parse_profile("tariff", text, "my.toml")
    assert isinstance(tariff, Tariff)
    with pytest.raises(InputError) as caught:
        price_summary(tariff, tmp_path)
    assert str(caught.value) == (
        f"{tmp_path / 'nowhere.csv'}: no such file\n    fix: give the path of a price series"
    )


@pytest.mark.parametrize("zone", ["Europe/Berlin", "UTC", "Asia/Kathmandu"])
def test_known_zones(zone: str) -> None:
    assert issues_in("tariff", changed("tariff", "two-rate", ("Europe/Berlin", zone))) == []


@pytest.mark.parametrize(
    ("zone", "near"),
    [("Europe/Berlim", "Europe/Berlin"), ("Europe", "Europe/Rome"), ("../UTC", "UTC")],
)
def test_unknown_zones(zone: str, near: str) -> None:
    text = changed("tariff", "two-rate", ("Europe/Berlin", zone))
    (issue,) = issues_in("tariff", text)
    assert issue.key == "electricity.zone"
    assert issue.rule == "must be a zone of the IANA time zone database"
    assert issue.found == f'"{zone}"'
    assert issue.fix == f'zone = "{near}"'


ELSEWHERE = 'zone = "Europe/Berlin", or another large town of your own zone'
SUMMER = '; where clocks change with summer time, a place such as "Europe/Berlin"'


@pytest.mark.parametrize(
    ("zone", "fix"),
    [
        ("UTC+1", f'zone = "Etc/GMT-1"{SUMMER}'),
        ("GMT-05:00", f'zone = "Etc/GMT+5"{SUMMER}'),
        ("+14", f'zone = "Etc/GMT-14"{SUMMER}'),
        ("UTC+15", ELSEWHERE),
        ("UTC+5:30", ELSEWHERE),
        ("CEST", ELSEWHERE),
        ("", ELSEWHERE),
    ],
)
def test_zones_by_their_offset(zone: str, fix: str) -> None:
    (issue,) = issues_in("tariff", changed("tariff", "two-rate", ("Europe/Berlin", zone)))
    assert issue.fix == fix


@pytest.mark.parametrize("hours", [-12, -5, 0, 1, 14])
def test_the_zone_offered_has_the_offset_asked_for(hours: int) -> None:
    """UTC+1 is Etc/GMT-1 (IANA time zone database, file etcetera)."""
    offered = zone_meant(f"UTC{hours:+d}").split('"')[1]
    assert datetime(2025, 1, 1, tzinfo=ZoneInfo(offered)).utcoffset() == timedelta(hours=hours)
