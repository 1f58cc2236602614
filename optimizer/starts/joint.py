"""Programme and start chosen together.

The planner is solved at each price level of the tariff, every programme it finds is costed at every start,
and the pair that costs least, waiting included, wins.

The lower bound. Let m be the lowest price outside of the quiet hours. A run takes energy and never gives
any back, and it does not touch the quiet hours; so at whatever start it costs at least what it would cost
if m were the price all day. When the planner's model is solved at m, its solver proves the least of that
over all programmes of the model. So no programme of the model, as the model costs it, is cheaper at any
start. That is the model with the backoff that the check called for, and without the structures that could
not be trimmed.

The model is not optimistic: its straight lines lie on the safe side, its levels and temperatures on a grid.
So trimming may find a programme that is cheaper than the model says. Where one of the programmes at hand
would cost less at m than the model's bound, its cost is the bound, and that is then proven of these
programmes alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.cost import unit_prices
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.profile.price_series import Prices
from optimizer.programme.plan import Inputs
from optimizer.starts.hours import Hours
from optimizer.starts.run_cost import power_steps, run_of
from optimizer.starts.scan import Scan, scan
from optimizer.starts.span import Span, longest_run_s
from optimizer.units import S_PER_MIN

MOST_LEVELS = 6
"""Price levels the planner is solved at [1]; each takes a second or two."""

SHARES = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)
"""Where there are more prices: share of the time at which electricity is no dearer than a level [1]. More of
them lie where it is cheap, because that is when a run will be."""

LEAST_MIN = 1.0
"""Where the hours leave no time at all, the planner is asked for a programme of this length [min], so that
the answer names the shortest there is."""


@dataclass(frozen=True)
class Levels:
    """Prices the planner is solved at.

    Attributes
    ----------
    per_kwh : tuple of float
        The levels, rising [currency/kWh]; the first is the lowest price there is.
    distinct : int
        How many different prices there are [1].
    """

    per_kwh: tuple[float, ...]
    distinct: int


@dataclass(frozen=True)
class Candidate:
    """A programme and what it costs at its possible starts.

    Attributes
    ----------
    levels_per_kwh : tuple of float
        Levels at which the planner chose it [currency/kWh].
    proven : Proven
        The plan with its certificate.
    scan : Scan
        Its possible starts; there may be none.
    """

    levels_per_kwh: tuple[float, ...]
    proven: Proven
    scan: Scan

    @property
    def total(self) -> float:
        """Cost at the cheapest start, waiting included [currency]; infinite where no start is possible."""
        return float(self.scan.costs.min()) + self.scan.run.waiting if self.scan.costs.size else float("inf")

    def at_flat(self, per_kwh: float) -> float:
        """Cost if one price held all day, waiting included [currency]."""
        run = self.scan.run
        return run.kwh * per_kwh + run.fixed + run.waiting


@dataclass(frozen=True)
class Joint:
    """Programme and start, chosen together.

    Attributes
    ----------
    candidates : tuple of Candidate
        The different programmes, in the order of the levels they come from.
    levels : Levels
        The price levels.
    model_bound : float
        What the model proves at the lowest price, see the module [currency].
    """

    candidates: tuple[Candidate, ...]
    levels: Levels
    model_bound: float

    @property
    def best(self) -> Candidate:
        """The programme of the pair with the least total."""
        return min(self.candidates, key=lambda candidate: candidate.total)

    @property
    def at_lowest(self) -> float:
        """Least that any of the programmes would cost if the lowest price held all day [currency]."""
        return min(candidate.at_flat(self.levels.per_kwh[0]) for candidate in self.candidates)

    @property
    def bound(self) -> float:
        """Lower bound on the total of any pair, see the module [currency]."""
        return min(self.model_bound, self.at_lowest)

    @property
    def gap(self) -> float:
        """Distance of the best pair from the bound [currency]; infinite where no start is possible."""
        # Where the run pays the lowest price from start to end, both are the same but for rounding.
        return max(self.best.total - self.bound, 0.0)


def price_levels(hours: Hours, first_s: float, last_s: float) -> Levels:
    """Find the price levels between two times.

    These are all the different prices outside of the quiet hours, or `MOST_LEVELS` quantiles of the time
    where there are more. Where all of it is quiet they are those of the quiet hours.
    """
    first_s, last_s = max(first_s, hours.price.first_s), min(last_s, hours.price.last_s)
    edges_s = np.unique(np.concatenate([hours.price.edges_s, hours.quiet.edges_s, [first_s, last_s]]))
    edges_s = edges_s[(edges_s >= first_s) & (edges_s <= last_s)]
    begins_s = edges_s[:-1]
    usable = hours.quiet.at(begins_s) == 0.0
    usable |= not usable.any()
    per_kwh, which = np.unique(hours.price.at(begins_s)[usable], return_inverse=True)
    if per_kwh.size <= MOST_LEVELS:
        return Levels(tuple(per_kwh.tolist()), per_kwh.size)
    time_s = np.bincount(which, weights=np.diff(edges_s)[usable])
    share_no_dearer = np.cumsum(time_s) / time_s.sum()
    picked = [min(int(np.searchsorted(share_no_dearer, share)), per_kwh.size - 1) for share in SHARES]
    return Levels(tuple(dict.fromkeys(per_kwh[picked].tolist())), per_kwh.size)


def choose_together(
    inputs: Inputs,
    hours: Hours,
    span: Span,
    solver: SolverName,
    report: Callable[[str], None],
    search: Search = USUAL_SEARCH,
) -> Joint:
    """Choose a programme and its start together; it may be that none of the programmes has a possible start.

    `NoPlanError` where no programme meets the goal in the time that quiet hours and finish-by time leave.
    """
    limited = _limited_to_hours(inputs, hours, span)
    longest_min = limited.goal.limits.duration_min
    levels = price_levels(hours, span.first_s, span.until_s + longest_min * S_PER_MIN)
    proven = []
    for number, per_kwh in enumerate(levels.per_kwh, start=1):
        report(f"planning at price level {number} of {len(levels.per_kwh)}")
        priced = replace(limited, prices=Prices(per_kwh, per_kwh, per_kwh))
        try:
            proven.append(plan_and_prove(priced, solver=solver, search=search))
        except NoPlanError as error:
            if limited is inputs:
                raise
            time_left = f"in the {longest_min:.0f} min that the quiet hours and the finish-by time leave"
            headline = f"{error.headline}, {time_left}"
            raise NoPlanError(
                headline, error.reasons, error.easing, error.iis, proven=error.proven
            ) from error
    at_lowest = proven[0].plan
    # The model adds a little for every minute, to break ties: no part of the cost.
    tie = unit_prices(at_lowest.inputs).tie_per_min * longest_min
    return Joint(_different(proven, levels, hours, span), levels, at_lowest.solve.bound - tie)


def _limited_to_hours(inputs: Inputs, hours: Hours, span: Span) -> Inputs:
    """Shorten the longest duration to what the hours leave: a longer programme could never be started."""
    goal = inputs.goal
    longest_min = longest_run_s(hours, span, goal.drying.standing_min * S_PER_MIN) / S_PER_MIN
    if longest_min >= goal.limits.duration_min:
        return inputs
    limits = goal.limits.model_copy(update={"duration_min": max(longest_min, LEAST_MIN)})
    return replace(inputs, goal=goal.model_copy(update={"limits": limits}))


def _different(proven: list[Proven], levels: Levels, hours: Hours, span: Span) -> tuple[Candidate, ...]:
    """Cost every different programme at every start."""
    chosen_at: dict[int, list[float]] = {}
    # Plans at different prices differ in the hash of their inputs, which the controller does not act on.
    tables = [replace(one.plan.constants, input_sha256="") for one in proven]
    for table, per_kwh in zip(tables, levels.per_kwh, strict=True):
        chosen_at.setdefault(tables.index(table), []).append(per_kwh)
    candidates = []
    for number, at_levels in chosen_at.items():
        one = proven[number]
        power = power_steps(one.certificate.trace, one.plan.inputs.machine)
        run = run_of(one.plan, power)
        candidates.append(Candidate(tuple(at_levels), one, scan(run, hours, span.starts_s)))
    return tuple(candidates)
