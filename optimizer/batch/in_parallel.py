"""Questions of one command answered side by side; what comes out does not depend on how many at a time."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from typing import Generic, TypeVar

from optimizer.batch.workers import WorkerDiedError, WorkerProcesses
from optimizer.interrupts import first_ended

Task = TypeVar("Task")
Answer = TypeVar("Answer")


class SideBySide(Generic[Task, Answer]):
    """Answers tasks with a function of a module, by worker processes or, where none are asked for, here."""

    def __init__(self, function: Callable[[Task], Answer], jobs: int) -> None:
        self._function = function
        self._workers = WorkerProcesses(jobs, function) if jobs > 1 else None

    def answers(self, tasks: Sequence[Task]) -> Generator[Answer, None, None]:
        """Answer every task; the answers come in the order of the tasks."""
        if self._workers is None or len(tasks) < 2:
            yield from map(self._function, tasks)
            return
        waiting, given_out = list(range(len(tasks)))[::-1], dict[Future[Answer], int]()
        found = dict[int, Answer]()
        for number in range(len(tasks)):
            while number not in found:
                while waiting and len(given_out) < self._workers.most_at_once:
                    place = waiting.pop()
                    given_out[self._workers.submit(tasks[place])] = place
                for future in first_ended(given_out):
                    place = given_out.pop(future)
                    try:
                        found[place] = self._workers.answer(future)
                    except WorkerDiedError:
                        found[place] = self._function(tasks[place])
            yield found.pop(number)

    def stop(self, *, at_once: bool) -> None:
        """End the processes, if there are any."""
        if self._workers is not None:
            self._workers.stop(at_once=at_once)


@contextmanager
def side_by_side(function: Callable[[Task], Answer], jobs: int) -> Iterator[SideBySide[Task, Answer]]:
    """Have tasks answered by so many processes at the most; 0 or 1 for none beside this one."""
    pool = SideBySide(function, jobs)
    try:
        yield pool
    except BaseException:
        pool.stop(at_once=True)
        raise
    pool.stop(at_once=False)
