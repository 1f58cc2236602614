"""`scullion worth`: which measurement to repeat."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from optimizer.cli.ending import EXIT_INTERRUPTED
from optimizer.cli.options import (
    CircuitOption,
    GoalArgument,
    JobsOption,
    JsonOption,
    LikeOption,
    RunsOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.terminal import print_answer, progress
from optimizer.errors import EXIT_NO_PLAN, InputError, InputIssue, quoted
from optimizer.option_defaults import RUNS_PER_YEAR

worth_app = typer.Typer()


@worth_app.command()
def worth(
    machine: Annotated[
        str,
        typer.Argument(
            metavar="MACHINE-OR-BOOK",
            help="Machine profile: a name or a path; or the folder of a bench book.",
        ),
    ],
    goal: GoalArgument,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    like: LikeOption = None,
    runs_per_year: RunsOption = RUNS_PER_YEAR,
    jobs: JobsOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    as_json: JsonOption = False,
) -> None:
    """Say which measurement to repeat.

    For each number that has a low and a high end: what a year costs less if that interval were half as wide,
    planned and proven anew on all processors; which test of the bench settles it, and the minutes of work
    that takes. Most money for a minute of work comes first. Numbers that move nothing are halved together.
    Where there is no programme now it says which narrower intervals would give one, and ends with exit code 4
    where none does, nor all at once. A bench book is measured first.
    """
    from optimizer.batch.workers import processors
    from optimizer.library import job, studies
    from optimizer.measure.book import is_book

    with progress("planning") as report:
        if is_book(machine):
            inputs = studies.measure_book(machine, like, tell=report).inputs(goal, circuit, tariff)
        else:
            if like is not None:
                rule, fix = "goes with a bench book, and this is a machine profile", "leave it out"
                raise InputError([InputIssue("--like", "", rule, quoted(like), fix)])
            inputs = job.load(machine, goal, circuit, tariff)
        found = studies.worth(
            inputs,
            runs_per_year=runs_per_year,
            jobs=jobs or processors(),
            solver=solver.value,
            tell=report,
        )
    print_answer(found, as_json=as_json)
    if found.found.interrupted:
        print("Interrupted: some intervals were not planned.", file=sys.stderr)
        raise typer.Exit(EXIT_INTERRUPTED)
    if not found.any_plan:
        raise typer.Exit(EXIT_NO_PLAN)
