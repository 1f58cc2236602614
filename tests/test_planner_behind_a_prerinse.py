"""A tank with room for a wash behind a prerinse, and none for one into a machine that may have dried out."""

from __future__ import annotations

import pytest
from planner_cases import shipped

from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.make_plan import _behind_a_prerinse
from optimizer.planner.margins import Assessor
from optimizer.programme.plan import Inputs


def cramped(capacity_l: float) -> Inputs:
    return shipped(
        "clubhouse", "glasses", machine__tank__capacity_l=capacity_l, machine__tank__ware_from_l=6.0
    )


def test_a_prerinse_is_asked_for_only_where_a_wash_has_no_room_without() -> None:
    """By hand: 7.5 l over the element take 7.6 l at 5.4 l/min, 9.3 at 6.6, and 1.2 l are carried over.

    Grown by heat and with some kept back that is 10.6 l. Behind a prerinse 0.4 l of the 7.6 are there.
    """
    behind = _behind_a_prerinse(Assessor(cramped(10.5)))
    assert behind is not None
    assert behind.inputs.goal.prerinse.rounds_min == 1
    assert _behind_a_prerinse(Assessor(cramped(11.0))) is None
    assert _behind_a_prerinse(Assessor(shipped("clubhouse", "glasses"))) is None
    # Everyday asks for a prerinse anyway; a level switch lets in what is missing, wet or dry.
    assert _behind_a_prerinse(Assessor(shipped("clubhouse", "everyday"))) is None
    assert _behind_a_prerinse(Assessor(shipped("narrowboat", "glasses"))) is None


@pytest.mark.slow
def test_it_gets_the_plan_that_it_has() -> None:
    """Told before: leave out lips and tea, and end the spray at 12.7 °C. 10.7 l are planned without this."""
    small, larger = (plan_and_prove(cramped(capacity_l)) for capacity_l in (10.5, 10.7))
    assert small.certificate.passed
    assert [row.kind for row in small.plan.constants.rounds][:2] == ["prerinse", "wash"]
    assert small.plan.costs.with_waiting == pytest.approx(larger.plan.costs.with_waiting, rel=2e-3)
