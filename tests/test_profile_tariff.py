"""Prices of a tariff: windows over a week, currencies of any size, zones."""

from __future__ import annotations

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
from optimizer.profile.price_series import Prices, price_summary, week_prices
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


def windows(*rows: tuple[str, str, str, float], base: float = 0.3) -> Electricity:
    """Windows over a base price; days are written with blanks between them."""
    tables = [
        {"days": days.split(), "start": start, "until": until, "price_per_kwh": price}
        for days, start, until, price in rows
    ]
    data: dict[str, Any] = {"form": "windows", "price_per_kwh": base, "window": tables}
    return Electricity.model_validate(data)


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
