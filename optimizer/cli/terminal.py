"""What reaches the terminal: its width, escapes for control characters, plain signs, the progress line."""

from __future__ import annotations

import codecs
import io
import json
import os
import sys
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Timer
from typing import TYPE_CHECKING, Any, TextIO, cast

from optimizer.errors import escaped
from optimizer.report.layout import USUAL

if TYPE_CHECKING:
    from optimizer.library.results import Result

PLAIN_SIGNS = "scullion.plain"
"""Name under which encoders know the stand-ins."""

STAND_INS = dict(zip("█▇▆▅▄▃▂▁┴─·…−–×≤", "###===__+-..--x<", strict=True))
"""Signs of charts for encodings without them; one column each, so that a chart keeps its shape."""

AFTER_S = 2.0
"""Work that takes less shows no progress [s]."""


def use_stand_ins() -> str:
    """Make the stand-ins known to encoders, and give the name that an encoder takes for its ``errors``."""
    codecs.register_error(PLAIN_SIGNS, _stand_in)
    return PLAIN_SIGNS


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Put the nearest plain sign in the place of every one that cannot be written."""
    assert isinstance(error, UnicodeEncodeError)
    found = (STAND_INS.get(sign) or _ascii_sign(sign) for sign in error.object[error.start : error.end])
    return "".join(found), error.end


def _ascii_sign(sign: str) -> str:
    """Give a letter without its accent, a blank for the degree sign, a question mark for most else."""
    if sign in "°±":
        return " " if sign == "°" else "+/-"
    return unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")[:1] or "?"


def terminal_width(stream: TextIO | None) -> int:
    """Give the columns of the terminal behind a stream; `USUAL` where there is none or it is not known."""
    asked = os.environ.get("COLUMNS", "")
    if asked.isascii() and asked.isdigit() and int(asked):
        return int(asked)
    with suppress(AttributeError, OSError, ValueError):
        return os.get_terminal_size(cast(TextIO, stream).fileno()).columns or USUAL
    return USUAL


class OutputError(OSError):
    """Standard output takes nothing."""

    def __init__(self, reason: str) -> None:
        super().__init__(f"The output could not be written: {reason}.")


class _Closed(io.TextIOBase):
    """Stands for a standard output that the caller closed."""

    def write(self, text: str) -> int:
        if text:
            raise OutputError("standard output is closed")
        return 0


class Outlet:
    """A standard stream through which everything is printed.

    Control characters, which a file may hold, reach the terminal as escapes. Where the reader closes
    the pipe, as ``head`` does, the rest is dropped, and the command ends as it would have otherwise.
    `OutputError` where the system takes nothing for another reason.
    """

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def write(self, text: str) -> int:
        try:
            # A carriage return that belongs to a line end is no sign to act on.
            self.stream.write("\r\n".join(map(escaped, text.split("\r\n"))))
        except OSError as error:
            self._failed(error)
        return len(text)

    def flush(self) -> None:
        try:
            self.stream.flush()
        except OSError as error:
            self._failed(error)

    def _failed(self, error: OSError) -> None:
        if not isinstance(error, BrokenPipeError):
            raise error if isinstance(error, OutputError) else OutputError(error.strerror or str(error))
        drop_output(self.stream)


@contextmanager
def outlets() -> Iterator[None]:
    """Print through outlets.

    Where the caller closed standard output, the first thing printed there raises `OutputError`; where it
    closed standard error, what is said there is dropped.
    """
    streams = sys.stdout, sys.stderr
    sys.stdout = cast(TextIO, Outlet(sys.stdout or cast(TextIO, _Closed())))
    sys.stderr = cast(TextIO, Outlet(sys.stderr or io.StringIO()))
    try:
        with _descriptors_taken():
            yield
    finally:
        sys.stdout, sys.stderr = streams


@contextmanager
def _descriptors_taken() -> Iterator[None]:
    """Keep files from getting the number of a closed standard stream: a solver would print into them."""
    taken = []
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            # The system gives the lowest number that is free, and the lower ones are taken.
            taken.append(os.open(os.devnull, os.O_RDWR))
    try:
        yield
    finally:
        for number in taken:
            os.close(number)


def drop_output(stream: TextIO) -> None:
    """Point a stream at nothing: what it still holds would fail again when the interpreter ends."""
    with suppress(AttributeError, OSError, ValueError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, stream.fileno())
        os.close(nothing)


def print_answer(answer: Result, *, as_json: bool) -> None:
    """Print an answer of the library in words, or as JSON."""
    if as_json:
        print_json(answer.to_dict())
    else:
        print(answer)


def print_json(content: object) -> None:
    """Print plain data, without nan, as JSON."""
    print(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))


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
    if sys.stderr is None or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn

    # The line is drawn with control characters of its own, past the outlet.
    stream = getattr(sys.stderr, "stream", sys.stderr)
    line = Progress(
        SpinnerColumn("line"),
        TextColumn("{task.description}", markup=False),
        console=Console(file=stream, force_interactive=True, width=terminal_width(stream)),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    step = line.add_task(escaped(first), total=None)
    timer = Timer(after_s, line.start)
    timer.daemon = True
    timer.start()
    try:
        yield lambda text: line.update(step, description=escaped(text))
    finally:
        timer.cancel()
        timer.join()
        line.stop()
