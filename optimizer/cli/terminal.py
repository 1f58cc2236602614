"""Stand-ins for a terminal whose encoding lacks the signs of charts and units."""

from __future__ import annotations

import codecs
import json
import sys
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer

import typer

from optimizer.errors import EXIT_NO_PLAN, NoPlanError

ERRORS = "scullion.plain"
"""Name under which encoders know the stand-ins."""

STAND_INS = dict(zip("█▇▆▅▄▃▂▁┴─·…−–×", "###===__+-..--x", strict=True))
"""One column each, so that a chart keeps its shape."""


def use_stand_ins() -> str:
    """Make the stand-ins known to encoders.

    Returns
    -------
    str
        What to give an encoder for its ``errors``.
    """
    codecs.register_error(ERRORS, _stand_in)
    return ERRORS


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Put the nearest plain sign in the place of every one that cannot be written."""
    assert isinstance(error, UnicodeEncodeError)
    found = (STAND_INS.get(sign) or _bare(sign) for sign in error.object[error.start : error.end])
    return "".join(found), error.end


def _bare(sign: str) -> str:
    """A letter without its marks; nothing of its own is a question mark, a degree sign is a space."""
    if sign == "°":
        return " "
    return unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")[:1] or "?"


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


def print_json(content: object) -> None:
    """Print plain data as JSON.

    Parameters
    ----------
    content : object
        What to print; holds no nan.
    """
    print(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))


@contextmanager
def no_plan_answered(as_json: bool) -> Iterator[None]:
    """Answer in JSON, where that was asked for, that there is no plan, and end the command.

    Parameters
    ----------
    as_json : bool
        Whether JSON was asked for; in words the error itself is the answer.

    Yields
    ------
    None
        The work that may find out.
    """
    from optimizer.report.errors import no_plan_to_dict

    try:
        yield
    except NoPlanError as error:
        if not as_json:
            raise
        print_json(no_plan_to_dict(error))
        raise typer.Exit(EXIT_NO_PLAN) from error
