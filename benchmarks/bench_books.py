"""Whole bench books of invented machines: tables and logs, or the files of one.

The shipped book of the clubhouse is made by this script; its true numbers are the nominal ones of the shipped
profile. The same seed gives the same bytes.

    python benchmarks/bench_books.py FOLDER [--like clubhouse] [--seed 9] [--random]
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from bench_plain import Readings, readings
from bench_protocol import STEP_S, Point, draw_point
from bench_thermal import read
from bench_truth import Bench, Truth, random_bench, random_truth, true_shipped

from optimizer.measure.bench_log import BenchLog
from optimizer.measure.thermal_test import ThermalTest

Tables = dict[str, Any]
SEED = 9

INVENTED = """\
# Invented data: no such machine stands anywhere. Readings and logs were made by
# a script (benchmarks/bench_books.py) from the equations of the check and the
# nominal numbers of the shipped machine {like}, with the noise, the last
# digits and the errors of cheap instruments.
#
# Caution: mains voltage, a hot element and scalding water. Measure powers and
# currents through a plug-in meter, never on bare terminals; have the wiring
# done or checked by a licensed electrician; local codes come first.
"""


@dataclass(frozen=True)
class InventedBook:
    """A bench book with the truth behind it.

    Attributes
    ----------
    truth : Truth
        The machine as it is.
    point : Point
        What the thermal tests were run at.
    tables : dict
        The book as its file holds it.
    logs : dict of str to BenchLog
        The logs by the names that the book calls them.
    """

    truth: Truth
    point: Point
    tables: Tables
    logs: Mapping[str, BenchLog]


def invented_book(
    truth: Truth, bench: Bench, rng: np.random.Generator, step_s: float = STEP_S
) -> InventedBook:
    """Make all readings and logs of a machine."""
    point = draw_point(truth, bench, rng)
    tests = read(truth, point, rng, step_s)
    tables = book_tables(truth, readings(truth, bench, rng), tests)
    return InventedBook(truth, point, tables, {log_name(test): test.log for test in tests})


def book_tables(truth: Truth, said: Readings, tests: tuple[ThermalTest, ...]) -> Tables:
    """Write down readings and tests as a bench book holds them."""
    buckets = {
        "spits": said.to_spit_kg,
        "covers": said.to_cover_kg,
        "lip": said.to_lip_kg,
        "switch": said.switch_kg,
    }
    tables: Tables = {
        "kind": "bench",
        "title": f"Bench of an invented machine like {truth.like}",
        "about": f"Invented. A machine like {truth.like}, measured by a script.",
        "instruments": {
            "thermometer_error_k": 0.5,
            "thermometer_step_k": 0.1,
            "scales_error_kg": 0.005,
            "scales_step_kg": 0.001,
            "stopwatch_error_s": 0.3,
            "meter_error_pct": 2,
            "meter_step_w": 1,
            "meter_step_kwh": 0.01,
            "voltmeter_error_pct": 1,
        },
        "voltages": {
            "idle": [{"v": idle, "hour": hour, "on": on} for on, hour, idle, _ in said.volts],
            "loaded": [{"v": loaded, "hour": hour, "on": on} for on, hour, _, loaded in said.volts],
        },
        "temperatures": {
            "inlet": [{"c": c, "on": on} for on, c in said.inlet_c],
            "room": [{"c": c, "on": on} for on, c in said.room_c],
        },
        "fills": {
            "water_c": round(truth.mean["inlet.water_c"]),
            "runs": [{"kg": kg, "s": s} for kg, s in said.fills],
        },
        "drains": {
            "water_c": 20,
            "runs": [{"kg": kg, "s": s, "lag_s": round(none - s, 1)} for kg, s, none in said.drains],
        },
        "sponge": {"kg": list(said.sponge_kg)},
        "buckets": {name: {"kg": list(kg)} for name, kg in buckets.items() if kg},
        "level_drop": {"kg": list(said.drop_kg)},
        "ware": {
            name: {"dry_kg": list(dry), "wet_kg": list(said.wet_kg[name])}
            for name, dry in said.dry_kg.items()
        },
        "meter": {
            part: [{"w": w, "v": v} for w, v in rows]
            for part, rows in {"controller": said.controller_w, **said.parts_w}.items()
        },
        "thermal": [_thermal(test) for test in tests],
    }
    if truth.machine.element is not None:
        tables["element"] = {"rated_v": truth.machine.element.rated_v}
    return tables


def stated_of(truth: Truth) -> Tables:
    """What is printed on a part, chosen, or told: all of the profile that no test of the book measures."""
    told = {*truth.one, *truth.mean, "supply.controller_w", "element.rated_v"}
    tables = truth.machine.model_dump(mode="json", exclude_unset=True)
    stated: Tables = {key: tables[key] for key in ("usual_circuit", "usual_tariff")}
    for name, table in tables.items():
        if isinstance(table, dict) and name != "about":
            rest = {key: value for key, value in table.items() if f"{name}.{key}" not in told}
            stated |= {name: rest} if rest else {}
    return stated


def log_name(test: ThermalTest) -> str:
    return f"{test.name.replace(', ', '-').replace(' ', '-')}.csv"


def _thermal(test: ThermalTest) -> Tables:
    table: Tables = {
        "name": test.name,
        "log": log_name(test),
        "water_kg": test.water_kg,
        "room_c": test.room_c,
        "pump_on": test.pump_on,
        "ware_in": test.ware_in,
        "stood_at_room": test.stood_at_room,
        "room_error_k": test.room_error_k,
    }
    for key in ("poured_c", "element_from_s", "voltage_v", "drained_kg", "room_end_c"):
        if getattr(test, key) is not None:
            table[key] = getattr(test, key)
    if test.follows:
        table["follows"] = test.follows
    if test.meter_kwh:
        table["meter"] = [{"s": s, "kwh": kwh} for s, kwh in test.meter_kwh]
    return table


def log_text(log: BenchLog) -> str:
    """Write a log as CSV."""
    columns = {"time_s": log.time_s, "bath_c": log.bath_c}
    if log.ware_c is not None:
        columns["ware_c"] = log.ware_c
    lines = [",".join(columns)]
    lines += [",".join(f"{value:g}" for value in row) for row in zip(*columns.values(), strict=True)]
    return "\n".join(lines) + "\n"


REMARKS = {
    "instruments": "data sheets; the scales with a litre of water on them",
    "voltages": "at the machine's socket: off, and with its element on, the 15th of each month",
    "temperatures": "thermometer under the running inlet and beside the machine, the 15th of each month",
    "fills": "bucket, kitchen scales and stopwatch",
    "drains": "the same, hose at its real height; lag_s: from empty until no more came",
    "sponge": "taken up after a drain, the sponge's own weight off",
    "buckets": "poured in until it spat, stood 50 mm over the element; reached the lip with a\n"
    "# full load in",
    "level_drop": "poured back up to the mark while it sprayed",
    "ware": "eight full loads, dry and wet after a drain",
    "meter": "plug-in power meter, one part on at a time",
    "element": "name-plate",
    "stated": "printed on a part, chosen, or told: no test here measures it",
}


def toml_text(tables: Mapping[str, Any], path: str = "") -> str:
    """Write tables as TOML: numbers and lists of a table first, then its tables."""
    lines, inner = list[str](), list[str]()
    for name, value in tables.items():
        key = f"{path}.{name}" if path else name
        if name == "thermal":
            inner += [f"\n[[{key}]]\n{toml_text(row)}" for row in value]
        elif isinstance(value, Mapping) and "nominal" not in value:
            body = toml_text(value, key)
            if key in REMARKS:
                inner.append(f"\n# {REMARKS[key]}")
            inner.append(
                f"\n[{key}]\n{body}" if any(not isinstance(one, Mapping) for one in value.values()) else body
            )
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            rows = [f"    {{ {', '.join(f'{k} = {_value(v)}' for k, v in row.items())} }}," for row in value]
            lines.append("\n".join([f"{name} = [", *rows, "]"]))
        else:
            lines.append(f"{name} = {_value(value)}")
    return "\n".join([*lines, ""] if lines else []) + "".join(inner)


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_value(one)}' for key, one in value.items())} }}"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    return f"{value:.10g}"


def write_book(book: InventedBook, folder: Path) -> None:
    """Write a book and its logs into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, log in book.logs.items():
        (folder / name).write_text(log_text(log), encoding="utf-8")
    text = f"{INVENTED.format(like=book.truth.like)}\n{toml_text(book.tables)}"
    (folder / "bench.toml").write_text(text, encoding="utf-8")


def main(words: Sequence[str] | None = None) -> None:
    """Write one book; the words of the command line where none are given."""
    asked = argparse.ArgumentParser()
    asked.add_argument("folder", type=Path)
    asked.add_argument("--like", default="clubhouse")
    asked.add_argument("--seed", type=int, default=SEED)
    asked.add_argument("--random", action="store_true", help="move every number of the machine")
    given = asked.parse_args(words)
    rng = np.random.default_rng(given.seed)
    truth = random_truth(rng, given.like) if given.random else true_shipped(given.like)
    book = invented_book(truth, random_bench(rng), rng)
    book.tables["stated"] = stated_of(truth)
    write_book(book, given.folder)


if __name__ == "__main__":
    main()
