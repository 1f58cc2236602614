"""Arguments and options that several commands take."""

from __future__ import annotations

from typing import Annotated

import typer

from optimizer.cli.plan import SolverChoice

MachineArgument = Annotated[str, typer.Argument(metavar="MACHINE", help="Machine profile: a name or a path.")]
GoalArgument = Annotated[str, typer.Argument(metavar="GOAL", help="Goal profile: a name or a path.")]
CircuitOption = Annotated[
    str | None, typer.Option(help="Circuit profile; the machine's usual one if left out.")
]
TariffOption = Annotated[
    str | None, typer.Option(help="Tariff profile; the machine's usual one if left out.")
]
SolverOption = Annotated[SolverChoice, typer.Option(help="Solver of the choose step.")]
RUNS_PER_YEAR, MOST_RUNS = 200, 10_000
"""Runs that a year is taken to have, and the most that may be asked for [1]."""

JsonOption = Annotated[bool, typer.Option("--json", help="Answer in JSON.")]
