"""The forms in which constants are written, by the name used on the command line, and the controller in C."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files

from optimizer.emit.c99 import BENCH_FILE_NAME, C99, FILE_NAME
from optimizer.emit.csv_form import CSV
from optimizer.emit.iec import IEC, tables
from optimizer.emit.json_form import JSON
from optimizer.emit.micropython import MICROPYTHON
from optimizer.emit.one_form import Form
from optimizer.emit.several import Several
from optimizer.programme.plan import Plan

FORMS: dict[str, Form] = {"json": JSON, "csv": CSV, "c": C99, "iec": IEC, "micropython": MICROPYTHON}
"""Told apart by their signs in this order."""

FOLDER = "firmware"
"""Where in this folder the controllers and their examples lie: they are no part of the package's code."""
SOURCES = ("wash_controller.h", "wash_controller.c", "wash_board.h", "wash_main.c")
"""The reference controller in C, which steps through the header, and an example program around it."""
MODULE_NAME, MODULES = "wash_timing.py", ("wash_controller.py", "wash_main.py")
"""The same in MicroPython."""
IEC_NAME, IEC_TABLES_NAME, IEC_BLOCK = "wash_timing.st", "wash_tables.st", "wash_programme.st"
"""Constants, tables of them, and the function block that takes a table."""


def form_of(text: str) -> str | None:
    """Name of the form in which constants are written; None where it is none of them.

    Examples
    --------
    >>> form_of('{"format": 1}'), form_of("kind = 1")
    ('json', None)
    """
    return next((name for name, form in FORMS.items() if form.sign.search(text)), None)


def controller_file_names(*, bench_run: bool) -> tuple[str, ...]:
    """Names of the header, which differs for a bench run, and of the controller's files."""
    return (BENCH_FILE_NAME if bench_run else FILE_NAME, *SOURCES)


def firmware_file_names(language: str, *, bench_run: bool) -> tuple[str, ...]:
    """Names of the constants in a language, and of the controller's files; `bench_run`: of that alone."""
    if language == "c":
        return controller_file_names(bench_run=bench_run)
    return (MODULE_NAME, *MODULES) if language == "micropython" else (IEC_NAME, IEC_TABLES_NAME, IEC_BLOCK)


def controller_files(plan: Plan) -> dict[str, str]:
    """Text by file name: the constants as a header, and the reference controller that includes it.

    The controller is always the same, but for the header's name.
    """
    header, *sources = controller_file_names(bench_run=plan.constants.bench_run)
    texts = {name: _source(name).replace(FILE_NAME, header) for name in sources}
    return {header: C99.text(plan), **texts}


def firmware_files(plans: Mapping[str, Plan], language: str) -> dict[str, str]:
    """Text by file name: the constants of several programmes, and the controller in a language for them."""
    header, *sources = firmware_file_names(language, bench_run=False)
    several = Several.of_plans(plans)
    found = {header: FORMS[language].write_several(several)}
    if language == "iec":
        found[IEC_TABLES_NAME] = tables(several)
        sources.remove(IEC_TABLES_NAME)
    return found | {name: _source(name) for name in sources}


def _source(name: str) -> str:
    """Read a source of the controller: the same for every machine, whose numbers stand in the constants."""
    return (files("optimizer.emit") / FOLDER / name).read_text(encoding="utf-8")
