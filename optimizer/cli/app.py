"""The command line. Every command lives in a module of its own and is registered here."""

from __future__ import annotations

import io
import sys
from typing import Annotated, Any

import typer

from optimizer import __version__
from optimizer.cli.check import check_app
from optimizer.cli.compare import compare_app
from optimizer.cli.constants import constants_app
from optimizer.cli.ending import Commands, run
from optimizer.cli.explain import explain_app
from optimizer.cli.frontier import frontier_app
from optimizer.cli.measure import measure_app
from optimizer.cli.page import page_app
from optimizer.cli.plan import plan_app, show_app
from optimizer.cli.profiles import profiles_app
from optimizer.cli.rehearse import rehearse_app
from optimizer.cli.review import review_app
from optimizer.cli.starts import starts_app
from optimizer.cli.terminal import use_stand_ins
from optimizer.cli.trial import trial_app
from optimizer.cli.upgrades import upgrades_app
from optimizer.cli.worth import worth_app

STEPS = {
    "Measure the machine, state the goal": ("measure", "profiles"),
    "Plan": ("plan", "show"),
    "Check": ("check",),
    "Write out": ("constants", "page"),
    "Look further": ("explain", "starts", "compare", "frontier", "upgrades", "worth"),
    "Learn from washes": ("trial", "review", "rehearse"),
}
"""The steps of the job, and the commands of each."""


class JobCommands(Commands):
    """The commands, listed by the step of the job that they are for."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """List the commands under each step."""
        formatter.write_paragraph()
        formatter.write_heading("Commands")
        for step, names in STEPS.items():
            with formatter.section(step):
                self.write_commands(formatter, names)


app = typer.Typer(
    name="scullion",
    cls=JobCommands,
    help="Choose, prove and write out every timing of a home-made dish-washing machine's programme.",
    epilog="Mains voltage, hot elements and scalding water: local codes and licensed practice come first.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"scullion {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


# Commands stand in the order of the job.
app.add_typer(measure_app)
app.add_typer(profiles_app)
app.add_typer(plan_app)
app.add_typer(show_app)
app.add_typer(check_app)
app.add_typer(constants_app)
app.add_typer(page_app)
app.add_typer(explain_app)
app.add_typer(starts_app)
app.add_typer(compare_app)
app.add_typer(frontier_app)
app.add_typer(upgrades_app)
app.add_typer(worth_app)
app.add_typer(trial_app)
app.add_typer(review_app)
app.add_typer(rehearse_app)


def main() -> None:
    """Run the command line and leave with its exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A terminal that has no ° still gets an answer.
        sys.stdout.reconfigure(errors=use_stand_ins())
    sys.exit(run(lambda: app(prog_name="scullion")))
