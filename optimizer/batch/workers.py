"""Ctrl-C at a moment that suits."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

from optimizer.batch.cases import Case
from optimizer.batch.solve_case import follow_parent, solve_case

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back until the block has ended.

    WorkerProcesses started in the block never see it: a terminal sends it to them as well, but they are their
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


class WorkerDiedError(Exception):
    """The worker that had the case is gone."""


class Workers(Protocol):
    """Workers.

    Attributes
    ----------
    places : int
        Cases that may be with the crew at once [1].
    tries : int
        How often a case is given to it when its worker dies [1].
    obituary : str
        What to say of a case when that was not enough.
    """

    places: int
    tries: int
    obituary: str

    def submit(self, case: Case) -> Future[str]:
        """Give it a case.

        Parameters
        ----------
        case : Case
            The case.

        Returns
        -------
        Future
            Its answer to come.
        """

    def answer(self, ended: Future[str]) -> str:
        """Take the answer of a future that has ended.

        Parameters
        ----------
        ended : Future
            The future.

        Returns
        -------
        str
            The answer.

        Raises
        ------
        WorkerDiedError
            Its worker died.
        """

    def stop(self, *, at_once: bool) -> None:
        """Send the workers home.

        Parameters
        ----------
        at_once : bool
            Whether cases under work are given up.
        """


class WorkerProcesses:
    """Worker processes of this computer, each behind an executor of its own.

    A pool of several breaks as a whole when one of its processes dies, and does not say which case that one
    had. A process a pool costs nothing more and leaves no doubt.

    Parameters
    ----------
    places : int
        Number of processes [1].
    """

    tries = 2
    obituary = "its worker process died, twice: killed from outside, or out of memory"

    def __init__(self, places: int) -> None:
        self.places = places
        self._idle: list[ProcessPoolExecutor] = []
        self._busy: dict[Future[str], ProcessPoolExecutor] = {}
        self._children: set[BaseProcess] = set()

    def submit(self, case: Case) -> Future[str]:
        """Give it a case; at most `places` at once.

        Parameters
        ----------
        case : Case
            The case.

        Returns
        -------
        Future
            Its answer to come.
        """
        others = set(multiprocessing.active_children()) - self._children
        # Made outside of the block: the first one starts a helper of the library, which lets Ctrl-C through.
        pool = self._idle.pop() if self._idle else _pool()
        with interrupts_held():
            future = pool.submit(solve_case, case)
            self._children |= set(multiprocessing.active_children()) - others
            self._busy[future] = pool
        return future

    def answer(self, ended: Future[str]) -> str:
        """Take the answer of a future that has ended.

        Parameters
        ----------
        ended : Future
            The future.

        Returns
        -------
        str
            The answer.

        Raises
        ------
        WorkerDiedError
            Its process died.
        """
        pool = self._busy.pop(ended)
        if isinstance(ended.exception(), BrokenProcessPool):
            pool.shutdown()
            raise WorkerDiedError from ended.exception()
        self._idle.append(pool)
        return ended.result()

    def stop(self, *, at_once: bool) -> None:
        """Send the workers home.

        Parameters
        ----------
        at_once : bool
            Whether cases under work are given up: their processes are killed.
        """
        if at_once:
            for child in self._children:
                child.kill()
        for pool in (*self._idle, *self._busy.values()):
            pool.shutdown(wait=True, cancel_futures=True)


def _pool() -> ProcessPoolExecutor:
    # A forked copy of a process with threads, as solvers have them, may hang.
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=spawn, initializer=follow_parent)


def processors() -> int:
    """Count the processors this process may use.

    Returns
    -------
    int
        How many [1].
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
