"""`scullion check`: prove a plan file again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.plan import print_json
from optimizer.cli.progress import progress
from optimizer.errors import EXIT_CHECK

if TYPE_CHECKING:
    from optimizer.check.certificate import Certificate
    from optimizer.programme.plan import Plan

check_app = typer.Typer()

MOST_DRAWS = 10_000
DRAWS = 64
SEED = 1


@check_app.command()
def check(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file.")],
    draws: Annotated[
        int, typer.Option(min=0, max=MOST_DRAWS, help="Random draws in the tolerances.")
    ] = DRAWS,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the draws.")] = SEED,
    as_json: Annotated[bool, typer.Option("--json", help="Answer in JSON.")] = False,
) -> None:
    """Prove the constants of a plan file.

    They are run through a simulation in every corner of the measured tolerances. Ends with exit code 5
    where a requirement does not hold.
    """
    from optimizer.output.certificate import certificate_report, certificate_to_dict

    _, certificate = checked(plan, draws, seed)
    if as_json:
        print_json(certificate_to_dict(certificate))
    else:
        print(certificate_report(certificate))
    if not certificate.passed:
        raise typer.Exit(EXIT_CHECK)


def checked(path: Path, draws: int = DRAWS, seed: int = SEED) -> tuple[Plan, Certificate]:
    """Read a plan file and check what is in it.

    Parameters
    ----------
    path : Path
        The plan file.
    draws : int
        Random draws inside the tolerances [1].
    seed : int
        Seed of the draws [1].

    Returns
    -------
    tuple of Plan and Certificate
        The plan, and how its constants fare.

    Raises
    ------
    InputError
        The file cannot be read, or is not a sound plan.
    """
    from optimizer.check.run import check as run_check
    from optimizer.files import read_text
    from optimizer.programme.planfile import plan_from_json

    plan = plan_from_json(read_text(path, "plan"), str(path))
    inputs = plan.inputs
    with progress("checking"):
        certificate = run_check(
            plan.constants, inputs.machine, inputs.goal, inputs.circuit, draws=draws, seed=seed
        )
    return plan, certificate
