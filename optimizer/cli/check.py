"""`scullion check`: prove a plan file or a file of constants again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import JsonOption
from optimizer.cli.terminal import print_json, progress
from optimizer.errors import EXIT_CHECK, CheckFailedError

if TYPE_CHECKING:
    from optimizer.check.certificate import Certificate
    from optimizer.cli.subject import Subject
    from optimizer.programme.constants import Constants
    from optimizer.programme.plan import Inputs, Plan


check_app = typer.Typer()

MOST_DRAWS = 10_000
DRAWS = 64
SEED = 1
NEEDED = "needed for a file of constants; in place of that in a plan file, such as one measured again"

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE", help="Plan file, or constants in any form (header, JSON, CSV …).")
]
MachineOption = Annotated[str | None, typer.Option(help=f"Machine profile: {NEEDED}.")]
GoalOption = Annotated[str | None, typer.Option(help="Goal profile: as for the machine.")]
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
    """Prove the constants in a file.

    They are run through a simulation in every corner of the measured tolerances; a bench run is held
    against what it must not do. Ends with exit code 5 where a requirement does not hold.
    """
    from optimizer.cli.subject import load_subject

    profiles = {"machine": machine, "goal": goal, "circuit": circuit, "tariff": tariff}
    subject = load_subject(file, profiles)
    answer = _bench(subject) if subject.constants.bench_run else _programme(subject, draws, seed)
    passed, text, content = answer
    if faults:
        table, found = _faults(file, subject)
        text, content = f"{text}\n\n{table}", {**content, "single_faults": found}
    if as_json:
        replaced = {kind: {"plan": held, "check": used} for kind, (held, used) in subject.replaced.items()}
        print_json({**content, "warnings": subject.warnings, "replaced": replaced})
    else:
        print("\n".join([*_said_first(subject), text]))
    if not passed:
        raise typer.Exit(EXIT_CHECK)


Answer = tuple[bool, str, dict[str, object]]
"""Whether all holds, in words, as plain data."""


def _programme(subject: Subject, draws: int, seed: int) -> Answer:
    from optimizer.report.certificate import certificate_report, certificate_to_dict

    certificate = _certified(subject.constants, subject.inputs, draws, seed)
    return certificate.passed, certificate_report(certificate), certificate_to_dict(certificate)


def _bench(subject: Subject) -> Answer:
    from optimizer.check.bench_check import check_bench
    from optimizer.report.certificate import bench_report, bench_to_dict

    rows = check_bench(subject.constants, subject.inputs.machine)
    total_s = subject.constants.total_max_s
    return all(row.passed for row in rows), bench_report(rows, total_s), bench_to_dict(rows, total_s)


def _faults(file: Path, subject: Subject) -> tuple[str, dict[str, object]]:
    from optimizer.check.faults.run_faults import run_faults
    from optimizer.errors import InputError, InputIssue
    from optimizer.report.faults import fault_table, faults_to_dict

    if subject.constants.bench_run:
        rule, fix = "goes with a programme, and this is a bench run", "leave it out, or check the programme"
        raise InputError([InputIssue("--faults", "", rule, str(file), fix)])
    inputs = subject.inputs
    with progress("running single faults"):
        report = run_faults(subject.constants, inputs.machine, inputs.goal, inputs.circuit)
    return fault_table(report), faults_to_dict(report)


def _said_first(subject: Subject) -> list[str]:
    from optimizer.report.layout import wrapped

    warnings = [wrapped(warning, "Warning: ") for warning in subject.warnings]
    return [f"{line}\n" for line in (*warnings, *map(wrapped, subject.notes))]


def proven(path: Path, or_else: str) -> tuple[Plan, Certificate]:
    """Read a plan file, and go on only if what is in it passes the check.

    Parameters
    ----------
    path : Path
        The plan file.
    or_else : str
        What comes of it where the check fails, for the message: ``so no start is recommended``.

    Returns
    -------
    tuple of Plan and Certificate
        The plan, and the certificate that it passed.

    Raises
    ------
    InputError
        The file cannot be read, or is not a sound plan.
    CheckFailedError
        The check fails.
    """
    from optimizer.check.certificate import failure_lines
    from optimizer.files import read_text
    from optimizer.programme.planfile import plan_from_json

    plan = plan_from_json(read_text(path, "plan"), str(path))
    certificate = _certified(plan.constants, plan.inputs, DRAWS, SEED)
    if not certificate.passed:
        raise CheckFailedError(f"{path}: the check failed, {or_else}", failure_lines(certificate.rows))
    return plan, certificate


def _certified(constants: Constants, inputs: Inputs, draws: int, seed: int) -> Certificate:
    from optimizer.check.certify import check as run_check

    with progress("checking"):
        return run_check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=draws, seed=seed)
