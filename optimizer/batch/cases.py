"""The cases of a study: every combination of the profiles asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import product

from optimizer.batch.cache_key import cache_key, engine
from optimizer.errors import InputError, InputIssue, attempt
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.inputs import read_inputs
from optimizer.programme.plan import Inputs


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
    search : Search
        How its plan is looked for, where it is one of many that have to do with each other.
    """

    inputs: Inputs
    engine: str
    solver: SolverName
    search: Search = USUAL_SEARCH

    @property
    def key(self) -> str:
        """SHA-256 over profiles, prices, engine and an unusual search; the names they go by do not count."""
        label = self.engine if self.search == USUAL_SEARCH else f"{self.engine} {self.search!r}"
        return cache_key(self.inputs, label)


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
