"""`scullion constants`: write what the controller compiles, if the check passes."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.check import checked
from optimizer.errors import CheckFailedError

if TYPE_CHECKING:
    from optimizer.programme.plan import Plan

constants_app = typer.Typer()

FORMS_HELP = (
    "c: a C99 header; json and csv: integers with units; micropython: a module; iec: IEC 61131-3 constants."
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
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file.")],
    form: Annotated[Form, typer.Option("--format", help=FORMS_HELP)],
    bench_run: Annotated[
        bool, typer.Option("--bench-run", help="Every phase in seconds, the element never on.")
    ] = False,
    out: Annotated[Path | None, typer.Option(help="Write to this file, not to standard output.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
) -> None:
    """Write the constants of a plan file.

    The plan is checked first. Unless the check passes nothing is written, and the exit code is 5.
    """
    from optimizer.constants.forms import FORMS
    from optimizer.files import refuse_occupied, write_text_atomic
    from optimizer.output.certificate import failure_lines

    if out is not None:
        refuse_occupied(out, force=force)
    proven, certificate = checked(plan)
    if not certificate.passed:
        headline = f"{plan}: the check failed, so no constants are written"
        raise CheckFailedError(headline, failure_lines(certificate.rows))
    text = FORMS[form.value](_rehearsed(proven) if bench_run else proven)
    if out is None:
        sys.stdout.write(text)
    else:
        write_text_atomic(out, text, force=force)


def _rehearsed(proven: Plan) -> Plan:
    """Make the bench run of a plan, and check it before anybody gets it."""
    from optimizer.check.bench import check_bench
    from optimizer.constants.bench import bench_run
    from optimizer.output.certificate import failure_lines

    rehearsal = bench_run(proven)
    rows = check_bench(rehearsal.constants, proven.inputs.machine, proven.constants)
    if failures := failure_lines(rows):
        raise CheckFailedError("no bench run is harmless on this machine, so none is written", failures)
    return rehearsal
