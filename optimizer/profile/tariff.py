"""The tariff profile: what electricity, water and time cost, and when."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from optimizer.profile.measured import ProfileModel, Quantity

Price = Annotated[float, Quantity("currency/kWh", -5, 10, 0.3, "the supplier's bill, taxes included")]
Clock = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
DAYS: tuple[Day, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MINUTES_PER_DAY = 1440


class Window(ProfileModel):
    """A stretch of the day with a price of its own; ``until`` earlier than ``start`` crosses midnight."""

    days: Annotated[list[Day], Field(min_length=1)]
    start: Clock
    until: Clock
    price_per_kwh: Price


class Quiet(ProfileModel):
    """Hours in which the machine must not run."""

    start: Clock
    until: Clock


class Electricity(ProfileModel):
    """Price of electricity: one price, windows over a base price, or a price series in a CSV file."""

    form: Literal["flat", "windows", "series"]
    price_per_kwh: Price | None = None
    window: list[Window] = []
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
            raise PydanticCustomError(
                "tariff_form",
                "flat takes price_per_kwh; windows takes price_per_kwh (all other hours) and window; "
                "series takes series_csv; and nothing else",
                {"fix": 'form = "flat" and price_per_kwh = 0.30'},
            )
        return self


class Tariff(ProfileModel):
    """Prices. All of them are in one currency, which is only a label."""

    kind: Literal["tariff"]
    title: Annotated[str, Field(min_length=1, max_length=70)]
    about: str = ""
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    electricity: Electricity
    water_per_m3: Annotated[float, Quantity("currency/m3", 0, 500, 2.2, "the water bill")]
    waste_per_m3: Annotated[float, Quantity("currency/m3", 0, 500, 2.4, "the water bill, sewage part")]
    value_per_min: Annotated[float, Quantity("currency/min", 0, 5, 0.002, "what a minute of waiting is worth")] = (
        0.0
    )
    co2_kg_per_kwh: Annotated[float, Quantity("kg/kWh", 0, 3, 0.3, "published for the grid")] | None = None
    co2_price_per_kg: Annotated[float, Quantity("currency/kg", 0, 5, 0.1, "if you price it")] = 0.0
    quiet: list[Quiet] = []
    finish_by: Clock | None = None
