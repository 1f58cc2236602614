"""What the workers of one run of the tests do once between them: compile functions, read test files, plan.

A run of one worker has nobody to share with, and compiles nothing beforehand.
"""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimizer.check.bound_kernel_batch import all_steps
from optimizer.compiled import is_ready
from optimizer.planner.simulated_rounds import all_rounds

COMPILES = "compiles"
"""Whoever compiles has the lock of this name."""

PLANS = """
import planner_cases
for machine in ("clubhouse", "narrowboat"):
    planner_cases.answer(machine, "everyday")
"""
"""Calls nearly every compiled function, a thermostat's too, and leaves two plans that many tests ask for."""


@contextmanager
def one_at_a_time(folder: Path, name: str) -> Iterator[None]:
    """Let one process at a time into the block, and the next one when it ends, however it does."""
    with (folder / f"{name}.lock").open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def begin_to_compile(folder: Path) -> subprocess.Popen[bytes] | None:
    """Have a process compile while the workers collect, unless that is done; each would compile it all."""
    if is_ready(all_rounds) and is_ready(all_steps):
        return None
    here = Path(__file__).resolve().parent
    env = os.environ | {"PYTHONPATH": os.pathsep.join((str(here), str(here.parent)))}
    with (folder / f"{COMPILES}.lock").open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        # The process keeps the file open, and with it the lock, until it ends.
        return subprocess.Popen(
            [sys.executable, "-c", PLANS],
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=[file.fileno()],
            start_new_session=True,
        )


@contextmanager
def written_down(folder: Path, name: str) -> Iterator[None]:
    """Collect a file of tests; what pytest makes of its asserts is kept, so that one worker makes it.

    Beside the compiled functions, in `__pycache__`; three seconds a worker else, where no bytecode is kept.
    """
    with one_at_a_time(folder, name):
        asked, sys.dont_write_bytecode = sys.dont_write_bytecode, False
        try:
            yield
        finally:
            sys.dont_write_bytecode = asked
