"""The forms in which constants are written, by the name used on the command line, and the controller in C."""

from __future__ import annotations

import math
from importlib.resources import files

from optimizer.check.sensor_meter import longest_still_s
from optimizer.emit.c99 import BENCH_FILE_NAME, C99, FILE_NAME
from optimizer.emit.csv_form import CSV
from optimizer.emit.iec import IEC
from optimizer.emit.json_form import JSON
from optimizer.emit.micropython import MICROPYTHON
from optimizer.emit.sheet import Form
from optimizer.programme.plan import Plan

FORMS: dict[str, Form] = {"json": JSON, "csv": CSV, "c": C99, "iec": IEC, "micropython": MICROPYTHON}
"""Told apart by their signs in this order."""

SOURCES = ("wash_controller.h", "wash_controller.c")
"""The reference controller, which steps through the header."""

MOVES_K, MOVES_S, STILL_FACTOR = 1.0, 600, 1.25
"""A sensor counts as dead if its reading has not changed by so much [K] in so long [s], or in this multiple
of the longest time for which a sound one stands still at any point [1]: readings are coarse, and late."""

MOVES_LINE = f"#define WASH_SENSOR_MOVES_S {MOVES_S}U"


def form_of(text: str) -> str | None:
    """Name of the form in which constants are written; None where it is none of them.

    Examples
    --------
    >>> form_of('{"format": 1}'), form_of("kind = 1")
    ('json', None)
    """
    return next((name for name, form in FORMS.items() if form.sign.search(text)), None)


def controller_file_names(*, bench_run: bool) -> tuple[str, ...]:
    """Names of the header, which differs for a bench run, and of the controller's two files."""
    return (BENCH_FILE_NAME if bench_run else FILE_NAME, *SOURCES)


def controller_files(plan: Plan) -> dict[str, str]:
    """Text by file name: the constants as a header, and the reference controller that includes it.

    The controller is always the same, but for the header's name and the time that a sensor may stand still:
    a weak element warms much water by less than `MOVES_K` in `MOVES_S`.
    """
    header, *sources = controller_file_names(bench_run=plan.constants.bench_run)
    still_s = longest_still_s(plan.constants, plan.inputs.machine, MOVES_K)
    moves_s = max(MOVES_S, math.ceil(still_s * STILL_FACTOR))
    found = {header: C99.text(plan)}
    for name in sources:
        text = (files("optimizer.emit") / name).read_text(encoding="utf-8")
        text = text.replace(MOVES_LINE, f"#define WASH_SENSOR_MOVES_S {moves_s}U")
        found[name] = text.replace(FILE_NAME, header)
    return found
