"""Why a plan is what it is: what binds it, what that costs, and what other programmes would cost."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.check.certificate import Certificate, Row
from optimizer.errors import CheckFailedError, NoPlanError, SolverError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.alternatives import Alternative
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs, Plan
from optimizer.whatif.binding import binding, relaxed
from optimizer.whatif.others import OtherProgramme, OtherProgrammes, RoundsTried, StepTried
from optimizer.whatif.possible_changes import Change
from optimizer.whatif.upgrades import NOISE


@dataclass(frozen=True)
class BindingRequirement:
    """A requirement that binds, and the plan with it relaxed by a step.

    Attributes
    ----------
    row : Row
        The requirement with its margin.
    change : Change or None
        The step; None where there is none to make.
    proven : Proven or None
        The plan anew with the step; None where the step cannot be made, or none was proven in the time.
    saving : float or None
        What a run saves by it [currency]; 0 where that is within the noise of two searches. None where
        there is no such plan.
    """

    row: Row
    change: Change | None
    proven: Proven | None
    saving: float | None


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
    binding : tuple of BindingRequirement
        What binds it, what saves most first.
    rounds : tuple of RoundsTried
        One fewer and one more of each kind.
    moved : tuple of StepTried
        Levels and heat a step lower and higher.
    next_best : OtherProgramme or None
        The cheapest programme of other rounds; None where none was found.
    nominal : int
        Number of the nominal corner, for what programmes do there [1].
    """

    plan: Plan
    chosen: Alternative
    cheaper: Proven | None
    binding: tuple[BindingRequirement, ...]
    rounds: tuple[RoundsTried, ...]
    moved: tuple[StepTried, ...]
    next_best: OtherProgramme | None
    nominal: int

    @property
    def cost(self) -> float:
        """What the planner counts for a run of the plan, by its constants [currency]."""
        return self.chosen.cost

    @property
    def base_cost(self) -> float:
        """What savings are counted from: the plan, or the cheaper one that was found [currency]."""
        return self.cost if self.cheaper is None else self.cheaper.plan.costs.with_waiting


def explain(
    plan: Plan,
    certificate: Certificate,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
) -> Explanation:
    """Explain a plan: relax what binds it, step by step, and try other programmes."""
    report("planning anew, to see whether this plan is the cheapest")
    rounds_most = search.rounds_most
    search = replace(search, known=(plan.constants,), why=False)
    anew = _planned(plan.inputs, solver, search)
    # A plan does not say what was kept back to make it provable; planning anew has learnt it again.
    proven = Proven(plan, certificate, {} if anew is None else anew.backoff)
    others = OtherProgrammes(proven, solver, rounds_most)
    cost, cheaper = others.chosen.cost, None
    if anew is not None and anew.plan.costs.with_waiting < cost - NOISE * abs(cost):
        cheaper, cost = anew, anew.plan.costs.with_waiting
    report("trimming other rounds")
    rounds = tuple(others.rounds())
    report("trimming other levels and more or less heat")
    moved = tuple(others.moved())
    report("looking for the next-best rounds")
    next_best = others.next_best()
    if cheaper is not None:
        search = replace(search, known=(cheaper.plan.constants,))
    rows = _binding(proven, rounds)
    eased = []
    for number, row in enumerate(rows, start=1):
        report(f"requirement {number} of {len(rows)}: {row.requirement}")
        change = relaxed(plan.inputs, row.key, row.requirement)
        eased.append(_eased(row, change, cost, solver, search))
    eased.sort(key=lambda one: -1.0 if one.saving is None else one.saving, reverse=True)
    return Explanation(plan, others.chosen, cheaper, tuple(eased), rounds, moved, next_best, others.nominal)


def _binding(proven: Proven, rounds: Iterable[RoundsTried]) -> list[Row]:
    """What binds the plan, and what keeps it from having a round fewer or more."""
    rows = binding(proven)
    bind = {row.key for row in rows}
    keeps = {short.row.key for one in rounds if one.other is not None for short in one.other.short} - bind
    return [*rows, *(row for row in proven.certificate.rows if row.key in keeps)]


def _eased(
    row: Row, change: Change | None, cost: float, solver: SolverName, search: Search
) -> BindingRequirement:
    if change is None or change.inputs is None:
        return BindingRequirement(row, change, None, None)
    proven = _planned(change.inputs, solver, search)
    if proven is None:
        # An eased requirement rules nothing out, so the search or the check must have ended this one.
        return BindingRequirement(row, change, None, None)
    saving = cost - proven.plan.costs.with_waiting
    return BindingRequirement(row, change, proven, saving if saving > NOISE * abs(cost) else 0.0)


def _planned(inputs: Inputs, solver: SolverName, search: Search) -> Proven | None:
    with suppress(NoPlanError, CheckFailedError, SolverError):
        return plan_and_prove(inputs, solver=solver, search=search)
    return None
