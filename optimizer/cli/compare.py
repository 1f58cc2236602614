"""`scullion compare`: every combination of machines, goals, circuits and tariffs, side by side."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.ending import EXIT_INTERRUPTED
from optimizer.cli.options import (
    SEVERAL,
    CircuitsOption,
    ForceOption,
    GoalsOption,
    JobsOption,
    JsonOption,
    MachinesOption,
    PageOption,
    RunsOption,
    SolverChoice,
    SolverOption,
    TariffsOption,
)
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import EXIT_CHECK, EXIT_NO_PLAN, InputError, InputIssue, attempt, quoted
from optimizer.files import refuse_all_occupied, write_text_atomic
from optimizer.option_defaults import RUNS_PER_YEAR
from optimizer.report.errors import issue_report

if TYPE_CHECKING:
    from optimizer.batch.cases import Case
    from optimizer.batch.compare import Comparison
    from optimizer.batch.run_cases import WorkerSettings


compare_app = typer.Typer()


@compare_app.command()
def compare(
    machine: MachinesOption,
    goal: GoalsOption,
    circuit: CircuitsOption = None,
    tariff: TariffsOption = None,
    runs_per_year: RunsOption = RUNS_PER_YEAR,
    sort: Annotated[str | None, typer.Option(metavar="COLUMN", help="Sort by a column of the CSV.")] = None,
    columns: Annotated[
        str | None, typer.Option(metavar="A,B", help=f"Columns of the CSV to print instead, {SEVERAL}.")
    ] = None,
    csv: Annotated[Path | None, typer.Option(help="Write all columns to this CSV file as well.")] = None,
    page: PageOption = None,
    force: ForceOption = False,
    jobs: JobsOption = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Use the Dask cluster whose scheduler is at tcp://… (only on a network that you trust) "
            "or tls://… (with the certificates of Dask's settings).",
        ),
    ] = None,
    cache: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Keep finished cases here, and take them from here.")
    ] = None,
    solver: SolverOption = SolverChoice.AUTO,
    as_json: JsonOption = False,
) -> None:
    """Compare machines, goals, circuits and tariffs.

    Every combination is planned and proven, and costed at every start of its tariff; one without a plan says
    why. Ctrl-C stops at once and prints what is finished. Ends with exit code 4 where no case has a plan, 5
    where the work on one failed.
    """
    from dataclasses import replace

    from optimizer.batch.cases import StudyRequest
    from optimizer.batch.compare import read_request, sorted_by
    from optimizer.batch.run_cases import WorkerSettings
    from optimizer.library.pages import write_answer
    from optimizer.library.study_results import ComparisonResult
    from optimizer.report.compare import comparison_report, comparison_to_csv, comparison_to_dict

    settings = WorkerSettings(jobs, scheduler, cache)
    issues = settings.issues()
    request = StudyRequest(
        machines=_split(issues, "machine", machine),
        goals=_split(issues, "goal", goal),
        circuits=_split(issues, "circuit", circuit),
        tariffs=_split(issues, "tariff", tariff),
        solver=solver.value,
    )
    chosen = _split(issues, "columns", columns)
    cases = attempt(issues, partial(read_request, request, sort, chosen))
    attempt(issues, partial(refuse_all_occupied, (csv, page), force=force))
    if issues or cases is None:
        raise InputError(issues)
    found = _compared(cases, settings, runs_per_year)
    table = sorted_by(found.table, sort) if sort else found.table
    if as_json:
        stopped = found.study.interrupted
        print_json(comparison_to_dict(table, runs_per_year, interrupted=stopped, inputs=found.inputs))
    else:
        print(comparison_report(table, runs_per_year, chosen, found.inputs))
    if csv is not None:
        write_text_atomic(csv, comparison_to_csv(table), force=force)
    write_answer(page, "Comparison", ComparisonResult(replace(found, table=table)), force=force)
    _end(found, cache)


def _split(issues: list[InputIssue], option: str, text: str | None) -> tuple[str, ...]:
    """Names of a list with commas, each once."""
    names = [] if text is None else [name.strip() for name in text.split(",")]
    if not all(names):
        rule = "a name is missing beside a comma"
        issues.append(InputIssue(f"--{option}", "", rule, quoted(text or ""), f"--{option} A,B"))
    return tuple(dict.fromkeys(filter(None, names)))


def _compared(cases: list[Case], settings: WorkerSettings, runs_per_year: int) -> Comparison:
    from optimizer.batch.compare import compare as compare_cases
    from optimizer.report.compare import progress_bar

    with progress("planning") as report:
        return compare_cases(
            cases, settings, runs_per_year, lambda at: report(progress_bar(at.cases, at.finished, at.found))
        )


def _end(found: Comparison, cache: Path | None) -> None:
    """Say what went wrong with the work as a whole, and leave with the exit code that tells it."""
    from optimizer.report.compare import cache_remarks, interruption_note

    study, statuses = found.study, set(found.table["status"])
    if study.refused:
        print(cache_remarks(study.refused), file=sys.stderr)
    if study.not_cached:
        print(f"Not kept in the cache. {issue_report(study.not_cached)}", file=sys.stderr)
    if study.interrupted:
        folder = None if cache is None else str(cache)
        note = interruption_note(study.progress.cases, study.progress.finished, folder)
        print(note, file=sys.stderr)
        raise typer.Exit(EXIT_INTERRUPTED)
    if statuses & {"failed", "check failed"}:
        raise typer.Exit(EXIT_CHECK)
    if "planned" not in statuses:
        raise typer.Exit(EXIT_NO_PLAN)
