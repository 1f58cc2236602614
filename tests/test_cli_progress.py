"""The progress line: for a terminal only, after a while only, and gone at the end."""

from __future__ import annotations

import io
import sys
import time

import pytest

from optimizer.cli.terminal import WIDTH, progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nothing_where_standard_error_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with progress("planning", after_s=0.0) as report:
        time.sleep(0.05)
        report("checking")
    assert sys.stderr.getvalue() == ""


def test_nothing_for_what_is_quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())
    with progress("planning", after_s=60.0) as report:
        report("checking")
    assert sys.stderr.getvalue() == ""


def test_latest_step_is_shown_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())
    with progress("planning", after_s=0.0) as report:
        time.sleep(0.05)
        report("checking " * 20)
    lines = sys.stderr.getvalue().split("\r")
    assert [line.strip() for line in lines] == ["", "planning", ("checking " * 20)[:WIDTH].strip(), "", ""]
    assert all(len(line) in (0, WIDTH) for line in lines)


def test_line_is_wiped_when_the_work_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())

    def work() -> None:
        with progress("planning", after_s=0.0):
            time.sleep(0.05)
            raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        work()
    assert sys.stderr.getvalue().endswith(" \r")
