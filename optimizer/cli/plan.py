"""`scullion plan`: choose a programme, prove it, and say what it is."""

from __future__ import annotations

from functools import partial

import typer

from optimizer.cli.options import (
    CircuitOption,
    ForceOption,
    GoalArgument,
    JsonOption,
    MachineArgument,
    PlanFileOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import InputError, InputIssue, attempt

plan_app = typer.Typer()


@plan_app.command()
def plan(
    machine: MachineArgument,
    goal: GoalArgument,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    out: PlanFileOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan a programme and prove it.

    The programme is the cheapest that meets the goal in every corner of the measured tolerances.
    """
    from optimizer.files import refuse_occupied, write_text_atomic
    from optimizer.programme.inputs import load_inputs
    from optimizer.programme.planfile import plan_to_json
    from optimizer.prove import plan_and_prove
    from optimizer.report.plan import plan_report, plan_to_dict

    issues: list[InputIssue] = []
    inputs = attempt(issues, partial(load_inputs, machine, goal, circuit, tariff))
    if out is not None:
        attempt(issues, partial(refuse_occupied, out, force=force))
    if issues or inputs is None:
        raise InputError(issues)
    with progress("planning") as report:
        proven = plan_and_prove(inputs, solver=solver.value, report=report)
    if out is not None:
        write_text_atomic(out, plan_to_json(proven.plan), force=force)
    if as_json:
        print_json(plan_to_dict(proven.plan, proven.certificate))
    else:
        print(plan_report(proven.plan, proven.certificate, None if out is None else str(out)))
