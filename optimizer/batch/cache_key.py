"""Key of a cached answer: its profiles and all that calculates; where it is another, nothing is reused."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from importlib.metadata import version
from pathlib import Path

from optimizer import __version__
from optimizer.planner.solver import SolverName, solver_label
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import inputs_sha256

CALCULATING_PARTS = (
    "units.py",
    "interrupts.py",
    "option_defaults.py",
    "lessons.py",
    "plan_and_prove.py",
    "physics",
    "profile",
    "programme",
    "planner",
    "check",
    "starts",
    "batch",
)
"""Parts of the package on which an answer depends."""

CALCULATING_LIBRARIES = ("numpy", "scipy")
"""Libraries, besides the solver's, on which an answer depends: trim and check use them."""


def cache_key(inputs: Inputs, engine_label: str) -> str:
    """SHA-256 over profiles, prices and engine; the names they go by do not count."""
    return hashlib.sha256(f"{inputs_sha256(inputs)} {engine_label}".encode()).hexdigest()


@cache
def engine(solver: SolverName, parts: tuple[str, ...] = CALCULATING_PARTS) -> str:
    """Name all that an answer depends on besides the profiles: versions of the tool and its libraries.

    The source is in it, because a checkout changes without its version. `InputError` where the solver that
    was asked for is not installed.
    """
    package, source = Path(str(resources.files("optimizer"))), hashlib.sha256()
    for part in (package / name for name in parts):
        for file in [part] if part.is_file() else sorted(part.rglob("*.py")):
            source.update(file.read_bytes())
    libraries = [f"{name} {version(name)}" for name in CALCULATING_LIBRARIES]
    return ", ".join([f"scullion {__version__}", source.hexdigest()[:16], solver_label(solver), *libraries])
