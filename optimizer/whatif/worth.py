"""What a better measurement would be worth: the plan with one interval half as wide, for each of them.

The present programme holds in every narrower interval and costs the same there, so that no saving is
negative. A cheaper programme counts only where it does not hold as things are: one that does was missed by
the search, and is no merit of the measurement.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.batch.answer import CaseResult
from optimizer.batch.run_cases import WorkerSettings
from optimizer.check.certify import check
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Costs, Inputs
from optimizer.whatif.narrower_plans import Interval, NarrowerPlans, intervals, short

ALL = "all"
"""Key of all intervals at once."""

Status = Literal["planned", "no plan", "check failed", "failed", "not finished"]


@dataclass(frozen=True)
class Narrowed:
    """An interval half as wide, and the plan with it.

    Attributes
    ----------
    interval : Interval or None
        The interval; None for all of them at once.
    status : str
        ``planned``, ``no plan``, ``check failed``, ``failed`` where the work on it failed, or
        ``not finished`` where it was interrupted.
    costs : Costs or None
        What a run of the plan costs; None where there is none.
    saving : float or None
        What it saves a run, waiting counted [currency]; 0 where the present programme stays the best that
        was found. None where there is no plan now, or none with it.
    why : tuple of str
        Why there is no plan.
    """

    interval: Interval | None
    status: Status
    costs: Costs | None = None
    saving: float | None = None
    why: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Key of the number, or `ALL`."""
        return ALL if self.interval is None else self.interval.key

    @property
    def minutes(self) -> float | None:
        """Work of the test that settles it, once [min]."""
        test = None if self.interval is None else self.interval.test
        return None if test is None else test.minutes

    @property
    def saving_per_minute(self) -> float | None:
        """What it saves a run for each minute of the test [currency]."""
        return None if self.saving is None or not self.minutes else self.saving / self.minutes


@dataclass(frozen=True)
class Worth:
    """What every interval of a machine and its circuit is worth.

    Attributes
    ----------
    inputs : Inputs
        The profiles as they are.
    now : Costs or None
        What a run costs as things are: of the cheapest programme found that holds; None where there is none.
    missed : float
        What that programme is cheaper than the plan as things are, because it was found on the way
        [currency].
    refusal : NoPlanError or None
        Why there is no plan now.
    rows : tuple of Narrowed
        One an interval: most money for a minute of work first; where there is no plan now, those that make
        one possible, least work first. Those without a plan come last.
    all_at_once : Narrowed or None
        All intervals half as wide; None where there is no interval.
    interrupted : bool
        Whether Ctrl-C ended the work.
    """

    inputs: Inputs
    now: Costs | None
    missed: float
    refusal: NoPlanError | None
    rows: tuple[Narrowed, ...]
    all_at_once: Narrowed | None
    interrupted: bool

    @property
    def any_plan(self) -> bool:
        """Whether there is a plan, now or with narrower intervals."""
        tried = [*self.rows, *([] if self.all_at_once is None else [self.all_at_once])]
        return self.now is not None or any(row.costs is not None for row in tried)


def worth(
    inputs: Inputs,
    settings: WorkerSettings,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
) -> Worth:
    """Plan anew with each interval half as wide; `CheckFailedError` where there is no proven plan now."""
    now: Proven | None = None
    refusal: NoPlanError | None = None
    try:
        now = plan_and_prove(inputs, solver=solver, report=report, search=search)
    except NoPlanError as error:
        refusal = error
    asked = list(intervals(inputs))
    planner = NarrowerPlans(inputs, now, settings, solver, report, replace(search, why=False))
    if asked:
        planner.plan([asked], near=search.neighbours)
        if planner.can_save(asked):
            planner.plan_each(asked, near=search.neighbours)
    best, missed = _best_now(planner)
    rows = [_row(one, planner.result_of(one), best) for one in asked]
    together = _together(planner.results.get(tuple(asked)), best, rows) if asked else None
    ranked = tuple(sorted(rows, key=_rank))
    return Worth(inputs, best, missed, refusal, ranked, together, planner.interrupted)


def _best_now(planner: NarrowerPlans) -> tuple[Costs | None, float]:
    """Find the cheapest programme that holds as things are, and what it is cheaper than the plan."""
    now, inputs = planner.now, planner.inputs
    if now is None:
        return None, 0.0
    best = now.plan.costs
    assessor = Assessor(inputs, now.kept)
    for plan in sorted(planner.plans, key=lambda plan: plan.costs.with_waiting):
        if plan.costs.with_waiting >= best.with_waiting:
            break
        if short(assessor, plan):
            continue
        planner.report("looking whether it holds without the narrower interval")
        if check(plan.constants, inputs.machine, inputs.goal, inputs.circuit).passed:
            best = plan.costs
    return best, now.plan.costs.with_waiting - best.with_waiting


def _together(result: CaseResult | None, now: Costs | None, rows: list[Narrowed]) -> Narrowed:
    """All intervals at once: what holds with one of them narrower holds here as well."""
    found = _row(None, result, now)
    for row in rows:
        better = found.costs is None or (row.costs and row.costs.with_waiting < found.costs.with_waiting)
        if row.costs is not None and better and found.status != "not finished":
            found = replace(row, interval=None)
    return found


def _row(interval: Interval | None, result: CaseResult | None, now: Costs | None) -> Narrowed:
    if result is None:
        return Narrowed(interval, "not finished")
    if result.status == "failed":
        return Narrowed(interval, "failed", why=result.why)
    costs = None if result.plan is None else result.plan.costs
    if now is None:
        return Narrowed(interval, result.status, costs, why=result.why)
    if costs is None or costs.with_waiting >= now.with_waiting:
        # What holds in an interval holds in a narrower one.
        return Narrowed(interval, "planned", now, 0.0)
    return Narrowed(interval, "planned", costs, now.with_waiting - costs.with_waiting)


def _rank(row: Narrowed) -> tuple[int, float, float, str]:
    """Most money a minute first, then what no test settles; without a plan now, least work first."""
    minutes = row.minutes if row.minutes is not None else float("inf")
    if row.costs is None:
        return 2, 0.0, minutes, row.key
    if row.saving is None:
        return 0, 0.0, minutes, row.key
    per_minute = row.saving_per_minute
    return (0 if per_minute is not None else 1), -(per_minute or 0.0), -row.saving, row.key
