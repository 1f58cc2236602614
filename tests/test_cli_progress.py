"""The progress line: for a terminal only, after a while only, and gone at the end."""

from __future__ import annotations

import io
import sys
import time

import patience
import pytest

from optimizer.cli.terminal import progress

ERASE_LINE = "\x1b[2K"
"""ECMA-48, 8.3.41: erase in line, all of it."""


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def terminal_of(monkeypatch: pytest.MonkeyPatch, kind: str = "xterm") -> Terminal:
    """Called by the test itself: between a fixture and its test, pytest puts its own streams back."""
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setenv("TERM", kind)
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    return stream


def wait_for(text: str, terminal: Terminal) -> None:
    """The line is drawn by a thread of its own."""
    patience.wait_for(lambda: text in terminal.getvalue())


def test_nothing_where_standard_error_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with progress("planning", after_s=0.0) as report:
        time.sleep(0.05)
        report("checking")
    assert sys.stderr.getvalue() == ""


def test_nothing_where_standard_error_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    with progress("planning", after_s=0.0) as report:
        report("checking")


def test_nothing_for_what_is_quick(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = terminal_of(monkeypatch)
    with progress("planning", after_s=60.0) as report:
        report("checking")
    assert terminal.getvalue() == ""


def test_nothing_on_a_terminal_that_cannot_wipe_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = terminal_of(monkeypatch, "dumb")
    with progress("planning", after_s=0.0) as report:
        report("checking")
    assert terminal.getvalue() == ""


def test_latest_step_is_shown_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = terminal_of(monkeypatch)
    with progress("planning", after_s=0.0) as report:
        wait_for("planning", terminal)
        report("checking [bold] \x1b[31m " + "corners " * 20)
        wait_for("checking", terminal)
    shown = terminal.getvalue()
    assert "[bold] \\u001b[31m" in shown, "a step is text: no mark-up, no control characters"
    assert shown.endswith(ERASE_LINE)
    lines = shown.replace("\r", "\n").split("\n")
    assert max(len(line.split(ERASE_LINE)[-1]) for line in lines) <= 60


def test_line_is_wiped_when_the_work_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = terminal_of(monkeypatch)

    def work() -> None:
        with progress("planning", after_s=0.0):
            wait_for("planning", terminal)
            raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        work()
    assert terminal.getvalue().endswith(ERASE_LINE)
