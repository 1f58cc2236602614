"""Ctrl-C at a moment that suits."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back until the block has ended.

    Processes started in the block never see it: a terminal sends it to them as well, but they are their
    parent's to stop.

    Yields
    ------
    None
        Nothing.
    """
    arrived: list[int] = []
    # Only the main thread may have a handler. Others are never interrupted.
    main = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, lambda number, _: arrived.append(number)) if main else None
    # A process inherits what is blocked. That alone would not do: a library's thread may take the signal.
    masks = hasattr(signal, "pthread_sigmask")
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if masks else set()
    try:
        yield
    finally:
        if masks:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        if main:
            signal.signal(signal.SIGINT, before)
    if arrived and callable(before):
        before(signal.SIGINT, None)
