"""How often the thermal fit's intervals hold the true number, and how wide they are beside the least width.

Random machines, each with a full set of thermal logs by the equations of the check, read with cheap
instruments that are each wrong within what is stated of them. Every second machine's thermometers wander
(0.1 K over 60 s) beside the white noise of 0.05 K.

    python benchmarks/bench_coverage.py [--books 200] [--seed 1] [--rows FILE]
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from bench_bound import bound_widths
from bench_thermal import Point, draw_point, protocol, read, ware_kj_per_k
from bench_truth import Bench, Truth, random_bench, random_truth
from optimizer.measure.thermal_fit import fit_thermal

from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.profile.measured import Measured

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
WANDER_K = 0.1


def known_of(truth: Truth, bench: Bench, rng: np.random.Generator) -> Known:
    """What the plain tests of the same bench say: the ware weighed, the pump read on the meter."""
    machine = truth.machine
    element = machine.element
    error = bench.stated.scales_error_kg
    ware = ware_kj_per_k(truth) + float(rng.uniform(-error, error))
    shown_w = truth.mean["wash_pump.power_w"] * (1.0 + bench.meter_share)
    off_w = shown_w * bench.stated.meter_error_share + 0.5
    volts = truth.mean["supply.voltage_v"]
    return Known(
        ware_kj_per_k=Measured(nominal=ware, low=ware - error, high=ware + error),
        pump_w=Measured(nominal=shown_w, low=shown_w - off_w, high=shown_w + off_w),
        supply_v=Measured(nominal=volts, low=0.95 * volts, high=1.05 * volts),
        rated_v=None if element is None else element.rated_v,
        controller_w=machine.supply.controller_w,
        film_l=truth.mean["ware.film_l"],
        vent_m2=machine.tank.vent_m2,
        humidity=machine.room.humidity_pct.nominal / 100.0,
    )


def drawn(number: int, seed: int) -> tuple[Truth, Point, tuple[ThermalTest, ...], Known]:
    """Draw a machine, its bench and its logs, by number."""
    rng = np.random.default_rng([seed, number])
    truth = random_truth(rng, MACHINES[number % len(MACHINES)])
    bench = random_bench(rng, WANDER_K * (number // len(MACHINES) % 2))
    point = draw_point(truth, bench, rng)
    return truth, point, read(truth, point, rng), known_of(truth, bench, rng)


def rows_of(number: int, seed: int) -> Iterator[dict[str, Any]]:
    """One row a key: the true number, the interval, the least width."""
    truth, point, tests, known = drawn(number, seed)
    began = time.perf_counter()
    fit = fit_thermal(tests, point.bench.stated, known)
    took_s = time.perf_counter() - began
    least = bound_widths(truth, point)
    settled = {one.key: one for one in fit.estimates}
    for key in least:
        one = settled.get(key)
        yield {
            "book": number,
            "machine": truth.like,
            "noise": "wander" if point.bench.wander_k else "white",
            "key": key,
            "true": truth.one[key],
            "low": None if one is None else one.low,
            "high": None if one is None else one.high,
            "least": least[key],
            "took_s": took_s,
            "remarks": list(fit.remarks),
            "sessions": len(protocol(truth)),
        }


def table(rows: list[dict[str, Any]]) -> str:
    """Coverage and median width over the least width, by key and noise, as Markdown."""
    lines = ["| key | noise | books | inside | below | above | median width / least |", "| --- " * 7 + "|"]
    for key in dict.fromkeys(row["key"] for row in rows):
        for noise in ("white", "wander"):
            some = [row for row in rows if row["key"] == key and row["noise"] == noise]
            given = [row for row in some if row["low"] is not None]
            if not given:
                continue
            low, high, true, least = (
                np.array([row[name] for row in given]) for name in ("low", "high", "true", "least")
            )
            inside = float(np.mean((low <= true) & (true <= high)))
            ratio = float(np.median((high - low) / least))
            lines.append(
                f"| {key} | {noise} | {len(given)} of {len(some)} | {100 * inside:.1f} % | "
                f"{np.sum(true < low)} | {np.sum(true > high)} | {ratio:.2f} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Run it and print the table."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--books", type=int, default=200)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--rows", type=Path)
    given = asked.parse_args()
    rows = list[dict[str, Any]]()
    for number in range(given.first, given.first + given.books):
        try:
            rows += rows_of(number, given.seed)
        except Exception as error:  # a book that breaks the fit is a finding, and the others go on
            print(f"book {number}: {type(error).__name__}: {error}", file=sys.stderr)
        if given.rows:
            given.rows.write_text(json.dumps(rows), encoding="utf-8")
    print(table(rows))
    took = [row["took_s"] for row in rows]
    print(f"\na fit: median {np.median(took):.2f} s, longest {max(took):.2f} s")


if __name__ == "__main__":
    main()
