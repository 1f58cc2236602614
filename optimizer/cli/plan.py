"""`scullion plan`: choose a programme, prove it, and say what it is; `scullion show`: say it again."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import (
    CircuitOption,
    ForceOption,
    GoalArgument,
    JsonOption,
    MachineArgument,
    PlanArgument,
    PlanFileOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.terminal import print_answer, progress
from optimizer.errors import InputError, InputIssue, attempt
from optimizer.files import refuse_occupied

plan_app = typer.Typer()
show_app = typer.Typer()


@plan_app.command()
def plan(
    machine: MachineArgument,
    goal: GoalArgument,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    bound: Annotated[
        bool, typer.Option("--bound", help="Say also what no programme costs less than; takes minutes.")
    ] = False,
    out: PlanFileOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan a programme and prove it.

    The programme is the cheapest that meets the goal at the worst points of the measured tolerances.
    """
    from optimizer.library import job

    issues: list[InputIssue] = []
    inputs = attempt(issues, partial(job.load, machine, goal, circuit, tariff))
    if out is not None:
        attempt(issues, partial(refuse_occupied, out, force=force))
    if issues or inputs is None:
        raise InputError(issues)
    # The copy of this process is made before the line of progress starts a thread.
    with job.two_processes(inputs), progress("planning") as report:
        planned = job.plan(inputs, solver=solver.value, bound=bound, tell=report)
    if out is not None:
        planned = planned.save(out, force=force)
    print_answer(planned, as_json=as_json)


@show_app.command()
def show(plan: PlanArgument, as_json: JsonOption = False) -> None:
    """Print a plan file as `scullion plan` printed it.

    The plan is checked first. Ends with exit code 5 where it does not pass the check.
    """
    print_answer(passed_plan(plan, "so it is not shown as a programme to run"), as_json=as_json)
