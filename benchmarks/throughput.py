"""How many cases a study plans and proves in a minute, with one worker process and with more.

python benchmarks/throughput.py [--jobs 1,2] [--rounds 2]

Run it with nothing else on the computer: the processors that the workers got are printed beside the figures.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import time
from collections.abc import Sequence
from importlib.metadata import version

from optimizer.batch.cases import Case, StudyRequest, read_cases
from optimizer.batch.run_cases import WorkerSettings, run_cases

MACHINES = ("clubhouse", "garage-120v")
GOALS = ("eco-everyday", "everyday", "glasses", "roasting-tins")


def timed(cases: Sequence[Case], jobs: int) -> tuple[float, float]:
    """Seconds by the clock and of processor time for all cases, the start of the workers included."""
    before, started = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    study = run_cases(cases, WorkerSettings(jobs=jobs))
    seconds, after = time.perf_counter() - started, resource.getrusage(resource.RUSAGE_CHILDREN)
    unfinished = [result.status for result in study.results if result.status != "planned"]
    if unfinished or len(study.results) != len(cases):
        raise SystemExit(f"not every case was planned: {unfinished}")
    return seconds, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print a table, the number of workers taken in turn so that a slow minute falls on each."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", default="1,2")
    parser.add_argument("--rounds", type=int, default=2)
    asked = parser.parse_args()
    every = [int(part) for part in asked.jobs.split(",")]
    cases = read_cases(StudyRequest(MACHINES, GOALS))
    took: dict[int, list[tuple[float, float]]] = {jobs: [] for jobs in every}
    for _ in range(asked.rounds):
        for jobs in every:
            took[jobs].append(timed(cases, jobs))
    print("| workers | cases a minute | over one worker | processors got |")
    print("| --- | --- | --- | --- |")
    first = statistics.median(seconds for seconds, _ in took[every[0]])
    for jobs in every:
        seconds = statistics.median(wall for wall, _ in took[jobs])
        got = statistics.median(cpu / wall for wall, cpu in took[jobs])
        print(f"| {jobs} | {60.0 * len(cases) / seconds:.0f} | {first / seconds:.2f} | {got:.2f} |")
    print(f"\n{len(cases)} cases; highspy {version('highspy')}, scipy {version('scipy')}")


if __name__ == "__main__":
    main()
