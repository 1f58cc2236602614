"""Every possible start of a run under a tariff, and what the run costs from there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.profile.price_series import PriceSeries
from optimizer.programme.plan import Plan
from optimizer.starts.hours import Hours, rules_of
from optimizer.starts.run_cost import Run, run_of
from optimizer.starts.span import usual_span
from optimizer.starts.step_function import Array, Steps


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
    """First of those that differ by rounding alone, as sums of the same prices do."""
    return int(np.flatnonzero(costs <= least + 1e-9 * max(abs(least), 1e-3))[0])


def scan(run: Run, hours: Hours, starts_s: Array) -> Scan:
    """Cost a run at those of the starts that are possible; there may be none."""
    possible_s = starts_s[hours.possible(run, starts_s)]
    return Scan(run, hours, possible_s, run.costs(hours.price, possible_s))


def scan_usual(plan: Plan, power: Steps, series: PriceSeries | None) -> Scan:
    """Cost a plan over the price series of its tariff, or a week of its windows, under the tariff's rules."""
    tariff = plan.inputs.tariff
    span = usual_span(tariff, series)
    hours = Hours.of(tariff, series, rules_of(tariff), span.first_s, span.until_s)
    return scan(run_of(plan, power), hours, span.starts_s)
