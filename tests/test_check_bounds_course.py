"""Bounds of a whole run: how much water is in the bath, how much on the ware, by hand.

*No source*: Newton's law of cooling, of any text-book, tells the water in a bath by the speed at which it
cools: ``T = T_room + (T_0 - T_room) exp(-UA t / C)``.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of, everything, random_case, sub_boxes
from check_cases import THERMOSTAT, a_round, machine, programme
from test_check_bounds_by_hand import courses

from optimizer.check.bound_asked import Asked
from optimizer.check.bound_course import BoundCourse, End
from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_rows import DRYING, values_again, values_and_end, values_asked, values_of
from optimizer.check.bound_sides import Acting
from optimizer.check.bound_steps import Bounds
from optimizer.check.box import box_of
from optimizer.check.second_run import AGAIN
from optimizer.physics.water import density_kg_per_l, specific_heat_kj_per_kg_k

ROOM_C, LOSS_W_PER_K, SUMP_KG, REST_S = 18.0, 12.0, 0.6 * 0.998, 3600
SOME_FILM: dict[str, Any] = {
    "ware.porcelain_kg": 1e-3,
    "ware.film_l": {"nominal": 0.9, "low": 0.4, "high": 1.5},
    "ware.response_spraying_s": 30.0,
    "ware.response_still_s": 20000.0,
    "inlet.water_c": 50.0,
    "room.air_c": ROOM_C,
    "tank.loss_still_w_per_k": LOSS_W_PER_K,
    "wash_pump.prime_l": 1.0,
}
MUCH_KG, LITTLE_KG = 1.5 * 0.998, 0.4 * 0.998
FED_KG = 10.0 * float(density_kg_per_l(np.array(50.0)))


def cooled_c(rest: Bounds, course: int, pool_kg: float) -> float:
    """Where a bath of so much water comes to, from where the course of the rest begins."""
    start_c, end_c = rest.bath_c[0, course, 0], rest.bath_c[-1, course, 0]
    c_j = 1000.0 * specific_heat_kj_per_kg_k(0.5 * (start_c + end_c))
    return float(ROOM_C + (start_c - ROOM_C) * np.exp(-LOSS_W_PER_K * REST_S / (c_j * pool_kg + 4500.0)))


@pytest.mark.parametrize(
    ("number", "drain_s", "least_kg", "most_kg"),
    [
        # The machine may have dried out: then the thickest film has come out of the fill.
        (0, 70, FED_KG - MUCH_KG, SUMP_KG + FED_KG),
        # After a complete drain film and sump are what was left.
        (1, 70, SUMP_KG + FED_KG, SUMP_KG + FED_KG),
    ],
    ids=["first", "after a complete drain"],
)
def test_a_bath_that_rests_has_the_water_that_is_not_on_the_ware(
    number: int, drain_s: int, least_kg: float, most_kg: float
) -> None:
    row = a_round("wash", fill_s=100, spray_s=60, rest_s=REST_S, drain_s=drain_s)
    rig = machine(SOME_FILM, tolerances=False)
    rest = courses(programme(row, row), rig)[f"rest {number}"]
    # Little water cools quickest.
    assert rest.bath_c[-1, 0, 0] == pytest.approx(cooled_c(rest, 0, least_kg), abs=0.1)
    assert rest.bath_c[-1, 1, 0] == pytest.approx(cooled_c(rest, 1, most_kg), abs=0.1)


def test_after_a_drain_that_was_too_short_any_film_goes_with_any_water() -> None:
    """30 s take 6 l of the 10; what is left is known as a whole, the film of it is not."""
    row = a_round("wash", fill_s=70, spray_s=60, rest_s=REST_S, drain_s=30)
    rig = machine(SOME_FILM, tolerances=False)
    bounds = courses(programme(row, row), rig)
    rest = bounds["rest 1"]
    most_kg, least_kg = rest.water_kg[0, :, 0]
    assert rest.bath_c[-1, 0, 0] == pytest.approx(cooled_c(rest, 0, least_kg - MUCH_KG), abs=0.1)
    assert rest.bath_c[-1, 1, 0] == pytest.approx(cooled_c(rest, 1, most_kg - LITTLE_KG), abs=0.1)


def test_water_in_a_run_by_hand() -> None:
    """0.4 to 1.5 l of film and 0.6 l of sump, or all dried out: 10 l in, all out, 10 l in."""
    row = a_round("wash", fill_s=100, spray_s=60, drain_s=70)
    bounds = courses(programme(row, row), machine(SOME_FILM, tolerances=False))
    much_kg, little_kg = SUMP_KG + MUCH_KG, SUMP_KG + LITTLE_KG
    for name, most_kg, least_kg in (
        ("gap 0", much_kg, little_kg),  # the last of the round: after its drain
        ("spray 0", much_kg + FED_KG, FED_KG),
        ("drain 0", much_kg, little_kg),
        ("spray 1", much_kg + FED_KG, little_kg + FED_KG),
    ):
        assert bounds[name].water_kg[-1, :, 0] == pytest.approx([most_kg, least_kg], rel=2e-3), name


@pytest.mark.parametrize(("inlet_c", "room_c"), [(50.0, 15.0), (5.0, 30.0)])
def test_a_timed_fill_begins_with_what_stood_in_the_pipe(inlet_c: float, room_c: float) -> None:
    """1 to 3 l as warm as the room, of 10; into a dry tank, or one with 0.6 l: a balance of heat."""
    pipe = {"nominal": 2.0, "low": 1.0, "high": 3.0}
    changes = {"inlet.pipe_l": pipe, "inlet.water_c": inlet_c, "room.air_c": room_c, "ware.film_l": 0.005,
               "tank.loss_still_w_per_k": 0.2}  # fmt: skip
    bounds = courses(programme(a_round("wash", fill_s=100)), machine(SOME_FILM | changes, tolerances=False))
    inlet_kg, room_kg = (float(density_kg_per_l(np.array(at_c))) for at_c in (inlet_c, room_c))
    by_hand_c = []
    # A tank that an earlier run has chilled begins as cold as the inlet.
    for pipe_l, sump_l, tank_c in ((3.0, 0.6, room_c), (1.0, 0.0, min(room_c, inlet_c))):
        fed_j, had_j = 4185.0 * (10.0 - pipe_l) * inlet_kg, 4185.0 * (pipe_l * room_kg + sump_l) + 4500.0
        chilled_j = 4500.0 * (room_c - tank_c)
        by_hand_c.append((fed_j * inlet_c + had_j * room_c - chilled_j) / (fed_j + had_j))
    spray = bounds["spray 0"]
    found_c = spray.bath_c[0, :, 0] if inlet_c > room_c else spray.bath_c[0, ::-1, 0]
    outside_k = (np.array(by_hand_c) - found_c) * ([1.0, -1.0] if inlet_c > room_c else [-1.0, 1.0])
    # Never inside; and outside by little, for the least water may go with the most of the pipe.
    assert (outside_k >= -0.03).all()
    assert (outside_k <= 0.7).all()


def test_a_slow_drain_is_followed_to_its_end() -> None:
    """3.6 to 12 l/min, 10 l: between two samples what is left may be read as a straight line."""
    flow = {"nominal": 6.0, "low": 3.6, "high": 12.0}
    rig = machine(SOME_FILM | {"drain_pump.flow_l_per_min": flow, "ware.film_l": 0.4}, tolerances=False)
    row = a_round("wash", fill_s=100, spray_s=60, drain_s=400)
    box = box_of(rig)
    run = BoundCourse(
        programme(row, bath_max_dc=600), rig, boxes_of(box, box.low[None], box.high[None])
    ).run()
    drain = [one for one in run if one.phase.name == "drain"][-1]
    kept_kg = SUMP_KG + 0.4 * 0.998
    for course, l_per_min in ((0, 3.6), (1, 12.0)):
        start_kg = float(drain.water_kg[0, course, 0])
        l_per_kg = 1.0 / float(density_kg_per_l(np.array(drain.bath_c[0, 1 - course, 0])))
        time_s = np.arange(401.0)
        left_kg = np.maximum(kept_kg, start_kg - l_per_min / 60.0 / l_per_kg * time_s)
        # A corner within a step of 8 s is cut off by a quarter of what runs out in it.
        read_kg = np.interp(time_s, drain.time_s, drain.water_kg[:, course, 0])
        assert read_kg == pytest.approx(left_kg, abs=0.25 * 8.0 * l_per_min / 60.0 + 0.05)


def test_a_drain_that_stops_early_leaves_what_its_lag_did_not_pump() -> None:
    """10 l less 6 l/min for 25 s of 30 s: to the kilogram by hand, with lags of 5 to 7 s at both ends."""
    lag = {"nominal": 6.0, "low": 5.0, "high": 7.0}
    rig = machine({"drain_pump.flow_l_per_min": 6.0, "drain_pump.drain_lag_s": lag}, tolerances=False)
    box = box_of(rig)
    table = programme(a_round("wash", fill_s=100, spray_s=60, drain_s=30))
    run = BoundCourse(table, rig, boxes_of(box, box.low[None], box.high[None])).run()
    drain = [one for one in run if one.phase.name == "drain"][-1]
    for course, pumps_s in ((0, 30.0 - 7.0), (1, 30.0 - 5.0)):
        kg_per_l = float(density_kg_per_l(np.array(drain.bath_c[0, 1 - course, 0])))
        left_kg = float(drain.water_kg[0, course, 0]) - 6.0 / 60.0 * kg_per_l * pumps_s
        assert drain.water_kg[-1, course, 0] == pytest.approx(left_kg, abs=2e-3)


def test_ware_warms_by_its_distance_from_the_bath() -> None:
    """``dW/dt = (T - W) / tau``, without tolerances: 45 s while the pump sprays."""
    box = box_of(machine({"inlet.water_c": 50.0}, tolerances=False))
    boxes = boxes_of(box, box.nominal[None], box.nominal[None])
    run = BoundCourse(programme(a_round("wash", fill_s=100)), box.machine, boxes).run()
    spray = next(one for one in run if one.phase.name == "spray")
    by_hand = (spray.bath_c[:, 0, 0] - spray.ware_c[:, 0, 0]) / 45.0
    assert by_hand[0] > 0.4
    assert spray.coldest_slope[:, 0, 0] == pytest.approx(by_hand, rel=0.02, abs=1e-3)
    assert spray.coldest_c[:, 0, 0] == pytest.approx(spray.ware_c[:, 0, 0])


def test_a_second_run_begins_with_what_the_first_one_left() -> None:
    """Bath, film and water of the end; the ware is a new load, as warm as the room."""
    rig = machine(SOME_FILM | THERMOSTAT | {"inlet.level_l": 10.0}, tolerances=False)
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    row = a_round("wash", fill_s=120, spray_s=60, drain_s=70)
    table = programme(row, control="thermostat", fill_control="level", hysteresis_dk=10)
    one = BoundCourse(table, rig, boxes)
    first = list(one.run())
    assert one.end.state[3, :, 0] == pytest.approx([SUMP_KG + MUCH_KG, SUMP_KG + LITTLE_KG], rel=2e-3)
    again = next(iter(BoundCourse(table, rig, boxes, one.end).run()))
    assert again.bath_c[0, :, 0] == pytest.approx(one.end.state[2, :, 0])
    assert again.ware_c[0, :, 0] == pytest.approx([ROOM_C] * 2)
    assert again.water_kg[0, :, 0] == pytest.approx(one.end.state[3, :, 0])
    assert first[0].bath_c[0, :, 0] == pytest.approx([ROOM_C] * 2)
    assert first[0].water_kg[0, :, 0] == pytest.approx([SUMP_KG + MUCH_KG, 0.0])


def test_a_bath_that_is_warmed_by_the_pump_is_put_off_by_its_steps() -> None:
    """0.05 K (docs/guarantee.md) above the upper course, which is hottest as the spray ends."""
    rig = machine({"wash_pump.power_w": 500.0, "wash_pump.heat_share": 1.0}, tolerances=False)
    table = programme(a_round("wash", spray_s=1200))
    box = box_of(rig)
    boxes = boxes_of(box, box.low[None], box.high[None])
    warmed_c = [one.bath_c[:, 1, 0] for one in BoundCourse(table, rig, boxes).run()]
    hottest_c = max(float(one_c.max()) for one_c in warmed_c)
    assert hottest_c > 18.5
    assert values_of(table, rig, everything(), boxes)["tank.bath_c"] == pytest.approx([hottest_c + 0.05])
    # One that only cools, from a room of 18 °C by water of 12, was hottest as it began.
    cold = programme(a_round("wash", spray_s=100))
    still = machine({"wash_pump.heat_share": 0.0}, tolerances=False)
    boxes = boxes_of(box_of(still), box.low[None], box.high[None])
    assert values_of(cold, still, everything(), boxes)["tank.bath_c"] == pytest.approx([18.0], abs=1e-6)


@pytest.mark.parametrize("by_level", [False, True])
def test_a_second_run_from_a_wet_machine_at_room_temperature_is_a_first_run(by_level: bool) -> None:
    """*No source*: did it not dry out, and is it as warm as the room, a second run is no other."""
    rig = machine(THERMOSTAT if by_level else {})
    tops: dict[str, Any] = {"control": "thermostat", "fill_control": "level", "hysteresis_dk": 10}
    row = a_round("wash", fill_s=110, heat_s=1500, spray_s=600, setpoint_dc=450 * by_level, drain_s=75)
    table = programme(row, row, start_drain_s=0, **(tops if by_level else {}))
    box = box_of(rig)
    ends = np.stack([box.low[None], box.high[None]])
    for name, share in (("start_share", 1.0), ("start_chill_share", 0.0)):
        ends[:, 0, list(box.names).index(name)] = share
    wet = boxes_of(box, *ends)
    eqs = Bounding(wet, 0.0)
    none = np.zeros((2, 1))
    still = Acting(none, False, False, eqs.all_film_kg, eqs.all_film_kg)
    mixed_c = eqs.mixed_from(still, eqs.room_c, eqs.room_c, eqs.carry_kg)
    state = np.stack([mixed_c, eqs.room_c, eqs.room_c, eqs.carry_kg])
    first = values_of(table, rig, everything(), wet)
    # The whole box, in which the machine may have dried out: a second run never has.
    whole = boxes_of(box, box.low[None], box.high[None])
    again = values_again(table, rig, everything(), whole, End(state, np.ones(1, dtype=bool)))
    assert first["dose.milk"][0] > 1.0
    for key in ("dose.milk", "dose.fat", "tank.bath_c", "rinse.residue"):
        if key in again:
            assert again[key] == pytest.approx(first[key], rel=1e-5), key
    assert {"dose.milk", "tank.bath_c"} <= again.keys()


@pytest.mark.parametrize("seed", range(6))
def test_one_course_bounds_first_and_second_runs(seed: int) -> None:
    """A bound of both at once is no better than that of either; 0.01 K are for the steps of each."""
    table, rig, aim = random_case(seed + 40)
    box = box_of(rig)
    low, high = sub_boxes(box, 4, seed)
    boxes, whole = boxes_of(box, low, high), boxes_of(box, box.low[None], box.high[None])
    first, end = values_and_end(table, rig, aim, whole)
    second = values_again(table, rig, aim, boxes, end.spread(boxes.count))
    first = values_of(table, rig, aim, boxes)
    keys = tuple(key for key in AGAIN if key in first)
    both = values_asked(table, rig, aim, boxes, Asked((*keys, "dose.milk")), end)
    assert "ware.drop_k" in keys
    for key in keys:
        assert (both[key] >= np.maximum(first[key], second[key]) - 0.01).all(), key
    assert (both["dose.milk"] <= first["dose.milk"] * (1.0 + 1e-6)).all()


@pytest.mark.parametrize("seed", range(6))
def test_a_value_is_the_same_whatever_else_is_asked_for(seed: int) -> None:
    """Bit by bit, though less of the run is read and it may end sooner; no source: a saving of work."""
    table, rig, aim = random_case(seed + 40)
    boxes = boxes_of(box_of(rig), *sub_boxes(box_of(rig), 4, seed))
    keys = tuple(key for key in values_of(table, rig, aim, boxes) if key != DRYING)
    every = values_asked(table, rig, aim, boxes, Asked(keys))
    assert {"cover.suction_l", "ware.drop_k", "rinse.soil"} < every.keys()
    for key in keys:
        alone = values_asked(table, rig, aim, boxes, Asked((key,)))
        assert np.array_equal(alone[key], every[key]), key
