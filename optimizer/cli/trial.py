"""`scullion trial fit` and `scullion trial next`: learn the minutes of a dose from washes."""

from __future__ import annotations

import shlex
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.ending import Commands
from optimizer.cli.options import (
    CircuitOption,
    ForceOption,
    JsonOption,
    MachineArgument,
    PageOption,
    PlanFileOption,
    TariffOption,
)
from optimizer.cli.picture import picture_form
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import EXIT_CHECK, InputError, InputIssue, attempt
from optimizer.files import refuse_all_occupied, write_bytes_atomic, write_text_atomic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimizer.programme.plan import Inputs
    from optimizer.trial.read_trials import Trials
    from optimizer.trial.soil_fit import SoilFit

trial_app = typer.Typer(
    name="trial",
    cls=Commands,
    help="Learn the minutes of a dose from washes whose pieces were counted.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

TrialsArgument = Annotated[
    Path,
    typer.Argument(metavar="TRIALS", help="Trial book, TOML or CSV (scullion profiles new trials FILE)."),
]
GoalOption = Annotated[
    str | None,
    typer.Option(help="Goal profile whose doses are the soils; the one that the book names if left out."),
]


def _between(value: float) -> float:
    # A range of the library that reads the options lets nan through.
    if not LEAST_ASKED <= value <= MOST_ASKED:
        raise typer.BadParameter(f"{value:g} is not in the range {LEAST_ASKED:g}<=x<={MOST_ASKED:g}.")
    return value


LEAST_ASKED, MOST_ASKED = 0.5, 0.99
ShareOption = Annotated[
    float,
    typer.Option(
        callback=_between,
        metavar="SHARE",
        help="Share of the pieces that is to come out clean, 0.5 to 0.99.",
    ),
]
CredibilityOption = Annotated[
    float,
    typer.Option(
        callback=_between, metavar="SHARE", help="How sure that is to be, as a probability, 0.5 to 0.99."
    ),
]
SHARE, CREDIBILITY = 0.95, 0.90


@trial_app.command()
def fit(
    trials: TrialsArgument,
    goal: GoalOption = None,
    share: ShareOption = SHARE,
    credibility: CredibilityOption = CREDIBILITY,
    out: Annotated[
        Path | None, typer.Option(metavar="GOAL", help="Write the goal with the minutes learnt to this file.")
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the pieces and the curve, .png or .svg.")
    ] = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what the washes of a trial book tell of the minutes.

    For each soil: the doses that clean half and 95 % of the pieces, with intervals, and the minutes to ask
    for:
    the dose that cleans the wished share with the wished credibility. Ends with exit code 5 where a goal was
    to be written and no minutes are known.
    """
    from optimizer.library.pages import trials_drawn, write_page
    from optimizer.report.trial import trial_report
    from optimizer.report.trial_data import trial_to_dict

    issues: list[InputIssue] = []
    form = attempt(issues, partial(picture_form, plot, "trials.svg"))
    found = attempt(issues, partial(_read, trials, goal))
    attempt(issues, partial(refuse_all_occupied, (out, plot, page), force=force))
    if out is not None and found is not None and found.source is None:
        from optimizer.trial.read_trials import NAMES_A_GOAL

        rule = "needs a goal to put the minutes into"
        issues.append(InputIssue("--out", "", rule, "", NAMES_A_GOAL))
    if issues or found is None:
        raise InputError(issues)
    fits = _fits(found, share, credibility)
    if not fits:
        named = shlex.join(["scullion", "trial", "next", str(trials), "MACHINE"])
        fix = f"{named} plans the first one; then write a line for each soil that was on the pieces"
        raise InputError([InputIssue(str(trials), "", "has no wash in it yet", "", fix)])
    text = _goal_text(found, fits, trials) if out is not None else None
    said = partial(trial_report, found, fits, str(trials), str(out or ""))
    write_page(page, f"What {trials} says", said, partial(trials_drawn, fits), force=force)
    if as_json:
        print_json(trial_to_dict(found, fits))
    else:
        print(said())
    if plot is not None and form is not None:
        from optimizer.report.trial_picture import trial_picture

        write_bytes_atomic(plot, trial_picture(fits, form), force=force)
    if out is not None:
        if text is None:
            print("No goal written: no minutes are known yet.", file=sys.stderr)
            raise typer.Exit(EXIT_CHECK)
        write_text_atomic(out, text, force=force)
        print(f"Wrote {out}.", file=sys.stderr)


@trial_app.command("next")
def next_wash(
    trials: TrialsArgument,
    machine: MachineArgument,
    goal: GoalOption = None,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    soil: Annotated[
        str | None, typer.Option(help="Soil to learn about; the one that is known least if left out.")
    ] = None,
    pieces: Annotated[
        int | None, typer.Option(min=1, max=500, help="Pieces to wash; as many as the last time if left out.")
    ] = None,
    share: ShareOption = SHARE,
    credibility: CredibilityOption = CREDIBILITY,
    out: PlanFileOption = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan the wash that teaches most, and say when to stop.

    Among the programmes that can be planned on this machine and pass the check, the one with the most
    expected information about the dose that cleans the wished share. Its goal is the one named, with one
    soil and the minutes to be tried.
    """
    from optimizer.library.pages import trials_drawn, write_page
    from optimizer.programme.inputs import load_inputs
    from optimizer.programme.planfile import plan_to_json
    from optimizer.report.next_wash import next_wash_report, next_wash_to_dict
    from optimizer.trial.propose import PIECES, chosen_soil, others, propose
    from optimizer.trial.read_trials import NAMES_A_GOAL

    issues: list[InputIssue] = []
    found = attempt(issues, partial(_read, trials, goal))
    inputs: Inputs | None = None
    if found is not None and found.source is None:
        rule, fix = (
            "a wash is planned for a goal, and none is named",
            NAMES_A_GOAL,
        )
        issues.append(InputIssue(str(trials), "goal", rule, "", fix))
    elif found is not None and found.source is not None:
        named = found.source.path
        inputs = attempt(issues, partial(load_inputs, machine, named, circuit, tariff))
    attempt(issues, partial(refuse_all_occupied, (out, page), force=force))
    if issues or found is None or inputs is None:
        raise InputError(issues)
    fits = _fits(found, share, credibility, every_soil=True)
    chosen = chosen_soil(fits, soil)
    last = [wash.trial.pieces for wash in chosen.washes]
    with progress("planning") as report:
        proposal = propose(chosen, inputs, pieces or (last[-1] if last else PIECES), report)
    rest = [(fit.dose.name, dose) for fit, dose in others(fits, proposal) if dose > 0.0]
    if out is not None:
        write_text_atomic(out, plan_to_json(proposal.proven.plan), force=force)
    said = partial(next_wash_report, proposal, rest, str(trials), None if out is None else str(out))
    soils = [proposal.fit] if proposal.fit.washes else []
    write_page(page, f"The next wash for {trials}", said, partial(trials_drawn, soils), force=force)
    if as_json:
        print_json(next_wash_to_dict(proposal, rest))
    else:
        print(said())


def _read(path: Path, goal: str | None) -> Trials:
    from optimizer.trial.read_trials import read_trials

    return read_trials(path, goal)


def _fits(found: Trials, share: float, credibility: float, *, every_soil: bool = False) -> list[SoilFit]:
    """Weigh the soils that are in the book, or every one of the goal; those of the book come first."""
    from optimizer.trial.soil_fit import fit_soil

    names = list(dict.fromkeys([*found.washes, *found.doses])) if every_soil else list(found.washes)
    return [fit_soil(found.doses[name], found.washes.get(name, ()), share, credibility) for name in names]


def _goal_text(found: Trials, fits: Sequence[SoilFit], trials: Path) -> str | None:
    from optimizer.report.trial import goal_comment, goal_head
    from optimizer.trial.learnt_goal import commented, learnt_goal, minutes_of

    assert found.source is not None
    if not any(map(minutes_of, fits)):
        return None
    head = commented(goal_head(found.source.name, fits, trials.name))
    return head + learnt_goal(found.source, fits, [goal_comment(one, trials.name) for one in fits])
