"""What the electricity of a run cost: its watts at the tariff's prices of that day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError, InputIssue
from optimizer.profile.price_series import PriceSeries, readings, week_prices
from optimizer.profile.tariff import MINUTES_PER_DAY
from optimizer.programme.plan import Plan
from optimizer.review.run_log import RunLog
from optimizer.units import J_PER_KWH, S_PER_MIN

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Cost:
    """What the electricity of a log cost.

    Attributes
    ----------
    electricity_kwh : float
        All that was logged [kWh].
    low, high : float
        Cost by the lowest and the highest price that may have held [currency]; the same where the price is
        one, or the log says when it ran.
    currency : str
        The tariff's.
    """

    electricity_kwh: float
    low: float
    high: float
    currency: str


def cost_of(
    plan: Plan, log: RunLog, until_s: float = np.inf, series: PriceSeries | None = None
) -> Cost | None:
    """Cost the electricity of a log by its watts and the tariff's prices of that day.

    Parameters
    ----------
    plan : Plan
        The plan that ran, for its tariff.
    log : RunLog
        The log; its date says which price held, each of its rows until the next one.
    until_s : float
        Up to which time of the log [s].
    series : PriceSeries, optional
        Prices of that day, for a tariff that is a file of prices.

    Returns
    -------
    Cost or None
        None where no watts are logged.

    Raises
    ------
    InputError
        The series does not hold the time of the run.
    """
    if log.power_w is None:
        return None
    read = np.isfinite(log.power_w) & (log.time_s < until_s)
    time_s, watts = log.time_s[read], log.power_w[read]
    if len(time_s) < 2:
        return None
    spent_kwh = np.append(0.5 * (watts[1:] + watts[:-1]) * np.diff(time_s), 0.0) / J_PER_KWH
    total_kwh = float(spent_kwh.sum())
    per_kwh = _prices(plan, log, time_s, series)
    if per_kwh is None:
        prices = plan.inputs.prices
        low, high = prices.least_per_kwh * total_kwh, prices.most_per_kwh * total_kwh
    else:
        low = high = float((spent_kwh * per_kwh).sum())
    return Cost(total_kwh, low, high, plan.inputs.tariff.currency)


def _prices(plan: Plan, log: RunLog, time_s: Array, series: PriceSeries | None) -> Array | None:
    """Price at each of some times [currency/kWh]; None where nothing says which one held."""
    electricity = plan.inputs.tariff.electricity
    if log.began is None or (electricity.form == "series" and series is None):
        return None
    zone = ZoneInfo(electricity.zone)
    began = _instant(log.began, zone)
    since_min = (time_s - log.time_s[0]) / S_PER_MIN
    if series is not None:
        late_min = (began - series.start_utc) / timedelta(minutes=1)
        steps = np.floor((late_min + since_min) / series.step_min).astype(int)
        if steps[0] < 0 or steps[-1] >= len(series.per_kwh):
            ends_utc = series.start_utc + len(series.per_kwh) * timedelta(minutes=series.step_min)
            rule, fix = "the run is at a time that the prices do not hold", "give the prices of that day"
            held = f"prices {series.start_utc:%F %H:%M} to {ends_utc:%F %H:%M}"
            found = f"{began:%F %H:%M} UTC, {held}"
            raise InputError([InputIssue(log.subject, "time", rule, found, fix)])
        return np.asarray(np.array(series.per_kwh)[steps], dtype=float)
    # Clocks may be set while it runs: each minute is looked up by itself.
    began_min = began.replace(second=0, microsecond=0)
    since_min = since_min + (began - began_min) / timedelta(minutes=1)
    minutes, which = np.unique(np.floor(since_min).astype(int), return_inverse=True)
    at = [(began_min + timedelta(minutes=int(minute))).astimezone(zone) for minute in minutes]
    week = np.array(week_prices(electricity))
    of_week = [one.weekday() * MINUTES_PER_DAY + one.hour * 60 + one.minute for one in at]
    return np.asarray(week[of_week][which])


def _instant(began: datetime, zone: ZoneInfo) -> datetime:
    """When a log began, in UTC; a time without an offset is one of the tariff's clock."""
    if began.tzinfo is None:
        began = next(iter(readings(began, zone)), began.replace(tzinfo=zone))
    return began.astimezone(UTC)
