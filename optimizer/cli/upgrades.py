"""`scullion upgrades`: what one change to machine, circuit or goal would buy."""

from __future__ import annotations

import typer

from optimizer.cli.options import (
    RUNS_PER_YEAR,
    CircuitOption,
    GoalArgument,
    JsonOption,
    MachineArgument,
    RunsOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import EXIT_NO_PLAN

upgrades_app = typer.Typer()


@upgrades_app.command()
def upgrades(
    machine: MachineArgument,
    goal: GoalArgument,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    runs_per_year: RunsOption = RUNS_PER_YEAR,
    solver: SolverOption = SolverChoice.AUTO,
    as_json: JsonOption = False,
) -> None:
    """Say what one change would buy.

    Each change is planned and proven anew. What makes a programme possible comes first, then what saves
    most; a change may have no effect. Ends with exit code 4 where there is no programme now and no change
    makes one.
    """
    from optimizer.programme.inputs import load_inputs
    from optimizer.report.upgrades import upgrades_report, upgrades_to_dict
    from optimizer.whatif.upgrades import upgrades as try_changes

    inputs = load_inputs(machine, goal, circuit, tariff)
    with progress("planning") as report:
        found = try_changes(inputs, solver.value, report)
    if as_json:
        print_json(upgrades_to_dict(found, runs_per_year))
    else:
        print(upgrades_report(found, runs_per_year))
    if found.now is None and all(row.proven is None for row in found.rows):
        raise typer.Exit(EXIT_NO_PLAN)
