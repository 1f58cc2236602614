"""A second thread for compiled loops, which hold no lock of Python's: one half of a loop beside the other.

Each half writes places of its own, so that the answer is the same to the last bit on one core and on two.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from functools import cache
from multiprocessing import parent_process

from optimizer.second_process import core_left

Half = Callable[[int, int], None]
"""Does the places of a loop from the first number to before the second."""


def in_halves(half: Half, begin: int, end: int, least: int) -> None:
    """Do a loop in two halves side by side; as one where it has too few places, or there is one core.

    To hand a half over takes some 50 µs. A worker process does its loops alone: others are at work on the
    other cores. So does either one of two processes (`second_process.py`) while the other is at work.
    """
    if end - begin < least or not _has_another_core():
        half(begin, end)
        return
    middle = (begin + end) // 2
    other = _second_thread(os.getpid()).submit(half, middle, end)
    try:
        half(begin, middle)
    finally:
        # Nothing is written any more once this is left.
        wait([other])
    other.result()


@cache
def _second_thread(_: int) -> ThreadPoolExecutor:
    """The second thread of a process: one that was forked has a thread of its own."""
    return ThreadPoolExecutor(max_workers=1, thread_name_prefix="second")


def _has_another_core() -> bool:
    """Whether a second thread has a core to run on."""
    left = core_left()
    if left is False or (left is None and parent_process() is not None):
        return False
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) > 1
    return (os.cpu_count() or 1) > 1
