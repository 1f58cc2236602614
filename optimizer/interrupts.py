"""Ctrl-C held back while something runs that must not be cut off: a solver, an answer being written down."""

from __future__ import annotations

import signal
import threading
from collections.abc import Collection, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import contextmanager
from typing import TypeVar

Answer = TypeVar("Answer")

LOOKS_EVERY_S = 0.1
"""How often a wait for others looks whether Ctrl-C came [s]."""


@contextmanager
def interrupts_noted(*, held: bool) -> Iterator[Sequence[int]]:
    """Note every Ctrl-C, and end the block with a `KeyboardInterrupt` if one came, whatever swallowed it.

    For a solver: a Ctrl-C never passes for an answer of it. Yields the signals that came. Where they are
    ``held``, nothing is raised inside the block, which looks at them and stops by itself.
    """
    came: list[int] = []
    try:
        with _collected(came, held=held):
            yield came
    finally:
        if came:
            # A handler of the caller's own may return; the solve was cut off nevertheless.
            raise KeyboardInterrupt


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back until the block has ended; then it is as if it came just now.

    Worker processes that are started in the block never see it: a terminal sends it to them as well, but it
    is for their parent to stop them.
    """
    with _collected([], held=True), _blocked():
        yield


def first_ended(futures: Collection[Future[Answer]]) -> set[Future[Answer]]:
    """Wait until one has ended at the least; `KeyboardInterrupt` on a Ctrl-C, soon after it came.

    It is not raised inside the library's wait: there it may leave a future locked, whose worker is then
    waited for without end.
    """
    with interrupts_noted(held=True) as came:
        done = set[Future[Answer]]()
        while not done and not came:
            done = wait(futures, timeout=LOOKS_EVERY_S, return_when=FIRST_COMPLETED).done
    return done


@contextmanager
def _collected(came: list[int], *, held: bool) -> Iterator[None]:
    """Add each Ctrl-C to ``came``, and tell the former handler of it once, when the block has ended."""
    former = signal.getsignal(signal.SIGINT)
    # Only the main thread may have a handler; and a caller that ignores Ctrl-C goes on ignoring it.
    if threading.current_thread() is not threading.main_thread() or not callable(former):
        yield
        return

    def note(number: int, _frame: object) -> None:
        came.append(number)
        if not held:
            raise KeyboardInterrupt

    try:
        signal.signal(signal.SIGINT, note)
        yield
    finally:
        signal.signal(signal.SIGINT, former)
        if came:
            former(signal.SIGINT, None)


@contextmanager
def _blocked() -> Iterator[None]:
    """Block the signal: a process inherits what is blocked.

    That alone does not hold Ctrl-C back, as a library's thread may take the signal.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
