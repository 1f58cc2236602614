"""`scullion frontier`: what less of one thing costs in another."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.ending import EXIT_INTERRUPTED
from optimizer.cli.options import (
    CircuitOption,
    ForceOption,
    GoalArgument,
    JobsOption,
    JsonOption,
    MachineArgument,
    PageOption,
    SolverChoice,
    SolverOption,
    TariffOption,
)
from optimizer.cli.picture import picture_form
from optimizer.cli.terminal import print_answer, progress
from optimizer.errors import InputError, InputIssue, attempt, quoted
from optimizer.files import (
    make_folder,
    refuse_all_occupied,
    refuse_folder,
    write_bytes_atomic,
    write_text_atomic,
)
from optimizer.option_defaults import LEAST_POINTS, POINTS
from optimizer.report.numbers import count

if TYPE_CHECKING:
    from optimizer.planner.objective import Axis


frontier_app = typer.Typer()

BETWEEN = "cost,minutes"
MOST_POINTS = 40


@frontier_app.command()
def frontier(
    machine: MachineArgument,
    goal: GoalArgument,
    between: Annotated[
        str, typer.Option(metavar="A,B", help="Two of cost, minutes, energy and water.")
    ] = BETWEEN,
    points: Annotated[
        int, typer.Option(min=LEAST_POINTS, max=MOST_POINTS, help="Points to look for.")
    ] = POINTS,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    jobs: JobsOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    csv: Annotated[Path | None, typer.Option(help="Write the points to this CSV file.")] = None,
    plot: Annotated[Path | None, typer.Option(help="Draw them into this file, .png or .svg.")] = None,
    plans: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Write the plan of each point into this folder; made if missing."
        ),
    ] = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Find the plans between the least of one quantity and the least of another.

    Each point is a plan of its own, proven, and none has less of one quantity than another without more of
    the other. The first quantity is made least under caps on the second. Ctrl-C ends the search and gives the
    points found by then.
    """
    from optimizer.batch.workers import processors
    from optimizer.library import job, studies
    from optimizer.library.pages import write_answer
    from optimizer.report.frontier import frontier_picture

    issues: list[InputIssue] = []
    axes = attempt(issues, partial(_axes, between))
    form = attempt(issues, partial(picture_form, plot, "frontier.svg"))
    inputs = attempt(issues, partial(job.load, machine, goal, circuit, tariff))
    plan_paths = _plan_paths(plans, points + 2) if plans is not None and plans.is_dir() else []
    attempt(issues, partial(refuse_all_occupied, (csv, plot, page, *plan_paths), force=force))
    if plans is not None:
        attempt(issues, partial(refuse_folder, plans, "--plans"))
    if issues or axes is None or inputs is None:
        raise InputError(issues)
    jobs = jobs or processors()
    with _told_if_interrupted(), job.two_processes(inputs, jobs), progress("planning") as report:
        found = studies.frontier(inputs, axes, points=points, jobs=jobs, solver=solver.value, tell=report)
    if csv is not None:
        write_text_atomic(csv, found.to_csv(), force=force)
    if plot is not None and form is not None:
        write_bytes_atomic(plot, frontier_picture(found.found, form), force=force)
    if plans is not None:
        make_folder(plans, "--plans")
        for path, planned in zip(_plan_paths(plans, len(found.plans)), found.plans, strict=True):
            planned.save(path, force=force)
    write_answer(page, f"Frontier: {goal} on {machine}", found, force=force)
    print_answer(found, as_json=as_json)
    if found.found.interrupted:
        raise _interrupted(len(found.plans))


@contextmanager
def _told_if_interrupted() -> Iterator[None]:
    """Ctrl-C gets this far only before the first point is found."""
    try:
        yield
    except KeyboardInterrupt:
        raise _interrupted(0) from None


def _interrupted(points: int) -> typer.Exit:
    print(f"Interrupted: {count(points, 'point')} found by then.", file=sys.stderr)
    return typer.Exit(EXIT_INTERRUPTED)


def _axes(text: str) -> tuple[Axis, Axis]:
    from optimizer.planner.objective import AXES

    asked = [word.strip() for word in text.split(",")]
    axes = [axis for word in asked for axis in AXES if axis == word]
    if len(asked) == len(axes) == len(set(axes)) == 2:
        return axes[0], axes[1]
    rule = f"takes two different ones of {', '.join(AXES)}, with a comma between"
    raise InputError([InputIssue("--between", "", rule, quoted(text), f"--between {BETWEEN}")])


def _plan_paths(folder: Path, number: int) -> list[Path]:
    return [folder / f"point-{at}.json" for at in range(1, number + 1)]
