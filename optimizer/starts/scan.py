"""A run held against a tariff: what every possible start costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.profile.prices import PriceSeries
from optimizer.programme.plan import Plan
from optimizer.starts.hours import Hours, rules_of
from optimizer.starts.run_cost import Run, run_of
from optimizer.starts.span import usual_span
from optimizer.starts.steps import Steps

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scan:
    """What a run costs at each of its possible starts.

    Attributes
    ----------
    run : Run
        The run.
    hours : Hours
        The tariff, laid out.
    starts_s : ndarray
        The possible starts, rising, since 1970-01-01 UTC [s].
    costs : ndarray
        Cost of a run started then: electricity, water, detergent, CO2 [currency].
    """

    run: Run
    hours: Hours
    starts_s: Array
    costs: Array

    @property
    def cheapest(self) -> int:
        """Position of the cheapest start, the earliest of equal ones [1]."""
        return _first_within(self.costs, float(self.costs.min()))

    @property
    def dearest(self) -> int:
        """Position of the dearest start, the earliest of equal ones [1]."""
        return _first_within(-self.costs, float(-self.costs.max()))


def _first_within(costs: Array, least: float) -> int:
    """Sums of prices differ by rounding where the prices are the same: that is no reason to start later."""

    return int(np.flatnonzero(costs <= least + 1e-9 * max(abs(least), 1e-3))[0])


def scan(run: Run, hours: Hours, starts_s: Array) -> Scan:
    """Cost a run at every possible start.

    Parameters
    ----------
    run : Run
        The run.
    hours : Hours
        The tariff, laid out over all the starts.
    starts_s : ndarray
        Starts, rising, since 1970-01-01 UTC [s]; those that are not possible are left out.

    Returns
    -------
    Scan
        The possible starts; there may be none.
    """
    possible_s = starts_s[hours.possible(run, starts_s)]
    return Scan(run, hours, possible_s, run.costs(hours.price, possible_s))


def scan_usual(plan: Plan, power: Steps, series: PriceSeries | None) -> Scan:
    """Cost a plan over the whole period of its tariff, under the tariff's own rules.

    Parameters
    ----------
    plan : Plan
        The plan.
    power : Steps
        Its nominal power [W] over the time since the start [s].
    series : PriceSeries or None
        The price series of its tariff, if it has one: `series_of`.

    Returns
    -------
    Scan
        Its possible starts in the series, or in a week of the windows; there may be none.
    """
    tariff = plan.inputs.tariff
    span = usual_span(tariff, series)
    hours = Hours.of(tariff, series, rules_of(tariff), span.first_s, span.until_s)
    return scan(run_of(plan, power), hours, span.starts_s)
