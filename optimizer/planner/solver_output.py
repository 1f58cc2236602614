"""What solvers print: HiGHS writes to file descriptor 1 now and then, and stdout carries the answer only."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def stdout_closed() -> Iterator[None]:
    """Send file descriptor 1 to nowhere: HiGHS, SciPy's as well, prints there whatever it is told."""
    if sys.stdout is not None:
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # no descriptor 1 at all: nothing to protect
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)
