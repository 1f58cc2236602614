"""Cost a year of half-hourly starts at once, beside a plain loop over the same starts.

Each programme is planned, proven and costed at 17,520 starts on an invented series of half-hours, a different
price in each. The loop walks, for every start and every step of power, the prices it falls into.
Both give the same costs; the difference is printed. Best of several runs for the scan, one run for the loop.

    python benchmarks/start_scan.py [--repeats 20] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import platform
import time
from bisect import bisect_right
from importlib.metadata import version

import numpy as np

from optimizer.plan_and_prove import plan_and_prove
from optimizer.programme.inputs import load_inputs
from optimizer.starts.run_cost import cost_of_starts, power_steps
from optimizer.starts.step_function import Steps

PAIRS = ("clubhouse/everyday", "garage-120v/glasses", "narrowboat/glasses")
STARTS = 17_520
HALF_HOUR_S = 1800.0
DAY = 48
FIRST_S = 1_767_225_600.0  # 2026-01-01 UTC
COLUMNS = ("programme", "power steps", "starts", "scan ms", "loop ms", "loop / scan", "largest difference")


def year_of_prices() -> Steps:
    """A year and a day of half-hours, invented: a daily wave with noise, negative now and then."""
    number = np.arange(STARTS + DAY)
    noise = np.random.default_rng(1).normal(0.0, 0.08, number.size)
    per_kwh = 0.22 + 0.1 * np.sin(2.0 * np.pi * number / DAY) + noise
    return Steps.of(FIRST_S + HALF_HOUR_S * np.arange(number.size + 1), per_kwh)


def loop(power: Steps, price: Steps, starts_s: list[float]) -> list[float]:
    """The same in plain Python."""
    edges, watts = power.edges_s.tolist(), power.values.tolist()
    price_edges, per_kwh = price.edges_s.tolist(), price.values.tolist()
    costs = []
    for start_s in starts_s:
        total = 0.0
        for begin_s, end_s, power_w in zip(edges, edges[1:], watts, strict=False):
            at_s, until_s = start_s + begin_s, start_s + end_s
            step = bisect_right(price_edges, at_s) - 1
            while at_s < until_s:
                next_s = min(price_edges[step + 1], until_s)
                total += power_w * (next_s - at_s) * per_kwh[step]
                at_s, step = next_s, step + 1
        costs.append(total / 3.6e6)
    return costs


def row(pair: str, repeats: int) -> tuple[str, ...]:
    """Measure one programme."""
    machine, goal = pair.split("/")
    proven = plan_and_prove(load_inputs(machine, goal))
    power, price = power_steps(proven.certificate.trace, proven.plan.inputs.machine), year_of_prices()
    starts_s = FIRST_S + HALF_HOUR_S * np.arange(STARTS)
    took_s = []
    for _ in range(repeats):
        began = time.perf_counter()
        costs = cost_of_starts(power, price, starts_s)
        took_s.append(time.perf_counter() - began)
    began = time.perf_counter()
    plain = loop(power, price, starts_s.tolist())
    loop_s = time.perf_counter() - began
    scan_s, apart = min(took_s), float(np.abs(costs - plain).max())
    cells = (f"{1e3 * scan_s:.1f}", f"{1e3 * loop_s:.0f}", f"{loop_s / scan_s:.0f}", f"{apart:.0e}")
    return pair, str(power.values.size), f"{STARTS:,}", *cells


def main() -> None:
    """Measure all and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pairs", nargs="*", default=PAIRS)
    parser.add_argument("--repeats", type=int, default=20)
    asked = parser.parse_args()
    print("| " + " | ".join(COLUMNS) + " |")
    print("| " + " | ".join(["---"] * len(COLUMNS)) + " |")
    for pair in asked.pairs:
        print("| " + " | ".join(row(pair, asked.repeats)) + " |", flush=True)
    print(
        f"\nPython {platform.python_version()}, numpy {version('numpy')}; one core, best of {asked.repeats}"
    )


if __name__ == "__main__":
    main()
