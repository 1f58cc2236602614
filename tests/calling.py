"""The command line, run inside the process of the tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from optimizer.cli.app import app
from optimizer.cli.ending import run

Shown = Callable[..., tuple[int, str, str]]
"""Runs a command; gives its exit code and what it printed on standard output and standard error."""


def call(*words: str | Path) -> int:
    """Run a command and give its exit code; what it prints goes where pytest catches it."""
    return run(lambda: app([*map(str, words)], prog_name="scullion"))
