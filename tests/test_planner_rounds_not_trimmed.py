"""A nearest value whose rounds cannot be trimmed at the worst points is told if a whole plan has others."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planner_cases import FOUR_RINSES, tiny
from steel_cases import steel

from optimizer.plan_and_prove import _finder, _PlainlyProves, _refused
from optimizer.planner.corners import NOTHING_KEPT, KeptBack
from optimizer.planner.eased_goals import eased, printed_value
from optimizer.planner.feasibility import Feasibility
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import nearest
from optimizer.planner.reasons import reason_of
from optimizer.planner.search import Search
from optimizer.planner.value_proofs import Proof, Proofs
from optimizer.programme.plan import Inputs

RESIDUE = "rinse.residue"


@pytest.mark.parametrize(("kept_back", "is_planned"), [(0.05, True), (0.6, False)])
def test_rounds_that_cannot_be_trimmed_stop_no_plan_unless_far_short(
    kept_back: float, is_planned: bool
) -> None:
    """Wash and rinse take 7.8 l of the 9 allowed; with residue kept back they would take more."""
    inputs = tiny(goal__limits__water_l=9.0, goal__rinse__residue_max=0.001)
    at_first = Assessor(inputs, rounds_most=FOUR_RINSES)
    reached = Feasibility(at_first).furthest(RESIDUE)
    assert reached is not None
    value = printed_value(reason_of(at_first, RESIDUE, reached.margin - 0.004))
    inputs = replace(inputs, goal=eased(inputs.goal, {RESIDUE: value}))
    assessor = Assessor(inputs, KeptBack({RESIDUE: kept_back}), rounds_most=FOUR_RINSES)
    assert Feasibility(assessor).trimmed(reached.programme, frozenset()) is None
    planned: list[Inputs] = []

    def proves(inputs: Inputs) -> bool:
        planned.append(inputs)
        return True

    proof = Proof(find=lambda *_: [], refuses=lambda *_: NOTHING_KEPT, proves=proves)
    held, _ = Proofs().proven(proof, assessor, reached.programme)
    assert held is is_planned
    assert planned == [inputs] * is_planned


@pytest.mark.slow
def test_a_residue_of_a_steel_machine_short_of_water_is_told_and_planned() -> None:
    """In 12.5 l no whole seconds near the best numbers hold at the worst points; a plan looks further."""
    inputs = steel(capacity_l=12.5)
    limits = inputs.goal.limits.model_copy(update={"water_l": 45.0})
    inputs = replace(inputs, goal=inputs.goal.model_copy(update={"limits": limits}))
    plans = _PlainlyProves("auto", Search(rounds_most=FOUR_RINSES).plainest)
    passed: list[float] = []

    def proves(inputs: Inputs) -> bool:
        held = plans(inputs)
        passed.extend([inputs.goal.rinse.residue_max] * held)
        return held

    proof = Proof(_finder(inputs.machine), _refused, proves)
    asked = Feasibility(Assessor(inputs, rounds_most=FOUR_RINSES), proof=proof)
    reason = nearest(asked, RESIDUE)
    assert reason is not None
    assert passed == [printed_value(reason)]
    assert inputs.goal.rinse.residue_max < passed[0]
