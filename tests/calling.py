"""The command line, run inside the process of the tests."""

from __future__ import annotations

from pathlib import Path

from optimizer.cli.app import app
from optimizer.cli.ending import run


def call(*words: str | Path) -> int:
    """Run a command and give its exit code; what it prints goes where pytest catches it."""
    return run(lambda: app([*map(str, words)], prog_name="scullion"))
