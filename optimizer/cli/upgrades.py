"""`scullion upgrades`: what one change to machine, circuit or goal would buy."""

from __future__ import annotations

import typer

from optimizer.cli.options import (
    CircuitOption,
    ForceOption,
    GoalArgument,
    JobsOption,
    JsonOption,
    MachineArgument,
    PageOption,
    RunsOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.terminal import print_answer, progress
from optimizer.errors import EXIT_NO_PLAN
from optimizer.files import refuse_all_occupied
from optimizer.option_defaults import RUNS_PER_YEAR

upgrades_app = typer.Typer()


@upgrades_app.command()
def upgrades(
    machine: MachineArgument,
    goal: GoalArgument,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    runs_per_year: RunsOption = RUNS_PER_YEAR,
    jobs: JobsOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what one change would buy.

    Each change is planned and proven anew. What makes a programme possible comes first, then what saves
    most; a change may have no effect. Ends with exit code 4 where there is no programme now and no change
    makes one.
    """
    from optimizer.batch.workers import processors
    from optimizer.library import job, studies
    from optimizer.library.pages import write_answer

    refuse_all_occupied((page,), force=force)
    inputs = job.load(machine, goal, circuit, tariff)
    jobs = jobs or processors()
    with job.two_processes(inputs, jobs), progress("planning") as report:
        found = studies.upgrades(
            inputs, runs_per_year=runs_per_year, jobs=jobs, solver=solver.value, tell=report
        )
    write_answer(page, f"Upgrades for {goal} on {machine}", found, force=force)
    print_answer(found, as_json=as_json)
    if not found.any_plan:
        raise typer.Exit(EXIT_NO_PLAN)
