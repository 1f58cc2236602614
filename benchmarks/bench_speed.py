"""How long `scullion measure` takes: a full book of 8 logs of 3,600 rows, and one log of a million rows more.

Processor time of the whole command, and time by the clock.

    python benchmarks/bench_speed.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import bench_protocol
import numpy as np
from bench_books import invented_book, stated_of, write_book
from bench_protocol import Session
from bench_truth import random_bench, true_shipped

HOUR_S = 3599.0
LONG = (
    Session("pump alone, then element", HOUR_S, element_from_s=2400.0),
    Session("hot pour", HOUR_S, poured_c=60.0),
    Session("cooling", HOUR_S, pump_on=False, follows="hot pour"),
    Session("ware, still", HOUR_S, pump_on=False, ware_in=True, poured_c=52.0),
    Session("ware, spraying", HOUR_S, ware_in=True, follows="ware, still"),
    Session("second pour", HOUR_S, pump_on=False, poured_c=70.0),
    Session("spraying", HOUR_S, follows="second pour"),
    Session("still again", HOUR_S, pump_on=False, follows="spraying"),
)
MILLION_S = 0.0036
"""Step of a log that has a million rows in the hour [s]."""


def timed(folder: Path) -> tuple[float, float]:
    """Measure a book by the command; processor time and time by the clock [s]."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    command = [sys.executable, "-m", "optimizer", "measure", str(folder), "--json"]
    done = subprocess.run(command, capture_output=True, check=False, text=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise SystemExit(done.stderr)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return spent, time.perf_counter() - began


def finer(path: Path, rows: int, rng: np.random.Generator) -> None:
    """Write a log again with so many rows over the same time: straight lines, and noise."""
    head, *lines = path.read_text(encoding="utf-8").splitlines()
    table = np.array([[float(cell) for cell in line.split(",")] for line in lines])
    times = np.linspace(table[0, 0], table[-1, 0], rows)
    columns = [np.interp(times, table[:, 0], column) for column in table.T[1:]]
    columns = [np.round(column + 0.05 * rng.standard_normal(rows), 1) for column in columns]
    whole = np.stack([np.round(times, 4), *columns], axis=1)
    np.savetxt(path, whole, fmt=["%.4f", *["%.1f"] * len(columns)], delimiter=",", header=head, comments="")


def main() -> None:
    """Write the books, time the command, print the figures."""
    rng = np.random.default_rng(4)
    truth = true_shipped("clubhouse")
    bench_protocol.PROTOCOL = LONG
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        book = invented_book(truth, random_bench(rng), rng, step_s=1.0)
        book.tables["stated"] = stated_of(truth)
        write_book(book, folder)
        spent_s, took_s = timed(folder)
        print(
            f"8 logs of 3,600 rows: {spent_s:.1f} s of processor time, {took_s:.1f} s by the clock",
            flush=True,
        )
        finer(folder / "cooling.csv", 1_000_000, rng)
        spent_s, took_s = timed(folder)
        print(f"one of them of 1,000,000 rows: {spent_s:.1f} s, {took_s:.1f} s by the clock")


if __name__ == "__main__":
    main()
