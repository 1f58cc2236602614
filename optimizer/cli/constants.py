"""`scullion constants`: write what the controller compiles, if the check passes."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import ForceOption, PlanArgument
from optimizer.files import refuse_occupied, write_text_atomic

constants_app = typer.Typer()

FORMS_HELP = (
    "c: a C99 header; json and csv: integers with units; micropython: a module; iec: IEC 61131-3 constants."
)

CONTROLLER_HELP = (
    "Write the header (wash_timing.h; wash_timing_rehearsal.h with --bench-run) and a reference controller "
    "in C99 into this folder, which must exist."
)


class Form(StrEnum):
    """Forms of the constants."""

    C = "c"
    JSON = "json"
    CSV = "csv"
    MICROPYTHON = "micropython"
    IEC = "iec"


@constants_app.command()
def constants(
    plan: PlanArgument,
    form: Annotated[Form | None, typer.Option("--format", help=FORMS_HELP)] = None,
    bench_run: Annotated[
        bool, typer.Option("--bench-run", help="Every phase in seconds, the element never on.")
    ] = False,
    out: Annotated[Path | None, typer.Option(help="Write to this file, not to standard output.")] = None,
    with_controller: Annotated[Path | None, typer.Option(metavar="DIR", help=CONTROLLER_HELP)] = None,
    force: ForceOption = False,
) -> None:
    """Write the constants of a plan file.

    The plan is checked first. Unless the check passes nothing is written, and the exit code is 5.
    """
    from optimizer.emit.forms import controller_file_names
    from optimizer.library import job

    _refuse_odd_options(form, out, with_controller)
    places = [out] if out else []
    if with_controller is not None:
        places = [with_controller / name for name in controller_file_names(bench_run=bench_run)]
    for place in places:
        refuse_occupied(place, force=force)
    found = passed_plan(plan, "so no constants are written")
    if with_controller is not None:
        for name, text in job.emit_controller(found, rehearsal=bench_run).items():
            write_text_atomic(with_controller / name, text, force=force)
        return
    text = job.emit_constants(found, (form or Form.C).value, rehearsal=bench_run)
    if out is None:
        sys.stdout.write(text)
    else:
        write_text_atomic(out, text, force=force)


def _refuse_odd_options(form: Form | None, out: Path | None, with_controller: Path | None) -> None:
    if with_controller is None:
        if form is None:
            raise typer.BadParameter("give a form, or --with-controller", param_hint="--format")
    elif out is not None or form not in (None, Form.C):
        rule = "writes a C99 header and its controller: leave out --out and other forms"
        raise typer.BadParameter(rule, param_hint="--with-controller")
