"""`scullion review`: what runs' logs say of the programme and of the machine."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import ForceOption, JsonOption, PageOption
from optimizer.cli.picture import picture_form
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import CheckFailedError, InputError, InputIssue, NoPlanError, attempt

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optimizer.programme.plan import Plan
    from optimizer.review.reviewed import Reviewed
    from optimizer.review.run_log import RunLog
    from optimizer.review.tuned_profile import NewEnds

review_app = typer.Typer()


@review_app.command()
def review(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file that ran.")],
    logs: Annotated[
        list[Path],
        typer.Argument(
            metavar="LOGS", help="CSV: a time and any of bath_c, power_w, current_a, water_l, the outputs."
        ),
    ],
    columns: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=THEIRS,…", help="What the logs call their columns: time_s=t,bath_c=T1."),
    ] = None,
    prices: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="CSV with the prices of that day, as a tariff of the form series has them."
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="MACHINE", help="Write the profile that the next plan should use to this file."),
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write each quantity of each run as CSV.")
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the quantities over the runs, .png or .svg.")
    ] = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what runs did, and whether the machine is still the one of the profile.

    Each round asked and done, each dose with an interval; then which quantities the log shows inside or
    outside the profile's intervals, what that breaks of the plan, and what may lie behind it. With several
    logs: how each quantity goes from run to run, with limits, and in how many runs a requirement breaks.
    """
    from optimizer.check.certify import misfits
    from optimizer.files import read_text, refuse_all_occupied, write_bytes_atomic, write_text_atomic
    from optimizer.library.job import plan_in
    from optimizer.library.pages import run_drawn, runs_drawn, write_page
    from optimizer.profile.price_series import read_series
    from optimizer.report.review import review_report, review_to_dict
    from optimizer.report.trends import trends_csv, trends_picture, trends_report, trends_to_dict
    from optimizer.review.reviewed import reviewed
    from optimizer.review.run_log import read_called
    from optimizer.review.trends import trends

    issues: list[InputIssue] = []
    attempt(issues, partial(refuse_all_occupied, (out, csv, plot, page), force=force))
    form = attempt(issues, partial(picture_form, plot, "runs.svg"))
    called = attempt(issues, partial(read_called, columns)) if columns else None
    planned = attempt(issues, lambda: plan_in(read_text(plan, "plan"), str(plan)))
    series = None
    if prices is not None and planned is not None:
        series = attempt(issues, partial(read_series, prices, planned.inputs.tariff))
    if issues or planned is None:
        raise InputError(issues)
    if unfit := misfits(planned.constants, planned.inputs.machine):
        raise InputError(unfit)
    logs, read = _read(planned, logs, called)
    one = len(logs) == 1
    with progress("reading the run" if one else "reading the runs") as report:
        found = _reviewed(report, planned, read, partial(reviewed, consequences=one, prices=series))
        followed = trends(planned, found, report)
        machine, goal, _, _ = planned.inputs.names
        if one:
            title, said = f"A run of {goal} on {machine}", partial(review_report, found[0], planned.inputs)
            drawn = partial(run_drawn, planned, found[0])
        else:
            title, said = (
                f"Runs of {goal} on {machine}",
                partial(trends_report, logs, found, followed, planned.inputs),
            )
            drawn = partial(runs_drawn, followed)
        changes, plan_again = _tuned(planned, found, report) if out is not None else ([], "")
        if out is not None:
            said = partial(_with_profile, said, out, changes, plan_again)
        write_page(page, title, said, drawn, force=force)
    if csv is not None:
        write_text_atomic(csv, trends_csv(logs, found, followed), force=force)
    if plot is not None and form is not None:
        write_bytes_atomic(plot, trends_picture(followed, form), force=force)
    if out is not None:
        _write_profile(out, planned, found, changes, force=force)
    if as_json:
        content = review_to_dict(found[0]) if one else trends_to_dict(logs, found, followed)
        tuned = (
            {} if out is None else {"new_ends": [vars(change) for change in changes], "new_plan": plan_again}
        )
        print_json({**content, **tuned})
        return
    print(said())


def _with_profile(said: Callable[[], str], out: Path, changes: Sequence[NewEnds], plan_again: str) -> str:
    """Lay out an answer and what is in the profile that it writes."""
    from optimizer.report.layout import section
    from optimizer.report.trends import new_ends_report

    return f"{said()}\n\n{section(f'New profile: {out}', new_ends_report(changes, plan_again))}"


def _read(plan: Plan, logs: Sequence[Path], called: dict[str, str] | None) -> tuple[list[Path], list[RunLog]]:
    """Read all logs, or say what is wrong with any; in the order of their dates, where all have one."""
    from optimizer.review.run_log import read_run

    there = [log.resolve() for log in logs]
    rule, fix = "is given twice", "name each log once: a run that counts twice looks surer than it is"
    issues = [
        InputIssue(str(log), "", rule, "", fix)
        for place, log in enumerate(logs)
        if there[place] in there[:place]
    ]
    supply_v, sha256 = plan.inputs.machine.supply.voltage_v.nominal, plan.constants.input_sha256
    read = [attempt(issues, partial(read_run, log, supply_v, called, sha256)) for log in logs]
    if issues:
        raise InputError(issues)
    pairs = [(path, log) for path, log in zip(logs, read, strict=True) if log is not None]
    began = [log.began for _, log in pairs if log.began is not None]
    if len(began) == len(pairs) and len({at.tzinfo is None for at in began}) == 1:
        pairs = [pairs[at] for at in sorted(range(len(pairs)), key=lambda at: began[at])]
    return [path for path, _ in pairs], [log for _, log in pairs]


def _reviewed(
    report: Callable[[str], None], plan: Plan, logs: Sequence[RunLog], review_one: Callable[..., Reviewed]
) -> list[Reviewed]:
    issues: list[InputIssue] = []
    found = []
    for number, log in enumerate(logs, start=1):
        report(f"run {number} of {len(logs)}")
        found.append(attempt(issues, partial(review_one, plan, log)))
    if issues:
        raise InputError(issues)
    return [one for one in found if one is not None]


def _tuned(plan: Plan, runs: Sequence[Reviewed], report: Callable[[str], None]) -> tuple[list[NewEnds], str]:
    """New ends, and what a plan with them would bring."""
    from dataclasses import replace

    from optimizer.check.certify import check
    from optimizer.plan_and_prove import plan_and_prove
    from optimizer.report.trends import saving_text
    from optimizer.review.tuned_profile import new_ends, tuned

    machine = plan.inputs.machine
    told = [run.now for run in runs if run.now is not None and run.now.explained]
    changes = new_ends(machine, [one.findings for one in told])
    if not changes:
        return [], ""
    inputs = replace(plan.inputs, machine=tuned(machine, changes))
    report("planning with the new ends")
    try:
        again = plan_and_prove(inputs, report=report).plan
    except NoPlanError as error:
        why = "; ".join(reason.sentence for reason in error.reasons)
        return changes, f"No plan exists with the new ends: {error}{f' ({why})' if why else ''}."
    except CheckFailedError as error:
        return changes, f"No plan is proven with the new ends: {error}."
    holds = check(plan.constants, inputs.machine, inputs.goal, inputs.circuit).passed
    before, after = plan.costs.with_waiting, again.costs.with_waiting
    return changes, saving_text(before, after, inputs.tariff.currency, holds)


def _write_profile(
    out: Path, plan: Plan, runs: Sequence[Reviewed], changes: Sequence[NewEnds], *, force: bool
) -> None:
    from optimizer.files import write_text_atomic
    from optimizer.review.tuned_profile import profile_text

    simulated = any(run.log.simulated for run in runs)
    text = profile_text(plan.inputs.machine, changes, len(runs), simulated)
    write_text_atomic(out, text, force=force)
