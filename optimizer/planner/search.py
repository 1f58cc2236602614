"""From profiles to a chosen and trimmed programme: tabulate, choose, trim, and try the neighbours.

The model picks the structure; trimming is so cheap that every structure one step away is trimmed too, and
the cheapest is kept. Where the model's straight lines find nothing, lines on the other side are tried
before the answer is that there is no plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.planner.integer_model import MONEY_SCALE, Model
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.solver import Outcome, SolverName, run_solver
from optimizer.planner.structure import Mode, Settings, Structure
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import Space
from optimizer.programme.constants import KINDS

TRIES = 3
"""Structures the model is asked for when the one before could not be trimmed [1]."""

SLACK = 0.03
"""Share by which a programme of the model may fall short when lines are on the other side [1]."""

PASSES = 3
"""Rounds of neighbours that are tried [1]."""

Programme = tuple[Structure, Settings]
"""Kinds and heat modes of a programme, and its numbers as one candidate."""


@dataclass(frozen=True)
class Choice:
    """A chosen programme with the way the model was solved.

    Attributes
    ----------
    trimmed : Trimmed
        The programme.
    outcome : Outcome
        How the model's solve ended, in money.
    """

    trimmed: Trimmed
    outcome: Outcome


def choose(
    assessor: Assessor,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    known: Sequence[Programme] = (),
) -> Choice | None:
    """Find the cheapest programme: the model's, one that is known, or a cheaper neighbour of these.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    report : callable
        Told what is going on, for a progress line.
    known : sequence of Programme
        Programmes that may do; what is found is no dearer than any of them that holds.

    Returns
    -------
    Choice or None
        The programme; None where there is none.
    """
    choice = first(assessor, solver, report)
    if choice is None:
        return None
    best = choice.trimmed
    for tried in _known(assessor, known):
        best = tried if tried.objective < best.objective else best
    return replace(choice, trimmed=_with_neighbours(assessor, best))


def _known(assessor: Assessor, known: Sequence[Programme]) -> Iterator[Trimmed]:
    """Programmes that are known, as they are and trimmed anew, where they hold."""
    for structure, settings in known:
        if not _allowed(assessor, structure):
            continue
        space = Space(assessor, structure)
        values = np.array([getattr(settings, name)[0, index] for name, index in space.slots])
        if np.array_equal(values, space.pack(settings)) and space.holds(values):
            _, objective = space.run(values[None])
            yield Trimmed(structure, space.settings(values[None]), float(objective[0]))
        trimmed = trim(space, settings)
        if trimmed is not None:
            yield trimmed


def _allowed(assessor: Assessor, structure: Structure) -> bool:
    """Whether machine and circuit heat so, and each kind has the rounds it must have."""
    least = assessor.rounds_least
    enough = all(structure.kinds.count(kind) >= least[name] for kind, name in enumerate(KINDS))
    return enough and all(map(assessor.heats, structure.modes))


def first(
    assessor: Assessor, solver: SolverName = "auto", report: Callable[[str], None] = lambda _: None
) -> Choice | None:
    """Find the model's programme, neighbours left out: enough to know whether there is one.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    report : callable
        Told what is going on, for a progress line.

    Returns
    -------
    Choice or None
        The programme; None where there is none.
    """
    for safe in (True, False):
        report("choosing the rounds")
        model = Model(
            assessor, Tabulator(assessor, safe=safe).table(), Objective(slack=0.0 if safe else SLACK)
        )
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


def _in_money(outcome: Outcome) -> Outcome:
    return replace(outcome, objective=outcome.objective / MONEY_SCALE, bound=outcome.bound / MONEY_SCALE)


def _with_neighbours(assessor: Assessor, start: Trimmed) -> Trimmed:
    """Trim every structure one step away, move to the cheapest, and again while that helps."""
    best, seen = start, {start.structure}
    for _ in range(PASSES):
        found = best
        for structure, settings in neighbours(best.structure, best.settings, assessor):
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


def neighbours(
    structure: Structure, settings: Settings, assessor: Assessor
) -> Iterator[tuple[Structure, Settings]]:
    """Structures one step away: one round fewer, one more, one heated in another way.

    Parameters
    ----------
    structure : Structure
        Where to start.
    settings : Settings
        Its numbers, one candidate.
    assessor : Assessor
        For the machine's heat modes and the least numbers of rounds.

    Yields
    ------
    tuple
        Structure and numbers to start trimming from.
    """
    least = assessor.rounds_least
    for kind, name in enumerate(KINDS):
        places = [i for i, k in enumerate(structure.kinds) if k == kind]
        if len(places) > least[name]:
            # One of each mode: rounds of the same mode are as good as each other.
            for place in {structure.modes[i]: i for i in places}.values():
                yield _without(structure, settings, place)
        if places and len(places) < assessor.rounds_most[name]:
            yield _twice(structure, settings, places[0] if name == "rinse" else places[-1])
    modes = [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if assessor.heats(mode)]
    for index, mode in enumerate(structure.modes):
        last = index == len(structure.kinds) - 1 or KINDS[structure.kinds[index]] != "rinse"
        if last and assessor.simulator.needs.counts(structure.kinds[index]):
            for other in (Mode.UNHEATED, *modes):
                if other is not mode:
                    yield _heated(structure, settings, index, other, assessor)


def _without(structure: Structure, settings: Settings, index: int) -> tuple[Structure, Settings]:
    keep = [i for i in range(len(structure.kinds)) if i != index]
    return _picked(structure, settings, keep)


def _twice(structure: Structure, settings: Settings, index: int) -> tuple[Structure, Settings]:
    rounds = list(range(len(structure.kinds)))
    return _picked(structure, settings, [*rounds[: index + 1], index, *rounds[index + 1 :]])


def _picked(structure: Structure, settings: Settings, rounds: list[int]) -> tuple[Structure, Settings]:
    return (
        Structure(tuple(structure.kinds[i] for i in rounds), tuple(structure.modes[i] for i in rounds)),
        Settings(
            settings.fill_s[:, rounds],
            settings.element_s[:, rounds],
            settings.spray_s[:, rounds],
            settings.setpoint_c[:, rounds],
        ),
    )


def _heated(
    structure: Structure, settings: Settings, index: int, mode: Mode, assessor: Assessor
) -> tuple[Structure, Settings]:
    """The same with one round heated in another way; the element starts from what it was, or half an hour."""
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
    return Structure(structure.kinds, modes), replace(
        settings, element_s=element_s, spray_s=spray_s, setpoint_c=setpoint_c
    )
