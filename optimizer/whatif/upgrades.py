"""What one change would buy: the plan with each change, against the plan as things are."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.batch.in_parallel import side_by_side
from optimizer.check.certificate import Row
from optimizer.errors import CheckFailedError, NoPlanError, Reason, SolverError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.feasibility import Feasibility, asked_keys
from optimizer.planner.margins import Assessor
from optimizer.planner.reasons import all_at_once, unmet
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs, Plan
from optimizer.whatif.binding import binding
from optimizer.whatif.possible_changes import Change, changes

NOISE = 0.003
"""Share of a run's cost below which a difference counts as none: two searches end some seconds apart [1]."""

Status = Literal["planned", "no plan", "not here", "check failed", "no answer"]


@dataclass(frozen=True)
class Upgrade:
    """A change and the plan with it.

    Attributes
    ----------
    change : Change
        The change.
    status : str
        ``planned``, ``no plan``, ``not here`` where the change cannot be made, ``check failed``, or
        ``no answer`` from the solver.
    proven : Proven or None
        The plan with the change.
    saving : float or None
        What it saves a run, waiting counted [currency]; 0 where that is within the noise of two searches,
        negative where it costs more. None where one of the two plans is not there.
    why : tuple of str
        What stands in the way with the change, or why it was not proven.
    """

    change: Change
    status: Status
    proven: Proven | None = None
    saving: float | None = None
    why: tuple[str, ...] = ()


@dataclass(frozen=True)
class Upgrades:
    """All changes of a machine and a goal.

    Attributes
    ----------
    inputs : Inputs
        The profiles as they are.
    now : Proven or None
        The plan as things are.
    refusal : NoPlanError or None
        Why there is none.
    binding : tuple of Row
        Requirements that bind it.
    rows : tuple of Upgrade
        What makes a plan possible where none was, cheapest first; else what saves most first. Changes
        without a plan and those that cannot be made come last.
    """

    inputs: Inputs
    now: Proven | None
    refusal: NoPlanError | None
    binding: tuple[Row, ...]
    rows: tuple[Upgrade, ...]


@dataclass(frozen=True)
class _Asked:
    """A change to plan with: what a plan is held against, and how it is looked for."""

    change: Change
    now: Plan | None
    refused: tuple[str, ...]
    solver: SolverName
    search: Search


def upgrades(
    inputs: Inputs,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
    jobs: int = 0,
) -> Upgrades:
    """Plan anew with each change; `CheckFailedError` where the plan as things are could not be proven.

    Up to `jobs` processes plan side by side.
    """
    now: Proven | None = None
    refusal: NoPlanError | None = None
    try:
        now = plan_and_prove(inputs, solver=solver, report=report, search=search)
    except NoPlanError as error:
        refusal = error
    refused = () if refusal is None else tuple(one.key for one in refusal.reasons)
    asked = [
        _Asked(change, None if now is None else now.plan, refused, solver, search)
        for change in changes(inputs)
    ]
    rows = []
    with side_by_side(_tried, jobs) as workers:
        for number, row in enumerate(workers.answers(asked), start=1):
            report(f"{number} of {len(asked)} changes: {row.change.words}")
            rows.append(row)
    tight = () if now is None else tuple(binding(now))
    return Upgrades(inputs, now, refusal, tight, tuple(sorted(rows, key=_rank)))


def _tried(asked: _Asked) -> Upgrade:
    change, now, solver = asked.change, asked.now, asked.solver
    if change.inputs is None:
        return Upgrade(change, "not here")
    search = replace(asked.search, known=() if now is None else (now.constants,), why=False)
    try:
        proven = plan_and_prove(change.inputs, solver=solver, search=search)
    except NoPlanError as error:
        why = error.reasons or _first_reason(change.inputs, asked.refused, solver, search)
        return Upgrade(change, "no plan", why=tuple(one.sentence for one in why))
    except CheckFailedError as error:
        return Upgrade(change, "check failed", why=error.failures)
    except SolverError as error:
        return Upgrade(change, "no answer", why=(str(error).splitlines()[0].rstrip("."),))
    if now is None:
        return Upgrade(change, "planned", proven)
    saving = now.costs.with_waiting - proven.plan.costs.with_waiting
    return Upgrade(
        change, "planned", proven, saving if abs(saving) > NOISE * abs(now.costs.with_waiting) else 0.0
    )


def _first_reason(
    inputs: Inputs, refused: tuple[str, ...], solver: SolverName, search: Search
) -> tuple[Reason, ...]:
    """Find one requirement that keeps a change from a plan; to find all of them would take many solves.

    First one that does so alone, beginning with those that do without the change; else one of several that do
    so together. Without a nearest value, which would take a plan of its own.
    """
    assessor = Assessor(inputs, rounds_most=search.rounds_most)
    asked, keys = Feasibility(assessor, solver), asked_keys(assessor)
    known = [key for key in refused if key in keys]
    order = known + [key for key in keys if key not in known]
    with suppress(SolverError):
        for key in order:
            if asked.fits(frozenset([key])) is not None:
                return (unmet(assessor, key),)
        if len(known) > 1 and asked.fits(frozenset(known)) is not None:
            return (unmet(assessor, known[0]),)
    return (all_at_once(assessor, gave_up=asked.gave_up),)


def _rank(row: Upgrade) -> tuple[int, float]:
    """Planned ones first, by what they save or, where there is nothing to compare with, by what they cost."""
    if row.proven is None:
        return 2 if row.status == "not here" else 1, 0.0
    return 0, row.proven.plan.costs.with_waiting if row.saving is None else -row.saving
