"""A tariff laid over UTC: the price of every instant, the quiet hours, and when a load has to be ready."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError, InputIssue, quoted
from optimizer.profile.price_series import PriceSeries, read_series, week_prices
from optimizer.profile.shipped import profile_path
from optimizer.profile.tariff import MINUTES_PER_DAY, TIME_OF_DAY, Quiet, Tariff, minute_of_day
from optimizer.starts.clock import ClockMinutes
from optimizer.starts.run_cost import Run
from optimizer.starts.step_function import Array, Steps
from optimizer.units import S_PER_MIN

Mask = NDArray[np.bool_]


CLOCK = re.compile(TIME_OF_DAY)
DAY_S = MINUTES_PER_DAY * int(S_PER_MIN)

DAYS_ON = 9
"""Days after the last start that are laid out as well [d]: a week to look for a start that works, one for
the run, one for a clock that goes back."""


@dataclass(frozen=True)
class Rules:
    """When a run may be.

    Attributes
    ----------
    quiet : tuple of Quiet
        Hours in which the machine must not run.
    finish_by : str or None
        ``HH:MM``: once started, the load must be ready before the clock shows this again, standing included.
    """

    quiet: tuple[Quiet, ...] = ()
    finish_by: str | None = None


def rules_of(tariff: Tariff, quiet: Sequence[str] = (), finish_by: str | None = None) -> Rules:
    """Read quiet hours and finish-by time, the tariff's and those asked for; `InputError` if malformed."""
    issues: list[InputIssue] = []
    found = list(tariff.quiet)
    for text in quiet:
        start, _, until = text.partition("-")
        if not CLOCK.fullmatch(start) or not CLOCK.fullmatch(until) or start == until:
            rule = "must be two different times of day from 00:00 to 23:59"
            issues.append(InputIssue("--quiet", "", rule, quoted(text), "22:00-07:00"))
        else:
            found.append(Quiet(start=start, until=until))
    if finish_by is not None and not CLOCK.fullmatch(finish_by):
        rule = "must be a time of day from 00:00 to 23:59"
        issues.append(InputIssue("--finish-by", "", rule, quoted(finish_by), "06:30"))
    if issues:
        raise InputError(issues)
    return Rules(tuple(found), finish_by or tariff.finish_by)


def series_of(tariff: Tariff, name: str) -> PriceSeries | None:
    """Read the price series a tariff names, beside its file; None where its prices are flat or in windows."""
    series_csv = tariff.electricity.series_csv
    return (
        None if series_csv is None else read_series(profile_path("tariff", name).parent / series_csv, tariff)
    )


@dataclass(frozen=True)
class Hours:
    """What holds at every instant of a stretch, all in seconds since 1970-01-01 UTC.

    Attributes
    ----------
    zone : ZoneInfo
        The tariff's zone.
    price : Steps
        Price of electricity [currency/kWh].
    quiet : Steps
        1 in quiet hours, else 0 [1].
    due_s : ndarray
        Instants of the finish-by time [s]; empty where there is none.
    """

    zone: ZoneInfo
    price: Steps
    quiet: Steps
    due_s: Array

    @classmethod
    def of(
        cls, tariff: Tariff, series: PriceSeries | None, rules: Rules, first_s: float, last_s: float
    ) -> Hours:
        """Lay a tariff over a stretch of starts, with a day before it and `DAYS_ON` after it."""
        zone = ZoneInfo(tariff.electricity.zone)
        # The day in which the minutes begin has no finish-by time of its own, so one before is needed.
        clock = ClockMinutes.between(first_s - DAY_S, last_s + DAYS_ON * DAY_S, zone)
        price = clock.steps(week_prices(tariff.electricity)) if series is None else _steps(series)
        due_s = np.zeros(0) if rules.finish_by is None else clock.daily_s(minute_of_day(rules.finish_by))
        return cls(zone, price, clock.steps(_quiet_day(rules.quiet)), due_s)

    def priced(self, run: Run, starts_s: Array) -> Mask:
        """Tell which starts have a price for the whole run."""
        ends_s = starts_s + run.power.last_s
        return np.asarray((starts_s >= self.price.first_s) & (ends_s <= self.price.last_s))

    def out_of_quiet(self, run: Run, starts_s: Array) -> Mask:
        """Tell from which starts the run, at its longest, does not touch the quiet hours."""
        quiet_s = self.quiet.integral_to(starts_s + run.longest_s) - self.quiet.integral_to(starts_s)
        # Times are whole seconds, so anything below half of one is rounding.
        return np.asarray(quiet_s < 0.5)

    def in_time(self, run: Run, starts_s: Array) -> Mask:
        """Tell from which starts the run, at its longest, is ready when the finish-by time comes next."""
        due_after = np.searchsorted(self.due_s, starts_s, side="right")
        due_before_ready = np.searchsorted(self.due_s, starts_s + run.ready_s, side="left")
        return np.asarray(due_after >= due_before_ready)

    def possible(self, run: Run, starts_s: Array) -> Mask:
        """Tell which starts are possible: priced, out of the quiet hours and in time."""
        return self.priced(run, starts_s) & self.out_of_quiet(run, starts_s) & self.in_time(run, starts_s)


def _quiet_day(quiet: Sequence[Quiet]) -> list[float]:
    day = [0.0] * MINUTES_PER_DAY
    for hours in quiet:
        first = minute_of_day(hours.start)
        length = (minute_of_day(hours.until) - first) % MINUTES_PER_DAY
        for minute in range(first, first + length):
            day[minute % MINUTES_PER_DAY] = 1.0
    return day


def _steps(series: PriceSeries) -> Steps:
    first_s = int(series.start_utc.timestamp())
    step_s = series.step_min * int(S_PER_MIN)
    return Steps.of(range(first_s, first_s + step_s * len(series.per_kwh) + 1, step_s), series.per_kwh)
