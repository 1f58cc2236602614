"""How many random examples the tests that draw them take, and whether they are the same every time.

Without SCULLION_EXPLORE every run draws the same examples, at most `MOST` a test, so that the suite passes
or fails by the code alone. With ``SCULLION_EXPLORE=1``, as in `.ci/run`, it draws as many as each test names,
the same every time; with ``SCULLION_EXPLORE=20`` twenty times as many, other ones each time. Tests that take
a few of many cases, such as one shipped goal a machine, take all of them wherever it is set.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TypeVar

from hypothesis import HealthCheck, settings

TIMES = int(os.environ.get("SCULLION_EXPLORE", "0"))
USUAL = 100
"""Examples of a test that names no number [1]."""
MOST = 25
"""Most examples of a test in the test command [1]; the rest of them are drawn by `.ci/run`."""

T = TypeVar("T")


def few_of(every: Iterable[T], few: Iterable[T]) -> list[T]:
    """Those of a test's cases that are among the few, in their order; all of them with SCULLION_EXPLORE."""
    among = list(few)
    return [case for case in every if TIMES or case in among]


def cases(number: int) -> settings:
    """Settings of a test that draws so many examples."""
    return settings(
        max_examples=number * TIMES or min(number, MOST),
        derandomize=TIMES < 2,
        database=None,
        deadline=None,
        print_blob=True,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
