"""`scullion show`: print a kept plan again."""

from __future__ import annotations

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import JsonOption, PlanArgument
from optimizer.cli.terminal import print_answer

show_app = typer.Typer()


@show_app.command()
def show(plan: PlanArgument, as_json: JsonOption = False) -> None:
    """Print a plan file as `scullion plan` printed it.

    The plan is checked first. Ends with exit code 5 where it does not pass the check.
    """
    print_answer(passed_plan(plan, "so it is not shown as a programme to run"), as_json=as_json)
