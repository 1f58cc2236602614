"""A second process that works ahead: a copy of this one, made before any thread began.

It is given what this process will probably ask for next. Where that is asked, the answer is taken from there;
where the copy is missing, has died or found an error, this process works it out itself. Both have the same
code and are given the same numbers, so that no answer hangs on how many cores there are, or on which of both
was the quicker. Python's own lock lets two threads do little side by side; two processes have one each.
A pool of the library would hand things over by threads of its own, which wait for that lock as well.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any, Generic, TypeVar

from optimizer.interrupts import interrupts_held

Ask = TypeVar("Ask")
Answer = TypeVar("Answer")

_THREADS = "/proc/self/task"
"""Where Linux lists the threads of a process, those of libraries as well."""


@dataclass(frozen=True)
class Ahead(Generic[Answer]):
    """Something that the second process works out, with what it was asked."""

    second: _Second
    number: int
    function: Callable[..., Answer]
    arguments: tuple[Any, ...]

    @property
    def done(self) -> bool:
        """Whether it takes no waiting any more."""
        self.second.look()
        return self.number in self.second.answers or self.second.dead

    def result(self) -> Answer:
        """Wait for the answer; where there comes none, or an error, work it out here."""
        self.second.wait_for(self.number)
        right, answer = self.second.answers.pop(self.number, (False, None))
        return answer if right else self.function(*self.arguments)

    def forget(self) -> None:
        """The answer will not be asked for; the process is busy until it has it all the same."""
        self.second.forgotten.add(self.number)
        self.second.look()


class _Second:
    """The process, and what it has answered so far."""

    def __init__(self) -> None:
        fork = multiprocessing.get_context("fork")
        self._here, there = fork.Pipe()
        self._waits = fork.RawValue("b", 0)
        self._process = fork.Process(target=_serve, args=(there, self._here, self._waits), daemon=True)
        # A terminal sends Ctrl-C to both: it is for this process to end the other.
        with interrupts_held():
            self._process.start()
        there.close()
        self._asked = self._answered = 0
        self.answers: dict[int, tuple[bool, Any]] = {}
        self.forgotten: set[int] = set()
        self.dead = False

    @property
    def works(self) -> bool:
        """Whether it takes up a core, as far as is known without looking."""
        return not self.dead and self._answered < self._asked

    def ask(self, function: Callable[..., Answer], arguments: tuple[Any, ...]) -> Ahead[Answer]:
        """Hand over one thing to work out; only while it does not work."""
        self._asked += 1
        with self._or_dead():
            self._here.send((self._asked, function, arguments))
        return Ahead(self, self._asked, function, arguments)

    def look(self) -> None:
        """Take the answers that have come."""
        with self._or_dead():
            while not self.dead and self._here.poll():
                self._take()

    def wait_for(self, number: int) -> None:
        """Wait until one question is answered, or the process is gone."""
        with self._or_dead():
            self._waits.value = 1
            while not self.dead and self._answered < number:
                self._take()
            self._waits.value = 0

    def end(self) -> None:
        """Kill it, whatever it does."""
        self.dead = True
        self._process.kill()
        self._process.join()
        self._here.close()

    def _take(self) -> None:
        number, right, answer = self._here.recv()
        self._answered = number
        if number not in self.forgotten:
            self.answers[number] = right, answer
        self.forgotten.discard(number)

    @contextmanager
    def _or_dead(self) -> Iterator[None]:
        """Give the process up where nothing, or nothing of sense, comes from it."""
        try:
            yield
        except Exception:
            self.end()


def _serve(there: Connection, here: Connection, waits: Any) -> None:
    """Work out what is asked, one question after the other, until the other process is gone."""
    global _other_waits
    _other_waits = waits
    here.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while True:
        try:
            number, function, arguments = there.recv()
        except (OSError, EOFError):
            os._exit(0)
        try:
            told = number, True, function(*arguments)
        except Exception:
            # Who asked comes to the same error, and knows what to do with it.
            told = number, False, None
        try:
            there.send(told)
        except OSError:
            os._exit(0)
        except Exception:
            there.send((number, False, None))


_second: _Second | None = None
_other_waits: Any = None
"""In the second process: not 0 while the other one only waits for it."""


@contextmanager
def second_process() -> Iterator[None]:
    """Have a second process while the block runs, where that is safe and there is a core for it."""
    global _second
    if _second is not None or not _may_fork():
        yield
        return
    _second = _Second()
    try:
        yield
    finally:
        second, _second = _second, None
        second.end()


def ahead(function: Callable[..., Answer], *arguments: Any) -> Ahead[Answer] | None:
    """Have something worked out by the second process; None where there is none, or it is at work.

    The function is one of a module, and changes nothing.
    """
    if _second is None or _second.dead:
        return None
    _second.look()
    return None if _second.works or _second.dead else _second.ask(function, arguments)


def by_two(
    asks: Iterable[Ask], here: Callable[[Ask], Answer], there: Callable[[Ask], Ahead[Answer] | None]
) -> Generator[Answer, None, None]:
    """Answer one after the other, as long as who asks goes on, with two that answer every one alike.

    While one is answered ``here``, the second process answers the next, handed over by ``there``.
    """
    waiting = deque(enumerate(asks))
    found: dict[int, Answer] = {}
    handed: tuple[int, Ahead[Answer]] | None = None
    try:
        for place in range(len(waiting)):
            while place not in found:
                if handed is not None and (handed[1].done or not waiting):
                    found[handed[0]] = handed[1].result()
                    handed = None
                    continue
                number, ask = waiting.popleft()
                if handed is None and waiting:
                    next_number, next_ask = waiting[0]
                    other = there(next_ask)
                    if other is not None:
                        waiting.popleft()
                        handed = next_number, other
                found[number] = here(ask)
            yield found.pop(place)
    finally:
        if handed is not None:
            handed[1].forget()


def core_left() -> bool | None:
    """Whether the other one of two processes leaves its core idle; None where there is none.

    It may begin at any time: for loops that come out the same on one core and on two.
    """
    if _other_waits is not None:
        return bool(_other_waits.value)
    return None if _second is None else not _second.works


def _may_fork() -> bool:
    """Whether a copy of this process is safe, and has a core to run on.

    A copy of a process with threads may hang. Only Linux lists those of libraries as well.
    """
    if sys.platform != "linux" or multiprocessing.parent_process() is not None:
        return False
    try:
        alone = len(os.listdir(_THREADS)) == 1
    except OSError:
        return False
    return alone and len(os.sched_getaffinity(0)) > 1
