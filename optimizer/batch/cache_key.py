"""What an answer depends on besides its profiles: a cached one is used again only where that is the same."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from importlib.metadata import version
from pathlib import Path

from optimizer import __version__
from optimizer.planner.solver import SolverName, solver_label

CALCULATING_PARTS = (
    "units.py",
    "option_defaults.py",
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
