"""`scullion page`: write a plan as one HTML file, to look at, hand on and print."""

from __future__ import annotations

import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import ForceOption, JsonOption, PlanArgument
from optimizer.cli.terminal import print_json, progress
from optimizer.files import refuse_occupied, write_text_atomic
from optimizer.report.layout import wrapped

page_app = typer.Typer()

OutOption = Annotated[Path, typer.Option("--out", help="Write the page to this file.")]
OpenOption = Annotated[bool, typer.Option("--open", help="Show it in the browser afterwards.")]


@page_app.command()
def page(
    plan: PlanArgument,
    out: OutOption,
    force: ForceOption = False,
    open_it: OpenOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write a plan file as one HTML page.

    Any browser opens it without a network; printed it takes two or three sheets. The plan is checked first,
    and single faults are run. Ends with exit code 5 where it does not pass the check.
    """
    from optimizer.library import job

    refuse_occupied(out, force=force)
    planned = passed_plan(plan, "so no page is written that someone might run")
    with progress("running single faults") as report:
        faults = job.single_faults(planned)
        report("drawing")
        text = job.plan_page(planned, faults)
    write_text_atomic(out, text, force=force)
    if open_it:
        webbrowser.open(out.resolve().as_uri())
    if as_json:
        print_json({"page": str(out), "bytes": len(text.encode()), "plan": planned.to_dict()})
    else:
        print(wrapped(f"Written: {out}. Open it in a browser; printed it takes two or three sheets."))
