"""What a run costs by when it starts, and the plan and the start that cost least together."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

from optimizer.library.arguments import not_one_of, require
from optimizer.library.job import Tell, checked, no_progress
from optimizer.library.results import PlanResult
from optimizer.library.study_results import StartsResult
from optimizer.programme.plan import Inputs, Plan

if TYPE_CHECKING:
    from optimizer.planner.solver import SolverName
    from optimizer.starts.when import StartRequest


def cost_starts(
    plan: Plan | PlanResult, tariff: str | None = None, request: StartRequest | None = None
) -> StartsResult:
    """Cost a plan at every possible start under a tariff.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan; it has to pass the check.
    tariff : str, optional
        Name or path of a tariff; the plan's own where left out.
    request : StartRequest, optional
        Which starts, quiet hours and finish-by time (`optimizer.starts.when`); from now for a day where left
        out.

    Returns
    -------
    StartsResult
        One row a start; ``cheapest`` is the row that costs least.

    Raises
    ------
    InputError
        The tariff or the request cannot be read.
    NoPlanError
        No start is possible; says why and the nearest that is.
    CheckFailedError
        The plan does not pass the check.
    """
    from optimizer.starts.when import StartRequest, when_to_start

    proven = checked(plan)
    proven.require_passed("so no start is recommended")
    return StartsResult(when_to_start(proven.plan, proven.certificate, tariff, request or StartRequest()))


def plan_and_start(
    inputs: Inputs,
    request: StartRequest | None = None,
    *,
    solver: SolverName = "auto",
    tell: Tell = no_progress,
) -> StartsResult:
    """Choose a programme together with its start.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    request : StartRequest, optional
        Which starts, quiet hours and finish-by time; from now for a day where left out.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    StartsResult
        What the starts of the programme of the cheapest pair cost.

    Raises
    ------
    InputError
        The request cannot be read, or there is no solver of that name.
    NoPlanError
        There is no programme, or none that can be started.
    CheckFailedError
        A programme does not pass its check.
    """
    from optimizer.planner.solver import SolverName
    from optimizer.starts.when import StartRequest
    from optimizer.starts.when import plan_and_start as choose_both

    require(not_one_of("solver", solver, get_args(SolverName)))
    return StartsResult(choose_both(inputs, request or StartRequest(), solver, tell))
