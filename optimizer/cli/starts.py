"""`scullion starts`: what every possible start costs, and the programme chosen together with its start."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import ForceOption, JsonOption, SolverChoice
from optimizer.cli.terminal import print_answer, progress
from optimizer.files import refuse_all_occupied, write_text_atomic
from optimizer.option_defaults import EVERY_MIN

starts_app = typer.Typer()

MOST_MIN = 60
TIME = "a date, or a local time such as 2026-03-28T22:00"


@starts_app.command()
def starts(
    plan: Annotated[Path | None, typer.Argument(metavar="[PLAN]", help="Plan file.")] = None,
    machine: Annotated[
        str | None, typer.Option(help="Without PLAN, choose the programme as well: machine profile.")
    ] = None,
    goal: Annotated[str | None, typer.Option(help="Goal profile, with --machine.")] = None,
    circuit: Annotated[str | None, typer.Option(help="Circuit profile, with --machine.")] = None,
    tariff: Annotated[
        str | None,
        typer.Option(help="Tariff profile; the plan's own or the machine's usual one if left out."),
    ] = None,
    first: Annotated[
        str | None,
        typer.Option(
            "--from",
            metavar="TIME",
            help=f"First start: {TIME}; if left out now, or the beginning of a price series that does not "
            "hold now.",
        ),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(
            metavar="TIME",
            help="No start from then on; the next finish-by time, or the end of the price series, or a day "
            "later, if left out.",
        ),
    ] = None,
    finish_by: Annotated[
        str | None,
        typer.Option(metavar="HH:MM", help="Ready before the clock shows this; over the tariff's."),
    ] = None,
    quiet: Annotated[
        list[str] | None,
        typer.Option(
            metavar="HH:MM-HH:MM", help="Hours without a run, beside the tariff's; may be repeated."
        ),
    ] = None,
    now: Annotated[str | None, typer.Option(metavar="TIME", help="Take this for now.")] = None,
    every: Annotated[
        int, typer.Option(min=1, max=MOST_MIN, metavar="MINUTES", help="From one start to the next.")
    ] = EVERY_MIN,
    solver: Annotated[SolverChoice, typer.Option(help="Solver, with --machine.")] = SolverChoice.AUTO,
    out: Annotated[Path | None, typer.Option(help="With --machine: write the plan to this file.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write every start to this CSV file.")] = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Cost every possible start of a run.

    Of a plan file; or, with --machine and --goal, of the programme that is cheapest together with its start.
    Ends with exit code 4 where no start is possible.
    """
    from optimizer.library import cost_of_starts, job
    from optimizer.starts.span import SpanRequest
    from optimizer.starts.when import StartRequest

    request = StartRequest(SpanRequest(first, until, now, every), tuple(quiet or ()), finish_by)
    if plan is None:
        if machine is None or goal is None:
            raise typer.BadParameter("give a plan file, or both --machine and --goal")
        inputs = job.load(machine, goal, circuit, tariff)
        refuse_all_occupied((out, csv), force=force)
        with progress("planning") as report:
            found = cost_of_starts.plan_and_start(inputs, request, solver=solver.value, tell=report)
    else:
        if any((machine, goal, circuit, out)):
            raise typer.BadParameter("a plan file stands alone: no --machine, --goal, --circuit or --out")
        refuse_all_occupied((csv,), force=force)
        found = cost_of_starts.cost_starts(passed_plan(plan, "so no start is recommended"), tariff, request)
    if out is not None and found.planned is not None:
        found.planned.save(out, force=force)
    if csv is not None:
        write_text_atomic(csv, found.to_csv(), force=force)
    print_answer(found, as_json=as_json)
