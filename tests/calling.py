"""The command line, run inside the process of the tests."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from typer.main import get_command

from optimizer.cli.app import app
from optimizer.cli.ending import run

Shown = Callable[..., tuple[int, str, str]]
"""Runs a command; gives its exit code and what it printed on standard output and standard error."""


@cache
def command() -> Callable[..., Any]:
    """The command line, put together once: each call of `app` would read the options of all commands anew."""
    return get_command(app)


def call(*words: str | Path) -> int:
    """Run a command and give its exit code; what it prints goes where pytest catches it."""
    return run(lambda: command()([*map(str, words)], prog_name="scullion"))
