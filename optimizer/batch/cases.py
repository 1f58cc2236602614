"""The cases of a study: which four profiles, and a key for what is asked and which program answers."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from importlib.metadata import version
from itertools import product
from pathlib import Path

from optimizer import __version__
from optimizer.errors import InputError, InputIssue, attempt
from optimizer.planner.solver import SolverName, solver_label
from optimizer.programme.inputs import read_inputs
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import inputs_sha256

CALCULATING_PARTS = (
    "units.py",
    "interrupts.py",
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


@dataclass(frozen=True)
class StudyRequest:
    """What to compare: names or paths, every combination.

    Attributes
    ----------
    machines, goals : tuple of str
        At least one each.
    circuits, tariffs : tuple of str
        Empty: each machine's usual one.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    """

    machines: tuple[str, ...]
    goals: tuple[str, ...]
    circuits: tuple[str, ...] = ()
    tariffs: tuple[str, ...] = ()
    solver: SolverName = "auto"


@dataclass(frozen=True)
class Case:
    """Four profiles to plan for, with the program that is to do it.

    Attributes
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff.
    engine : str
        What calculates, as `engine` names it.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    """

    inputs: Inputs
    engine: str
    solver: SolverName

    @property
    def key(self) -> str:
        """SHA-256 over profiles, prices and engine; the names they go by do not count."""
        return hashlib.sha256(f"{inputs_sha256(self.inputs)} {self.engine}".encode()).hexdigest()


def read_cases(request: StudyRequest) -> list[Case]:
    """Read every combination of the profiles asked for; one given twice counts once.

    Machines are outermost, then goals, circuits and tariffs, each in the order given. The profiles have not
    been held against each other. `InputError` names every issue of every profile once, and of the solver.
    """
    issues: list[InputIssue] = []
    label = attempt(issues, lambda: engine(request.solver))
    usual = (None,)
    names = product(request.machines, request.goals, request.circuits or usual, request.tariffs or usual)
    read = [attempt(issues, partial(read_inputs, *four)) for four in dict.fromkeys(names)]
    if issues:
        raise InputError(list(dict.fromkeys(issues)))
    assert label is not None
    return [Case(inputs, label, request.solver) for inputs in read if inputs is not None]


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
