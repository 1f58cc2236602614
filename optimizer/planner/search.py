"""Search: tabulate, choose with the integer model, trim, and try the neighbours.

The model picks the structure; trimming is so cheap that every structure one step away is trimmed too, and
the cheapest is kept. Where safe lines find nothing, optimistic ones are tried before the answer is that there
is no plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from optimizer.planner.integer_model import MONEY_SCALE, Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import EpsilonConstraint, Objective
from optimizer.planner.round_options import OptionTable
from optimizer.planner.solver import Outcome, SolverName, run_solver
from optimizer.planner.structure import ROUNDS_MOST, Mode, Programme, Settings, Structure
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import Space
from optimizer.programme.constants import KINDS, Constants

TRIES = 3
"""Structures the model is asked for, one after the other, when they can't be trimmed [1]."""

SLACK = 0.03
"""Share by which a programme of the model may fall short when its lines are optimistic [1]."""

PASSES = 3
"""Most steps from neighbour to neighbour [1]."""


@dataclass(frozen=True)
class Search:
    """How a plan is looked for, where it is one of many.

    Attributes
    ----------
    epsilon_constraint : EpsilonConstraint or None
        What to make least instead of the cost, and what to cap.
    known : tuple of Constants
        Programmes of other cases that may do here; the plan is no dearer than any of them that holds.
    why : bool
        Whether to find out what rules out a plan where there is none. What rules out every programme on this
        machine and circuit is said either way.
    rounds_most : mapping of str to int
        Most rounds of each kind that are tried [1].
    """

    epsilon_constraint: EpsilonConstraint | None = None
    known: tuple[Constants, ...] = ()
    why: bool = True
    rounds_most: Mapping[str, int] = field(default_factory=lambda: ROUNDS_MOST)


USUAL_SEARCH = Search()
"""The search for a plan by itself, of least cost."""


@dataclass(frozen=True)
class Choice:
    """A chosen programme, and how the model's solve ended, in money."""

    trimmed: Trimmed
    outcome: Outcome


def choose(
    assessor: Assessor,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    known: Sequence[Programme] = (),
) -> Choice | None:
    """Find the cheapest programme: the model's, a known one that holds, or a neighbour of these.

    None where there is no programme. ``report`` is told each step, for a progress line.
    """
    choice = choose_by_model(assessor, solver, report)
    if choice is None:
        return None
    best = choice.trimmed
    for tried in _known(assessor, known):
        best = tried if tried.objective < best.objective else best
    return replace(choice, trimmed=_with_neighbours(assessor, best))


def _known(assessor: Assessor, known: Sequence[Programme]) -> Iterator[Trimmed]:
    """Known programmes, as they are and trimmed anew, where they hold."""
    for programme in known:
        structure, settings = programme
        if not _allowed(assessor, structure):
            continue
        space = Space(assessor, structure)
        values = np.array([getattr(settings, name)[0, index] for name, index in space.slots])
        if np.array_equal(values, space.pack(settings)) and space.holds(values):
            _, objective = space.run(values[None])
            yield Trimmed(space.programme(values[None]), float(objective[0]))
        trimmed = trim(space, settings)
        if trimmed is not None:
            yield trimmed


def _allowed(assessor: Assessor, structure: Structure) -> bool:
    """Whether machine and circuit allow its heat modes, and each kind has the least rounds."""
    least = assessor.rounds_least
    enough = all(structure.kinds.count(kind) >= least[name] for kind, name in enumerate(KINDS))
    return enough and all(map(assessor.heats, structure.modes))


def choose_by_model(
    assessor: Assessor, solver: SolverName = "auto", report: Callable[[str], None] = lambda _: None
) -> Choice | None:
    """Find the model's programme, neighbours left out: enough to know whether there is one."""
    for safe in (True, False):
        report("choosing the rounds")
        model = model_for(assessor, Objective(), safe=safe)
        for _ in range(TRIES):
            outcome = run_solver(model.problem, solver)
            if outcome.status == "infeasible":
                break
            structure, start = model.chosen()
            report("trimming the durations")
            trimmed = trim(Space(assessor, structure), start)
            if trimmed is not None:
                return Choice(trimmed, _in_money(outcome))
            model.forbid(structure)
    return None


def model_for(assessor: Assessor, objective: Objective, *, safe: bool) -> Model:
    """Set up a model; if not safe, its lines are optimistic and every requirement may fall a little short."""
    timed = "limits.duration_min" not in (objective.aim, *objective.drop)
    table = _table(assessor, safe, timed)
    return Model(assessor, table, replace(objective, slack=0.0 if safe else SLACK))


@lru_cache(maxsize=8)
def _table(assessor: Assessor, safe: bool, timed: bool) -> OptionTable:
    """The options, kept for the other questions that are asked about the same assessor."""
    return Tabulator(assessor, safe=safe, timed=timed).table()


def _in_money(outcome: Outcome) -> Outcome:
    return replace(outcome, objective=outcome.objective / MONEY_SCALE, bound=outcome.bound / MONEY_SCALE)


def _with_neighbours(assessor: Assessor, start: Trimmed) -> Trimmed:
    """Trim every structure one step away, move to the cheapest, and again while that helps."""
    best, seen = start, {start.programme.structure}
    for _ in range(PASSES):
        found = best
        for structure, settings in neighbours(best.programme, assessor):
            if structure in seen:
                continue
            seen.add(structure)
            tried = trim(Space(assessor, structure), settings, worse_than=found.objective)
            if tried is not None and tried.objective < found.objective:
                found = tried
        if found is best:
            break
        best = found
    return best


def neighbours(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """Programmes one step away, to be trimmed: a round fewer, one more, one heated in another way."""
    structure, least = programme.structure, assessor.rounds_least
    for kind, name in enumerate(KINDS):
        places = [i for i, k in enumerate(structure.kinds) if k == kind]
        if len(places) > least[name]:
            # One of each mode: rounds of the same mode are as good as each other.
            for place in {structure.modes[i]: i for i in places}.values():
                yield _without(programme, place)
        if places and len(places) < assessor.rounds_most[name]:
            yield _twice(programme, places[0] if name == "rinse" else places[-1])
    modes = [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if assessor.heats(mode)]
    for index, mode in enumerate(structure.modes):
        last = index == len(structure.kinds) - 1 or KINDS[structure.kinds[index]] != "rinse"
        if last and assessor.simulator.targets.counts(structure.kinds[index]):
            for other in (Mode.UNHEATED, *modes):
                if other is not mode:
                    yield _heated(programme, index, other, assessor)


def _without(programme: Programme, index: int) -> Programme:
    return _picked(programme, [i for i in range(len(programme.structure.kinds)) if i != index])


def _twice(programme: Programme, index: int) -> Programme:
    rounds = list(range(len(programme.structure.kinds)))
    return _picked(programme, [*rounds[: index + 1], index, *rounds[index + 1 :]])


def _picked(programme: Programme, rounds: list[int]) -> Programme:
    structure, settings = programme
    return Programme(
        Structure(tuple(structure.kinds[i] for i in rounds), tuple(structure.modes[i] for i in rounds)),
        Settings(
            settings.fill_s[:, rounds],
            settings.element_s[:, rounds],
            settings.spray_s[:, rounds],
            settings.setpoint_c[:, rounds],
        ),
    )


def _heated(programme: Programme, index: int, mode: Mode, assessor: Assessor) -> Programme:
    """The same with one round heated in another way, from its element time as it was or half an hour."""
    structure, settings = programme
    modes = tuple(mode if i == index else m for i, m in enumerate(structure.modes))
    element_s, spray_s = settings.element_s.copy(), settings.spray_s.copy()
    setpoint_c = settings.setpoint_c.copy()
    was = structure.modes[index]
    if was is Mode.UNHEATED:
        element_s[:, index] = 1800.0
        setpoint_c[:, index] = 50.0 if assessor.thermostat else np.inf
    if mode is Mode.WHILE_SPRAYING:
        spray_s[:, index] = spray_s[:, index] + element_s[:, index]
    elif was is Mode.WHILE_SPRAYING:
        least_s = assessor.spray_least_s(structure.kinds[index])
        spray_s[:, index] = np.maximum(spray_s[:, index] - element_s[:, index], least_s)
    numbers = replace(settings, element_s=element_s, spray_s=spray_s, setpoint_c=setpoint_c)
    return Programme(Structure(structure.kinds, modes), numbers)
