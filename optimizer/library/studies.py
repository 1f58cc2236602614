"""Studies of plans: compared, against changes, along a frontier, explained."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, get_args

from optimizer.library.arguments import not_names, not_one_of, not_two_of, not_whole, require
from optimizer.library.job import Tell, no_progress
from optimizer.library.results import PlanResult
from optimizer.library.study_results import (
    ComparisonResult,
    ExplainResult,
    FrontierResult,
    MeasureResult,
    UpgradesResult,
    WorthResult,
)
from optimizer.option_defaults import LEAST_POINTS, POINTS, RUNS_PER_YEAR
from optimizer.programme.plan import Inputs

if TYPE_CHECKING:
    from optimizer.planner.objective import Axis
    from optimizer.planner.solver import SolverName


def compare(
    machines: Sequence[str],
    goals: Sequence[str],
    circuits: Sequence[str] = (),
    tariffs: Sequence[str] = (),
    *,
    jobs: int = 0,
    runs_per_year: int = RUNS_PER_YEAR,
) -> ComparisonResult:
    """Plan and prove every combination of profiles, each costed at every start of its tariff.

    Parameters
    ----------
    machines, goals : sequence of str
        Names or paths, at least one each.
    circuits, tariffs : sequence of str
        The same; each machine's usual one where empty.
    jobs : int
        Worker processes [1]; 0 for none: this process solves the cases one after the other. A script that
        asks for workers needs the usual ``if __name__ == "__main__":`` of multiprocessing.
    runs_per_year : int
        Runs that a year's money is for [1], 1 or more.

    Returns
    -------
    ComparisonResult
        One row a combination; one without a plan says why.

    Raises
    ------
    InputError
        With every issue of all files; or an argument that is no list of names, or out of its range.
    """
    from optimizer.batch.cases import StudyRequest, read_cases
    from optimizer.batch.compare import compare as compare_cases
    from optimizer.batch.run_cases import WorkerSettings

    require(
        not_names("machines", machines, "clubhouse", least=1),
        not_names("goals", goals, "everyday", least=1),
        not_names("circuits", circuits, "shared-6a"),
        not_names("tariffs", tariffs, "two-rate"),
        not_whole("jobs", jobs, 0),
        not_whole("runs_per_year", runs_per_year, 1),
    )
    request = StudyRequest(tuple(machines), tuple(goals), tuple(circuits), tuple(tariffs))
    return ComparisonResult(compare_cases(read_cases(request), WorkerSettings(jobs), runs_per_year))


def frontier(
    inputs: Inputs,
    between: tuple[Axis, Axis] = ("cost", "minutes"),
    *,
    points: int = POINTS,
    jobs: int = 0,
    solver: SolverName = "auto",
    tell: Tell = no_progress,
) -> FrontierResult:
    """Find proven plans between the least of one quantity and the least of another.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    between : tuple of str
        Two of ``cost``, ``minutes``, ``energy`` and ``water``.
    points : int
        Points to look for [1], 2 or more.
    jobs : int
        Worker processes [1]; 0 for none: this process plans one after the other. A script that asks for
        workers needs the usual ``if __name__ == "__main__":`` of multiprocessing.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    FrontierResult
        One row a point; ``plans`` has the plan of each.

    Raises
    ------
    InputError
        `between` is no pair of these, `points` or `jobs` is too small, or there is no solver of that name.
    NoPlanError
        No programme meets the goal.
    """
    from optimizer.planner.objective import AXES
    from optimizer.planner.search import USUAL_SEARCH
    from optimizer.planner.solver import SolverName
    from optimizer.whatif.frontier import frontier as find

    require(
        not_two_of("between", between, AXES),
        not_whole("points", points, LEAST_POINTS),
        not_whole("jobs", jobs, 0),
        not_one_of("solver", solver, get_args(SolverName)),
    )
    return FrontierResult(find(inputs, between, points, solver, tell, USUAL_SEARCH, jobs))


def upgrades(
    inputs: Inputs,
    *,
    runs_per_year: int = RUNS_PER_YEAR,
    jobs: int = 0,
    solver: SolverName = "auto",
    tell: Tell = no_progress,
) -> UpgradesResult:
    """Say what one change to machine, circuit or goal would buy; each is planned and proven anew.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    runs_per_year : int
        Runs that a year's saving is for [1], 1 or more.
    jobs : int
        Worker processes [1]; 0 for none: this process plans one after the other. A script that asks for
        workers needs the usual ``if __name__ == "__main__":`` of multiprocessing.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    UpgradesResult
        One row a change.

    Raises
    ------
    InputError
        `runs_per_year` or `jobs` is out of its range, or there is no solver of that name.
    """
    from optimizer.planner.search import USUAL_SEARCH
    from optimizer.planner.solver import SolverName
    from optimizer.whatif.upgrades import upgrades as try_changes

    require(
        not_whole("runs_per_year", runs_per_year, 1),
        not_whole("jobs", jobs, 0),
        not_one_of("solver", solver, get_args(SolverName)),
    )
    return UpgradesResult(try_changes(inputs, solver, tell, USUAL_SEARCH, jobs), runs_per_year)


def worth(
    inputs: Inputs,
    *,
    runs_per_year: int = RUNS_PER_YEAR,
    jobs: int = 0,
    solver: SolverName = "auto",
    tell: Tell = no_progress,
) -> WorthResult:
    """Say which measurement to repeat: what each interval would save, were it half as wide.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    runs_per_year : int
        Runs that a year's saving is for [1], 1 or more.
    jobs : int
        Worker processes [1]; 0 for none: this process plans one interval after the other. A script that asks
        for workers needs the usual ``if __name__ == "__main__":`` of multiprocessing.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    WorthResult
        One row an interval, most money for a minute of work first.

    Raises
    ------
    InputError
        `runs_per_year` or `jobs` is out of its range, or there is no solver of that name.
    CheckFailedError
        The check finds a requirement of the plan as things are short after several plans.
    """
    from optimizer.batch.run_cases import WorkerSettings
    from optimizer.planner.solver import SolverName
    from optimizer.whatif.worth import worth as try_intervals

    require(
        not_whole("runs_per_year", runs_per_year, 1),
        not_whole("jobs", jobs, 0),
        not_one_of("solver", solver, get_args(SolverName)),
    )
    return WorthResult(try_intervals(inputs, WorkerSettings(jobs), solver, tell), runs_per_year)


def measure_book(book: str, like: str | None = None, *, tell: Tell = no_progress) -> MeasureResult:
    """Make a machine profile of a bench book.

    Parameters
    ----------
    book : str
        Folder of the book, or the name of a shipped one.
    like : str, optional
        Machine profile that every number without a test comes from: a name or a path.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    MeasureResult
        One row a number, with its ends.

    Raises
    ------
    InputError
        With every issue of the book and its logs, and every two tests that cannot both be true.
    """
    from optimizer.measure.measurement import measure

    return MeasureResult(measure(book, like, tell))


def explain(
    plan: PlanResult, *, jobs: int = 0, solver: SolverName = "auto", tell: Tell = no_progress
) -> ExplainResult:
    """Say why a plan is what it is: what binds it, and what else it might have been.

    Parameters
    ----------
    plan : PlanResult
        The plan, of `plan` or `read_plan`.
    jobs : int
        Worker processes [1]; 0 for none: this process plans one after the other. A script that asks for
        workers needs the usual ``if __name__ == "__main__":`` of multiprocessing.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    ExplainResult
        One row a binding requirement.

    Raises
    ------
    InputError
        `jobs` is below 0, or there is no solver of that name.
    CheckFailedError
        The plan does not pass the check.
    """
    from optimizer.planner.search import USUAL_SEARCH
    from optimizer.planner.solver import SolverName
    from optimizer.whatif.explain import explain as find

    require(not_whole("jobs", jobs, 0), not_one_of("solver", solver, get_args(SolverName)))
    plan.require_passed("so there is nothing to explain")
    return ExplainResult(find(plan.plan, plan.certificate, solver, tell, USUAL_SEARCH, jobs))
