"""No plan: the clash is irreducible, has what its arithmetic says, and is laid out in words."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from planner_cases import shipped, tiny

from optimizer.errors import NoPlanError, Reason
from optimizer.planner import iis as clash_module
from optimizer.planner.fitting import fits, model_for
from optimizer.planner.iis import Diagnosis, clash, diagnose
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.reasons import asked_keys
from optimizer.planner.solver import relaxed_conflict
from optimizer.programme.plan import Inputs
from optimizer.report.errors import no_plan_report, no_plan_to_dict

LITTLE_WATER = {"goal__limits__water_l": 9.0, "goal__rinse__residue_max": 0.001}
CASES: dict[str, Inputs] = {
    "dose and duration": tiny(goal__limits__duration_min=20.0),
    "water and residue": tiny(**LITTLE_WATER),
    "water, residue and prerinses": shipped(
        "clubhouse", "everyday", goal__limits__water_l=36.0, goal__limits__duration_min=50.0
    ),
}


@pytest.fixture(scope="module", autouse=True)
def patient() -> object:
    """A busy computer may take longer than a person waits."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(clash_module, "BUDGET_S", 600.0)
        patch.setattr(clash_module, "SOON_S", 60.0)
        patch.setattr(clash_module, "NEAREST_S", 60.0)
        yield


@pytest.fixture(scope="module", params=sorted(CASES))
def judged(request: pytest.FixtureRequest) -> tuple[str, Assessor, Diagnosis]:
    judge = Assessor(CASES[request.param])
    return request.param, judge, diagnose(judge)


def members(found: Diagnosis, judge: Assessor) -> frozenset[str]:
    return frozenset(member.key for member in found.clash) & frozenset(asked_keys(judge))


def test_the_clash_itself_cannot_hold(judged: tuple[str, Assessor, Diagnosis]) -> None:
    _, judge, found = judged
    assert len(found.clash) >= 2
    assert not fits(judge, "auto", frozenset(asked_keys(judge)) - members(found, judge))


def test_without_any_one_of_its_members_the_others_can(judged: tuple[str, Assessor, Diagnosis]) -> None:
    _, judge, found = judged
    every, kept = frozenset(asked_keys(judge)), members(found, judge)
    for key in kept:
        assert fits(judge, "auto", every - kept | {key}), key
    if any(member.key == "prerinse.rounds" for member in found.clash):
        goal = judge.inputs.goal
        none = goal.model_copy(update={"prerinse": goal.prerinse.model_copy(update={"rounds_min": 0})})
        assert fits(Assessor(replace(judge.inputs, goal=none)), "auto", every - kept)


def test_what_is_to_blame_alone_is_in_the_clash_and_nothing_twice(
    judged: tuple[str, Assessor, Diagnosis],
) -> None:
    _, _, found = judged
    keys = [member.key for member in found.clash]
    assert len(set(keys)) == len(keys)
    assert all(member.nearest for member in found.clash)
    if found.easing == "any":
        assert {reason.key for reason in found.reasons} <= set(keys)


def test_the_clashes_are_those_of_the_arithmetic(judged: tuple[str, Assessor, Diagnosis]) -> None:
    """By hand. Tiny, water: each round takes 3.9 l over the pump at the least, so that 9 l are two rounds,
    and the best two leave (0.65 / 4.5) · (0.65 / (4.5 + 0.65)) = 0.018, not 0.001. Tiny, duration: in 20 min
    1 kW warms 4 l of water, the ware and the tank by some 40 K at the very most, with no time left to wash.
    Clubhouse: a prerinse, a wash and the three rinses that 0.001 takes are at least 6.9 l into a dry machine
    and four times 6.5 l at the slowest inlet, an eighth more at the fastest: 37 l; one round less is 30 l."""
    name, _, found = judged
    keys = {member.key for member in found.clash}
    expected = {
        "dose and duration": {"dose.fat", "limits.duration_min"},
        "water and residue": {"limits.water_l", "rinse.residue"},
        "water, residue and prerinses": {"limits.water_l", "rinse.residue", "prerinse.rounds"},
    }
    assert keys == expected[name]


def test_rows_that_highs_names_hold_the_clash() -> None:
    """HiGHS's own infeasible subset of the relaxed rows, an oracle that is not this project's, names no row
    but those of the clash where the relaxed model is infeasible."""
    judge = Assessor(tiny(**LITTLE_WATER))
    model = model_for(judge, Objective(), safe=True)
    rows = relaxed_conflict(model.problem)
    assert rows is not None
    assert {model.row_keys[row] for row in rows if row in model.row_keys} == {
        "limits.water_l",
        "rinse.residue",
    }


def test_a_feasible_relaxation_and_another_solver_name_no_rows() -> None:
    judge = Assessor(tiny())
    model = model_for(judge, Objective(), safe=True)
    assert relaxed_conflict(model.problem) is None
    assert relaxed_conflict(model.problem, "cbc") is None


def test_cbc_finds_the_same_clash() -> None:
    keys = [member.key for member in diagnose(Assessor(tiny(**LITTLE_WATER)), "cbc").clash]
    assert sorted(keys) == ["limits.water_l", "rinse.residue"]


def test_one_requirement_that_cannot_be_met_is_no_clash() -> None:
    with pytest.raises(NoPlanError) as caught:
        plan(shipped("cold-shed", "roasting-tins"))
    assert caught.value.clash == ()
    assert caught.value.easing == "all"


def test_a_search_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clash_module, "BUDGET_S", -1.0)
    assert clash(Assessor(tiny(**LITTLE_WATER))) == ()


WATER = Reason("water of a run", "6 l", "8.3 l", "spare more water", "limits.water_l")
RESIDUE = Reason("rinse residue", "0.02", "0.14, for these alone", "fill higher", "rinse.residue")


def test_the_report_names_the_clash_first_and_no_member_twice() -> None:
    text = no_plan_report(NoPlanError("No programme does", [WATER], "any", [WATER, RESIDUE]))
    first, clash_line, *rest = text.split("\n\n")
    assert first == "No programme does."
    assert clash_line == "These cannot all hold together: water of a run (6 l), rinse residue (0.02)."
    assert [part.splitlines()[0] for part in rest] == [
        "- water of a run",
        "And in what clashes:",
        "- rinse residue",
    ]
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(("easing", "said"), [("any", "Easing any one"), ("all", "No fewer of these")])
def test_the_report_says_what_has_to_give_way(easing: str, said: str) -> None:
    both = NoPlanError("No programme does", [WATER, RESIDUE], easing)  # type: ignore[arg-type]
    assert said in no_plan_report(both)
    assert said not in no_plan_report(NoPlanError("No programme does", [WATER], easing))  # type: ignore[arg-type]


def test_json_says_the_same() -> None:
    content = no_plan_to_dict(NoPlanError("none", [WATER], "any", [WATER, RESIDUE]))
    assert json.loads(json.dumps(content))["clash"][1]["key"] == "rinse.residue"
    assert content["easing"] == "any"
