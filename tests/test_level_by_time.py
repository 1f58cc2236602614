"""A level switch ends the fill, a time the heating: its drains are proven too."""

from __future__ import annotations

from typing import Any

import pytest
from planner_cases import PLAINLY, shipped, tiny

from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.simulation import Simulator

BY_LEVEL: dict[str, Any] = {
    "machine__inlet__control": "level",
    "machine__inlet__level_l": {"nominal": 11.0, "low": 10.6, "high": 11.4},
}


def lag_s(**changes: Any) -> float:
    inputs = tiny(**changes)
    return Simulator(inputs.machine, inputs.goal).fixed.drain_lag_s


def test_a_drain_lasts_as_long_as_its_bound_needs_by_hand() -> None:
    """Water has 0.99997 kg/l at 5 °C, 0.96862 at 85 (steam tables): 3.24 % of 11.4 l at 6 l/min are 3.7 s."""
    water = {"machine__inlet__water_c": 5.0, "machine__room__air_c": 20.0, "machine__tank__limit_c": 85.0}
    flow = {"machine__drain_pump__flow_l_per_min": {"nominal": 7.0, "low": 6.0, "high": 8.0}}
    usual = lag_s(**water, **flow)
    assert lag_s(**water, **flow, **BY_LEVEL) - usual == pytest.approx(3.69, abs=0.02)
    held = {"machine__element__control": "thermostat", "machine__element__sensor_error_k": 1.0,
            "machine__element__hysteresis_k": 1.5}  # fmt: skip
    assert lag_s(**water, **flow, **held, **BY_LEVEL) == lag_s(**water, **flow, **held) == usual
    assert lag_s(**water, **flow, **BY_LEVEL, machine__element=None) == usual


@pytest.mark.slow
@pytest.mark.parametrize("goal", ["glasses", "everyday", "eco-everyday"])
def test_a_shipped_machine_with_a_level_switch_has_a_plan(goal: str) -> None:
    """Its bound had 0.14 l left in the tank: "the check does not pass, nothing was written"."""
    found = plan_and_prove(shipped("clubhouse", goal, **BY_LEVEL), search=PLAINLY)
    (row,) = [row for row in found.certificate.rows if row.key == "drain.left_l"]
    assert row.passed
    assert found.certificate.passed
