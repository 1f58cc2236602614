"""Invented runs, tariffs and hours for the tests of starts; times are seconds since 1970-01-01 UTC."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from optimizer.profile.price_series import PriceSeries
from optimizer.profile.tariff import Tariff
from optimizer.starts.clock import clock_text
from optimizer.starts.hours import Hours, Rules, rules_of
from optimizer.starts.run_cost import Run
from optimizer.starts.scan import Scan
from optimizer.starts.step_function import Steps

BERLIN, DENVER = ZoneInfo("Europe/Berlin"), ZoneInfo("America/Denver")
SERIES = PriceSeries(datetime(2026, 3, 28, tzinfo=UTC), 60, tuple([0.3, -0.2, 0.1] * 8))
"""A day of hourly prices."""


def utc_s(text: str) -> int:
    """Seconds of a time with its offset, or in UTC where it has none."""
    at = datetime.fromisoformat(text)
    return int((at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp())


def at(*texts: str) -> NDArray[np.float64]:
    """The same of several."""
    return np.array([utc_s(text) for text in texts], dtype=float)


def windows_tariff(
    zone: str, *rows: tuple[str, str, float], base: float = 0.34, finish_by: str | None = None
) -> Tariff:
    """Windows on every day over a base price."""
    days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
    tables = [
        {"days": days, "start": start, "until": until, "price_per_kwh": price} for start, until, price in rows
    ]
    electricity = {
        "form": "windows" if rows else "flat",
        "price_per_kwh": base,
        "window": tables,
        "zone": zone,
    }
    return Tariff.model_validate(
        {
            "kind": "tariff",
            "title": "Invented",
            "currency": "EUR",
            "water_per_m3": 2.0,
            "waste_per_m3": 3.0,
            "electricity": electricity,
            "finish_by": finish_by,
        }
    )


def hours_case(
    zone: str,
    first: str,
    last: str,
    *rows: tuple[str, str, float],
    quiet: str = "",
    finish_by: str | None = None,
) -> Hours:
    """A tariff laid out between two times."""
    tariff = windows_tariff(zone, *rows)
    rules = rules_of(tariff, quiet.split(), finish_by) if quiet or finish_by else Rules()
    return Hours.of(tariff, None, rules, utc_s(first), utc_s(last))


def run_case(minutes: float = 60.0, power_w: float = 1000.0, stand_min: float = 0.0) -> Run:
    """A run of one power."""
    length_s = 60.0 * minutes
    return Run(Steps.of([0.0, length_s], [power_w]), 0.25, 0.1, length_s, length_s + 60.0 * stand_min)


def shown(found: Scan, number: int) -> str:
    """A start by the local clock."""
    return clock_text(found.starts_s[number], found.hours.zone)
