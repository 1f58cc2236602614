"""Arguments and options of all commands, each in one place."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class SolverChoice(StrEnum):
    """Solvers that can be asked for; auto takes the first that is there."""

    AUTO = "auto"
    HIGHS = "highs"
    CBC = "cbc"


MOST_RUNS = 10_000
"""Most runs a year that may be asked for [1]."""

SEVERAL = "several with commas between"
USUAL_ONE = "the machine's usual one if left out"

MachineArgument = Annotated[str, typer.Argument(metavar="MACHINE", help="Machine profile: a name or a path.")]
GoalArgument = Annotated[str, typer.Argument(metavar="GOAL", help="Goal profile: a name or a path.")]
PlanArgument = Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file.")]

CircuitOption = Annotated[str | None, typer.Option(help=f"Circuit profile; {USUAL_ONE}.")]
TariffOption = Annotated[str | None, typer.Option(help=f"Tariff profile; {USUAL_ONE}.")]
SolverOption = Annotated[SolverChoice, typer.Option(help="Solver of the choose step.")]
RunsOption = Annotated[
    int, typer.Option(min=1, max=MOST_RUNS, help="Runs that a year's cost or saving is for.")
]

MachinesOption = Annotated[str, typer.Option(metavar="A,B", help=f"Machine profiles, {SEVERAL}.")]
GoalsOption = Annotated[str, typer.Option(metavar="A,B", help=f"Goal profiles, {SEVERAL}.")]
CircuitsOption = Annotated[
    str | None, typer.Option(metavar="A,B", help="Circuit profiles; each machine's usual one if left out.")
]
TariffsOption = Annotated[
    str | None, typer.Option(metavar="A,B", help="Tariff profiles; each machine's usual one if left out.")
]

LikeOption = Annotated[
    str | None,
    typer.Option(metavar="MACHINE", help="Machine profile that every number without a test comes from."),
]

MOST_JOBS = 256
JobsOption = Annotated[
    int | None,
    typer.Option(min=1, max=MOST_JOBS, help="Worker processes; as many as processors if left out."),
]

JsonOption = Annotated[bool, typer.Option("--json", help="Answer in JSON, errors too.")]
PageOption = Annotated[
    Path | None, typer.Option("--page", help="Write the answer to this file as an HTML page as well.")
]
PlanFileOption = Annotated[Path | None, typer.Option(help="Write the plan to this file.")]
ForceOption = Annotated[
    bool, typer.Option("--force", help="Replace files that are there; never one that this command reads.")
]
