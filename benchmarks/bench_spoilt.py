"""What the fit of the thermal logs makes of books that are worse than they say, or of poorer instruments.

Each kind of trouble in some random books with white noise: how many intervals hold their number, how wide
they are beside the least width, and what was said.

    python benchmarks/bench_spoilt.py [--books 9] [KIND ...]
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from bench_books import InventedBook, book_tables, log_name
from bench_bound import bound_widths
from bench_coverage import MACHINES, measured
from bench_plain import readings
from bench_protocol import draw_point
from bench_thermal import read
from bench_truth import random_bench, random_truth

from optimizer.errors import InputError
from optimizer.measure.estimate import Instruments
from optimizer.measure.thermal_test import ThermalTest

SEED = 77
POUR = ("hot pour", "cooling")
UNSEEN = ('7 % more water in "hot pour"', 'a room 3 K off in "hot pour"')
"""Mistakes that the tool may say that nothing would show."""
Spoil = Callable[[ThermalTest, np.random.Generator], ThermalTest]


@dataclass(frozen=True)
class Trouble:
    """What is changed.

    Attributes
    ----------
    bench : dict
        Of the instruments, as they are and as they are stated.
    spoil : callable or None
        What is done to each test.
    step_s : float
        Time between two rows of a log [s].
    """

    bench: dict[str, Any] = field(default_factory=dict)
    spoil: Spoil | None = None
    step_s: float = 10.0


def _with_bath(test: ThermalTest, bath_c: np.ndarray) -> ThermalTest:
    return replace(test, log=replace(test.log, bath_c=bath_c))


def knocked(test: ThermalTest, rng: np.random.Generator) -> ThermalTest:
    """Three readings 2 to 6 K too cold."""
    bath_c = test.log.bath_c.copy()
    at = int(rng.integers(8, len(bath_c) - 4))
    bath_c[at : at + 3] -= rng.uniform(2.0, 6.0)
    return _with_bath(test, bath_c)


def step_down(test: ThermalTest, _: np.random.Generator) -> ThermalTest:
    """A cooling that is 0.8 K colder from its middle on."""
    if test.name != "cooling":
        return test
    half = np.arange(len(test.log.bath_c)) >= len(test.log.bath_c) // 2
    return _with_bath(test, test.log.bath_c - 0.8 * half)


def heavier(test: ThermalTest, _: np.random.Generator) -> ThermalTest:
    """Half a kilogram too much written down for the pour."""
    return replace(test, water_kg=test.water_kg + 0.5) if test.name in POUR else test


def warmer(test: ThermalTest, _: np.random.Generator) -> ThermalTest:
    """A room read 3 K too warm for the pour."""
    return replace(test, room_c=test.room_c + 3.0) if test.name in POUR else test


def read_once(spoil: Spoil) -> Spoil:
    """The same where neither the water was weighed again nor the room read again."""
    return lambda test, rng: replace(spoil(test, rng), drained_kg=None, room_end_c=None)


TROUBLES = {
    "none": Trouble(),
    "knocked": Trouble(spoil=knocked),
    "step": Trouble(spoil=step_down),
    "mass": Trouble(spoil=heavier),
    "room": Trouble(spoil=warmer),
    "mass-once": Trouble(spoil=read_once(heavier)),
    "room-once": Trouble(spoil=read_once(warmer)),
    "coarse": Trouble({"stated": Instruments(thermometer_step_k=0.5)}),
    "noisy": Trouble({"white_k": 0.2}),
    "wander-120": Trouble({"wander_k": 0.2, "wander_s": 120.0}),
    "wander-300": Trouble({"wander_k": 0.1, "wander_s": 300.0}),
    "lag": Trouble({"lag_bath_s": 20.0, "lag_ware_s": 20.0}),
    "seldom": Trouble(step_s=30.0),
    "often": Trouble(step_s=1.0),
    "wrong": Trouble({"bath_off_k": 1.8, "ware_off_k": -1.8, "stated": Instruments(thermometer_error_k=2.0)}),
}


def spoilt_book(number: int, trouble: Trouble) -> InventedBook:
    """Draw a book by number, and spoil it."""
    rng = np.random.default_rng([SEED, number])
    truth = random_truth(rng, MACHINES[number % 3])
    bench = replace(random_bench(rng), **trouble.bench)
    point = draw_point(truth, bench, rng)
    tests = read(truth, point, rng, trouble.step_s)
    if trouble.spoil is not None:
        tests = tuple(trouble.spoil(test, rng) for test in tests)
    tables = book_tables(truth, readings(truth, bench, rng), tests)
    tables["instruments"] |= {
        key: getattr(bench.stated, key) for key in ("thermometer_step_k", "thermometer_error_k")
    }
    return InventedBook(truth, point, tables, {log_name(test): test.log for test in tests})


def tried(name: str, books: int) -> str:
    """Measure some books with one kind of trouble, in words."""
    trouble = TROUBLES[name]
    held, widths, said, refused = Counter[str](), list[float](), Counter[str](), 0
    given = Counter[str]()
    for number in range(books):
        book = spoilt_book(number, trouble)
        try:
            found = measured(book)
        except InputError as error:
            refused += 1
            said[error.issues[0].rule[:100]] += 1
            continue
        least = bound_widths(book.truth, book.point, trouble.step_s)
        for one in found.estimates:
            if one.key in least:
                given[one.key] += 1
                held[one.key] += one.low <= book.truth.one[one.key] <= one.high
                widths.append((one.high - one.low) / least[one.key])
        said.update(remark[:100] for remark in found.fit.remarks)
        said.update(
            f"of {one.key}: nothing would show {words}"
            for one in found.estimates
            for remark in one.remarks
            for words in UNSEEN
            if remark.startswith("nothing would show") and words in remark
        )
    short = ", ".join(f"{key} {held[key]}" for key in given if held[key] < given[key])
    line = f"{name}: {sum(held.values())} of {sum(given.values())} hold" + (f" ({short})" if short else "")
    width = f"; median width / least {np.median(widths):.2f}" if widths else ""
    lines = [f"{line}{width}; {refused} of {books} refused"]
    return "\n".join(lines + [f"    {count} x {remark}" for remark, count in said.most_common(3)])


def main() -> None:
    """Try the kinds asked for."""
    asked = argparse.ArgumentParser()
    asked.add_argument("kinds", nargs="*", metavar="KIND", help=", ".join(TROUBLES))
    asked.add_argument("--books", type=int, default=9)
    given = asked.parse_args()
    for name in given.kinds or TROUBLES:
        print(tried(name, given.books), flush=True)


if __name__ == "__main__":
    main()
