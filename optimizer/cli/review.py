"""`scullion review`: what a run's log says of the programme and of the machine."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import ForceOption, JsonOption, PageOption
from optimizer.cli.terminal import print_json, progress

review_app = typer.Typer()


@review_app.command()
def review(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file that ran.")],
    log: Annotated[
        Path,
        typer.Argument(
            metavar="LOG", help="CSV: a time and any of bath_c, power_w, current_a, water_l, the outputs."
        ),
    ],
    columns: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=THEIRS,…",
            help="What the log calls its columns: time_s=t,bath_c=T1.",
        ),
    ] = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what a run did, and whether the machine is still the one of the profile.

    Each round asked and done, each dose with an interval; then which quantities the log shows inside or
    outside the profile's intervals, what that breaks of the plan, and what may lie behind it.
    """
    from optimizer.check.certify import misfits
    from optimizer.errors import InputError
    from optimizer.files import read_text, refuse_all_occupied
    from optimizer.library.job import plan_in
    from optimizer.library.pages import write_review
    from optimizer.report.review import review_report, review_to_dict
    from optimizer.review.reviewed import reviewed
    from optimizer.review.run_log import read_called, read_run

    refuse_all_occupied((page,), force=force)
    planned = plan_in(read_text(plan, "plan"), str(plan))
    if issues := misfits(planned.constants, planned.inputs.machine):
        raise InputError(issues)
    called = read_called(columns) if columns else None
    supply_v = planned.inputs.machine.supply.voltage_v.nominal
    run = read_run(log, supply_v, called, planned.constants.input_sha256)
    with progress("reading the run"):
        found = reviewed(planned, run)
        write_review(page, planned, found, force=force)
    if as_json:
        print_json(review_to_dict(found))
    else:
        print(review_report(found))
