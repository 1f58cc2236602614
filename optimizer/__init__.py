"""scullion: choose, prove and emit the timings of a home-made dish-washing machine.

The names below are the library; ``docs/library.md`` shows them at work. The folders follow the job:
``profile`` describes machine, goal, circuit and tariff, ``physics`` holds the formulas, ``programme`` is what
is chosen, ``planner`` chooses it, ``check`` proves it by a simulation of its own, ``emit`` writes it for the
controller. ``plan_and_prove`` plans and checks until the check passes, ``starts`` says when to run it,
``whatif`` what a change would bring, ``batch`` works on many cases, ``report`` lays answers out and ``cli``
prints them; ``page`` makes HTML of them.
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import TYPE_CHECKING, Any

from optimizer.errors import (
    CheckFailedError,
    InputError,
    InputIssue,
    NoPlanError,
    ScullionError,
    SolverError,
)

# The arrays are small: more threads of the linear algebra cost a quarter more processor time (ten times as
# much where a bench book is fitted on a busy machine), and their sums may differ in the last digit with the
# number of cores. OpenBLAS reads the variable as numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from optimizer.library.cost_of_starts import cost_starts, plan_and_start
    from optimizer.library.firmware import (
        emit_constants,
        emit_controller,
        emit_firmware,
        emit_programmes,
        walk_through,
    )
    from optimizer.library.job import (
        check_plan,
        load,
        plan,
        plan_page,
        read_plan,
        shipped,
        single_faults,
    )
    from optimizer.library.studies import (
        compare,
        explain,
        frontier,
        measure_book,
        upgrades,
        worth,
    )

__version__ = "0.2.0"

__all__ = [
    "CheckFailedError",
    "InputError",
    "InputIssue",
    "NoPlanError",
    "ScullionError",
    "SolverError",
    "check_plan",
    "compare",
    "cost_starts",
    "emit_constants",
    "emit_controller",
    "emit_firmware",
    "emit_programmes",
    "explain",
    "frontier",
    "load",
    "measure_book",
    "plan",
    "plan_and_start",
    "plan_page",
    "read_plan",
    "shipped",
    "single_faults",
    "upgrades",
    "walk_through",
    "worth",
]

_IN = {
    **dict.fromkeys(("compare", "explain", "frontier", "measure_book", "upgrades", "worth"), "studies"),
    **dict.fromkeys(("cost_starts", "plan_and_start"), "cost_of_starts"),
    **dict.fromkeys(("emit_constants", "emit_controller", "emit_firmware"), "firmware"),
    **dict.fromkeys(("emit_programmes", "walk_through"), "firmware"),
}
"""Modules of `optimizer.library` by what stands in them; all else stands in `job`."""


def __getattr__(name: str) -> Any:
    """Load the library when one of its functions is asked for: ``scullion --help`` needs none of it."""
    if name in __all__:
        return getattr(import_module(f"optimizer.library.{_IN.get(name, 'job')}"), name)
    raise AttributeError(f"module 'optimizer' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
