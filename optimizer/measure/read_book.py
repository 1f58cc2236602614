"""Read a bench book and its logs whole, or name everything that is wrong with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimizer.errors import InputError, InputIssue, attempt, quoted
from optimizer.files import read_text
from optimizer.measure.bench_log import BenchLog, read_log
from optimizer.measure.book import BOOK_FILE, Bench, CalibrationTable, book_path
from optimizer.measure.book_lines import with_lines
from optimizer.measure.calibration import Calibration, two_points
from optimizer.measure.estimate import Instruments
from optimizer.measure.thermal_test import ThermalTest
from optimizer.profile.load import parse_toml
from optimizer.profile.machine import Machine
from optimizer.profile.messages import issues_of, written
from optimizer.profile.shipped import bench_names, bench_path, is_path

MISSING = "is missing"
"""What a profile says of a key that is not there."""

NO_THERMOMETER_K = 5.0
"""A thermometer that is further off in ice or in the boil is none, or the readings are of something else [K];
our choice, *no source*."""

USUAL_THERMOMETER_K = 0.5
"""Error of a thermometer of which nothing is said [K]: what cheap ones claim."""


@dataclass(frozen=True)
class Book:
    """A bench book as it was read.

    Attributes
    ----------
    subject : str
        Its file, for messages.
    bench : Bench
        Its tables.
    instruments : Instruments
        What the instruments are worth; the thermometer after its calibration.
    calibration : Calibration or None
        Of the thermometer; None where there was none.
    tests : tuple of ThermalTest
        The thermal tests with their logs, every temperature corrected.
    text : str
        What its file holds, to place what is wrong; empty where it came from elsewhere.
    """

    subject: str
    bench: Bench
    instruments: Instruments
    calibration: Calibration | None
    tests: tuple[ThermalTest, ...]
    text: str = ""

    def corrected_c(self, reading_c: float) -> float:
        """A reading of the thermometer, corrected by its calibration [°C]."""
        return reading_c + (self.calibration.correction_k(reading_c) if self.calibration else 0.0)


def load_book(name: str) -> Book:
    """Load a bench book by the path of its folder or its file, or by the name of a shipped one.

    `InputError` with every issue of the book and of its logs.
    """
    path = bench_path(name) or book_path(Path(name))
    if Path(name).is_file() and Path(name).suffix != ".toml":
        rule = f"is a file, and a bench book is a folder with {BOOK_FILE} in it"
        raise InputError([InputIssue(name, "", rule, "", "give the folder")])
    if not is_path(name) and not path.parent.exists():
        rule, fix = "is neither a folder nor a shipped bench book", f"shipped: {', '.join(bench_names())}"
        raise InputError([InputIssue("bench book", "", f"a name that {rule}", quoted(name), fix)])
    subject = str(path)
    text = read_text(path, "bench book")
    tables = parse_toml(text, subject)
    issues: list[InputIssue] = []
    bench = attempt(issues, partial(validate_bench, tables, subject))
    logs = {
        log: attempt(issues, partial(_log, path.parent / log, subject, log, test))
        for log, test in _logs_of(tables).items()
    }
    if bench is None or issues:
        raise InputError(with_lines(issues, text, subject))
    try:
        book = make_book(bench, {log: found for log, found in logs.items() if found}, subject)
    except InputError as error:
        raise InputError(with_lines(error.issues, text, subject)) from error
    return replace(book, text=text)


def validate_bench(tables: Mapping[str, Any], subject: str) -> Bench:
    """Make a bench book of the tables of its file; `InputError` with every issue."""
    said = tables.get("kind")
    if said != "bench":
        rule = 'must be "bench" in a bench book'
        shown = written(said) if isinstance(said, str) else ""
        raise InputError([InputIssue(subject, "kind", rule, shown, 'kind = "bench", on the first line')])
    try:
        bench = Bench.model_validate(dict(tables))
    except ValidationError as error:
        raise InputError(issues_of(error, Bench, subject)) from error
    if wrong := _wrongly_stated(bench.stated, subject):
        raise InputError(wrong)
    return bench


def _wrongly_stated(stated: Mapping[str, Any], subject: str) -> list[InputIssue]:
    """What a machine profile would refuse of what is stated, left aside that much of it is missing."""
    try:
        Machine.model_validate({"kind": "machine", "title": "-", **stated})
    except ValidationError as error:
        issues = issues_of(error, Machine, subject)
        return [replace(one, key=f"stated.{one.key}") for one in issues if one.rule != MISSING]
    return []


def make_book(bench: Bench, logs: Mapping[str, BenchLog], subject: str) -> Book:
    """Put a book and its logs together, the thermometer corrected; logs by their names in the book."""
    table, calibration = bench.instruments, None
    error_k = USUAL_THERMOMETER_K if table.thermometer_error_k is None else table.thermometer_error_k
    if bench.calibration is not None:
        given = bench.calibration
        calibration = two_points(
            given.ice_c, given.boiling_c, given.height_m, given.sea_level_hpa, table.thermometer_step_k
        )
        if wrong := _no_calibration(given, calibration.boils_c, subject):
            raise InputError(wrong)
        error_k = calibration.error_k
    instruments = Instruments(
        thermometer_error_k=error_k,
        thermometer_step_k=table.thermometer_step_k,
        scales_error_kg=table.scales_error_kg,
        scales_step_kg=table.scales_step_kg,
        jug_error_share=table.jug_error_pct / 100.0,
        stopwatch_error_s=table.stopwatch_error_s,
        meter_error_share=table.meter_error_pct / 100.0,
        meter_step_kwh=table.meter_step_kwh,
        meter_step_w=table.meter_step_w,
        voltmeter_error_share=table.voltmeter_error_pct / 100.0,
        ohmmeter_error_share=table.ohmmeter_error_pct / 100.0,
    )
    book = Book(subject, bench, instruments, calibration, ())
    return replace(book, tests=tuple(_thermal_tests(book, logs)))


def _no_calibration(given: CalibrationTable, boils_c: float, subject: str) -> list[InputIssue]:
    """Find readings that are of no ice and no boil, or of no thermometer."""
    found = []
    for key, readings_c, true_c in (("ice_c", given.ice_c, 0.0), ("boiling_c", given.boiling_c, boils_c)):
        # The mean of one that is far off and one that is not would pass.
        _, worst_c = max((abs(one_c - true_c), one_c) for one_c in readings_c)
        if abs(worst_c - true_c) > NO_THERMOMETER_K:
            what = "melting ice" if key == "ice_c" else f"boiling water at {given.height_m:g} m"
            rule = f"{worst_c - true_c:+.1f} K off in {what}, which is at {true_c:.1f} °C: no thermometer is"
            fix = "readings in °C, ice and boil not exchanged, height_m in metres (1000 feet are 305 m)"
            found.append(InputIssue(subject, f"calibration.{key}", rule, f"{worst_c:.1f} °C", fix))
    return found


def _thermal_tests(book: Book, logs: Mapping[str, BenchLog]) -> list[ThermalTest]:
    tests = []
    for table in book.bench.thermal:
        given = table.model_dump(exclude={"log", "meter"})
        given["room_c"] = book.corrected_c(table.room_c)
        for key in ("poured_c", "room_end_c"):
            if given[key] is not None:
                given[key] = book.corrected_c(given[key])
        flips = tuple((flip.s, flip.kwh) for flip in table.meter)
        tests.append(ThermalTest(**given, log=_corrected(logs[table.log], book), meter_kwh=flips))
    return tests


def _corrected(log: BenchLog, book: Book) -> BenchLog:
    if book.calibration is None:
        return log
    line = book.calibration.line

    def corrected(readings_c: Any) -> Any:
        return readings_c + line.level + line.slope * (readings_c - line.at)

    return replace(
        log, bath_c=corrected(log.bath_c), ware_c=None if log.ware_c is None else corrected(log.ware_c)
    )


def _logs_of(tables: Mapping[str, Any]) -> dict[str, int]:
    """Files that the thermal tests name, as far as they can be made out, and the first test that does."""
    thermal = tables.get("thermal")
    found: dict[str, int] = {}
    for number, test in enumerate(thermal if isinstance(thermal, list) else [], start=1):
        log = test.get("log") if isinstance(test, dict) else None
        if isinstance(log, str) and 0 < len(log) <= 200:
            found.setdefault(log, number)
    return found


def _log(path: Path, subject: str, log: str, test: int) -> BenchLog:
    """Read a log; one that leaves the folder of the book is refused."""
    if "/" in log or "\\" in log or log in (".", ".."):
        rule = "a log stands beside its book"
        raise InputError(
            [InputIssue(subject, f"thermal[{test}].log", rule, written(log), "the name of the file alone")]
        )
    if not path.exists():
        logs = sorted(other.name for other in path.parent.glob("*.csv"))
        near = get_close_matches(log, logs, 1) or [other for other in logs if other.lower() == log.lower()]
        fix = (
            f"did you mean {near[0]}?"
            if near
            else f"put it beside the book; there: {', '.join(logs) or 'no log'}"
        )
        key = f"thermal[{test}].log"
        raise InputError([InputIssue(subject, key, "names a file that is not there", written(log), fix)])
    return replace(read_log(path), name=log)
