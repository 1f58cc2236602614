"""Why a plan is what it is: what binds it and what that costs, and what else it might have been."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from optimizer.check.certificate import Certificate, Row
from optimizer.check.run import check
from optimizer.errors import CheckFailedError, NoPlanError
from optimizer.planner.alternatives import Alternative, Alternatives, What
from optimizer.planner.energy import programme_of
from optimizer.planner.model import POSITIONS
from optimizer.planner.plan import Search, constants_of
from optimizer.planner.requirements import Assessor
from optimizer.planner.solve import SolverName
from optimizer.programme.plan import Inputs, Plan
from optimizer.programme.table import KINDS, Constants, Kind
from optimizer.study.binding import binding
from optimizer.study.changes import Change
from optimizer.study.prove import Proven, plan_and_prove
from optimizer.study.relax import relaxed
from optimizer.study.upgrades import NOISE, counted

ASKED_KINDS: tuple[Kind, ...] = ("prerinse", "wash", "rinse")
"""Kinds of which one may have one fewer or one more."""

TELLING = 0.01
"""Share of the limit by which a requirement must fall short to be named; the shortest always is [1]."""


@dataclass(frozen=True)
class Bound:
    """A requirement that binds, and the plan with it relaxed by a step.

    Attributes
    ----------
    row : Row
        The requirement with its margin.
    change : Change or None
        The step; None where there is none to make.
    proven : Proven or None
        The plan anew with the step; None where the step cannot be made, or no other plan came of it.
    saving : float or None
        What a run saves by it [currency]; 0 where that is within the noise of two searches. None where the
        step cannot be made.
    """

    row: Row
    change: Change | None
    proven: Proven | None
    saving: float | None


@dataclass(frozen=True)
class Short:
    """A requirement that a programme falls short of.

    Attributes
    ----------
    row : Row
        What the check finds; it may pass where the planner, which keeps a little back, does not.
    share : float
        By how much it falls short, of the limit: the check's share, or the planner's where the check
        passes [1].
    """

    row: Row
    share: float


@dataclass(frozen=True)
class Other:
    """A programme that was not chosen.

    Attributes
    ----------
    found : Alternative
        The programme; its cheapest numbers, or those with which least falls short.
    more : float
        What it costs a run more than the plan [currency]; 0 within the noise, negative where it is cheaper.
        Means nothing where something falls short.
    short : tuple of Short
        What it falls short of, the shortest first; empty where it holds and passes the check.
    """

    found: Alternative
    more: float
    short: tuple[Short, ...]


@dataclass(frozen=True)
class Rounds:
    """One round of a kind fewer or more.

    Attributes
    ----------
    kind : str
        The kind.
    now, then : int
        How many the plan has, and how many are asked about [1].
    other : Other or None
        The best programme with so many; None where they are not allowed, or none could be tried.
    least, most : int
        How many the goal asks for at least, and how many are ever tried [1].
    """

    kind: Kind
    now: int
    then: int
    other: Other | None
    least: int
    most: int


@dataclass(frozen=True)
class Moved:
    """Level or heat of equal rounds a step lower or higher, all else trimmed anew.

    Attributes
    ----------
    rounds : tuple of int
        Indices of the rounds [1].
    what : str
        ``level`` or ``heat``.
    sign : int
        -1 for less, 1 for more [1].
    other : Other
        The programme held to it.
    """

    rounds: tuple[int, ...]
    what: What
    sign: Literal[-1, 1]
    other: Other


@dataclass(frozen=True)
class Explanation:
    """Why a plan is what it is.

    Attributes
    ----------
    plan : Plan
        The plan.
    chosen : Alternative
        Its programme, as the planner judges it.
    cheaper : Proven or None
        A cheaper plan for the same profiles, where planning anew found one.
    bounds : tuple of Bound
        What binds it, what saves most first.
    rounds : tuple of Rounds
        One fewer and one more of each kind.
    moved : tuple of Moved
        Levels and heat a step lower and higher.
    next_best : Other or None
        The cheapest programme of other rounds; None where none was found.
    nominal : int
        Number of the nominal corner, for what programmes do there [1].
    """

    plan: Plan
    chosen: Alternative
    cheaper: Proven | None
    bounds: tuple[Bound, ...]
    rounds: tuple[Rounds, ...]
    moved: tuple[Moved, ...]
    next_best: Other | None
    nominal: int

    @property
    def cost(self) -> float:
        """What the planner counts for a run of the plan [currency]."""
        return counted(self.plan.costs)

    @property
    def base_cost(self) -> float:
        """What savings are counted from: the plan, or the cheaper one that was found [currency]."""
        return self.cost if self.cheaper is None else counted(self.cheaper.plan.costs)


def explain(
    plan: Plan,
    certificate: Certificate,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
) -> Explanation:
    """Explain a plan by what would have been otherwise.

    Parameters
    ----------
    plan : Plan
        The plan.
    certificate : Certificate
        That it passed.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    report : callable
        Told what is going on, for a progress line.

    Returns
    -------
    Explanation
        What binds, and the alternatives.
    """
    report("planning anew, to see whether this plan is the cheapest")
    judge = _Judge(plan, solver)
    anew = _planned(plan.inputs, (plan.constants,), solver)
    cost = counted(plan.costs)
    cheaper = None
    if anew is not None and counted(anew.plan.costs) < cost - NOISE * abs(cost):
        cheaper = anew
    report("trimming other rounds")
    rounds = tuple(judge.rounds())
    report("trimming other levels and more or less heat")
    moved = tuple(judge.moved())
    report("looking for the next-best rounds")
    next_best = judge.next_best()
    rows = _binding(Proven(plan, certificate), rounds)
    bounds = []
    for number, row in enumerate(rows, start=1):
        report(f"requirement {number} of {len(rows)}: {row.requirement}")
        bounds.append(_bound(plan if cheaper is None else cheaper.plan, row, solver))
    bounds.sort(key=lambda bound: -1.0 if bound.saving is None else bound.saving, reverse=True)
    return Explanation(plan, judge.chosen, cheaper, tuple(bounds), rounds, moved, next_best, judge.nominal)


def _binding(proven: Proven, rounds: Iterable[Rounds]) -> list[Row]:
    """What has next to nothing to spare, and what keeps the plan from having a round fewer or more."""
    rows = binding(proven)
    bound = {row.key for row in rows}
    keeps = {short.row.key for one in rounds if one.other is not None for short in one.other.short} - bound
    return [*rows, *(row for row in proven.certificate.rows if row.key in keeps)]


def _bound(plan: Plan, row: Row, solver: SolverName) -> Bound:
    change = relaxed(plan.inputs, row.key, row.requirement)
    if change is None or change.inputs is None:
        return Bound(row, change, None, None)
    proven = _planned(change.inputs, (plan.constants,), solver)
    # What held before still holds: without a cheaper plan the step is worth nothing, never less.
    cost = counted(plan.costs)
    saving = 0.0 if proven is None else cost - counted(proven.plan.costs)
    return Bound(row, change, proven, saving if saving > NOISE * abs(cost) else 0.0)


def _planned(inputs: Inputs, known: tuple[Constants, ...], solver: SolverName) -> Proven | None:
    with suppress(NoPlanError, CheckFailedError):
        return plan_and_prove(inputs, solver=solver, search=Search(known=known, why=False))
    return None


class _Judge:
    """Holds other programmes against the plan."""

    def __init__(self, plan: Plan, solver: SolverName) -> None:
        self._plan = plan
        self._structure, self._settings = programme_of(plan.constants)
        self._assessor = Assessor(plan.inputs)
        self._others = Alternatives(self._assessor, self._structure, self._settings, solver)

    @property
    def chosen(self) -> Alternative:
        """The plan's own programme."""
        return self._others.chosen

    @property
    def nominal(self) -> int:
        """Number of the nominal corner."""
        return self._assessor.simulator.cases.nominal

    def rounds(self) -> Iterator[Rounds]:
        """One fewer and one more of each kind."""
        for name in ASKED_KINDS:
            kind = KINDS.index(name)
            now, least = self.chosen.rounds(kind), self._others.least(kind)
            for then in (now - 1, now + 1):
                if then >= 0:
                    found = self._others.with_rounds(kind, then)
                    yield Rounds(name, now, then, self._other(found), least, POSITIONS[name])

    def moved(self) -> Iterator[Moved]:
        """Level and heat of each group of equal rounds."""
        whats: tuple[What, ...] = ("level", "heat")
        signs: tuple[Literal[-1, 1], ...] = (-1, 1)
        for rounds in self._equal_rounds():
            for what in whats:
                for sign in signs:
                    other = self._other(self._others.moved(rounds, what, sign))
                    if other is not None:
                        yield Moved(rounds, what, sign, other)

    def next_best(self) -> Other | None:
        """The cheapest programme of other rounds."""
        return self._other(self._others.next_best())

    def _equal_rounds(self) -> Iterator[tuple[int, ...]]:
        """Rounds in a row of one kind and heat mode."""
        alike = list(zip(self._structure.kinds, self._structure.modes, strict=True))
        for _, places in groupby(range(len(alike)), key=alike.__getitem__):
            yield tuple(places)

    def _other(self, found: Alternative | None) -> Other | None:
        if found is None:
            return None
        cost = counted(self._plan.costs)
        more = found.cost - cost
        constants = constants_of(self._assessor, found.structure, found.settings, found.runs)
        inputs = self._plan.inputs
        rows = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows
        return Other(found, more if abs(more) > NOISE * abs(cost) else 0.0, tuple(_short(rows, found)))


def _short(rows: Iterable[Row], found: Alternative) -> list[Short]:
    """What falls short by more than whole seconds do, the shortest first; at least the shortest."""
    rows = list(rows)
    short = [Short(row, -row.margin_share) for row in rows if not row.passed]
    short = short or [Short(row, found.short[row.key]) for row in rows if row.key in found.short]
    short.sort(key=lambda one: one.share, reverse=True)
    return [one for number, one in enumerate(short) if number == 0 or one.share > TELLING]
