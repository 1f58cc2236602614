"""A set of requirements that is told to conflict: no whole plan holds it, and one does without any member."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planner_cases import shipped

from optimizer.errors import NoPlanError, Reason
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.eased_goals import left_out
from optimizer.planner.feasibility import Feasibility, asked_keys
from optimizer.planner.iis import stand_in_plans
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Search
from optimizer.planner.value_proofs import Proof
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs


class TestSetsStandInPlans:
    """The filter's set is asked for in whole plans; here an oracle says what conflicts."""

    def told(self, conflicts: list[set[str]], members: list[str], enough: list[str]) -> tuple[list[str], int]:
        """Which members are told, and how many plans it took, where these sets have no plan and others do."""
        inputs = load_inputs("clubhouse", "nursery")
        planned = 0

        def proves(asked_for: Inputs) -> bool:
            nonlocal planned
            planned += 1
            keys = {*asked_keys(Assessor(asked_for))}
            keys |= {"rinse.asked"} if asked_for.goal.rinse.residue_max < 0.5 else set()
            # Where all doses are left out one stays that asks for next to nothing.
            keys -= {f"dose.{dose.name}" for dose in asked_for.goal.dose if dose.minutes.high < 0.1}
            return not any(one <= keys for one in conflicts)

        asked = Feasibility(Assessor(inputs), proof=Proof(proves=proves))
        said = [Reason(key, "", "", "", key) for key in members]
        kept = stand_in_plans(asked, said, [one for one in said if one.key in enough])
        return [one.key for one in kept], planned

    def test_a_set_that_a_plan_holds(self) -> None:
        assert self.told([{"dose.milk", "dose.starch", "hygiene.a0"}], ["dose.milk", "hygiene.a0"], []) == (
            [],
            1,
        )

    def test_a_set_of_which_no_member_holds_with_the_others(self) -> None:
        members = ["dose.milk", "hygiene.a0", "rinse.residue"]
        conflict = {"dose.milk", "hygiene.a0", "rinse.asked"}
        assert self.told([conflict], members, []) == (members, 4)
        assert self.told([conflict], members, ["hygiene.a0"]) == (members, 3)

    def test_a_member_that_need_not_be_there_is_struck(self) -> None:
        members = ["dose.milk", "dose.starch", "hygiene.a0"]
        assert self.told([{"dose.milk", "hygiene.a0"}], members, []) == (["dose.milk", "hygiene.a0"], 4)

    def test_one_alone_is_no_set(self) -> None:
        assert self.told([{"hygiene.a0"}], ["dose.milk", "hygiene.a0"], ["hygiene.a0"]) == ([], 2)


PAIR = {"hygiene.a0", "first_rinse.bath_c"}


def nursery() -> Inputs:
    changes = {"goal__drying__heat_factor": 0.215, "machine__tank__cut_out_room_k": None}
    return shipped("narrowboat", "nursery", **changes)


@pytest.mark.slow
def test_a_set_that_is_told_is_no_larger_than_it_need_be() -> None:
    """Narrowboat's nursery with a drying of 0.215, no room kept for a cut-out: it was told to ease drying and
    hygiene, which a plan holds together once the first rinse's least bath is left out. Later four more were
    told beside hygiene and that bath; plainest plans hold neither the six nor the two."""
    with pytest.raises(NoPlanError) as caught:
        plan_and_prove(nursery())
    assert {reason.key for reason in caught.value.reasons} == {"hygiene.a0"}
    assert {reason.key for reason in caught.value.iis} == PAIR
    assert caught.value.easing != "all"


@pytest.mark.slow
@pytest.mark.parametrize("key", sorted(PAIR))
def test_without_a_member_of_it_there_is_a_plan(key: str) -> None:
    inputs = nursery()
    goal = left_out(inputs.goal, {key})
    assert plan_and_prove(replace(inputs, goal=goal), search=Search(why=False)).certificate.passed


@pytest.mark.slow
def test_without_what_is_not_in_it_there_is_none() -> None:
    """Drying alone left out, the whole search finds none either."""
    inputs = nursery()
    dryless = replace(inputs, goal=left_out(inputs.goal, {"drying.ware_heat"}))
    with pytest.raises(NoPlanError):
        plan_and_prove(dryless, search=Search(why=False))
