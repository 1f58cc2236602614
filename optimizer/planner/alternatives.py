"""Alternatives to the programme of a plan: other rounds, other levels, more heat or less, each trimmed.

Where no numbers of an alternative hold, one requirement is brought as far as it goes with all others held,
so that what falls short has a name. The search is local: that nothing was found is no proof.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from optimizer.errors import SolverError
from optimizer.physics import Array
from optimizer.planner.corners import KeptBack
from optimizer.planner.cost import Bill
from optimizer.planner.feasibility import CLOSE_GAP, NONE
from optimizer.planner.integer_model import Model
from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import neighbours
from optimizer.planner.objective import Objective
from optimizer.planner.search import model_for
from optimizer.planner.simulation import Runs
from optimizer.planner.solver import Budget, SolverName, run_solver
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.planner.trim import nearest_point, trim
from optimizer.planner.trim_space import ELEMENT_LEAST_S, FEASIBLE, Space
from optimizer.programme.constants import KINDS

What = Literal["level", "heat"]
SLOTS: dict[What, tuple[str, ...]] = {"level": ("fill_s",), "heat": ("setpoint_c", "element_s")}
"""The number of a round that stands for its level or its heat; the first of them that it has."""

SHARE, KELVIN = 0.1, 5.0
"""By how much a fill or an element's time is moved, as a share of what was chosen [1]; a set point [K]."""

SpaceOf = Callable[[Assessor, str, frozenset[str]], Space]
"""Makes the variables of a structure with a requirement to aim at and others to leave out."""

NAMED = 3
"""Requirements that are tried as the one that falls short, the shortest first [1]."""

SMALL = Budget(steps=300, nodes=100)
"""For a question whose answer is useful and not necessary."""


class Held(NamedTuple):
    """Level or heat of some rounds, held below (-1) or above (1) what was chosen."""

    rounds: tuple[int, ...]
    what: What
    sign: Literal[-1, 1]


@dataclass(frozen=True)
class Alternative:
    """A programme that was not chosen.

    ``programme`` has its cheapest numbers; where none hold, those with which least falls short.
    ``short`` says by how much requirements fall short, by key, the shortest first; empty where all hold [1].
    ``held`` are numbers that were held off what was chosen; None where only the rounds are others.
    """

    programme: Programme
    short: dict[str, float]
    bill: Bill
    runs: Runs
    held: Held | None = None

    @property
    def structure(self) -> Structure:
        """Kinds and heat modes."""
        return self.programme.structure

    @property
    def settings(self) -> Settings:
        """Its numbers."""
        return self.programme.settings

    @property
    def holds(self) -> bool:
        """Whether it holds every requirement."""
        return not self.short

    @property
    def shortfall(self) -> float:
        """By how much the shortest requirement falls short; 0 where all hold [1]."""
        return max(self.short.values(), default=0.0)

    @property
    def cost(self) -> float:
        """What the planner counts for a run: the bill and the value of the waiting [currency]."""
        return float(self.bill.with_waiting[0])

    @property
    def objective(self) -> float:
        """What the planner makes least [currency]."""
        return float(self.bill.objective[0])

    def rounds(self, kind: int) -> int:
        """Count the rounds of a kind (index into `KINDS`)."""
        return self.structure.kinds.count(kind)


class Alternatives:
    """Programmes beside a chosen one, each structure trimmed once."""

    def __init__(
        self,
        assessor: Assessor,
        programme: Programme,
        solver: SolverName = "auto",
        budget: Budget = SMALL,
    ) -> None:
        self._assessor, self._programme = assessor, programme
        self._structure, self._settings = programme
        self._solver, self._budget = solver, budget
        self._found: dict[Structure, Alternative] = {}
        self._stepped = False

    @cached_property
    def chosen(self) -> Alternative:
        """The chosen programme itself, as the planner judges it."""
        return self._alternative(self._programme)

    def _step_aside(self) -> None:
        """Trim what is one step away, once."""
        if not self._stepped:
            self._stepped = True
            for neighbour in neighbours(self._programme, self._assessor):
                self._add(neighbour)

    def with_rounds(self, kind: int, number: int) -> Alternative | None:
        """Find the best programme with so many rounds of a kind (index into `KINDS`), all else free.

        The cheapest that holds, else the one that is least short; None where there is nothing to try.
        """
        if not self.least(kind) <= number <= self._assessor.rounds_most[KINDS[kind]]:
            return None
        self._step_aside()
        self._ask(lambda model: model.hold_rounds(KINDS[kind], number))
        return _best(found for found in self._found.values() if found.rounds(kind) == number)

    def least(self, kind: int) -> int:
        """Least number of rounds of a kind that goal and drying ask for."""
        return self._assessor.rounds_least[KINDS[kind]]

    def next_best(self) -> Alternative | None:
        """Find the cheapest programme of another structure: the model's or a neighbour of those tried.

        None where none was found that holds.
        """
        self._step_aside()
        self._ask(lambda model: model.forbid(self._structure))
        best = _best(self._found.values())
        if best is None or not best.holds:
            return None
        # One more step, as the choice itself is made: a neighbour of the next best may be better still.
        for structure, start in neighbours(best.programme, self._assessor):
            if structure != self._structure and structure not in self._found:
                space = Space(self._assessor, structure)
                trimmed = trim(space, start, worse_than=best.objective, patient=False)
                if trimmed is not None:
                    self._found[structure] = self._alternative(trimmed.programme)
        return _best(self._found.values())

    def moved(self, held: Held) -> Alternative | None:
        """Hold level or heat of some rounds below or above what was chosen, and trim the rest.

        None where the rounds have no such number, or it would be less than an element is ever on for: no
        margin would say so, and the programme would look cheaper than the plan.
        """
        space = Space(self._assessor, self._structure)
        name, columns = _columns(space, held)
        least_s = min(space.pack(self._settings)[columns], default=np.inf) * (1.0 + held.sign * SHARE)
        if name in ("element_s", "while_s") and least_s < ELEMENT_LEAST_S:
            return None
        return self._tried(self._space_of(self._structure, held), self._settings, held) if columns else None

    def again(self, one: Alternative, kept: KeptBack) -> Alternative | None:
        """Trim a programme that holds once more with more kept back; None where it holds no longer."""
        inputs, rounds_most = self._assessor.inputs, self._assessor.rounds_most
        assessor = Assessor(inputs, kept, rounds_most=rounds_most)
        space = self._space_of(one.structure, one.held)(assessor, "", NONE)
        trimmed = trim(space, one.settings, patient=False)
        return None if trimmed is None else self._alternative(trimmed.programme, one.held)

    def _space_of(self, structure: Structure, held: Held | None) -> SpaceOf:
        def space_of(assessor: Assessor, aim: str, drop: frozenset[str]) -> Space:
            space = Space(assessor, structure, aim, drop)
            if held is not None:
                self._hold(space, held)
            return space

        return space_of

    def _hold(self, space: Space, held: Held) -> None:
        name, columns = _columns(space, held)
        chosen, sign = space.pack(self._settings)[columns], held.sign
        moved = chosen + sign * (KELVIN if name == "setpoint_c" else SHARE * chosen)
        # It may lie outside of the usual range: a margin then says what falls short.
        low, high = space.low[columns], space.high[columns]
        space.low[columns] = np.minimum(low, moved) if sign < 0 else moved
        space.high[columns] = moved if sign < 0 else np.maximum(high, moved)

    def _ask(self, narrow: Callable[[Model], None]) -> None:
        """Trim what a narrowed model finds: one with safe lines first, then one with optimistic ones."""
        for safe in (True, False):
            model = model_for(self._assessor, Objective(), safe=safe)
            narrow(model)
            with suppress(SolverError):
                problem = model.rows.problem
                if run_solver(problem, self._solver, CLOSE_GAP, self._budget).status == "infeasible":
                    continue
                if self._add(model.chosen()).holds:
                    return

    def _add(self, programme: Programme) -> Alternative:
        structure, start = programme
        known = self._found.get(structure)
        if known is not None and known.holds:
            return known
        tried = self._tried(self._space_of(structure, None), start)
        if structure != self._structure:
            self._found[structure] = tried if known is None else _best((known, tried)) or tried
        return tried

    def _tried(self, space_of: SpaceOf, start: Settings, held: Held | None = None) -> Alternative:
        space = space_of(self._assessor, "", NONE)
        full_short = space.short_when_full()
        trimmed = None if full_short else trim(space, start, patient=False)
        if trimmed is not None:
            return self._alternative(trimmed.programme, held)
        nearest = nearest_point(space, start)
        for key in full_short[:1] or self._named(space, start, nearest):
            aimed = space_of(self._assessor, key, frozenset(full_short) - {key})
            alone = trim(aimed, start, patient=False)
            if alone is not None:
                again = None if full_short else trim(space, alone.programme.settings, patient=False)
                return self._alternative((again or alone).programme, held)
        return self._alternative(Programme(space.structure, nearest), held)

    def _named(self, space: Space, start: Settings, nearest: Settings) -> list[str]:
        """What is short at the start, which is what was moved, and then at the nearest point."""
        points = space.settings(space.pack(start)[None]), nearest
        keys = [key for point in points for key in self._alternative(Programme(space.structure, point)).short]
        return list(dict.fromkeys(keys))[:NAMED]

    def _alternative(self, programme: Programme, held: Held | None = None) -> Alternative:
        margins, bill = self._assessor.run(programme)
        runs = self._assessor.simulator.run(programme)
        return Alternative(programme, _short(margins), bill, runs, held)


def _short(margins: dict[str, Array]) -> dict[str, float]:
    """What falls short by how much, the shortest first."""
    least = {key: -float(margin.min()) for key, margin in margins.items()}
    return {
        key: least[key]
        for key in sorted(least, key=least.__getitem__, reverse=True)
        if least[key] > -FEASIBLE
    }


def _best(found: Iterable[Alternative]) -> Alternative | None:
    """The cheapest that holds, else the one that is least short."""
    return min(found, key=lambda one: (not one.holds, one.cost if one.holds else one.shortfall), default=None)


def _columns(space: Space, held: Held) -> tuple[str, list[int]]:
    """Name and columns of the number that stands for level or heat; no columns where the rounds have none."""
    rounds, what = held.rounds, held.what
    if what == "heat" and all(space.structure.modes[index] is Mode.UNHEATED for index in rounds):
        return "", []
    for name in SLOTS[what]:
        found = [
            column for column, (slot, index) in enumerate(space.slots) if slot == name and index in rounds
        ]
        if found:
            return name, found
    return "", []
