"""Worker processes: what one does with a case, and how cases are given out.

Each worker stands behind an executor of its own. A pool of several breaks as a whole when one of its
processes dies, and does not say which case that one had; a pool for each process costs nothing more, and
the case is known.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from optimizer.batch.answer import failed_answer, one_line, proven_answer, refused_answer
from optimizer.batch.cache_key import engine
from optimizer.batch.cases import Case
from optimizer.errors import CheckFailedError, NoPlanError, ScullionError
from optimizer.interrupts import interrupts_held, interrupts_noted
from optimizer.plan_and_prove import plan_and_prove

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

Task = TypeVar("Task")
Answer = TypeVar("Answer")

_ONE_AT_A_TIME = threading.Lock()
"""A worker of a cluster may have several threads, but a solver takes over standard output while it runs."""


def solve_case(case: Case) -> str:
    """Plan and prove a case in a worker; a bug in the tool is an answer too, and the other cases go on."""
    try:
        with _ONE_AT_A_TIME:
            return _answer(case)
    except Exception as error:
        return failed_answer(case.key, f"bug in scullion: {one_line(error)}")


def _answer(case: Case) -> str:
    here = engine(case.solver)
    if here != case.engine:
        return failed_answer(case.key, f"the worker has another version: {here}, not {case.engine}")
    try:
        proven = plan_and_prove(case.inputs, solver=case.solver, search=case.search)
    except (NoPlanError, CheckFailedError) as error:
        return refused_answer(case.key, error)
    except ScullionError as error:
        return failed_answer(case.key, *str(error).splitlines())
    return proven_answer(case.key, proven.plan, proven.certificate)


class WorkerDiedError(Exception):
    """The worker that had the case is gone."""


class Workers(Protocol):
    """Whoever solves cases.

    Attributes
    ----------
    most_at_once : int
        Cases that may be given out at the same time [1].
    tries : int
        How often a case is given out when its worker dies [1].
    lost_case_message : str
        What to say of a case when that was not enough.
    """

    most_at_once: int
    tries: int
    lost_case_message: str

    def submit(self, case: Case) -> Future[str]:
        """Give out a case."""

    def answer(self, ended: Future[str]) -> str:
        """Take the answer of a future that has ended; `WorkerDiedError` where its worker died."""

    def stop(self, *, at_once: bool) -> None:
        """End the workers; `at_once` gives up the cases they have."""


class ThisProcess:
    """No worker at all: each case is solved where it is given out, one after the other."""

    most_at_once = 1
    tries = 1
    lost_case_message = ""

    def submit(self, case: Case) -> Future[str]:
        """Solve a case at once; Ctrl-C ends it."""
        done: Future[str] = Future()
        done.set_result(solve_case(case))
        return done

    def answer(self, ended: Future[str]) -> str:
        """Take the answer."""
        return ended.result()

    def stop(self, *, at_once: bool) -> None:
        """Nothing has to be ended."""


class WorkerProcesses(Generic[Task, Answer]):
    """Worker processes of this computer, each of which answers one task after the other with a function."""

    tries = 2
    lost_case_message = "its worker process died, twice: killed from outside, or out of memory"

    def __init__(self, most_at_once: int, function: Callable[[Task], Answer]) -> None:
        self.most_at_once = most_at_once
        self._function = function
        self._idle: list[ProcessPoolExecutor] = []
        self._busy: dict[Future[Answer], ProcessPoolExecutor] = {}
        self._children: set[BaseProcess] = set()

    def submit(self, case: Task) -> Future[Answer]:
        """Give out a case; at most `most_at_once` at the same time.

        A Ctrl-C is raised at its end: inside the library it may leave a lock closed, and a worker is lost
        between one list and the other.
        """
        with interrupts_noted(held=True):
            others = set(multiprocessing.active_children()) - self._children
            # Made outside of the block: the first one starts a helper of the library, which unblocks Ctrl-C.
            worker = self._idle.pop() if self._idle else _new_worker()
            with interrupts_held():
                try:
                    future = worker.submit(self._function, case)
                except BrokenProcessPool:  # it died while it had no case
                    worker.shutdown()
                    worker = _new_worker()
                    future = worker.submit(self._function, case)
                self._children |= set(multiprocessing.active_children()) - others
                self._busy[future] = worker
        return future

    def answer(self, ended: Future[Answer]) -> Answer:
        """Take the answer of a future that has ended; `WorkerDiedError` where its process died."""
        with interrupts_noted(held=True):
            worker = self._busy.pop(ended)
            if isinstance(ended.exception(), BrokenProcessPool):
                worker.shutdown()
                raise WorkerDiedError from ended.exception()
            self._idle.append(worker)
            return ended.result()

    def stop(self, *, at_once: bool) -> None:
        """End the processes; `at_once` kills those that have a case."""
        if at_once:
            for child in self._children:
                child.kill()
        for worker in (*self._idle, *self._busy.values()):
            worker.shutdown(wait=True, cancel_futures=True)


def _new_worker() -> ProcessPoolExecutor:
    # A forked copy of a process with threads, as solvers have them, may hang.
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=spawn, initializer=_follow_parent)


def _follow_parent() -> None:
    """Leave Ctrl-C to the process that started this worker, and end when that ends, however it does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def processors() -> int:
    """Number of processors this process may use [1]."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
