"""What a bench book says, as tables, as a profile's text and as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from optimizer.measure.bench_tests import BenchTest, settled_by
from optimizer.measure.estimate import Estimate
from optimizer.measure.measured_profile import Part, count_readings, missing_keys, nested
from optimizer.measure.measurement import Measurement, Moved
from optimizer.measure.thermal_test import Inseparable
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.profile.messages import unit_of
from optimizer.programme.cautions import ELEMENT, HOT, LOCAL, UNATTENDED
from optimizer.programme.earth_fault import mains_caution
from optimizer.report.layout import NOTHING, bullets, columns, command_line, section, wrapped
from optimizer.report.numbers import count
from optimizer.units import short

METER = (
    "Measure powers through a plug-in meter, never on bare terminals. Unplug before you touch a part, put an "
    "ohm-meter on it or reach into the water."
)
POUR = "Pour hot water from low down, gloves on, nobody near."
CAUTIONS = (mains_caution(None), METER, ELEMENT, HOT, POUR, UNATTENDED, LOCAL)

MOST_IN_FULL = 100_000
"""Readings that are written in full [1]."""

METHODS = {
    "95 % of runs": "95 % of runs lie between the ends, with 95 % confidence (ISO 16269-6)",
    "95 % interval": "one number, 95 % interval of its mean, instruments included (GUM)",
    "one reading": "instrument error and, for what differs from run to run, a stated spread",
    "curve of the year": "a year's swing through the dates, and 95 % of days at either end of it",
    "joint fit": "95 % interval of the fit of all thermal logs at once (profile likelihood)",
    "few days": "what the readings show, and what a supplier may deliver in a year",
    "few readings": "two to five readings: instrument error and a stated spread about their mean",
}
"""By method as it stands in the table: what it means."""


def measure_report(found: Measurement, before: Machine | None = None, written: str | None = None) -> str:
    """Lay out what was measured, what stands against it, what is missing, and what moved."""
    parts = [wrapped(_verdict(found))]
    if found.estimates:
        parts.append(section("MEASURED", _table(found.estimates)))
        parts.append(_legend(found.estimates))
    against = [f"{one.key}: {remark}" for one in found.estimates for remark in one.remarks]
    if against:
        parts.append(section("WHAT STANDS AGAINST THEM", bullets(f"{one}." for one in against)))
    if found.fit.unsettled:
        parts.append(section("WHAT THE LOGS LEAVE OPEN", bullets(map(_open, found.fit.unsettled))))
    seen = [*found.fit.remarks, *_log_remarks(found)]
    if seen:
        parts.append(section("WHAT THE LOGS SHOW", bullets(f"{one}." for one in seen)))
    rest = list(_rest(found))
    for source, title in (("stated", "STATED IN THE BOOK"), ("like", f"NOT MEASURED, FROM {found.like}")):
        there = [part for part in rest if part.source == source]
        if there:
            parts.append(section(title, _rest_table(there)))
    missing = missing_keys(found.parts)
    if missing:
        parts.append(section("MISSING FOR A PROFILE", bullets(_missing(missing))))
    if before is not None:
        parts.append(section("OLD BESIDE NEW", _moved_table(found.moved(before))))
    parts.append(section("NEXT", _next(written, bool(missing))))
    parts.append(section("CAUTIONS", bullets(CAUTIONS)))
    return "\n\n".join(parts)


def _verdict(found: Measurement) -> str:
    rest = list(_rest(found))
    many = f"{found.book.bench.title}: {count(len(found.estimates), 'number')} measured"
    others = [
        f"{amount} {words}"
        for source, words in (("stated", "stated"), ("like", f"not measured, from {found.like}"))
        if (amount := sum(part.source == source for part in rest))
    ]
    missing = missing_keys(found.parts)
    others += [f"{len(missing)} missing for a profile"] * bool(missing)
    return f"{', '.join([many, *others])}."


def _rest(found: Measurement) -> Iterator[Part]:
    """What was not measured; what the file calls itself is no fact of the machine."""
    return (
        part for part in found.parts.values() if part.estimate is None and part.key not in ("kind", "title")
    )


def _table(estimates: tuple[Estimate, ...]) -> str:
    rows = [["number", "nominal", "low", "high", "unit", "n", "method"]]
    for one in estimates:
        digits = (short(one.nominal), short(one.low), short(one.high))
        rows.append([one.key, *digits, _unit(one.key), _many(one.readings), _method(one)])
    return columns(rows)


def _many(readings: int) -> str:
    """Readings, in thousands where they are many."""
    return str(readings) if readings < MOST_IN_FULL else f"{readings // 1000}k"


def _unit(key: str) -> str:
    return unit_of(Machine, tuple(key.split(".")))


def _legend(estimates: tuple[Estimate, ...]) -> str:
    used = dict.fromkeys(map(_method, estimates))
    lines = [f"{method}: {METHODS[method]}." for method in used if method in METHODS]
    return "\n".join(map(wrapped, ["n: readings, of a log its rows (k: thousands).", *lines]))


def _method(one: Estimate) -> str:
    """The method, short enough for a table."""
    return one.method.partition(" of the thermal logs")[0]


def _open(one: Inseparable) -> str:
    sentence = one.sentence[:1].upper() + one.sentence[1:]
    return f"{sentence}. The test for it: {one.test}; {one.minutes:.0f} min of logging."


def _log_remarks(found: Measurement) -> list[str]:
    logs = {test.log.name: test.log for test in found.book.tests}
    return [f"{name}: {remark}" for name, log in logs.items() for remark in log.remarks]


def _rest_table(parts: list[Part]) -> str:
    rows = [["number", "value", "unit", "the test for it", "min"]]
    for part in parts:
        test = settled_by(part.key)
        work = [test.name, f"{test.minutes:.0f}"] if test else [NOTHING, NOTHING]
        rows.append([part.key, _value(part.value), _unit(part.key), *work])
    return columns(rows)


def _value(value: Any) -> str:
    if isinstance(value, str | bool):
        return str(value)
    ends = Measured.model_validate(value)
    if ends.low == ends.high:
        return short(ends.nominal)
    return f"{short(ends.nominal)} ({short(ends.low)} to {short(ends.high)})"


def _missing(keys: Sequence[str]) -> Iterator[str]:
    """Keys that are missing, by the test that settles them."""
    by_test: dict[BenchTest | None, list[str]] = {}
    for key in keys:
        by_test.setdefault(settled_by(key), []).append(key)
    for test, of_test in by_test.items():
        if test is None:
            yield f"{', '.join(of_test)}: in [stated] of the book, or from --like."
        else:
            yield f"{', '.join(of_test)}: {test.do} ({test.name}, {test.minutes:.0f} min)."


def _moved_table(moved: tuple[Moved, ...]) -> str:
    if not moved:
        return "Nothing moved."
    rows = [["key", "old", "new", "unit"]]
    rows += [[one.key, _shown(one.old), _shown(one.new), _unit(one.key)] for one in moved]
    return columns(rows)


def _shown(value: Any) -> str:
    if value is None:
        return NOTHING
    return _value(value)


def _next(written: str | None, missing: bool) -> str:
    if missing:
        words = "A machine profile that yours is like fills in what is missing: --like clubhouse, for one."
        return wrapped(words)
    machine = written or "mine.toml"
    profile = "this profile" if written else "the profile that --out writes"
    lines = [
        wrapped(f"Plan with {profile}, and ask which measurement is worth repeating:"),
        command_line(["scullion", "plan", machine, "everyday"], "  "),
        command_line(["scullion", "worth", machine, "everyday"], "  "),
    ]
    return "\n".join(lines)


def measure_to_dict(found: Measurement, before: Machine | None = None) -> dict[str, Any]:
    """Give the same as plain data."""
    return {
        "title": found.book.bench.title,
        "like": found.like,
        "estimates": [{**asdict(one), "unit": _unit(one.key)} for one in found.estimates],
        "unsettled": [asdict(one) for one in found.fit.unsettled],
        "remarks": [*found.fit.remarks, *_log_remarks(found)],
        "not_measured": [
            {"key": part.key, "value": part.value, "source": part.source}
            for part in found.parts.values()
            if part.estimate is None
        ],
        "missing": missing_keys(found.parts),
        "moved": None if before is None else [asdict(one) for one in found.moved(before)],
        "profile": None if found.machine is None else nested(found.parts),
        "cautions": list(CAUTIONS),
    }


def measured_note(found: Measurement, path: str) -> str:
    """Say what was written."""
    numbers = f"{count(len(found.estimates), 'number')} measured"
    return wrapped(
        f"Wrote {path}: {numbers}, {count_readings(sum(one.readings for one in found.estimates))}."
    )


def plotted_note(many: int, folder: str) -> str:
    """Say what was drawn."""
    return wrapped(f"Drew {count(many, 'picture')} into {folder}.")
