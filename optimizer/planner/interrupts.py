"""Ctrl-C while a solver runs: it ends the command, and never passes for an answer of the solver."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager


@contextmanager
def interrupts_noted(*, held: bool) -> Iterator[Sequence[int]]:
    """Note every Ctrl-C, and end the block with a `KeyboardInterrupt` if one came, whatever swallowed it.

    Yields the signals that came. Where they are ``held``, nothing is raised inside the block, which looks at
    them and stops by itself.
    """
    came: list[int] = []
    former = signal.getsignal(signal.SIGINT)
    # Only the main thread may have a handler; and a caller that ignores Ctrl-C goes on ignoring it.
    if threading.current_thread() is not threading.main_thread() or not callable(former):
        yield came
        return

    def note(number: int, _frame: object) -> None:
        came.append(number)
        if not held:
            raise KeyboardInterrupt

    try:
        signal.signal(signal.SIGINT, note)
        yield came
    finally:
        signal.signal(signal.SIGINT, former)
        if came:
            former(signal.SIGINT, None)
            # A handler of the caller's own may return; the solve was cut off nevertheless.
            raise KeyboardInterrupt
