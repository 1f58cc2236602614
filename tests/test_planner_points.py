"""Worst points of the tolerances in the planner: they join its corners, and its programmes hold at them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

import numpy as np
import pytest
from planner_cases import FOUR_RINSES, shipped, tiny

from optimizer.check.box import box_of
from optimizer.check.worst_points import WorstPoints
from optimizer.physics import Array
from optimizer.plan_and_prove import _finder
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.corners import WorstPoint, corners_of
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose
from optimizer.planner.trim_space import FEASIBLE
from optimizer.planner.worst_corners import Badness, worst_corners
from optimizer.profile.machine import Machine

APART: dict[str, Any] = {
    "machine__tank__heat_capacity_kj_per_k": {"nominal": 4.0, "low": 2.0, "high": 6.0},
    "machine__ware__porcelain_kg": {"nominal": 4.0, "low": 2.5, "high": 5.5},
    "machine__tank__residual_l": {"nominal": 0.6, "low": 0.2, "high": 1.2},
}
"""Quantities with a wide tolerance whose corners go together in the planner."""


UNUSED = ("cold", "hot", "sensor_over_mean_k", "top_over_mean_k")
"""No values of a corner, or values that a timed element does not touch."""
BATCH_SHARE = 5e-5
"""Drains last as the largest fill of a batch asks, which differs by this much at the most [1]."""


def table_of(machine: Machine, **changes: float) -> Mapping[str, float]:
    box = box_of(machine)
    return box.table(box.nominal) | changes


def fields_of(corners: Corners, number: int) -> dict[str, float]:
    return {name: float(value[number]) for name, value in vars(corners).items()
            if isinstance(value, np.ndarray) and name not in UNUSED}  # fmt: skip


def test_points_leave_the_usual_corners_where_they_are() -> None:
    """The model counts with the last cold corner and the first hot one, whatever points there are."""
    machine = tiny().machine
    points = [
        WorstPoint(key, table_of(machine)) for key in ("dose.fat", "tank.bath_c", "limits.duration_min")
    ]
    usual, more = corners_of(machine), corners_of(machine, points)
    assert len(more.cold) == len(usual.cold) + 3
    for which in ("cold", "hot"):
        place = -1 if which == "cold" else 0
        before, after = (np.flatnonzero(getattr(found, which))[place] for found in (usual, more))
        assert fields_of(usual, before) == pytest.approx(fields_of(more, after), nan_ok=True)
        assert getattr(more, which).sum() == getattr(usual, which).sum() + 1
    assert more.nominal == len(more.cold) - 1
    # A nominal point is the nominal corner.
    assert fields_of(more, 0) == pytest.approx(fields_of(more, more.nominal), nan_ok=True)


def test_a_point_has_each_quantity_as_given() -> None:
    machine = tiny().machine
    point = WorstPoint("dose.fat", table_of(machine, ware_kj_per_k=7.0, tank_kj_per_k=1.0, inlet_c=3.0))
    corners = corners_of(machine, [point])
    assert (corners.ware_j_per_k[0], corners.tank_j_per_k[0], corners.inlet_c[0]) == (7000.0, 1000.0, 3.0)
    assert corners.cold[0]
    assert not corners.hot[0]


def every_end(keys: Sequence[str], badness: Badness, machine: Machine) -> dict[str, float]:
    """Oracle: the worst of all combinations of ends."""
    box = box_of(machine)
    ends = np.array(list(product(*np.stack([box.low, box.high], axis=1))))
    bad = badness(box.tables(ends))
    return dict(zip(keys, bad.max(axis=0), strict=True))


def test_the_search_finds_the_worst_of_all_ends_in_the_planners_simulation() -> None:
    exact = {f"machine__{name}": value for name, value in {
        "supply__voltage_v": 230.0, "room__air_c": 18.0, "inlet__flow_l_per_min": 6.0,
        "wash_pump__holdup_l": 1.0, "tank__loss_still_w_per_k": 6.0,
    }.items()}  # fmt: skip
    inputs = tiny(**APART, **exact)
    assessor = Assessor(inputs, rounds_most=FOUR_RINSES)
    choice = choose(assessor)
    assert choice is not None
    seen: dict[str, tuple[float, float]] = {}

    def find(keys: Sequence[str], badness: Badness) -> list[WorstPoint]:
        worst = every_end(keys, badness, inputs.machine)
        box = box_of(inputs.machine)
        search = WorstPoints(box, lambda points: badness(box.tables(points)))
        search.find(0, 1)
        seen.update({key: (search.worst_value(number), worst[key]) for number, key in enumerate(keys)})
        return []

    worst_corners(assessor, choice.trimmed.programme, find)
    assert "dose.fat" in seen
    for found, worst in seen.values():
        assert found >= worst - BATCH_SHARE * abs(worst)


@pytest.mark.slow
def test_a_programme_holds_at_the_points_that_were_found() -> None:
    """Without points it does not: no usual corner has a strong element, heavy ware and a light tank."""
    inputs = shipped("garage-120v", "roasting-tins")
    find = _finder(inputs.machine)
    loose, strict = (Assessor(inputs, rounds_most=FOUR_RINSES) for _ in range(2))
    first, second = choose(loose), choose(strict, find=find)
    assert first is not None
    assert second is not None
    assert second.trimmed.objective > first.trimmed.objective
    for choice, holds in ((first, False), (second, True)):
        judge = Assessor(inputs, rounds_most=FOUR_RINSES)
        judge.count_with(worst_corners(judge, choice.trimmed.programme, find))
        margins, _ = judge.run(choice.trimmed.programme)
        assert (min(float(margin.min()) for margin in margins.values()) >= FEASIBLE) is holds


def test_what_a_point_gives_does_not_hang_on_the_others() -> None:
    """A batch of points gives each what it gives alone: the drains are those of all corners."""
    inputs = tiny(**APART)
    assessor = Assessor(inputs, rounds_most=FOUR_RINSES)
    choice = choose(assessor)
    assert choice is not None

    def find(keys: Sequence[str], badness: Badness) -> list[WorstPoint]:
        box = box_of(inputs.machine)
        points: Array = box.draws(6, seed=4)
        together = badness(box.tables(points))
        alone = np.concatenate([badness(box.tables(point[None])) for point in points])
        assert together == pytest.approx(alone, rel=BATCH_SHARE)
        return []

    worst_corners(assessor, choice.trimmed.programme, find)
