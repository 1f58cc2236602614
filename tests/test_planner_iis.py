"""No plan: the infeasible subset is irreducible, has what its arithmetic says, and is laid out in words."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from planner_cases import FOUR_RINSES, shipped, tiny

from optimizer.errors import NoPlanError, Reason
from optimizer.planner.feasibility import Feasibility, asked_keys
from optimizer.planner.iis import USUAL, Diagnosis, Effort, diagnose, iis
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Objective
from optimizer.planner.search import model_for
from optimizer.planner.solver import Budget, relaxed_conflict
from optimizer.programme.plan import Inputs
from optimizer.report.errors import MORE, no_plan_report, no_plan_to_dict

LITTLE_WATER = {"goal__limits__water_l": 9.0, "goal__rinse__residue_max": 0.001}
CASES: dict[str, tuple[Inputs, set[str]]] = {
    # In 20 min 1 kW warms 4 l of water, the ware and the tank by some 40 K at the very most, with no time
    # left to wash.
    "dose and duration": (tiny(goal__limits__duration_min=20.0), {"dose.fat", "limits.duration_min"}),
    # Each round takes 3.9 l over the pump at the least, so that 9 l are two rounds, and the best two leave
    # (0.65 / 4.5) · (0.65 / (4.5 + 0.65)) = 0.018, not 0.001.
    "water and residue": (tiny(**LITTLE_WATER), {"limits.water_l", "rinse.residue"}),
    # Of 7.6 l 1.25 l stay, so that 0.001 takes four rinses. A prerinse, a wash over the element and these
    # are at least 6.9 l into a dry machine, 8.8 l and four times 6.3 l at the slowest inlet, 22 % more at
    # the fastest: 50 l; one round less is 42 l.
    "water, residue and prerinses": (
        shipped("clubhouse", "everyday", goal__limits__water_l=46.0, goal__limits__duration_min=150.0),
        {"limits.water_l", "rinse.residue", "prerinse.rounds"},
    ),
}
"""Inputs, and by hand the keys of what cannot hold together."""


def test_what_an_obstacle_names_as_nearest_is_planned_first() -> None:
    """A feed of up to 55 °C: the value that is printed plans, or none is printed as nearest."""
    fed = {"machine__inlet__water_c": {"nominal": 50.0, "low": 45.0, "high": 55.0}}
    inputs = shipped("narrowboat", "everyday", **fed)
    (reason,) = diagnose(assessor(inputs)).reasons
    assert (reason.requirement, reason.asked) == ("hottest prerinse", "40 °C")
    limit_c = float(reason.nearest.split()[0])
    assert limit_c > 50.0
    eased = shipped("narrowboat", "everyday", **fed, goal__prerinse__limit_c=limit_c)
    assert Feasibility(assessor(eased)).fits() is not None
    # Where something else stands in the way as well no value is told as near.
    slow = shipped("narrowboat", "everyday", **fed, goal__limits__duration_min=20.0)
    (reason,) = diagnose(assessor(slow)).reasons
    assert reason.nearest.startswith("no plan found up to ")


def assessor(inputs: Inputs) -> Assessor:
    return Assessor(inputs, rounds_most=FOUR_RINSES)


@pytest.fixture(scope="module", params=sorted(CASES))
def case(request: pytest.FixtureRequest) -> tuple[str, Assessor, Diagnosis]:
    judge = assessor(CASES[request.param][0])
    return request.param, judge, diagnose(judge)


def test_the_members_are_those_of_the_arithmetic(case: tuple[str, Assessor, Diagnosis]) -> None:
    name, _, found = case
    keys = [member.key for member in found.iis]
    assert set(keys) == CASES[name][1]
    assert len(set(keys)) == len(keys)
    assert not any(member.nearest for member in found.iis), "to ease one member alone would not do"
    if found.easing == "any":
        assert {reason.key for reason in found.reasons} <= set(keys), (
            "what rules out a plan alone is a member"
        )


def test_the_members_cannot_hold_and_can_without_any_one(case: tuple[str, Assessor, Diagnosis]) -> None:
    _, judge, found = case
    every = frozenset(asked_keys(judge))
    kept = frozenset(member.key for member in found.iis) & every
    asked = Feasibility(judge)
    assert asked.fits(every - kept) is None
    for key in kept:
        assert asked.fits(every - kept | {key}) is not None, key
    if any(member.key == "prerinse.rounds" for member in found.iis):
        goal = judge.inputs.goal
        none = goal.model_copy(update={"prerinse": goal.prerinse.model_copy(update={"rounds_min": 0})})
        assert Feasibility(assessor(replace(judge.inputs, goal=none))).fits(every - kept) is not None


def test_rows_that_highs_names_hold_the_iis() -> None:
    """HiGHS's own infeasible subset of the relaxed rows, an oracle that is not this project's, names no row
    but those of the IIS where the relaxed model is infeasible."""
    judge = assessor(tiny(**LITTLE_WATER))
    model = model_for(judge, Objective(), safe=True)
    rows = relaxed_conflict(model.rows.problem)
    assert rows is not None
    named = {model.rows.keys[row] for row in rows if row in model.rows.keys}
    assert named == {"limits.water_l", "rinse.residue"}


def test_a_feasible_relaxation_and_another_solver_name_no_rows() -> None:
    model = model_for(assessor(tiny()), Objective(), safe=True)
    assert relaxed_conflict(model.rows.problem) is None
    assert relaxed_conflict(model.rows.problem, "cbc") is None


def test_cbc_finds_the_same_iis() -> None:
    keys = [member.key for member in iis(assessor(tiny(**LITTLE_WATER)), "cbc")]
    assert sorted(keys) == ["limits.water_l", "rinse.residue"]


def test_one_requirement_that_cannot_be_met_is_no_iis() -> None:
    cold = {"goal__detergent__spray_least_c": 0.0, "goal__rinse__first_least_c": 0.0}
    found = diagnose(assessor(shipped("cold-shed", "roasting-tins", **cold)))
    assert [reason.nearest for reason in found.reasons] == ["0 min at the most"]
    assert found.iis == ()


class TestEffort:
    """Work is counted: where it ends, the answer is short of something, and never wrong."""

    def test_a_filter_without_effort_is_given_up(self) -> None:
        assert iis(assessor(tiny(**LITTLE_WATER)), effort=replace(USUAL, filter_work=-1)) == ()

    def test_a_solve_without_steps_gives_the_filter_up(self) -> None:
        judge = assessor(CASES["dose and duration"][0])
        assert iis(judge, effort=replace(USUAL, quick=Budget(steps=0, nodes=0))) == ()

    def test_a_search_without_steps_owns_up(self) -> None:
        nothing = Budget(steps=0, nodes=0)
        found = diagnose(assessor(CASES["dose and duration"][0]), effort=Effort(nothing, nothing, 0))
        assert [reason.requirement for reason in found.reasons] == ["requirements together"]
        assert found.reasons[0].nearest.endswith("the search for reasons gave up at its budget")
        assert (found.easing, found.iis) == ("", ())

    @pytest.mark.slow
    def test_ten_times_the_effort_finds_the_same(self) -> None:
        ample = replace(USUAL, quick=Budget(600, 200), filter_work=1500)
        judge = assessor(CASES["dose and duration"][0])
        assert iis(judge, effort=ample) == iis(judge)


WATER = Reason("water of a run", "6 l", "8.3 l", "spare more water", "limits.water_l")
RESIDUE = Reason("rinse residue", "0.02", "", "fill higher", "rinse.residue")


def test_the_report_names_the_iis_first_and_no_member_twice() -> None:
    text = no_plan_report(NoPlanError("No programme does", [WATER], "any", [WATER, RESIDUE]))
    first, iis_line, *rest = text.split("\n\n")
    assert first == "No programme does."
    assert " ".join(iis_line.split()) == (
        "These were not found to hold together, and without any one of them a programme was found: "
        "water of a run (6 l), rinse residue (0.02)."
    )
    assert [part.splitlines()[0] for part in rest] == ["- water of a run"]
    proven = no_plan_report(NoPlanError("No programme does", [], "", [WATER, RESIDUE], proven=True))
    assert "which is no proof: these were not found to hold together" in " ".join(proven.split())
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(
    ("easing", "said"), [("any", "Easing any one"), ("all", "All of these give way together")]
)
def test_the_report_says_what_has_to_give_way(easing: str, said: str) -> None:
    both = NoPlanError("No programme does", [WATER, RESIDUE], easing)  # type: ignore[arg-type]
    assert said in no_plan_report(both)
    assert said not in no_plan_report(NoPlanError("No programme does", [WATER], easing))  # type: ignore[arg-type]


def test_obstacles_that_no_plan_was_made_without_may_hide_others() -> None:
    cold = replace(WATER, nearest="5.2 °C at the most")
    for reasons, easing, more in (
        ([WATER, RESIDUE], "", True),
        ([cold], "", True),
        ([WATER], "", False),
        ([WATER, RESIDUE], "all", False),
        ([cold], "any", False),
    ):
        text = no_plan_report(NoPlanError("No programme does", reasons, easing))  # type: ignore[arg-type]
        assert (MORE in text) is more


@pytest.mark.parametrize(
    ("proven", "said"),
    [(True, "This is proven"), (False, "none is excluded: a search is no proof"), (None, "")],
)
def test_the_report_says_whether_it_is_proven(proven: bool | None, said: str) -> None:
    error = NoPlanError("No programme does", [WATER], proven=proven)
    text = " ".join(no_plan_report(error).split())
    assert said in text
    assert ("is proven" in text, "is no proof" in text) == (proven is True, proven is False)
    assert no_plan_to_dict(error)["proven"] is proven


def test_json_says_the_same() -> None:
    content = no_plan_to_dict(NoPlanError("none", [WATER], "any", [WATER, RESIDUE]))
    assert json.loads(json.dumps(content))["iis"][1]["key"] == "rinse.residue"
    assert content["easing"] == "any"


def test_the_report_points_to_upgrades() -> None:
    error = NoPlanError("No programme does", [WATER], upgrades="clubhouse nursery")
    assert (
        no_plan_report(error)
        .split("\n\n")[-1]
        .startswith("scullion upgrades clubhouse nursery tries changes")
    )
    assert no_plan_to_dict(error)["upgrades"] == "scullion upgrades clubhouse nursery"
    assert "upgrades" not in no_plan_report(NoPlanError("No programme does", [WATER]))


@pytest.mark.parametrize(("key", "told"), [("dose.fat", True), ("rinse.residue", False)])
def test_members_that_a_proven_plan_holds_are_not_told(
    key: str, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan is proven with the dose eased and all else as asked: only what the dose is in conflicts."""
    eased, members = Reason("dose fat", "6 min", "5 min", "", "dose.fat"), (Reason("one", "", "", "", key),)
    monkeypatch.setattr("optimizer.planner.iis.alone", lambda _: [])
    monkeypatch.setattr("optimizer.planner.iis.machine_limits", lambda _: [])
    monkeypatch.setattr("optimizer.planner.iis.together", lambda _: ([eased], True))
    monkeypatch.setattr("optimizer.planner.iis.iis", lambda *_: members)
    found = diagnose(assessor(tiny()))
    assert (found.reasons, found.easing) == ((eased,), "any")
    assert found.iis == (members if told else ())
