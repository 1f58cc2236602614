"""The forms in which constants are written, by the name used on the command line, and the controller in C."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files

from optimizer.check.drain_wait import drain_numbers
from optimizer.check.sensor_meter import longest_still_s
from optimizer.emit.c99 import BENCH_FILE_NAME, C99, FILE_NAME
from optimizer.emit.csv_form import CSV
from optimizer.emit.iec import IEC, tables
from optimizer.emit.json_form import JSON
from optimizer.emit.micropython import MICROPYTHON
from optimizer.emit.one_form import Form
from optimizer.emit.several import Several
from optimizer.programme.cautions import SCALDING_C
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

MOVES_K, MOVES_S, STILL_FACTOR = 1.0, 600, 1.25
"""A sensor counts as dead if its reading has not changed by so much [K] in so long [s], or in this multiple
of the longest time for which a sound one stands still at any point [1]: readings are coarse, and late."""

MOVES_LINE, COLD_LINE = f"#define WASH_SENSOR_MOVES_S {MOVES_S}U", "#define WASH_FILL_IS_COLD 0"
MODULE_MOVES_LINE, MODULE_COLD_LINE = f"SENSOR_MOVES_S = const({MOVES_S})", "FILL_IS_COLD = const(0)"
DRAIN_MAX_DC, DRAIN_STOP_DC, DRAIN_WAIT_S = 400, 650, 14400
"""Reading with which a bath may be drained out of its turn, that with which it is not drained in its turn
[0.1 °C], how long all must be off where nothing reads it [s], as the controllers come for any machine."""
DRAIN_LINES = {
    f"#define WASH_DRAIN_MAX_DC {DRAIN_MAX_DC} ": DRAIN_MAX_DC,
    f"DRAIN_MAX_DC = const({DRAIN_MAX_DC})": DRAIN_MAX_DC,
    f"DRAIN_MAX_DC : INT := {DRAIN_MAX_DC};": DRAIN_MAX_DC,
    f"#define WASH_DRAIN_STOP_DC {DRAIN_STOP_DC} ": DRAIN_STOP_DC,
    f"DRAIN_STOP_DC = const({DRAIN_STOP_DC})": DRAIN_STOP_DC,
    f"DRAIN_STOP_DC : INT := {DRAIN_STOP_DC};": DRAIN_STOP_DC,
    f"#define WASH_DRAIN_WAIT_S {DRAIN_WAIT_S}UL": DRAIN_WAIT_S,
    f"DRAIN_WAIT_S = const({DRAIN_WAIT_S})": DRAIN_WAIT_S,
    f"DRAIN_WAIT : TIME := T#{DRAIN_WAIT_S}s;": DRAIN_WAIT_S,
}
"""Lines of the controllers that are written anew for a machine, and the number in each."""


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

    The controller is always the same, but for the header's name and what `_for_machine` writes anew.
    """
    header, *sources = controller_file_names(bench_run=plan.constants.bench_run)
    texts = {name: _for_machine(name, [plan]).replace(FILE_NAME, header) for name in sources}
    return {header: C99.text(plan), **texts}


def firmware_files(plans: Mapping[str, Plan], language: str) -> dict[str, str]:
    """Text by file name: the constants of several programmes, and the controller in a language for them."""
    header, *sources = firmware_file_names(language, bench_run=False)
    several = Several.of_plans(plans)
    found = {header: FORMS[language].write_several(several)}
    if language == "iec":
        found[IEC_TABLES_NAME] = tables(several)
        sources.remove(IEC_TABLES_NAME)
    return found | {name: _for_machine(name, list(plans.values())) for name in sources}


def _for_machine(name: str, plans: Sequence[Plan]) -> str:
    """Give a source with the lines that hang on the machine.

    How long a sensor may stand still is what the programme allows that needs it longest: a weak element warms
    much water by less than `MOVES_K` in `MOVES_S`. A fill is cold where it scalds nobody and no drain pipe. A
    bath is drained out of its turn by what the pipe of this machine stands.
    """
    machine = plans[0].inputs.machine
    cold = machine.inlet.water_c.high < min(SCALDING_C, machine.drain_pump.drain_limit_c)
    text = (files("optimizer.emit") / FOLDER / name).read_text(encoding="utf-8")
    for line, old, value in (
        (MOVES_LINE, str(MOVES_S), _moves_s(plans)),
        (MODULE_MOVES_LINE, str(MOVES_S), _moves_s(plans)),
        (COLD_LINE, "0", int(cold)),
        (MODULE_COLD_LINE, "0", int(cold)),
    ):
        text = text.replace(line, line.replace(old, str(value)))
    if any(line in text for line in DRAIN_LINES):
        found = drain_numbers(machine, (plan.constants for plan in plans))
        numbers = dict(zip((DRAIN_MAX_DC, DRAIN_STOP_DC, DRAIN_WAIT_S), found, strict=True))
        for line, old_number in DRAIN_LINES.items():
            text = text.replace(line, line.replace(str(old_number), str(numbers[old_number])))
    return text


def _moves_s(plans: Iterable[Plan]) -> int:
    """How long the sensor of a sound run may stand still, in any of the plans [s]."""
    still_s = [longest_still_s(plan.constants, plan.inputs.machine, MOVES_K) for plan in plans]
    return max(MOVES_S, math.ceil(max(still_s) * STILL_FACTOR))
