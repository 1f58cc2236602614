"""How often the intervals of measured profiles hold the true numbers, and how wide they are.

Random machines, each with a full bench book: readings and logs by the equations of the check, with cheap
instruments that are each wrong within what is stated of them. In every second set of four the thermometers
wander (0.1 K over 60 s) beside the white noise of 0.05 K.

What is one number is inside or not. Of what varies from run to run the interval holds a share of all runs:
given are the mean of that share, and in how many books it is 95 % or more. The least width is the Cramér–Rao
bound for what the logs settle, and for all else that of a method that knew the spread of the runs and had the
same readings.

    python benchmarks/bench_coverage.py [--books 200] [--first 0] [--seed 1] [--plans] [--rows FILE]
    python benchmarks/bench_coverage.py --table FILE [FILE ...]
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from bench_books import InventedBook, invented_book
from bench_bound import NORMAL_95, bound_widths
from bench_executed import OF_THE_BOX, executed
from bench_plain import BUCKETS, EYE_KG, HAND_S, TIMES
from bench_truth import COLDEST_DAY, YEAR_DAYS, Truth, random_bench, random_truth
from scipy.stats import norm

from optimizer.measure.book import Bench
from optimizer.measure.estimate import Instruments
from optimizer.measure.measurement import Measurement, measure_book
from optimizer.measure.read_book import make_book

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
WANDER_K = 0.1

Row = dict[str, Any]


def drawn(number: int, seed: int) -> InventedBook:
    """Draw a machine and its bench book, by number."""
    rng = np.random.default_rng([seed, number])
    truth = random_truth(rng, MACHINES[number % len(MACHINES)])
    bench = random_bench(rng, WANDER_K * (number // len(MACHINES) % 2))
    return invented_book(truth, bench, rng)


def measured(book: InventedBook) -> Measurement:
    """Measure a book as the command does, but for its files."""
    return measure_book(
        make_book(Bench.model_validate(book.tables), book.logs, "book"), book.truth.machine, book.truth.like
    )


def rows_of(number: int, seed: int, *, plans: bool) -> Iterator[Row]:
    """One row an estimate; where plans are asked for, one more of what the plan came to."""
    book = drawn(number, seed)
    truth, bench = book.truth, book.point.bench
    noise = "wander" if bench.wander_k else "white"
    about: Row = {"book": number, "machine": truth.like, "noise": noise}
    began = time.process_time()
    try:
        found = measured(book)
    except Exception as error:  # a book that breaks the tool is a finding, and the others go on
        yield about | {"key": "failed", "why": f"{type(error).__name__}: {error}"}
        return
    about["took_s"] = time.process_time() - began
    least = bound_widths(truth, book.point)
    settled = {one.key: one for one in found.estimates}
    for key in [*truth.one, *truth.mean]:
        one = settled.get(key)
        row = about | {"key": key, "varies": key in truth.mean}
        row["least"] = least[key] if key in least else least_width(truth, key)
        if one is not None:
            row |= {"low": one.low, "high": one.high, "nominal": one.nominal}
            row["holds"] = content(truth, key, one.low, one.high)
            row["remarks"] = list(one.remarks)
        yield row | {"true": truth.nominal(key)}
    yield about | {"key": "remarks", "remarks": list(found.fit.remarks)}
    if plans and found.machine is not None:
        rng = np.random.default_rng([seed, number, 1])
        yield about | {"key": "plan", **asdict(executed(found.machine, truth, rng))}


def content(truth: Truth, key: str, low: float, high: float) -> float:
    """Share of all runs whose number lies between two ends; 0 or 1 where it is one number."""
    if key in truth.one:
        return float(low <= truth.one[key] <= high)
    days = np.arange(365.0)
    course = truth.swing.get(key, 0.0) * -np.cos(2.0 * np.pi * (days - COLDEST_DAY) / YEAR_DAYS)
    mean, sd = truth.mean[key] + course, truth.sd[key]
    return float(np.mean(norm.cdf(high, mean, sd) - norm.cdf(low, mean, sd)))


def least_width(truth: Truth, key: str) -> float:
    """Width that a method would give that knew the spread of the runs; of one number, its instrument's."""
    stated = Instruments()
    if key in truth.one:
        # To where the spray spits differs from run to run; the others are marks on the tank.
        share = 1.0 / BUCKETS + (key == "wash_pump.prime_l")
        return 2.0 * NORMAL_95 * float(np.sqrt(EYE_KG**2 * share + stated.scales_error_kg**2 / 3.0))
    number, sd = truth.mean[key], truth.sd[key]
    if key.endswith("power_w"):
        sd = float(np.hypot(sd, stated.meter_step_w / np.sqrt(12.0)))
    share = {
        "supply.voltage_v": stated.voltmeter_error_share,
        "wash_pump.power_w": stated.meter_error_share,
        "drain_pump.power_w": stated.meter_error_share,
    }.get(key, 0.0)
    common = share * number
    if key in ("room.air_c", "inlet.water_c"):
        common = stated.thermometer_error_k
    elif key.startswith("ware.") or key in ("tank.residual_l", "wash_pump.holdup_l", "inlet.level_l"):
        common = stated.scales_error_kg
    elif key == "drain_pump.drain_lag_s":
        common, sd = stated.stopwatch_error_s, float(np.hypot(sd, HAND_S))
    half = NORMAL_95 * np.sqrt(sd**2 * (1.0 + 1.0 / TIMES) + common**2 / 3.0)
    return 2.0 * (truth.swing.get(key, 0.0) + float(half))


def table(rows: list[Row]) -> str:
    """Coverage and width by key, as Markdown; the plans below it."""
    lines = [
        "| key | books | holds the number, or of all runs | books that hold 95 % of runs | below / above "
        "| median width / least |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for key in dict.fromkeys(row["key"] for row in rows if "true" in row):
        some = [row for row in rows if row["key"] == key]
        given = [row for row in some if "holds" in row]
        if given:
            below = sum(row["true"] < row["low"] for row in given)
            above = sum(row["true"] > row["high"] for row in given)
            runs = _both(given, _whole_books) if given[0]["varies"] else ""
            lines.append(
                f"| `{key}` | {len(given)} of {len(some)} | {_both(given, _held)} | {runs} "
                f"| {below} / {above} | {_both(given, _ratio)} |"
            )
    took = [row["took_s"] for row in rows if row["key"] == "remarks"]
    if took:
        lines.append(
            f"\nA book: median {np.median(took):.2f} s of processor time, longest {max(took):.2f} s."
        )
    failed = [row for row in rows if row["key"] == "failed"]
    lines += [f"Failed: book {row['book']}, {row['why']}" for row in failed]
    plans = [row for row in rows if row["key"] == "plan"]
    if plans:
        run = [row for row in plans if row["status"] == "run"]
        for row in run:
            row["unsafe"] = [one for one in row["unsafe"] if not one.startswith(OF_THE_BOX)]
        unsafe, short = ([row for row in run if row[name]] for name in ("unsafe", "short"))
        lines.append(
            f"\nPlans: {len(run)} of {len(plans)} books have one; {sum(row['runs'] for row in run)} runs "
            f"on the true machines; safety broken in {len(unsafe)}, something short in {len(short)}."
        )
        lines += [
            f"- book {row['book']}, {row['machine']}: {row['unsafe']} {row['short']}"
            for row in (*unsafe, *short)
        ]
    return "\n".join(lines)


def _both(rows: list[Row], figure: Callable[[list[Row]], str]) -> str:
    """A figure with white noise and with wandering thermometers."""
    parts = [[row for row in rows if row["noise"] == noise] for noise in ("white", "wander")]
    return ", ".join(figure(part) for part in parts if part)


def _held(rows: list[Row]) -> str:
    return f"{100 * np.mean([row['holds'] for row in rows]):.1f} %"


def _whole_books(rows: list[Row]) -> str:
    return f"{100 * np.mean([row['holds'] >= 0.95 for row in rows]):.0f} %"


def _ratio(rows: list[Row]) -> str:
    return f"{np.median([(row['high'] - row['low']) / row['least'] for row in rows]):.2f}"


def main() -> None:
    """Run it and print the table."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--books", type=int, default=200)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--plans", action="store_true")
    asked.add_argument("--rows", type=Path)
    asked.add_argument("--table", type=Path, nargs="+")
    given = asked.parse_args()
    rows = list[Row]()
    if given.table:
        for path in given.table:
            rows += [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
        print(table(rows))
        return
    for number in range(given.first, given.first + given.books):
        new = list(rows_of(number, given.seed, plans=given.plans))
        rows += new
        if given.rows:
            with given.rows.open("a", encoding="utf-8") as file:
                file.writelines(f"{json.dumps(row)}\n" for row in new)
    print(table(rows))


if __name__ == "__main__":
    main()
