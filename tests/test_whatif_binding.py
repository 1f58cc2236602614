"""The step by which each requirement is relaxed: how far, in what words, and where there is none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from planner_cases import tiny

from optimizer.whatif.binding import relaxed


@pytest.mark.parametrize(
    ("key", "read", "then"),
    [
        ("dose.fat", lambda new: new.goal.dose[0].minutes.high, 5.4),
        ("rinse.residue", lambda new: new.goal.rinse.residue_max, 0.3),
        ("rinse.rounds", lambda new: new.goal.rinse.rounds_min, 0),
        ("rinse.spray_min", lambda new: new.goal.rinse.spray_least_min, 1.8),
        ("prerinse.bath_c", lambda new: new.goal.prerinse.limit_c, 45.0),
        ("limits.duration_min", lambda new: new.goal.limits.duration_min, 132.0),
        ("cover.element_l", lambda new: new.machine.element.cover_l, 3.6),
        ("cover.suction_l", lambda new: new.machine.wash_pump.prime_l, 2.7),
        ("overflow.level_l", lambda new: new.machine.tank.capacity_l, 13.2),
        ("tank.bath_c", lambda new: new.machine.tank.limit_c, 85.0),
        ("circuit.running_a", lambda new: new.circuit.available_a, 10.8),
    ],
)
def test_the_step_is_the_one_that_is_said(key: str, read: Callable[[Any], float], then: float) -> None:
    """10 A less 0.2 A of other load leave 9.8 A; one more is 10.8 A."""
    change = relaxed(tiny(), key, "it")
    assert change is not None
    assert change.inputs is not None, change.note
    assert read(change.inputs) == pytest.approx(then)
    assert f"{then:.4g}" in change.words


@pytest.mark.parametrize("key", ["prerinse.rounds", "limits.water_l", "drain.left_l"])
def test_no_step_where_nothing_is_asked(key: str) -> None:
    assert relaxed(tiny(), key, "it") is None


def test_a_tank_at_its_material_s_limit_cannot_be_relaxed() -> None:
    change = relaxed(tiny(machine__tank__limit_c=100.0), "tank.bath_c", "it")
    assert change is not None
    assert change.inputs is None
    assert "PP" in change.note
