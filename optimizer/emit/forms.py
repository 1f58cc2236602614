"""The forms in which constants are written, by the name used on the command line."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.emit.c99 import to_c99
from optimizer.emit.csv_form import to_csv
from optimizer.emit.iec import to_iec
from optimizer.emit.json_form import to_json
from optimizer.emit.micropython import to_micropython
from optimizer.programme.plan import Plan

FORMS: dict[str, Callable[[Plan], str]] = {
    "c": to_c99,
    "json": to_json,
    "csv": to_csv,
    "micropython": to_micropython,
    "iec": to_iec,
}
