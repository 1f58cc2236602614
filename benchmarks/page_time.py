"""How long the page of a plan takes once plan, check and faults are there, and how large it is.

python benchmarks/page_time.py [--pairs clubhouse/everyday,narrowboat/nursery]
"""

from __future__ import annotations

import argparse
import time

import optimizer

PAIRS = "clubhouse/everyday,clubhouse/fresh-cups,garage-120v/nursery,narrowboat/everyday,cold-shed/fresh-cups"


def main() -> None:
    """Print a table: the first page of a process loads the libraries, the second does not."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--pairs", default=PAIRS)
    print("| pair | first page, s of processor time | second | kB |")
    print("| --- | ---: | ---: | ---: |")
    for pair in parser.parse_args().pairs.split(","):
        planned = optimizer.plan(optimizer.load(*pair.split("/")))
        faults = optimizer.single_faults(planned)
        took, size = [], 0
        for _ in range(2):
            started = time.process_time()
            size = len(optimizer.plan_page(planned, faults).encode())
            took.append(time.process_time() - started)
        print(f"| {pair} | {took[0]:.2f} | {took[1]:.2f} | {size / 1000:.0f} |")


if __name__ == "__main__":
    main()
