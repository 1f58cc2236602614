"""`scullion plan`: choose a programme, prove it, and say what it is."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.terminal import no_plan_answered, print_json, progress

plan_app = typer.Typer()


class SolverChoice(StrEnum):
    """Solvers that can be asked for; auto takes the first that is there."""

    AUTO = "auto"
    HIGHS = "highs"
    CBC = "cbc"


@plan_app.command()
def plan(
    machine: Annotated[str, typer.Argument(metavar="MACHINE", help="Machine profile: a name or a path.")],
    goal: Annotated[str, typer.Argument(metavar="GOAL", help="Goal profile: a name or a path.")],
    circuit: Annotated[
        str | None, typer.Option(help="Circuit profile; the machine's usual one if left out.")
    ] = None,
    tariff: Annotated[
        str | None, typer.Option(help="Tariff profile; the machine's usual one if left out.")
    ] = None,
    solver: Annotated[SolverChoice, typer.Option(help="Solver of the choose step.")] = SolverChoice.AUTO,
    out: Annotated[Path | None, typer.Option(help="Write the plan to this file.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Answer in JSON.")] = False,
) -> None:
    """Plan a programme and prove it.

    The programme is the cheapest that meets the goal in every corner of the measured tolerances.
    """
    from optimizer.files import refuse_occupied, write_text_atomic
    from optimizer.programme.inputs import load_inputs
    from optimizer.programme.planfile import plan_to_json
    from optimizer.prove import plan_and_prove
    from optimizer.report.plan import plan_report, plan_to_dict

    if out is not None:
        refuse_occupied(out, force=force)
    inputs = load_inputs(machine, goal, circuit, tariff)
    with no_plan_answered(as_json), progress("planning") as report:
        proven = plan_and_prove(inputs, solver=solver.value, report=report)
    if out is not None:
        write_text_atomic(out, plan_to_json(proven.plan), force=force)
    if as_json:
        print_json(plan_to_dict(proven.plan, proven.certificate))
    else:
        print(plan_report(proven.plan, proven.certificate, None if out is None else str(out)))
