"""Every shipped machine with every shipped goal: a proven plan, or a reason why there is none."""

from __future__ import annotations

import math

import pytest
from exploring import TIMES
from planner_cases import answer

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.search import Search
from optimizer.planner.structure import Mode
from optimizer.profile.shipped import shipped_names
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan

PAIRS = [(machine, goal) for machine in shipped_names("machine") for goal in shipped_names("goal")]
WITHOUT = {
    ("clubhouse", "nursery"),
    ("clubhouse", "steamed-glasses"),
    ("narrowboat", "nursery"),
    ("narrowboat", "steamed-glasses"),
    ("cold-shed", "everyday"),
    ("cold-shed", "eco-everyday"),
    ("cold-shed", "glasses"),
    ("cold-shed", "nursery"),
    ("cold-shed", "roasting-tins"),
    ("cold-shed", "steamed-glasses"),
}
"""Pairs that have no plan: too little heat, or a tank that does not stand steam."""

UNLIKE = (
    ("clubhouse", "everyday"),
    ("narrowboat", "everyday"),
    ("garage-120v", "nursery"),
    ("garage-120v", "steamed-glasses"),
    ("cold-shed", "fresh-cups"),
)
"""Pairs with a plan that have all kinds between them: timed heat; thermostat and level switch; thermostat and
a rinse held hot for hygiene; steam; no element. Tests that take minutes over all pairs take these."""

SLOW = {("clubhouse", "nursery"), ("garage-120v", "nursery"), ("garage-120v", "everyday")}
"""The longest to plan and to explain."""

LONG_TO_EXPLAIN = {("clubhouse", "nursery"), ("narrowboat", "nursery")}
"""Their reasons take minutes: SCULLION_EXPLORE asks for them. What they say of such pairs with a change is in
`test_planner_reasons.py`."""


@pytest.mark.parametrize(
    "pair",
    [pytest.param(pair, marks=[pytest.mark.slow] if pair in SLOW else []) for pair in PAIRS],
    ids="/".join,
)
def test_proven_or_explained(pair: tuple[str, str]) -> None:
    if pair in LONG_TO_EXPLAIN and not TIMES:
        assert pair in WITHOUT
        with pytest.raises(NoPlanError):
            plan_and_prove(load_inputs(*pair), search=Search(why=False))
        return
    found = answer(*pair)
    assert isinstance(found, NoPlanError) is (pair in WITHOUT)
    if isinstance(found, NoPlanError):
        assert found.reasons
        texts = [text for r in found.reasons for text in (r.requirement, r.asked, r.nearest, r.advice)]
        assert all(texts)
        assert not any("nan" in text.split() or "inf" in text.split() for text in texts)
        return
    assert found.certificate.passed
    assert_sound(found.plan)


def assert_sound(found: Plan) -> None:
    machine, goal, costs = found.inputs.machine, found.inputs.goal, found.costs
    kinds = [row.kind for row in found.constants.rounds]
    assert found.constants.issues("constants") == []
    assert kinds.count("prerinse") >= goal.prerinse.rounds_min
    assert kinds.count("rinse") >= goal.rinse.rounds_min
    assert "wash" in kinds
    assert costs.peak_a <= found.inputs.circuit.available_a
    assert costs.duration_min <= goal.limits.duration_min
    assert all(math.isfinite(value) for value in vars(costs).values())
    assert costs.money_low <= costs.money <= costs.money_high
    # The model's search is cut off where it is long; every round is trimmed and proven all the same.
    assert found.solve.status in ("optimal", "search budget")
    assert found.solve.bound <= found.solve.objective
    heated = [row for row in found.constants.rounds if row.heated]
    thermostat = machine.element is not None and machine.element.control == "thermostat"
    assert found.constants.control == ("thermostat" if thermostat else "timed")
    assert all((row.setpoint_dc > 0) is thermostat for row in heated if row.kind != "steam")
    assert not heated or machine.element is not None


def test_both_controls_and_both_heat_modes_are_among_them() -> None:
    """So that the table above says something of each."""
    plans = [answer(*pair) for pair in PAIRS if pair not in WITHOUT | SLOW]
    rows = [
        (found.plan.constants.control, row)
        for found in plans
        if not isinstance(found, NoPlanError)
        for row in found.plan.constants.rounds
    ]
    assert {control for control, row in rows if row.heated} == {"timed", "thermostat"}
    assert {bool(row.heat_s) for _, row in rows if row.heated and row.kind != "steam"} == {True, False}
    assert any(
        found.plan.constants.fill_control == "level" for found in plans if not isinstance(found, NoPlanError)
    )
    assert len(Mode) >= 3
