"""Prices read from a file: their lines, their step, times in UTC and on local clocks."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from profile_cases import changed

from optimizer.errors import InputError
from optimizer.profile.load import load_profile, parse_profile
from optimizer.profile.price_series import MOST_ISSUES, PriceSeries, price_summary, read_series
from optimizer.profile.shipped import folder_of
from optimizer.profile.tariff import DAYS, Tariff

HEAD = "start_utc,price_per_kwh\n"
FIRST = "its first line must be start_utc,price_per_kwh or start_local,price_per_kwh"
EUROS = load_profile("tariff", "two-rate")


def series_issues(path: Path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_series(path, EUROS)
    return [f"{issue.key}: {issue.rule} | {issue.found} | {issue.fix}" for issue in caught.value.issues]


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


def test_series_in_yen(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(HEAD + "2025-03-03T00:00Z,300\n2025-03-03T01:00Z,-40\n")
    yen = EUROS.model_copy(update={"currency": "JPY"})
    assert read_series(path, yen).per_kwh == (300.0, -40.0)
