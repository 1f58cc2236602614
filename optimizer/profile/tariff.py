"""The tariff profile: what electricity, water and time cost, and when."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, ValidationInfo, model_validator
from pydantic_core import CoreSchema, core_schema

from optimizer.profile.did_you_mean import zone_meant
from optimizer.profile.measured import TITLE, Breach, ProfileModel, Quantity, TextForm, broken, refuse

CURRENCY = TextForm("[A-Z]{3}", "three capital letters", "EUR")


@dataclass(frozen=True)
class Money(Quantity):
    """Annotation of a price: believable in the currency of its file, where the validation is told of it.

    The context of the validation holds that currency, so that a price is refused together with all else
    that is wrong with the file.
    """

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_after_validator_function(self._believable_there, handler(source))

    def _believable_there(self, value: float, info: ValidationInfo) -> float:
        currency = (info.context or {}).get("currency")
        if not isinstance(currency, str) or not re.fullmatch(CURRENCY.pattern, currency):
            return float(self._believable(value))
        if wrong := unbelievable(value, self, currency):
            raise broken(*wrong)
        return value


PRICE = Money("currency/kWh", -5e5, 1e6, 0.3, "the supplier's bill, taxes included")
WATER = Money("currency/m3", 0, 5e7, 2.2, "the water bill")
WASTE = Money("currency/m3", 0, 5e7, 2.4, "the water bill, sewage part")
WAITING = Money("currency/min", 0, 5e5, 0.002, "worth of a minute of waiting")
CO2 = Money("currency/kg", 0, 5e5, 0.1, "if you price it")
Price = Annotated[float, PRICE]

STRONG_CURRENCIES = frozenset({"AUD", "CAD", "CHF", "EUR", "GBP", "NZD", "SGD", "USD"})
"""Currencies whose units are worth about the same, to a factor of two or three (general knowledge, no
source). In these a price that is far too high or too low is told to be a mistake. Of others one unit may be
worth a thousandth of that, and only what no currency reaches is refused."""

STRONG_SHARE = 1e-5
"""Share of the widest range of a price that is believable in one of `STRONG_CURRENCIES` [1]."""
TIME_OF_DAY = r"([01][0-9]|2[0-3]):[0-5][0-9]"
Clock = Annotated[str, TextForm(TIME_OF_DAY, "a time of day from 00:00 to 23:59", "22:30")]
Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
DAYS: tuple[Day, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MINUTES_PER_DAY = 1440
"""Minutes in a day of 24 h [min]."""
MINUTES_PER_WEEK = 7 * MINUTES_PER_DAY
"""Minutes in a week [min]."""


def believable(note: Quantity, currency: str) -> tuple[float, float]:
    """Lowest and highest believable price in a currency.

    Parameters
    ----------
    note : Quantity
        Annotation of the price, with the range for currencies of any size.
    currency : str
        Code of the currency.

    Returns
    -------
    tuple of float
        The two ends [unit of the price].

    Examples
    --------
    >>> believable(PRICE, "EUR"), believable(PRICE, "JPY")
    ((-5.0, 10.0), (-500000.0, 1000000.0))
    """
    share = STRONG_SHARE if currency in STRONG_CURRENCIES else 1.0
    return round(note.least * share, 9), round(note.most * share, 9)


def unbelievable(price: float, note: Quantity, currency: str) -> tuple[str, str] | None:
    """Say what is wrong with a price that no bill has.

    Parameters
    ----------
    price : float
        The price [unit of the price].
    note : Quantity
        Its annotation.
    currency : str
        Code of the currency.

    Returns
    -------
    tuple of str or None
        Rule and fix; None where the price is believable.

    Examples
    --------
    >>> unbelievable(28.0, PRICE, "EUR")
    ('must lie between -5 and 10 EUR/kWh', "did you mean 0.28 EUR/kWh? (the supplier's bill, taxes included)")
    >>> unbelievable(28.0, PRICE, "JPY")
    """
    least, most = believable(note, currency)
    if least <= price <= most:
        return None
    unit = note.unit.replace("currency", currency)
    cents = price / 100.0
    meant = (
        f"did you mean {cents:g} {unit}?" if least <= cents <= most else f"typical: {note.typical:g} {unit}"
    )
    return f"must lie between {least:g} and {most:g} {unit}", f"{meant} ({note.how})"


def minute_of_day(clock: str) -> int:
    """Read a time of day.

    Parameters
    ----------
    clock : str
        ``HH:MM``.

    Returns
    -------
    int
        Minutes since midnight [min], 0 to 1439.

    Examples
    --------
    >>> minute_of_day("06:30")
    390
    """
    hours, minutes = clock.split(":")
    return int(hours) * 60 + int(minutes)


class Window(ProfileModel):
    """A stretch of the day with a price of its own.

    It belongs to the day it starts on. ``until`` earlier than ``start`` crosses midnight, ``until``
    equal to ``start`` is a whole day.
    """

    days: list[Day]
    start: Clock
    until: Clock
    price_per_kwh: Price

    @model_validator(mode="after")
    def _days_given(self) -> Window:
        if not self.days or len(set(self.days)) < len(self.days):
            refuse(
                [Breach(("days",), self.days, "must name at least one day, and none twice", '["sat", "sun"]')]
            )
        return self

    def week_minutes(self) -> list[int]:
        """Find the minutes of the week that the window covers.

        Returns
        -------
        list of int
            Minutes since Monday 00:00 [min], 0 to 10079.
        """
        first = minute_of_day(self.start)
        length = (minute_of_day(self.until) - first - 1) % MINUTES_PER_DAY + 1
        starts = [DAYS.index(day) * MINUTES_PER_DAY + first for day in self.days]
        return [minute % MINUTES_PER_WEEK for start in starts for minute in range(start, start + length)]


class Quiet(ProfileModel):
    """Hours in which the machine must not run; ``until`` earlier than ``start`` crosses midnight."""

    start: Clock
    until: Clock

    @model_validator(mode="after")
    def _some_hours_left(self) -> Quiet:
        if self.start == self.until:
            rule = "must differ from start, or the machine may never run"
            refuse([Breach(("until",), self.until, rule, "the time at which the quiet hours end")])
        return self


class Electricity(ProfileModel):
    """Price of electricity: one price, windows over a base price, or a price series in a CSV file."""

    form: Literal["flat", "windows", "series"]
    price_per_kwh: Price | None = None
    window: Annotated[list[Window], Field(default_factory=list)]
    series_csv: str | None = None
    zone: str = "UTC"

    @model_validator(mode="after")
    def _form_is_complete(self) -> Electricity:
        wants = {
            "flat": (self.price_per_kwh is not None, not self.window, self.series_csv is None),
            "windows": (self.price_per_kwh is not None, bool(self.window), self.series_csv is None),
            "series": (self.price_per_kwh is None, not self.window, self.series_csv is not None),
        }
        if not all(wants[self.form]):
            rule = (
                "flat takes price_per_kwh; windows takes price_per_kwh (for all other hours) and window; "
                "series takes series_csv; and nothing else"
            )
            refuse([Breach(("form",), self.form, rule, 'form = "flat" and price_per_kwh = 0.3')])
        return self

    @model_validator(mode="after")
    def _zone_is_known(self) -> Electricity:
        try:
            zoneinfo.ZoneInfo(self.zone)
        except (KeyError, ValueError, OSError):
            rule = "must be a zone of the IANA time zone database"
            refuse([Breach(("zone",), self.zone, rule, zone_meant(self.zone))])
        return self

    @model_validator(mode="after")
    def _windows_agree(self) -> Electricity:
        owner: dict[int, int] = {}
        overlaps: dict[int, int] = {}
        for number, window in enumerate(self.window):
            for minute in window.week_minutes():
                first = owner.setdefault(minute, number)
                if self.window[first].price_per_kwh != window.price_per_kwh:
                    overlaps.setdefault(number, first)
        fix = "end one where the other starts, or give both one price"
        refuse(
            [
                Breach(("window", number), f"{self.window[number].start} to {self.window[number].until}",
                       f"overlaps window[{first + 1}], which has another price", fix)
                for number, first in overlaps.items()
            ]
        )  # fmt: skip
        return self


class Tariff(ProfileModel):
    """Prices. All of them are in one currency, which is only a label."""

    kind: Literal["tariff"]
    title: Annotated[str, TITLE]
    about: str = ""
    currency: Annotated[str, CURRENCY]
    electricity: Electricity
    water_per_m3: Annotated[float, WATER]
    waste_per_m3: Annotated[float, WASTE]
    value_per_min: Annotated[float, WAITING] = 0.0
    co2_kg_per_kwh: Annotated[float, Quantity("kg/kWh", 0, 3, 0.3, "published for the grid")] | None = None
    co2_price_per_kg: Annotated[float, CO2] = 0.0
    quiet: Annotated[list[Quiet], Field(default_factory=list)]
    finish_by: Clock | None = None

    @model_validator(mode="after")
    def _prices_are_believable(self) -> Tariff:
        found = [
            Breach(at, price, *wrong)
            for at, note, price in self._prices()
            if (wrong := unbelievable(price, note, self.currency))
        ]
        refuse(found)
        return self

    def _prices(self) -> Iterator[tuple[tuple[str | int, ...], Quantity, float]]:
        yield ("water_per_m3",), WATER, self.water_per_m3
        yield ("waste_per_m3",), WASTE, self.waste_per_m3
        yield ("value_per_min",), WAITING, self.value_per_min
        yield ("co2_price_per_kg",), CO2, self.co2_price_per_kg
        if self.electricity.price_per_kwh is not None:
            yield ("electricity", "price_per_kwh"), PRICE, self.electricity.price_per_kwh
        for number, window in enumerate(self.electricity.window):
            yield ("electricity", "window", number, "price_per_kwh"), PRICE, window.price_per_kwh
