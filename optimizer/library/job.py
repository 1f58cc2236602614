"""The job step by step: profiles, plan, check, single faults."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from optimizer.check.certificate import Certificate
from optimizer.check.certified import certified
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.library.arguments import not_a_plan, not_one_of, not_whole, require
from optimizer.library.results import CheckResult, FaultsResult, OnMachine, PlanResult
from optimizer.option_defaults import DRAWS, SEED
from optimizer.profile.shipped import shipped_profiles
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs, Plan
from optimizer.programme.planfile import plan_from_json
from optimizer.second_process import second_process

if TYPE_CHECKING:
    from pandas import DataFrame

    from optimizer.planner.solver import SolverName

Tell = Callable[[str], None]
"""Is told each step, for a progress line."""


def no_progress(_: str) -> None:
    """Show no progress: what `tell` is where it is left out."""


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
    return load_inputs(machine, goal, circuit, tariff)


@contextmanager
def two_processes(inputs: Inputs | None = None, jobs: int = 2) -> Iterator[None]:
    """Plan on two cores while the block runs, where there are two and a copy of this process is safe.

    Not where so few as one of `jobs` are asked for. With `inputs` it gets ready for them before, for both.
    """
    if jobs < 2:
        yield
        return
    # What both need is loaded once.
    import scipy.optimize  # noqa: F401

    import optimizer.check.bound_search
    import optimizer.plan_and_prove  # noqa: F401
    from optimizer.planner.trims_ahead import get_ready

    if inputs is not None:
        get_ready(inputs)
    with second_process():
        yield


def plan(
    inputs: Inputs, *, solver: SolverName = "auto", bound: bool = False, tell: Tell = no_progress
) -> PlanResult:
    """Choose the programme that costs least and prove it by the independent check.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff, of `load`.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    bound : bool
        Whether to work out as well what no programme costs less than, which takes minutes.
    tell : callable
        Told what is going on, for a progress line.

    Returns
    -------
    PlanResult
        The plan with its certificate; its ``frame`` has one row a round.

    Raises
    ------
    InputError
        There is no solver of that name.
    NoPlanError
        No programme meets the goal; carries the reasons with the nearest values.
    CheckFailedError
        The check finds a requirement short after several plans.
    SolverError
        The solver is missing, or stopped without an answer.
    """
    from optimizer.plan_and_prove import plan_and_prove
    from optimizer.planner.solver import SolverName

    require(not_one_of("solver", solver, get_args(SolverName)))
    proven = plan_and_prove(inputs, solver=solver, report=tell)
    least = None
    if bound:
        from optimizer.planner.lower_bound import lower_bound_of

        tell("bounding what any programme costs")
        least = lower_bound_of(proven.plan, proven.kept, tell)
    return PlanResult(proven.plan, proven.certificate, bound=least)


def read_plan(path: str | Path, *, draws: int = DRAWS, seed: int = SEED) -> PlanResult:
    """Read a plan file and run the check on it again.

    Parameters
    ----------
    path : str or Path
        The plan file.
    draws : int
        Random points of the tolerances that the search starts from as well [1], 0 or more.
    seed : int
        Seed of these draws [1], 0 or more.

    Returns
    -------
    PlanResult
        The plan with a new certificate; ask its ``passed``.

    Raises
    ------
    InputError
        The file cannot be read, or is not a sound plan; or draws or seed are below 0.
    """
    require(*_bad_draws(draws, seed))
    text = read_text(Path(path), "plan")
    require(not_a_plan(text, str(path)))
    found = plan_in(text, str(path))
    return PlanResult(found, check_plan(found, draws=draws, seed=seed).certificate, str(path))


def plan_in(text: str, subject: str) -> Plan:
    """Read a plan, whose figures must be those of its own table; `subject` names the file in messages."""
    from optimizer.planner.figures import wrong_figures

    found = plan_from_json(text, subject)
    if issues := wrong_figures(found, subject):
        raise InputError(issues)
    return found


def check_plan(plan: OnMachine, *, draws: int = DRAWS, seed: int = SEED) -> CheckResult:
    """Run the constants of a plan through the independent simulation.

    Parameters
    ----------
    plan : Plan, PlanResult or other
        The plan, or anything that has ``constants`` and ``inputs``.
    draws : int
        Random points of the tolerances that the search starts from as well [1], 0 or more.
    seed : int
        Seed of these draws [1], 0 or more.

    Returns
    -------
    CheckResult
        One row a requirement, each with its worst case; ask its ``passed``.

    Raises
    ------
    InputError
        The constants are for another kind of machine; or draws or seed are below 0.
    """
    from optimizer.check.certify import check

    require(*_bad_draws(draws, seed))
    inputs = plan.inputs
    certificate = check(plan.constants, inputs.machine, inputs.goal, inputs.circuit, draws=draws, seed=seed)
    return CheckResult(certificate, inputs)


def _bad_draws(draws: int, seed: int) -> tuple[InputIssue | None, ...]:
    return not_whole("draws", draws, 0), not_whole("seed", seed, 0)


def single_faults(plan: OnMachine, certificate: Certificate | None = None) -> FaultsResult:
    """Run a plan with one broken part at a time.

    Parameters
    ----------
    plan : Plan, PlanResult or other
        The plan, or anything that has ``constants`` and ``inputs``.
    certificate : Certificate, optional
        What the check found of it, where that is at hand; else the check runs first, because the cut-outs to
        buy have to let the hottest bath pass that it guarantees.

    Returns
    -------
    FaultsResult
        One row a fault: what happens, after how many seconds, and which guard has to stand against it.

    Raises
    ------
    InputError
        The constants are for another kind of machine.
    """
    from optimizer.check.faults.run_faults import Known, run_faults

    inputs = plan.inputs
    if certificate is None:
        certificate = plan.certificate if isinstance(plan, PlanResult) else check_plan(plan).certificate
    known = Known(certified(certificate), certificate.worst_points)
    return FaultsResult(run_faults(plan.constants, inputs.machine, inputs.goal, inputs.circuit, known))


def plan_page(plan: PlanResult, faults: FaultsResult | None = None) -> str:
    """Write a plan as one HTML page.

    Parameters
    ----------
    plan : PlanResult
        The plan with its certificate.
    faults : FaultsResult, optional
        What `single_faults` found; the page has no table of broken parts where left out.

    Returns
    -------
    str
        The page: no script, nothing from a network, the same bytes for the same plan. Its cautions come
        first: read them before anything is switched on.

    Raises
    ------
    InputError
        A library that pages are made with is not installed.
    """
    from optimizer.library.pages import page_text

    return page_text(plan.plan, plan.certificate, None if faults is None else faults.report)


def plan_of(plan: Plan | PlanResult) -> Plan:
    """Give the plan, with or without its certificate."""
    return plan.plan if isinstance(plan, PlanResult) else plan


def checked(plan: Plan | PlanResult) -> PlanResult:
    """Give a plan with its certificate; what has one is not checked again."""
    return plan if isinstance(plan, PlanResult) else PlanResult(plan, check_plan(plan).certificate)
