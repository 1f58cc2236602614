"""`scullion check`: prove a plan file or a file of constants again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import JsonOption
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import EXIT_CHECK, InputError, InputIssue
from optimizer.option_defaults import DRAWS, SEED
from optimizer.report.layout import wrapped

if TYPE_CHECKING:
    from optimizer.check.certificate import Certificate
    from optimizer.cli.subject import Subject
    from optimizer.library.results import PlanResult


check_app = typer.Typer()

MOST_DRAWS = 10_000
NEEDED = "needed for a file of constants; in place of that in a plan file, such as one measured again"

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE", help="Plan file, or constants in any form (header, JSON, CSV …).")
]
MachineOption = Annotated[str | None, typer.Option(help=f"Machine profile: {NEEDED}.")]
GOAL_HELP = "Goal profile: as for the machine; once for each programme of a file of several."
GoalOption = Annotated[list[str] | None, typer.Option(help=GOAL_HELP)]
ProgrammeOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="Check this programme of a file of several, not all.")
]
CircuitOption = Annotated[
    str | None, typer.Option(help="Circuit profile; the plan's own or the machine's usual one if left out.")
]
TariffOption = Annotated[
    str | None, typer.Option(help="Tariff profile; the check of a programme does not depend on it.")
]


@check_app.command()
def check(
    file: FileArgument,
    machine: MachineOption = None,
    goal: GoalOption = None,
    circuit: CircuitOption = None,
    tariff: TariffOption = None,
    programme: ProgrammeOption = None,
    draws: Annotated[
        int, typer.Option(min=0, max=MOST_DRAWS, help="Random draws in the tolerances.")
    ] = DRAWS,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the draws.")] = SEED,
    faults: Annotated[
        bool,
        typer.Option("--faults", help="Run single faults too: what each does, and which guard it needs."),
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Check the constants in a file.

    The worst points of the measured tolerances are searched for by simulation; a bench run is held
    against what it must not do. Ends with exit code 5 where a requirement does not hold.
    """
    from optimizer.cli.subject import load_subjects

    profiles = {"machine": machine, "circuit": circuit, "tariff": tariff}
    subjects = load_subjects(file, profiles, goal or [], programme)
    answers = [_answer(file, subject, draws, seed, faults=faults) for subject in subjects]
    several = bool(subjects[0].name)
    if as_json:
        contents = [
            {**content, **_around(subject)}
            for subject, (_, _, content) in zip(subjects, answers, strict=True)
        ]
        named = [{"name": one.name, **content} for one, content in zip(subjects, contents, strict=True)]
        passed = all(passed for passed, _, _ in answers)
        print_json({"passed": passed, "programmes": named} if several else contents[0])
    else:
        texts = []
        for subject, (_, text, _) in zip(subjects, answers, strict=True):
            head = [f"PROGRAMME {subject.number}: {subject.name}\n"] if several else []
            texts.append("\n".join([*head, *_said_first(subject), text]))
        print("\n\n".join(texts))
    if not all(passed for passed, _, _ in answers):
        raise typer.Exit(EXIT_CHECK)


def _around(subject: Subject) -> dict[str, object]:
    replaced = {kind: {"plan": held, "check": used} for kind, (held, used) in subject.replaced.items()}
    return {"warnings": subject.warnings, "replaced": replaced}


def _answer(file: Path, subject: Subject, draws: int, seed: int, *, faults: bool) -> Checked:
    with subject.named_in_issues():
        bench = subject.constants.bench_run
        answer, certificate = (_bench(subject), None) if bench else _programme(subject, draws, seed)
    passed, text, content = answer
    if faults and not (subject.name and bench):
        table, found = _faults(file, subject, certificate)
        text, content = f"{text}\n\n{table}", {**content, "single_faults": found}
    return passed, text, content


Checked = tuple[bool, str, dict[str, object]]
"""Whether all holds, in words, as plain data."""


def _programme(subject: Subject, draws: int, seed: int) -> tuple[Checked, Certificate]:
    from optimizer.library import job

    with progress("checking"):
        found = job.check_plan(subject, draws=draws, seed=seed)
    return (found.passed, str(found), found.to_dict()), found.certificate


def _bench(subject: Subject) -> Checked:
    from optimizer.check.bench_check import check_bench
    from optimizer.report.certificate import bench_report, bench_to_dict

    rows = check_bench(subject.constants, subject.inputs.machine)
    total_s = subject.constants.total_max_s
    text, content = bench_report(rows, total_s, subject.inputs), bench_to_dict(rows, total_s, subject.inputs)
    return all(row.passed for row in rows), text, content


def _faults(file: Path, subject: Subject, certificate: Certificate | None) -> tuple[str, dict[str, object]]:
    from optimizer.library import job

    if subject.constants.bench_run:
        rule, fix = "goes with a programme, and this is a bench run", "leave it out, or check the programme"
        raise InputError([InputIssue("--faults", "", rule, str(file), fix)])
    with progress("running single faults"):
        found = job.single_faults(subject, certificate)
    return str(found), found.to_dict()


def _said_first(subject: Subject) -> list[str]:
    warnings = [wrapped(warning, "Warning: ") for warning in subject.warnings]
    return [f"{line}\n" for line in (*warnings, *map(wrapped, subject.notes))]


def passed_plan(path: Path, or_else: str) -> PlanResult:
    """Read a plan file, and go on only if what is in it passes the check.

    Parameters
    ----------
    path : Path
        The plan file.
    or_else : str
        What comes of it where the check fails, for the message: ``so no start is recommended``.

    Returns
    -------
    PlanResult
        The plan, and the certificate that it passed.

    Raises
    ------
    InputError
        The file cannot be read, or is not a sound plan.
    CheckFailedError
        The check fails.
    """
    from optimizer.library import job

    with progress("checking"):
        found = job.read_plan(path)
    found.require_passed(or_else)
    return found
