"""`scullion show`: print a kept plan again."""

from __future__ import annotations

import typer

from optimizer.cli.check import proven
from optimizer.cli.options import JsonOption, PlanArgument
from optimizer.cli.terminal import print_json

show_app = typer.Typer()


@show_app.command()
def show(plan: PlanArgument, as_json: JsonOption = False) -> None:
    """Print a plan file as `scullion plan` printed it.

    The plan is checked first. Ends with exit code 5 where it does not pass the check.
    """
    from optimizer.report.plan import plan_report, plan_to_dict

    found, certificate = proven(plan, "so it is not shown as a programme to run")
    if as_json:
        print_json(plan_to_dict(found, certificate))
    else:
        print(plan_report(found, certificate, str(plan)))
