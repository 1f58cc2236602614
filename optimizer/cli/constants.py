"""`scullion constants`: write what the controller compiles, if the check passes."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.check import checked
from optimizer.errors import CheckFailedError

constants_app = typer.Typer()


class Form(StrEnum):
    """Forms of the constants."""

    C = "c"
    JSON = "json"


@constants_app.command()
def constants(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file.")],
    form: Annotated[Form, typer.Option("--format", help="c: a C99 header; json: integers with units.")],
    out: Annotated[Path | None, typer.Option(help="Write to this file, not to standard output.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
) -> None:
    """Write the constants of a plan file.

    The plan is checked first. Unless the check passes nothing is written, and the exit code is 5.
    """
    from optimizer.constants.forms import FORMS
    from optimizer.files import write_text_atomic
    from optimizer.output.certificate import failure_lines

    proven, certificate = checked(plan)
    if not certificate.passed:
        headline = f"{plan}: the check failed, so no constants are written"
        raise CheckFailedError(headline, failure_lines(certificate))
    text = FORMS[form.value](proven)
    if out is None:
        sys.stdout.write(text)
    else:
        write_text_atomic(out, text, force=force)
