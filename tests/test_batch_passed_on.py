"""Plans of a study are passed on from case to case; real plans of the tiny machine."""

from __future__ import annotations

import pytest
from planner_cases import FEW, FEW_ROUNDS, tiny

from optimizer.batch.cache_key import engine
from optimizer.batch.cases import Case
from optimizer.batch.passed_on import LESS, run_and_pass_on
from optimizer.batch.run_cases import Study, WorkerSettings, run_cases
from optimizer.check.certify import check
from optimizer.planner.search import Search
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import plan_to_json

HERE = WorkerSettings(jobs=0)
BLIND = Search(rounds_most=FEW_ROUNDS | {"rinse": 1}, why=False)
"""A search that finds nothing: one rinse does not reach these residues (`test_one_rinse_cannot_do`)."""
EASIER, HARDER = {"goal__rinse__residue_max": 0.025}, {"goal__rinse__residue_max": 0.02}


def case(inputs: Inputs, search: Search) -> Case:
    return Case(inputs, engine("auto"), "auto", search)


def costs(study: Study) -> list[float | None]:
    return [one and one.plan and one.plan.costs.with_waiting for one in study.results]


def cases() -> list[Case]:
    """One that is easier and found by nobody, a harder one, and the harder one at another price."""
    dear = tiny(0.6, **HARDER)
    return [case(tiny(**EASIER), BLIND), case(tiny(**HARDER), FEW), case(dear, BLIND)]


@pytest.fixture(scope="module")
def passed() -> Study:
    return run_and_pass_on(cases(), HERE)


def test_the_harder_case_is_a_start_of_the_easier_one(passed: Study) -> None:
    """By itself nothing is found for the first and the last; with the plan of the second there is one."""
    alone = costs(run_cases(cases(), HERE))
    assert [alone[0], alone[2]] == [None, None]
    easier, harder, dear = costs(passed)
    assert harder == alone[1]
    assert easier is not None
    assert dear is not None
    assert easier <= harder * (1.0 + LESS) < dear


def test_what_was_passed_on_is_proven_and_keeps_its_case(passed: Study) -> None:
    for asked, found in zip(cases(), passed.results, strict=True):
        assert found is not None
        assert found.plan is not None
        assert found.case == asked
        inputs = found.plan.inputs
        assert inputs == asked.inputs
        assert check(found.plan.constants, inputs.machine, inputs.goal, inputs.circuit).passed


def test_a_case_that_no_plan_betters_is_not_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The harder case has nothing of the easier one: its programme does not hold there."""
    calls: list[int] = []

    def counted(some: list[Case], *rest: object) -> Study:
        calls.append(len(some))
        return run_cases(some, HERE)

    monkeypatch.setattr("optimizer.batch.passed_on.run_cases", counted)
    run_and_pass_on([case(tiny(goal__rinse__residue_max=0.1), FEW), case(tiny(**HARDER), BLIND)], HERE)
    assert calls == [2]


@pytest.mark.slow
def test_two_jobs_pass_on_the_same(passed: Study) -> None:
    by_two = run_and_pass_on(cases(), WorkerSettings(jobs=2)).results
    for one, two in zip(passed.results, by_two, strict=True):
        assert one is not None
        assert two is not None
        assert (one.case, one.status) == (two.case, two.status)
        assert one.plan is not None
        assert two.plan is not None
        assert plan_to_json(one.plan) == plan_to_json(two.plan)
