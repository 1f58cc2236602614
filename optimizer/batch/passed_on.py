"""Plans of a study passed on: what holds in another case, and costs less there, is among its starts.

A plan of a harder goal, a smaller circuit or another tariff may be better than the search's own. Every case
is planned by itself first; then those are planned again that another plan of the study betters as it is.
Which these are hangs on the answers alone, not on who gave them or in what order they came.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from optimizer.batch.answer import CaseResult
from optimizer.batch.cases import Case
from optimizer.batch.run_cases import Progress, Study, WorkerSettings, run_cases
from optimizer.planner.known_programmes import known_here
from optimizer.planner.margins import Assessor
from optimizer.programme.constants import Constants

ROUNDS = 3
"""Times that plans are passed on at the most: a better plan may be better than yet another one [1]."""

LESS = 0.0005
"""Share of its cost by which a case's plan must be bettered [1]: our choice, less than whole seconds turn."""

ASKED_AGAIN = ("planned", "no plan", "check failed")
"""What may become another answer with a plan to start from."""


def run_and_pass_on(
    cases: Sequence[Case], settings: WorkerSettings, report: Callable[[Progress], None] = lambda _: None
) -> Study:
    """Answer every case as `run_cases` does, then again where another case's plan is better.

    A case that was planned again keeps its profiles; its answer is under a key of its own in the cache.
    """
    study = run_cases(cases, settings, report)
    for _ in range(ROUNDS):
        better = {} if study.interrupted else _better(cases, study.results)
        if not better:
            break
        again = run_cases([_from(cases[number], found) for number, found in better.items()], settings)
        results = list(study.results)
        for number, found in zip(better, again.results, strict=True):
            if found is not None and _cost(found) < _cost(results[number]):
                results[number] = replace(found, case=cases[number])
        study = replace(
            study,
            results=tuple(results),
            interrupted=again.interrupted,
            not_cached=study.not_cached or again.not_cached,
            refused=tuple(dict.fromkeys((*study.refused, *again.refused))),
        )
    return study


def _from(case: Case, found: Constants) -> Case:
    return replace(case, search=replace(case.search, known=(*case.search.known, found), why=False))


def _better(cases: Sequence[Case], results: Sequence[CaseResult | None]) -> dict[int, Constants]:
    """For each case the cheapest programme of another one that holds there and betters its own, if any."""
    plans = [one.plan for one in results if one is not None and one.plan is not None]
    # Tables of other profiles differ by their digest, were they otherwise the same.
    known = list(dict.fromkeys(replace(plan.constants, input_sha256="") for plan in plans))
    found = dict[int, Constants]()
    for number, (case, result) in enumerate(zip(cases, results, strict=True)):
        if result is None or result.status not in ASKED_AGAIN:
            continue
        assessor = Assessor(case.inputs, rounds_most=case.search.rounds_most)
        here = known_here(assessor, known, case.solver)
        most = _cost(result)
        if here and here[0].costs.with_waiting < most - (LESS * abs(most) if math.isfinite(most) else 0.0):
            found[number] = here[0].constants
    return found


def _cost(result: CaseResult | None) -> float:
    """What the plan of a case costs, inf without one [currency]."""
    return math.inf if result is None or result.plan is None else result.plan.costs.with_waiting
