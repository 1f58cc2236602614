"""A second thread for compiled loops, which hold no lock of Python's: one half of a loop beside the other.

Each half writes places of its own, so that the answer is the same to the last bit on one core and on two.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from multiprocessing import parent_process
from queue import SimpleQueue

Half = Callable[[int, int], None]
"""Does the places of a loop from the first number to before the second."""

_Reply = SimpleQueue[BaseException | None]

_Tasks = SimpleQueue[tuple[Half, int, int, _Reply]]

_tasks_of: dict[int, _Tasks] = {}
"""What waits for the second thread, by process: one that was forked has a thread of its own."""


def in_halves(half: Half, begin: int, end: int, least: int) -> None:
    """Do a loop in two halves side by side; as one where it has too few places, or there is one core.

    To hand a half over takes some 50 µs. A worker process does its loops alone: others are at work on the
    other cores.
    """
    if end - begin < least or not _has_another_core():
        half(begin, end)
        return
    tasks = _tasks_of.get(os.getpid())
    if tasks is None:
        tasks = _tasks_of[os.getpid()] = SimpleQueue()
        threading.Thread(target=_work, args=(tasks,), daemon=True).start()
    middle, reply = (begin + end) // 2, _Reply()
    tasks.put((half, middle, end, reply))
    half(begin, middle)
    error = reply.get()
    if error is not None:
        raise error


def _has_another_core() -> bool:
    """Whether a second thread has a core to run on."""
    if parent_process() is not None:
        return False
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) > 1
    return (os.cpu_count() or 1) > 1


def _work(tasks: _Tasks) -> None:
    """Do second halves for as long as the process lives."""
    while True:
        half, begin, end, reply = tasks.get()
        try:
            half(begin, end)
        except BaseException as error:
            reply.put(error)
        else:
            reply.put(None)
