"""One line on a terminal that says what is being done, for whoever has waited two seconds."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer

AFTER_S = 2.0
WIDTH = 79


@contextmanager
def progress(first: str, after_s: float = AFTER_S) -> Iterator[Callable[[str], None]]:
    """Show the latest step on standard error, and wipe it out at the end.

    Nothing is ever written where standard error is not a terminal.

    Parameters
    ----------
    first : str
        The step that begins.
    after_s : float
        How long nothing is shown [s].

    Yields
    ------
    callable
        Takes the name of the next step.
    """
    # Where standard error was closed by the caller it is None.
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda _: None
        return
    line = _Line(first)
    timer = Timer(after_s, line.show)
    timer.daemon = True
    timer.start()
    try:
        yield line.change
    finally:
        timer.cancel()
        timer.join()
        line.wipe()


class _Line:
    """A line that two threads change: the timer shows it, the work renames it."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._shown = False
        self._lock = Lock()

    def change(self, text: str) -> None:
        with self._lock:
            self._text = text
            self._draw()

    def show(self) -> None:
        with self._lock:
            self._shown = True
            self._draw()

    def wipe(self) -> None:
        self.change("")
        if self._shown:
            sys.stderr.write("\r")
            sys.stderr.flush()

    def _draw(self) -> None:
        if self._shown:
            sys.stderr.write(f"\r{self._text[:WIDTH]:<{WIDTH}}")
            sys.stderr.flush()
