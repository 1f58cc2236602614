"""What one change would buy: the plan with each change, against the plan as things are."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.check.certificate import Row
from optimizer.errors import CheckFailedError, NoPlanError, Reason, SolverError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import Feasibility, asked_keys, nearest, together
from optimizer.planner.reasons import all_at_once
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs
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


def upgrades(
    inputs: Inputs,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
) -> Upgrades:
    """Plan anew with each change; `CheckFailedError` where the plan as things are could not be proven."""
    now: Proven | None = None
    refusal: NoPlanError | None = None
    try:
        now = plan_and_prove(inputs, solver=solver, report=report, search=search)
    except NoPlanError as error:
        refusal = error
    asked = changes(inputs)
    rows = []
    for number, change in enumerate(asked, start=1):
        report(f"change {number} of {len(asked)}: {change.words}")
        rows.append(_tried(change, now, refusal, solver, search))
    tight = () if now is None else tuple(binding(now))
    return Upgrades(inputs, now, refusal, tight, tuple(sorted(rows, key=_rank)))


def _tried(
    change: Change, now: Proven | None, refusal: NoPlanError | None, solver: SolverName, search: Search
) -> Upgrade:
    if change.inputs is None:
        return Upgrade(change, "not here")
    known = () if now is None else (now.plan.constants,)
    search = replace(search, known=known, why=False)
    try:
        proven = plan_and_prove(change.inputs, solver=solver, search=search)
    except NoPlanError as error:
        why = error.reasons or _first_reason(change.inputs, refusal, solver, search)
        return Upgrade(change, "no plan", why=tuple(one.sentence for one in why))
    except CheckFailedError as error:
        return Upgrade(change, "check failed", why=error.failures)
    except SolverError as error:
        return Upgrade(change, "no answer", why=(str(error).splitlines()[0].rstrip("."),))
    if now is None:
        return Upgrade(change, "planned", proven)
    cost = now.plan.costs.with_waiting
    saving = cost - proven.plan.costs.with_waiting
    return Upgrade(change, "planned", proven, saving if abs(saving) > NOISE * abs(cost) else 0.0)


def _first_reason(
    inputs: Inputs, refusal: NoPlanError | None, solver: SolverName, search: Search
) -> tuple[Reason, ...]:
    """Find one requirement that keeps a change from a plan; to find all of them would take many solves.

    First one that does so alone, beginning with those that do without the change; else one of several that do
    so together.
    """
    assessor = Assessor(inputs, rounds_most=search.rounds_most)
    asked, keys = Feasibility(assessor, solver), asked_keys(assessor)
    refused = () if refusal is None else refusal.reasons
    known = frozenset(one.key for one in refused) & frozenset(keys)
    tries = [(key, frozenset[str]()) for key in sorted(keys, key=lambda key: key not in known)]
    tries += [(key, known - {key}) for key in keys if key in known]
    with suppress(SolverError):
        for key, without in tries:
            reason = nearest(asked, key, without)
            if reason is not None:
                return (reason,)
        found, _ = together(asked)
        return tuple(found[:1]) or (all_at_once(assessor, gave_up=asked.gave_up),)
    return ()


def _rank(row: Upgrade) -> tuple[int, float]:
    """Planned ones first, by what they save or, where there is nothing to compare with, by what they cost."""
    if row.proven is None:
        return 2 if row.status == "not here" else 1, 0.0
    return 0, row.proven.plan.costs.with_waiting if row.saving is None else -row.saving
