"""Search: tabulate, choose with the integer model, trim, and try the neighbours.

The model picks the structure; trimming is so cheap that every structure one step away is trimmed too, and
the cheapest is kept. The model with optimistic lines is asked first; where nothing that it finds can be
trimmed, the one with safe lines is asked before the answer is that there is no plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from optimizer.planner.integer_model import MONEY_SCALE, Model
from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import without_little_heat
from optimizer.planner.objective import EpsilonConstraint, Objective
from optimizer.planner.round_options import OptionTable
from optimizer.planner.solver import GAP, Outcome, SolverName, run_solver, solver_label
from optimizer.planner.steps import Stepping, stepped
from optimizer.planner.structure import ROUNDS_MOST, USUAL_TERMS, Programme, Structure, Terms
from optimizer.planner.tabulate import Tabulator
from optimizer.planner.trim import Trimmed, trim
from optimizer.planner.trim_space import FEASIBLE, Space
from optimizer.planner.wider_search import wider_search
from optimizer.planner.worst_corners import Finder, worst_corners
from optimizer.programme.constants import KINDS, Constants

Asked = tuple[tuple[bool, int], ...]
ASKED: Asked = ((False, 1), (True, 3), (False, 3))
"""Models asked one after the other, with lines on the safe side or not, and how many structures each gives
while none can be trimmed [1]. The looser one is the quicker, and no reserve of its lines is in the way."""

SLACK = 0.03
"""Share by which a programme of the model may fall short when its lines are optimistic [1]."""

WIDE_SLACK, WIDE_GAP = 0.12, 0.05
"""The same share, and the gap at which the solver stops, where even with `SLACK` the model has no programme:
only a start for the search [1]."""

PLAINER_SHARE = 0.005
"""What a programme may cost more without a heating of a few minutes, a share of its cost [1]: our choice."""

GROWTHS = 6
"""Most times that worst points join the corners [1]."""


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
    neighbours : bool
        Whether to look for a cheaper plan one step away from the model's: most of the time goes there.
    wider : bool
        Whether to search further where nothing that the models choose can be trimmed.
    anew : bool
        Whether rounds are chosen anew where those of an earlier plan do not hold.
    terms : Terms
        What holds beside the goal.
    asked : tuple of (bool, int)
        The models that are asked one after the other, as in `ASKED`: fewer solves find fewer plans.
    gap : float
        Relative gap at which a solve of theirs counts as optimal [1].
    """

    epsilon_constraint: EpsilonConstraint | None = None
    known: tuple[Constants, ...] = ()
    why: bool = True
    rounds_most: Mapping[str, int] = field(default_factory=lambda: ROUNDS_MOST)
    neighbours: bool = True
    wider: bool = True
    anew: bool = True
    terms: Terms = USUAL_TERMS
    asked: Asked = ASKED
    gap: float = GAP

    @property
    def plainest(self) -> Search:
        """The same without reasons, known programmes, steps to neighbours and the wider search."""
        return replace(self, why=False, known=(), neighbours=False, wider=False)


@dataclass(frozen=True)
class Models:
    """How models are asked: ``wider``, ``asked`` and ``gap`` as in `Search`.

    Structures that could not be trimmed join those in ``struck``, if there is such a list, and none of these
    is asked for: under rules that are no laxer they would hardly hold.
    """

    wider: bool = True
    asked: Asked = ASKED
    gap: float = GAP
    struck: list[Structure] | None = None


USUAL_MODELS = Models()

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
    find: Finder | None = None,
    *,
    stepping: Stepping | None = None,
    models: Models = USUAL_MODELS,
) -> Choice | None:
    """Find the cheapest programme: the model's, a known one that holds, or one some steps from these.

    None where there is no programme. ``report`` is told each step, for a progress line. With ``find`` it
    holds at the worst points of the tolerances, which join the corners of the assessor. ``stepping`` keeps
    what each structure came to, for `choose_again`.
    """
    stepping = stepping or Stepping()
    choice = _grown(
        assessor,
        choose_by_model(assessor, solver, report, models=models),
        solver,
        find,
        models=models,
    )
    for held in _known(assessor, known):
        if choice is None:
            # No solve stands behind it, and so no bound of one.
            outcome = Outcome("search budget", solver_label(solver), held.objective, 0.0, work=0)
            choice = Choice(held, outcome)
        elif held.objective < choice.trimmed.objective:
            choice = replace(choice, trimmed=held)
    if choice is None:
        return None
    if not stepping.near:
        return _grown(assessor, choice, solver, find, models=models)
    settled = _settled(assessor, choice, solver, find, stepping)
    return settled or _grown(assessor, choice, solver, find, models=models)


def choose_again(
    assessor: Assessor,
    earlier: Programme,
    outcome: Outcome,
    find: Finder | None = None,
    *,
    stepping: Stepping | None = None,
) -> Choice | None:
    """Trim a programme that was chosen under laxer rules again, without the model.

    None where its structure no longer holds. The model's bound holds for stricter rules as well. ``stepping``
    is that of `choose`, filled under the laxer rules. Steps seldom find more here: the choice is foreseen.
    """
    structure, settings = earlier
    trimmed = trim(Space(assessor, structure), settings, thorough=True)
    if trimmed is None:
        return None
    # What did not hold from one start may from another.
    stepping = stepping or Stepping()
    for other in [other for other, least in stepping.tried.items() if least == np.inf]:
        del stepping.tried[other]
    choice = _grown(assessor, Choice(trimmed, outcome), None, find)
    if choice is None or not stepping.near:
        return choice
    stepping.foresee(choice.trimmed.programme)
    return _settled(assessor, choice, None, find, stepping)


def _settled(
    assessor: Assessor, choice: Choice, solver: SolverName | None, find: Finder | None, stepping: Stepping
) -> Choice | None:
    """Step, and let the worst points join, until neither changes anything."""
    tried = stepping.tried
    for number in range(GROWTHS):
        if number:
            stepping.foresee(choice.trimmed.programme)
        best = stepped(assessor, choice.trimmed, tried)
        grown = _grown(assessor, replace(choice, trimmed=best), solver, find)
        if grown is None or grown.trimmed is best:
            return grown
        plain = without_little_heat(best.programme)
        if plain is not None and grown.trimmed.programme.structure == plain.structure:
            tried[best.programme.structure] = np.inf  # It may save a little, and is not to come back.
        choice = grown
    return choice


def _grown(
    assessor: Assessor,
    choice: Choice | None,
    solver: SolverName | None,
    find: Finder | None,
    *,
    models: Models = USUAL_MODELS,
) -> Choice | None:
    """Let the worst points of a choice join the corners, and trim it again, until it holds at all of them.

    Where its structure holds no longer, the model is asked again, if there is a solver for it.
    """
    if find is None:
        return choice
    for _ in range(GROWTHS):
        if choice is None:
            break
        choice = replace(choice, trimmed=_without_little_heat(assessor, choice.trimmed))
        programme = choice.trimmed.programme
        assessor.count_with(worst_corners(assessor, programme, find))
        margins, _bill = assessor.run(programme)
        if min(float(margin.min()) for margin in margins.values()) >= FEASIBLE:
            break
        structure, settings = programme
        trimmed = trim(Space(assessor, structure), settings, thorough=True)
        if trimmed is not None:
            choice = replace(choice, trimmed=trimmed)
        else:
            if models.struck is not None:
                models.struck.append(structure)
            choice = None if solver is None else choose_by_model(assessor, solver, models=models)
    return choice


def _without_little_heat(assessor: Assessor, trimmed: Trimmed) -> Trimmed:
    """Leave out heatings of a few minutes, where the programme is hardly dearer without them.

    A structure that was trimmed again for more corners may no longer need a heating that it was chosen with.
    """
    plain = without_little_heat(trimmed.programme)
    if plain is None:
        return trimmed
    most = trimmed.objective + PLAINER_SHARE * abs(trimmed.objective)
    tried = trim(Space(assessor, plain.structure), plain.settings, worse_than=most)
    return trimmed if tried is None or tried.objective > most else tried


def _known(assessor: Assessor, known: Sequence[Programme]) -> Iterator[Trimmed]:
    """Known programmes, as they are and trimmed anew, where they hold."""
    for programme in known:
        structure, settings = programme
        if not allowed(assessor, structure):
            continue
        space = Space(assessor, structure)
        values = np.array([getattr(settings, name)[0, index] for name, index in space.slots])
        if np.array_equal(values, space.pack(settings)) and space.holds(values):
            _, objective = space.run(values[None])
            yield Trimmed(space.programme(values[None]), float(objective[0]))
        trimmed = trim(space, settings)
        if trimmed is not None:
            yield trimmed


def allowed(assessor: Assessor, structure: Structure) -> bool:
    """Whether machine and circuit allow its heat modes, and each kind has the least rounds."""
    least = assessor.rounds_least
    enough = all(structure.kinds.count(kind) >= least[name] for kind, name in enumerate(KINDS))
    soaks = all(assessor.soaking.may(structure.kinds[index]) for index in structure.soaked)
    return enough and soaks and all(map(assessor.heats, structure.modes))


def choose_by_model(
    assessor: Assessor,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    *,
    models: Models = USUAL_MODELS,
) -> Choice | None:
    """Find the model's programme, neighbours left out: enough to know whether there is one.

    Where none of those that the models choose can be trimmed, the search is widened from there, if it may.
    """
    missed: list[tuple[Programme, Outcome]] = []
    by_lines: dict[bool, Model] = {}
    exhausted: set[bool] = set()
    for safe, times in models.asked:
        if safe in exhausted:
            continue
        report("choosing the rounds")
        if safe not in by_lines:
            by_lines[safe] = model_for(assessor, Objective(), safe=safe)
            for structure in models.struck or ():
                by_lines[safe].forbid(structure)
        model = by_lines[safe]
        for _ in range(times):
            outcome = run_solver(model.rows.problem, solver, models.gap)
            if outcome.status == "infeasible":
                exhausted.add(safe)
                break
            structure, start = model.chosen()
            report("trimming the durations")
            trimmed = trim(Space(assessor, structure), start, thorough=models.wider)
            if trimmed is None and structure.soaked:
                trimmed = trim(Space(assessor, replace(structure, soaked=())), start)
            if trimmed is not None:
                return Choice(trimmed, _in_money(outcome))
            missed.append((Programme(structure, start), outcome))
            model.forbid(structure)
            if models.struck is not None:
                models.struck.append(structure)
    if not models.wider:
        return None
    if not missed:
        model = model_for(assessor, Objective(), safe=False, slack=WIDE_SLACK)
        outcome = run_solver(model.rows.problem, solver, WIDE_GAP)
        if outcome.status == "infeasible":
            return None
        missed.append((model.chosen(), outcome))
    report("searching further")
    found = wider_search(assessor, [programme for programme, _ in missed])
    if found is None:
        return None
    outcome = replace(missed[-1][1], status="search budget")
    return Choice(found, _in_money(outcome))


def model_for(assessor: Assessor, objective: Objective, *, safe: bool, slack: float = SLACK) -> Model:
    """Set up a model; if not safe, its lines are optimistic and every requirement may fall a little short."""
    timed = "limits.duration_min" not in (objective.aim, *objective.drop)
    table = _table(assessor, safe, timed)
    return Model(assessor, table, replace(objective, slack=0.0 if safe else slack))


@lru_cache(maxsize=8)
def _table(assessor: Assessor, safe: bool, timed: bool) -> OptionTable:
    """The options, kept for the other questions that are asked about the same assessor."""
    return Tabulator(assessor, safe=safe, timed=timed).table()


def _in_money(outcome: Outcome) -> Outcome:
    return replace(outcome, objective=outcome.objective / MONEY_SCALE, bound=outcome.bound / MONEY_SCALE)
