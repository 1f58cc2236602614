"""The library: what ``import optimizer`` offers, a function for each step of the job.

Every function takes and gives plain typed objects; what it gives prints as the command of that step does. The
command line is a thin layer over these functions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from optimizer.errors import CheckFailedError
from optimizer.programme.plan import Inputs, Plan
from optimizer.results import (
    CheckResult,
    ComparisonResult,
    ExplainResult,
    FaultsResult,
    FrontierResult,
    PlanResult,
    StartsResult,
    UpgradesResult,
)

if TYPE_CHECKING:
    from pandas import DataFrame

    from optimizer.planner.objective import Axis
    from optimizer.starts.when import StartRequest

SolverName = Literal["auto", "highs", "cbc"]
FormName = Literal["c", "json", "csv", "micropython", "iec"]
Tell = Callable[[str], None]
"""Told what is going on, for a progress line."""

DRAWS, SEED = 64, 1
"""Random draws of a check, and their seed, where none are asked for [1]."""

RUNS_PER_YEAR = 200
"""Runs that a year's money is for, where no number is given [1]."""


def _quiet(_: str) -> None:
    return


def shipped() -> DataFrame:
    """List the profiles that come with the tool: an invented scenario.

    Returns
    -------
    DataFrame
        One row a profile: ``kind``, ``name`` (by which `load` takes it) and ``title``.

    Examples
    --------
    >>> frame = shipped()
    >>> sorted(frame.loc[frame["kind"] == "machine", "name"])
    ['clubhouse', 'cold-shed', 'garage-120v', 'narrowboat']
    """
    import pandas as pd

    from optimizer.profile.shipped import shipped_profiles

    rows = [{"kind": one.kind, "name": one.name, "title": one.title} for one in shipped_profiles()]
    return pd.DataFrame(rows)


def load(machine: str, goal: str, circuit: str | None = None, tariff: str | None = None) -> Inputs:
    """Load the four profiles of a plan and hold them against each other.

    Parameters
    ----------
    machine, goal : str
        Name of a shipped profile, or a path to a TOML file (``"./mine.toml"``).
    circuit, tariff : str, optional
        The same; the machine's usual ones where left out.

    Returns
    -------
    Inputs
        The profiles, validated; every quantity with its nominal value and both ends.

    Raises
    ------
    InputError
        With every issue of all four files: file, key, rule, value found, a fix.

    Examples
    --------
    >>> inputs = load("clubhouse", "everyday")
    >>> inputs.machine.tank.limit_c, inputs.names[2]
    (85.0, 'shared-6a')
    """
    from optimizer.programme.inputs import load_inputs

    return load_inputs(machine, goal, circuit, tariff)


def plan(inputs: Inputs, *, solver: SolverName = "auto", tell: Tell = _quiet) -> PlanResult:
    """Choose the programme that costs least and prove it by the independent check.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    PlanResult
        The plan with its certificate; its ``frame`` has one row a round.

    Raises
    ------
    NoPlanError
        No programme meets the goal; carries the reasons with the nearest values.
    CheckFailedError
        The check finds a requirement short after several plans.
    SolverError
        The solver is missing, or stopped without an answer.
    """
    from optimizer.prove import plan_and_prove

    proven = plan_and_prove(inputs, solver=solver, report=tell)
    return PlanResult(proven.plan, proven.certificate)


def read_plan(path: str | Path, *, draws: int = DRAWS, seed: int = SEED) -> PlanResult:
    """Read a plan file and run the check on it again.

    Parameters
    ----------
    path : str or Path
        The plan file.
    draws : int
        Random points inside the tolerances that are run beside the corners [1], 0 or more.
    seed : int
        Seed of these draws [1], 0 or more.

    Returns
    -------
    PlanResult
        The plan with a new certificate; ask its ``passed``.

    Raises
    ------
    InputError
        The file cannot be read, or is not a sound plan.
    """
    from optimizer.files import read_text
    from optimizer.programme.planfile import plan_from_json

    found = plan_from_json(read_text(Path(path), "plan"), str(path))
    return PlanResult(found, check_plan(found, draws=draws, seed=seed).certificate)


def check_plan(plan: Plan | PlanResult, *, draws: int = DRAWS, seed: int = SEED) -> CheckResult:
    """Run the constants of a plan through the independent simulation.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan.
    draws : int
        Random points inside the tolerances that are run beside the corners [1], 0 or more.
    seed : int
        Seed of these draws [1], 0 or more.

    Returns
    -------
    CheckResult
        One row a requirement, each with its worst case; ask its ``passed``.

    Raises
    ------
    InputError
        The constants are for another kind of machine.
    """
    from optimizer.check.certify import check

    one = _plan_of(plan)
    inputs = one.inputs
    certificate = check(one.constants, inputs.machine, inputs.goal, inputs.circuit, draws=draws, seed=seed)
    return CheckResult(certificate)


def single_faults(plan: Plan | PlanResult) -> FaultsResult:
    """Run a plan with one broken part at a time.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan.

    Returns
    -------
    FaultsResult
        One row a fault: what happens, after how many seconds, and which guard has to stand against it.

    Raises
    ------
    InputError
        The constants are for another kind of machine.
    """
    from optimizer.check.faults.run_faults import run_faults

    one = _plan_of(plan)
    return FaultsResult(run_faults(one.constants, one.inputs.machine, one.inputs.goal, one.inputs.circuit))


def emit_constants(plan: Plan | PlanResult, form: FormName = "c", *, rehearsal: bool = False) -> str:
    """Write the constants that a controller takes; only after the check has passed.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan.
    form : str
        ``c`` (a C99 header), ``json``, ``csv``, ``micropython`` or ``iec`` (IEC 61131-3).
    rehearsal : bool
        The bench run instead: every phase in seconds, the element never on.

    Returns
    -------
    str
        The text of the file. Its cautions are part of it: read them before anything is switched on.

    Raises
    ------
    CheckFailedError
        The check does not pass, so nothing is written.
    InputError
        The constants are for another kind of machine.
    """
    from optimizer.check.bench_check import check_bench
    from optimizer.check.certificate import failure_lines
    from optimizer.emit.bench_run import bench_run
    from optimizer.emit.forms import FORMS

    one = _plan_of(plan)
    PlanResult(one, check_plan(one).certificate).require_passed("so no constants are written")
    if not rehearsal:
        return FORMS[form](one)
    shortened = bench_run(one)
    if failures := failure_lines(check_bench(shortened.constants, one.inputs.machine, one.constants)):
        raise CheckFailedError("no bench run is harmless on this machine, so none is written", failures)
    return FORMS[form](shortened)


def compare(
    machines: Sequence[str],
    goals: Sequence[str],
    circuits: Sequence[str] = (),
    tariffs: Sequence[str] = (),
    *,
    jobs: int = 1,
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
        Worker processes [1], 1 or more. A script that asks for more than one needs the usual
        ``if __name__ == "__main__":`` of multiprocessing.
    runs_per_year : int
        Runs that a year's money is for [1], 1 or more.

    Returns
    -------
    ComparisonResult
        One row a combination; one without a plan says why.

    Raises
    ------
    InputError
        With every issue of all files.
    """
    from optimizer.batch.cases import StudyRequest, read_cases
    from optimizer.batch.compare import compare as compare_cases
    from optimizer.batch.run_cases import WorkerSettings

    request = StudyRequest(tuple(machines), tuple(goals), tuple(circuits), tuple(tariffs))
    return ComparisonResult(compare_cases(read_cases(request), WorkerSettings(jobs), runs_per_year))


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

    one = _plan_of(plan)
    proven = plan if isinstance(plan, PlanResult) else PlanResult(one, check_plan(one).certificate)
    proven.require_passed("so no start is recommended")
    return StartsResult(when_to_start(one, proven.certificate, tariff, request or StartRequest()))


def plan_and_start(
    inputs: Inputs,
    request: StartRequest | None = None,
    *,
    solver: SolverName = "auto",
    tell: Tell = _quiet,
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
        The request cannot be read.
    NoPlanError
        There is no programme, or none that can be started.
    CheckFailedError
        A programme does not pass its check.
    """
    from optimizer.starts.when import StartRequest
    from optimizer.starts.when import plan_and_start as choose_both

    return StartsResult(choose_both(inputs, request or StartRequest(), solver, tell))


def frontier(
    inputs: Inputs,
    between: tuple[Axis, Axis] = ("cost", "minutes"),
    *,
    points: int = 8,
    solver: SolverName = "auto",
    tell: Tell = _quiet,
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
    NoPlanError
        No programme meets the goal.
    """
    from optimizer.whatif.frontier import frontier as find

    return FrontierResult(find(inputs, between, points, solver, tell))


def upgrades(
    inputs: Inputs,
    *,
    runs_per_year: int = RUNS_PER_YEAR,
    solver: SolverName = "auto",
    tell: Tell = _quiet,
) -> UpgradesResult:
    """Say what one change to machine, circuit or goal would buy; each is planned and proven anew.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    runs_per_year : int
        Runs that a year's saving is for [1], 1 or more.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    UpgradesResult
        One row a change.
    """
    from optimizer.whatif.upgrades import upgrades as try_changes

    return UpgradesResult(try_changes(inputs, solver, tell), runs_per_year)


def explain(plan: PlanResult, *, solver: SolverName = "auto", tell: Tell = _quiet) -> ExplainResult:
    """Say why a plan is what it is: what binds it, and what else it might have been.

    Parameters
    ----------
    plan : PlanResult
        The plan, of `plan` or `read_plan`.
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
    CheckFailedError
        The plan does not pass the check.
    """
    from optimizer.whatif.explain import explain as find

    plan.require_passed("so there is nothing to explain")
    return ExplainResult(find(plan.plan, plan.certificate, solver, tell))


def _plan_of(plan: Plan | PlanResult) -> Plan:
    return plan.plan if isinstance(plan, PlanResult) else plan
