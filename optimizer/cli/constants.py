"""`scullion constants`: write what the controller compiles, if the check passes."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import ForceOption
from optimizer.errors import InputError, InputIssue
from optimizer.files import refuse_occupied, write_text_atomic

if TYPE_CHECKING:
    from optimizer.library.results import PlanResult

constants_app = typer.Typer()

FORMS_HELP = (
    "c: a C99 header; json and csv: integers with units; micropython: a module; iec: IEC 61131-3 constants."
)
CONTROLLER_HELP = (
    "Write the constants, a reference controller that takes them and an example program around it into this "
    "folder, which must exist: in C99, with --format micropython, or iec (no example)."
)
BENCH_HELP = "Every phase in seconds, the element never on; beside several plans one programme more."
THERMISTOR_HELP = (
    "What the example program reads the bath with: ohms at 25 °C, B [K], ohms in series (10000,3950,10000); "
    "or two readings of an ohm-meter at [°C], ohms in series (32650@0,2490@60,10000)."
)
WALK_HELP = "Print what each output does in the bench run, second by second, to tick off on paper."

PlansArgument = Annotated[
    list[Path], typer.Argument(metavar="PLAN...", help="Plan file, or several of one machine.")
]


class Form(StrEnum):
    """Forms of the constants."""

    C = "c"
    JSON = "json"
    CSV = "csv"
    MICROPYTHON = "micropython"
    IEC = "iec"


@constants_app.command()
def constants(
    plans: PlansArgument,
    form: Annotated[Form | None, typer.Option("--format", help=FORMS_HELP)] = None,
    bench_run: Annotated[bool, typer.Option("--bench-run", help=BENCH_HELP)] = False,
    out: Annotated[Path | None, typer.Option(help="Write to this file, not to standard output.")] = None,
    with_controller: Annotated[Path | None, typer.Option(metavar="DIR", help=CONTROLLER_HELP)] = None,
    thermistor: Annotated[str | None, typer.Option(metavar="OHM,B,OHM", help=THERMISTOR_HELP)] = None,
    walk: Annotated[bool, typer.Option("--walk", help=WALK_HELP)] = False,
    force: ForceOption = False,
) -> None:
    """Write the constants of a plan file, or of several as programmes of one file.

    Each plan is checked first. Unless every check passes nothing is written, and the exit code is 5.
    """
    if thermistor is not None:
        _refuse_thermistor(thermistor, form, with_controller)
    if walk:
        _refuse_beside_walk(form, with_controller)
    else:
        _refuse_odd_options(form, out, with_controller)
    named = _named(plans)
    language = (form or Form.C).value
    places = [out] if out else []
    if with_controller is not None:
        from optimizer.emit.forms import firmware_file_names

        rehearses = bench_run and len(plans) == 1 and language == "c"
        places = [with_controller / name for name in firmware_file_names(language, bench_run=rehearses)]
    for place in places:
        refuse_occupied(place, force=force)
    found = {name: passed_plan(path, "so no constants are written") for name, path in named.items()}
    if with_controller is not None:
        for name, text in _firmware(found, form, thermistor, bench_run=bench_run).items():
            write_text_atomic(with_controller / name, text, force=force)
        print(f"Wrote {', '.join(str(one) for one in places)}.", file=sys.stderr)
        return
    text = _walk(found) if walk else _text(found, form or Form.C, bench_run=bench_run)
    if out is None:
        sys.stdout.write(text)
    else:
        write_text_atomic(out, text, force=force)
        print(f"Wrote {out}.", file=sys.stderr)


def _text(found: dict[str, PlanResult], form: Form, *, bench_run: bool) -> str:
    from optimizer.library import firmware

    if len(found) > 1:
        return firmware.emit_programmes(found, form.value, rehearsal=bench_run)
    (only,) = found.values()
    return firmware.emit_constants(only, form.value, rehearsal=bench_run)


def _walk(found: dict[str, PlanResult]) -> str:
    from optimizer.library import firmware

    return firmware.walk_through({f"plan {n}": one for n, one in enumerate(found.values(), start=1)})


def _firmware(
    found: dict[str, PlanResult], form: Form | None, thermistor: str | None, *, bench_run: bool
) -> dict[str, str]:
    from optimizer.library import firmware

    if form is Form.IEC:
        return firmware.emit_firmware(found, "iec", rehearsal=bench_run)
    if form is Form.MICROPYTHON or len(found) > 1:
        language: firmware.Language = "micropython" if form is Form.MICROPYTHON else "c"
        return firmware.emit_firmware(found, language, rehearsal=bench_run, thermistor=thermistor)
    (only,) = found.values()
    return firmware.emit_controller(only, rehearsal=bench_run, thermistor=thermistor)


def _named(paths: Sequence[Path]) -> dict[str, Path]:
    """Name each plan by its file; the same file name twice is refused."""
    named: dict[str, Path] = {}
    issues = []
    for path in paths:
        if path.stem in named:
            rule, fix = f"has the name of {named[path.stem]}, another programme", "give one file another name"
            issues.append(InputIssue(str(path), "", rule, path.stem, fix))
        named.setdefault(path.stem, path)
    if issues:
        raise InputError(issues)
    return named


def _refuse_odd_options(form: Form | None, out: Path | None, with_controller: Path | None) -> None:
    if with_controller is None:
        if form is None and (out is None or out.suffix != ".h"):
            raise typer.BadParameter("give a form, or --with-controller", param_hint="--format")
    elif out is not None or form in (Form.JSON, Form.CSV):
        rule = "writes constants and a controller in one of the languages: leave out --out, json and csv"
        raise typer.BadParameter(rule, param_hint="--with-controller")


def _refuse_beside_walk(form: Form | None, with_controller: Path | None) -> None:
    if form is not None or with_controller is not None:
        raise typer.BadParameter("goes with plans and --out only", param_hint="--walk")


def _refuse_thermistor(thermistor: str, form: Form | None, with_controller: Path | None) -> None:
    """Say at once what is wrong with it: the checks of the plans take seconds."""
    from optimizer.emit.thermistor import read_thermistor

    if with_controller is None or form is Form.IEC:
        raise typer.BadParameter("goes with --with-controller in c or micropython", param_hint="--thermistor")
    read_thermistor(thermistor, "--thermistor")
