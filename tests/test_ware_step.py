"""Steps of temperature that the ware meets as a spray begins: the bath too cold for it, or too hot.

A limit of 40 K for a drop follows the thermal-shock test of glass bottles, 42 K (ASTM C149, ISO 7459: *from
memory*). The numbers of the tests are mixtures and heatings by hand.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from bound_cases import boxes_of
from check_cases import a_round, circuit, goal, machine, programme
from planner_cases import shipped, tiny

from optimizer.check.bound_course import BoundCourse
from optimizer.check.bound_steps import Bounds
from optimizer.check.bound_ware_over import WareOver
from optimizer.check.box import box_of
from optimizer.check.certificate import Row
from optimizer.check.certify import Runs, check
from optimizer.check.integrate import Stretch
from optimizer.check.meters import Meter
from optimizer.check.phases import Outputs, Phase
from optimizer.planner.corners import step_points
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import obstacles
from optimizer.planner.search import Search
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan

STEADY = {
    "inlet.water_c": 15.0, "room.air_c": 20.0, "tank.vent_m2": 0.0, "tank.loss_still_w_per_k": 0.2,
    "tank.loss_spraying_w_per_k": 0.2, "tank.limit_c": 95.0, "wash_pump.heat_share": 0.0,
    "ware.response_still_s": 20000.0, "element.cover_l": 1.0,
}  # fmt: skip
"""Next to no losses, and a ware that keeps its temperature while the pump is off."""

WASH = a_round("wash", heat_s=2400, spray_s=900, rest_s=60, drain_s=80, detergent_dg=324)


class _Ends(Meter):
    """Keeps the largest difference of ware less bath at the end of every phase."""

    def __init__(self) -> None:
        self.found: list[tuple[str, int, float]] = []

    def add(self, stretch: Stretch) -> None:
        end, phase = stretch.samples.end, stretch.phase
        if stretch.last and phase.name != "stand":
            self.found.append((phase.name, phase.round, float((end.ware_c - end.bath_c).max())))


def limited(**limits_k: float) -> dict[str, float]:
    return {f"limits.ware_{which}": most_k for which, most_k in limits_k.items()}


def rows_of(table: Constants, **limits_k: float) -> dict[str, Row]:
    rig = machine(STEADY, tolerances=False)
    return {row.key: row for row in check(table, rig, goal(limited(**limits_k)), circuit(), draws=0).rows}


def first_run_k(table: Constants, key: str) -> float:
    """The step of a first run; the check counts a second one, on a warm machine, as well."""
    rig = machine(STEADY, tolerances=False)
    box = box_of(rig)
    found = Runs(table, rig, goal(limited(drop_k=90.0, rise_k=90.0)), circuit(), box).run(box.nominal[None])
    return next(row.worst for row in found.rows() if row.key == key)


def test_a_cold_rinse_on_hot_ware_by_hand() -> None:
    """10 l of 15 °C into tank and carry-over as hot as the ware: 4.5 kJ/K, and 0.6 kg of 4.18 kJ/(kg K)."""
    table = programme(WASH, a_round("rinse", spray_s=120), start_drain_s=1)
    rig = machine(STEADY, tolerances=False)
    trace = check(table, rig, goal(), circuit(), draws=0).trace
    draining = np.flatnonzero(np.diff(trace.drain_pump.astype(int)) == 1)[0]
    hot_c = float(trace.ware_c[draining])
    assert hot_c > 50.0
    kept, let_in = 4.5 + 0.6 * 4.18, 10.0 * 4.18
    drop_k = hot_c - (kept * hot_c + let_in * 15.0) / (kept + let_in)
    assert first_run_k(table, "ware.drop_k") == pytest.approx(drop_k, abs=0.2)
    row = rows_of(table, drop_k=90.0)["ware.drop_k"]
    assert row.guaranteed is not None
    # The second wash is the hotter one, by what the tank brings along.
    assert drop_k < row.worst < drop_k + 3.0
    assert row.worst <= row.guaranteed <= row.worst + 0.6


def test_a_hot_bath_on_cold_ware_by_hand() -> None:
    """900 W for 2400 s warm 10.6 l and the tank, 48.8 kJ/K; the ware stays at 20 °C."""
    table = programme(WASH, a_round("rinse", spray_s=120), start_drain_s=1)
    bath = 4.5 + 0.6 * 4.18 + 10.0 * 4.18
    start_c = (20.0 * (bath - 10.0 * 4.18) + 15.0 * 10.0 * 4.18) / bath
    rise_k = start_c + 900.0 * 2400.0 / 1000.0 / bath - 20.0
    # Over 40 min the ware, 4.2 kJ/K with a time constant of 20,000 s, takes on a little.
    assert first_run_k(table, "ware.rise_k") == pytest.approx(rise_k, abs=0.06 * rise_k)


@pytest.mark.parametrize("which", ["drop", "rise"])
def test_the_limit_is_judged_on_both_sides(which: str) -> None:
    table = programme(WASH, a_round("rinse", spray_s=120), start_drain_s=1)
    held_k = rows_of(table, **{f"{which}_k": 60.0})[f"ware.{which}_k"].held
    for limit_k, passes in ((held_k + 0.2, True), (held_k - 0.9, False)):
        assert rows_of(table, **{f"{which}_k": limit_k})[f"ware.{which}_k"].passed == passes


def test_without_a_limit_nothing_is_said() -> None:
    table = programme(WASH, a_round("rinse", spray_s=120), start_drain_s=1)
    assert not [key for key in rows_of(table) if key.startswith("ware.")]
    assert "ware.rise_k" not in rows_of(table, drop_k=60.0)


def test_a_bath_that_is_heated_first_chills_less() -> None:
    cold = programme(WASH, a_round("rinse", spray_s=120), start_drain_s=1)
    warm = programme(WASH, a_round("rinse", spray_s=120, heat_s=900, rest_s=60), start_drain_s=1)
    cold_k, warm_k = (first_run_k(table, "ware.drop_k") for table in (cold, warm))
    bath = 4.5 + 0.6 * 4.18 + 10.0 * 4.18
    warmed_k = 900.0 * 900.0 / 1000.0 / bath
    # The ware, 4.2 kJ/K and 0.2 kg of film, cools meanwhile.
    cooled_k = 0.5 * (cold_k + warm_k) * 900.0 / 20000.0 / (1.0 + 0.2 * 4.18 / 4.2)
    assert cold_k - warm_k == pytest.approx(warmed_k + cooled_k, abs=0.3)


def test_the_bound_of_the_difference_holds_at_every_moment() -> None:
    """Ware less bath of random points, at the end of every phase of rounds cold and hot."""
    rig = machine({"inlet.pipe_l": {"nominal": 0.5, "low": 0.0, "high": 1.0}})
    rinse = a_round("rinse", heat_s=300, spray_s=200, rest_s=60)
    table = programme(replace(WASH, heat_s=1500), rinse, a_round("rinse"), start_drain_s=20)
    box = box_of(rig)
    course = BoundCourse(table, rig, boxes_of(box, box.low[None], box.high[None]))
    over, bounds_k = WareOver(course.bounding, course.begins_over_k), []
    for bounds in course.run():
        over.add(bounds, carried=np.zeros(1, dtype=bool))
        bounds_k.append((bounds.phase.name, bounds.phase.round, float(over.most_k[0])))
    ends = _Ends()
    Runs(table, rig, goal(), circuit(), box).run(box.draws(200, 5), others=(ends,))
    assert [one[:2] for one in bounds_k] == [one[:2] for one in ends.found]
    for (name, number, most_k), (_, _, found_k) in zip(bounds_k, ends.found, strict=True):
        assert found_k <= most_k + 0.05, (name, number)


def test_least_water_of_a_bath_by_hand() -> None:
    """Of 5 to 7 l the thickest film, 0.25 l, hangs on the ware while the pump is off, none while it sprays.

    After a drain that came down to it, no less than the least carry-over, 0.5 l, is there.
    """
    rig = machine()
    box = box_of(rig)
    course = BoundCourse(programme(WASH), rig, boxes_of(box, box.low[None], box.high[None]))
    over = WareOver(course.bounding, course.begins_over_k)
    for litres, sprays, carried, least_l in (
        (5.0, False, False, 4.75), (5.0, True, False, 5.0), (0.6, False, True, 0.5), (0.1, False, False, 0.0),
    ):  # fmt: skip
        phase = Phase("spray" if sprays else "soak", 1, 60, Outputs(wash_pump=sprays), wet=True)
        bounds = SimpleNamespace(phase=phase, water_kg=np.array([[[7.0], [litres]]]) * 0.998)
        pool_kg = over._least_pool_kg(cast("Bounds", bounds), np.array([carried]))
        assert pool_kg == pytest.approx(least_l * 0.998, rel=1e-3, abs=1e-9)


class TestPlanner:
    """The planner counts with the same steps."""

    @pytest.mark.slow
    def test_a_warm_first_rinse_is_what_it_chooses(self) -> None:
        free = plan(tiny(), search=FEW)
        drop_k = steepest_k(free, "ware.drop_k")
        held = plan(tiny(goal__limits__ware_drop_k=0.7 * drop_k), search=FEW)
        kinds = [row.kind for row in held.constants.rounds]
        first = held.constants.rounds[kinds.index("rinse")]
        cooler = max(row.element_max_s for row in free.constants.rounds) > max(
            row.element_max_s for row in held.constants.rounds
        )
        assert first.heat_s or cooler
        assert steepest_k(held, "ware.drop_k") <= 0.7 * drop_k + 1.0
        assert held.costs.with_waiting > free.costs.with_waiting

    def test_it_starts_from_where_steps_are_large(self) -> None:
        assert {point.key for point in step_points(tiny().machine)} == {"ware.drop_k", "ware.rise_k"}
        stepped = Assessor(tiny(goal__limits__ware_drop_k=40.0)).simulator.corners.stepped
        assert int(stepped.sum()) == len(step_points(tiny().machine))
        assert not Assessor(tiny()).simulator.corners.stepped.any()

    def test_a_hot_feed_has_no_plan_and_says_so(self) -> None:
        """Water of 53 to 57 °C on ware as cold as a shed, 2 °C: the first bath is too hot, come what may."""
        hot = {"nominal": 55.0, "low": 53.0, "high": 57.0}
        changes = {"machine__inlet__water_c": hot, "goal__prerinse__rounds_min": 0}
        inputs = shipped("cold-shed", "everyday", goal__limits__ware_rise_k=40.0, **changes)
        (reason,) = obstacles(Assessor(inputs))
        assert (reason.requirement, reason.asked) == ("rise from ware to bath", "40 K")
        assert 45.0 <= float(reason.nearest.split()[0]) <= 55.0
        assert "cooler feed" in reason.advice


FEW = Search(rounds_most={"prerinse": 1, "wash": 1, "rinse": 3, "steam": 1})


def steepest_k(planned: Plan, key: str) -> float:
    inputs = planned.inputs
    free = inputs.goal.limits.model_copy(update={"ware_drop_k": 90.0, "ware_rise_k": 90.0})
    judged = inputs.goal.model_copy(update={"limits": free})
    rows = check(planned.constants, inputs.machine, judged, inputs.circuit, draws=0).rows
    return next(row.worst for row in rows if row.key == key)
