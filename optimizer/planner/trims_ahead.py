"""Trims of one structure after the other, some of them by the second process before they are asked for."""

from __future__ import annotations

import pickle
from collections.abc import Generator, Iterable
from dataclasses import dataclass
from functools import lru_cache

from optimizer.planner.margins import Assessor
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Settings, Structure
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import Space
from optimizer.programme.plan import Inputs
from optimizer.second_process import ahead, by_two


@dataclass(frozen=True)
class Ask:
    """A structure to trim from a start, unless it comes out dearer than ``worse_than`` [currency]."""

    structure: Structure
    start: Settings
    worse_than: float


@dataclass(frozen=True)
class Reached:
    """What a trim found, None where nothing; and what one that was given up came to at the least."""

    trimmed: Trimmed | None
    least: float


def in_order(assessor: Assessor, asks: Iterable[Ask]) -> Generator[Reached, None, None]:
    """Trim one after the other, as long as who asks goes on; each comes out as if it were trimmed alone."""
    rules = rules_of(assessor)
    return by_two(asks, lambda ask: _reached(assessor, ask), lambda ask: ahead(_reached_there, rules, ask))


def _reached(assessor: Assessor, ask: Ask) -> Reached:
    space = Space(assessor, ask.structure)
    trimmed = trim(space, ask.start, worse_than=ask.worse_than)
    return Reached(trimmed, space.least)


def _reached_there(rules: bytes, ask: Ask) -> Reached:
    return _reached(assessor_by(rules), ask)


def rules_of(assessor: Assessor) -> bytes:
    """What an assessor is made of."""
    first = assessor.kept_first
    joined = assessor.kept.points[len(first.points) :]
    made_of = assessor.inputs, first, assessor.unblock, assessor.epsilon_constraint
    return pickle.dumps(((*made_of, assessor.rounds_most, assessor.terms), joined))


@lru_cache(maxsize=1)
def assessor_by(rules: bytes) -> Assessor:
    """An assessor made in the same way as the one whose rules these are, kept while they stay."""
    made_of, joined = pickle.loads(rules)
    assessor = Assessor(*made_of)
    assessor.count_with(joined)
    return assessor


def get_ready(inputs: Inputs) -> None:
    """Load what trims need, where that takes no compiling."""
    simulator = Simulator(inputs.machine, inputs.goal)
    if simulator.is_ready:
        simulator.get_ready()
