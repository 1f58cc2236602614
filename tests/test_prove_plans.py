"""Proven plans: planner and check on one answer, eco beside everyday, sums that must agree."""

from __future__ import annotations

from inspect import unwrap

import pytest
from planner_cases import proven, shipped

from optimizer.check.certify import check
from optimizer.programme.plan import Plan


def test_eco_is_the_same_cleaning_for_less() -> None:
    eco, everyday = shipped("clubhouse", "eco-everyday"), shipped("clubhouse", "everyday")
    assert eco.goal.dose == everyday.goal.dose
    assert eco.goal.rinse.residue_max == everyday.goal.rinse.residue_max
    cheap, quick = proven("clubhouse", "eco-everyday").plan, proven("clubhouse", "everyday").plan
    # A cold first rinse saves its heat and its time; free time saves some heat of the wash.
    assert cheap.costs.electricity_kwh < 0.8 * quick.costs.electricity_kwh
    assert cheap.costs.money < 0.9 * quick.costs.money


@pytest.mark.parametrize(
    ("machine", "goal"),
    [
        ("clubhouse", "everyday"),
        ("clubhouse", "roasting-tins"),
        pytest.param("narrowboat", "everyday", marks=pytest.mark.slow),
        pytest.param("garage-120v", "nursery", marks=pytest.mark.slow),
    ],
)
def test_planner_and_check_take_two_roads_to_one_answer(machine: str, goal: str) -> None:
    """The binding dose of the plan is met in the check with less than 3 % to spare, and never missed."""
    found = proven(machine, goal)
    doses = [row for row in found.certificate.rows if row.key.startswith(("dose.", "hygiene."))]
    assert all(row.passed for row in doses)
    assert min(row.margin_share for row in doses) < 0.03


def test_duration_is_the_sum_of_the_phases() -> None:
    found = proven("clubhouse", "everyday").plan
    table = found.constants
    phases_s = [table.start_drain_s]
    for row in table.rounds:
        after_s = table.after_soak_s if row.soak_s else 0
        spray_s = (row.spray_s - after_s, row.soak_s, after_s)
        phases_s += [part for part in (row.fill_s, row.heat_s, *spray_s, row.rest_s, row.drain_s) if part]
    total_s = sum(phases_s) + table.gap_s * (len(phases_s) - 1)
    assert found.costs.duration_min * 60.0 == pytest.approx(total_s, abs=1.0)


def test_the_same_plan_checked_twice_gives_the_same_certificate() -> None:
    found: Plan = proven("clubhouse", "everyday").plan
    inputs = found.inputs
    again = unwrap(check)(found.constants, inputs.machine, inputs.goal, inputs.circuit)
    assert again.rows == proven("clubhouse", "everyday").certificate.rows
