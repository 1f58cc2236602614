"""What steps in time put a bound off: measured on the machine itself, and taken off.

The check's own integration of the same points, in fine steps, is what the bounds are held against; it is held
by published and hand-worked values elsewhere.
"""

from __future__ import annotations

import numpy as np
import pytest
from bound_cases import boxes_of, judged
from check_cases import a_round, goal, machine, programme
from planner_cases import shipped

from optimizer.check.bound_aims import STEPS_SHARE, Aim
from optimizer.check.bound_box import Boxes
from optimizer.check.bound_course import BoundCourse
from optimizer.check.bound_finer_steps import FINER, LEAST_SHARE, TIMES, with_steps
from optimizer.check.bound_rows import values_of
from optimizer.check.box import box_of
from optimizer.plan_and_prove import plan_and_prove

LIGHT = {
    "room.air_c": 30.0, "inlet.water_c": 51.0, "inlet.flow_l_per_min": 9.0, "tank.capacity_l": 60.0,
    "tank.limit_c": 100.0, "tank.vent_m2": 0.0, "tank.heat_capacity_kj_per_k": 1.4, "tank.residual_l": 0.36,
    "tank.loss_still_w_per_k": 6.8, "tank.loss_spraying_w_per_k": 0.53, "ware.porcelain_kg": 35.6,
    "ware.film_l": 0.31, "ware.response_spraying_s": 55.0, "ware.response_still_s": 2140.0,
    "wash_pump.power_w": 84.0, "wash_pump.heat_share": 0.12, "wash_pump.prime_l": 0.5,
    "wash_pump.holdup_l": 0.42, "drain_pump.flow_l_per_min": {"nominal": 16.2, "low": 9.0, "high": 16.2},
    "drain_pump.drain_lag_s": 7.5, "element.rated_w": 1000.0, "element.control": "thermostat",
    "element.cover_l": 0.6, "element.sensor_error_k": 0.0, "element.sensor_over_mean_k": 4.9,
    "element.top_over_mean_k": 9.2, "supply.voltage_v": 230.0,
}  # fmt: skip
"""A light tank, much ware, little water that is let in hot: quick at first, and at each switching."""

FAT = {
    "dose": [
        {"name": "fat", "reference_c": 43.7, "z_k": 10.0, "floor_c": 38.7, "minutes": 2.0, "kinds": ["wash"]}
    ],
    "hygiene": {"method": "none"},
    "limits.water_l": 200.0,
}
HEATED = a_round(
    "wash", fill_s=36, heat_s=225, spray_s=317, spray_element_s=80, setpoint_dc=559, soak_s=174, drain_s=80,
    detergent_dg=200,
)  # fmt: skip
HELD = a_round(
    "wash", fill_s=36, spray_s=236, spray_element_s=216, setpoint_dc=537, drain_s=80, detergent_dg=200
)
TABLE = programme(
    HEATED, HELD, control="thermostat", hysteresis_dk=31, after_soak_s=30, bath_max_dc=1000, start_drain_s=20
)
KEY = "dose.fat"


def at(points: np.ndarray) -> Boxes:
    """Boxes without width."""
    return boxes_of(box_of(machine(LIGHT)), points, points)


def test_a_bound_that_steps_put_off_by_more_than_is_usual_gets_more_taken_off() -> None:
    rig, aim = machine(LIGHT), goal(FAT)
    nominal = box_of(rig).nominal[None]
    bound = values_of(TABLE, rig, aim, at(nominal))[KEY]
    truth = judged(TABLE, rig, aim, nominal)[KEY][0]
    usual = Aim("at least", 2.0, 2.0)
    # Else this machine shows nothing: what is usually taken off is not enough.
    assert usual.less_steps(bound) > truth
    found = with_steps(TABLE, rig, aim, {KEY: usual}, at(nominal))[KEY]
    assert found.less_steps(bound) < truth
    fine = values_of(TABLE, rig, aim, at(nominal), finer=FINER)[KEY]
    assert found.steps_share == pytest.approx(float((TIMES * (bound - fine) / bound)[0]))


def test_finer_steps_come_nearer_to_the_check() -> None:
    rig, aim = machine(LIGHT), goal(FAT)
    nominal = box_of(rig).nominal[None]
    truth = float(judged(TABLE, rig, aim, nominal)[KEY][0][0])
    found = [values_of(TABLE, rig, aim, at(nominal), finer=finer)[KEY][0] for finer in (1.0, 4.0, 16.0)]
    off = [abs(float(value) - truth) for value in found]
    assert off[0] > 3.0 * off[1]
    assert off[2] < 5e-4 * truth


@pytest.mark.slow
def test_of_a_usual_machine_less_is_taken_off_than_of_one_that_is_not_measured() -> None:
    inputs = shipped("clubhouse", "glasses")
    constants = plan_and_prove(inputs).plan.constants
    box = box_of(inputs.machine)
    points = np.array([*box.corners(), box.nominal])
    aims = {f"dose.{dose.name}": Aim("at least", dose.minutes, dose.minutes) for dose in inputs.goal.dose}
    found = with_steps(constants, inputs.machine, inputs.goal, aims, boxes_of(box, points, points))
    assert all(LEAST_SHARE <= aim.steps_share < STEPS_SHARE for aim in found.values())


@pytest.mark.parametrize("fine", [{}, {KEY: np.array([np.nan])}, {KEY: np.array([-np.inf])}])
def test_where_either_steps_give_no_number_as_much_is_taken_off_as_usual(
    fine: dict[str, np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = {1.0: {KEY: np.array([5.0])}, FINER: fine}
    monkeypatch.setattr("optimizer.check.bound_finer_steps.values_of", lambda *_, finer: found[finer])
    aims = {KEY: Aim("at least", 2.0, 2.0)}
    rig = machine(LIGHT)
    assert with_steps(TABLE, rig, goal(FAT), aims, at(box_of(rig).nominal[None])) == aims


def test_where_a_drain_ends_does_not_hang_on_the_boxes_beside() -> None:
    """One drains in 0.55 of the other's time: its end falls into a step that is made for the other."""
    rig = machine(LIGHT)
    box = box_of(rig)
    quick, slow = box.nominal.copy(), box.nominal.copy()
    slow[box.names.index("drain_l_per_min")] = 9.0

    def ends_c(points: np.ndarray) -> list[np.ndarray]:
        """Bath and ware of the first box as each drain ends, both courses."""
        course = BoundCourse(TABLE, rig, at(points))
        return [
            np.array([bounds.bath_c[-1, :, 0], bounds.ware_c[-1, :, 0]])
            for bounds in course.run()
            if bounds.phase.name == "drain"
        ]

    for alone, beside in zip(ends_c(quick[None]), ends_c(np.array([quick, slow])), strict=True):
        assert beside == pytest.approx(alone, abs=0.003)


@pytest.mark.parametrize(
    ("bound", "expected"),
    [(7.9, 7.9), (8.0, 8.0), (8.0 + 1e-14, 8.0), (8.01, 8.0 * (1.0 - STEPS_SHARE)), (9.0, -np.inf)],
)
def test_a_bound_better_than_what_was_found_is_the_fault_of_steps(bound: float, expected: float) -> None:
    """What was found counts then, with as much taken off again; far better, it bounds nothing."""
    assert Aim("at least", 6.0, 8.0).final(np.array([bound, 20.0])) == pytest.approx(expected, rel=1e-12)
    limit = Aim("at most", 10.0, 8.0).final(np.array([16.0 - bound, 2.0]))
    assert limit == pytest.approx(16.0 - expected, rel=1e-12)


def test_a_temperature_has_what_is_usual_counted_already() -> None:
    assert Aim("at most", 80.0, 70.0, exact=True).final(np.array([69.9])) == 70.0
    assert Aim("at most", 80.0, 70.0, exact=True, off=0.3).less_steps(np.array([71.0])) == pytest.approx(71.3)


def test_what_is_taken_off_is_by_the_point_that_is_furthest_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 2 × 0.1 of 10 min are 2 %; 2 × 0.3 K are 0.55 K more than the 0.05 K that are usual."""
    usual = {"dose.lost": [5.0, 5.0], "dose.near": [5.0, 5.0], KEY: [5.0, 10.0], "tank.bath_c": [70.0, 71.0]}
    fine = {"dose.near": [5.0, 4.9999], KEY: [4.99, 9.9], "tank.bath_c": [70.3, 71.1]}
    found = {1.0: usual, FINER: fine}
    monkeypatch.setattr(
        "optimizer.check.bound_finer_steps.values_of",
        lambda *_, finer: {key: np.array(values) for key, values in found[finer].items()},
    )
    dose, hottest = Aim("at least", 2.0, 2.0), Aim("at most", 80.0, 71.0, exact=True)
    aims = {"dose.lost": dose, "dose.near": dose, KEY: dose, "tank.bath_c": hottest}
    rig = machine(LIGHT)
    made = with_steps(TABLE, rig, goal(FAT), aims, at(box_of(rig).nominal[None]))
    assert made["dose.lost"] == dose
    # 2 × 0.0001 of 5 min are less than what is taken off at the least.
    assert made["dose.near"].steps_share == pytest.approx(0.001)
    assert made[KEY].steps_share == pytest.approx(0.02)
    assert made["tank.bath_c"].off == pytest.approx(0.55)
