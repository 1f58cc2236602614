"""Branch and bound over the tolerances: what it stops at, what it may spend, and that it comes closer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from bound_cases import everything, judged, random_case, split
from check_cases import machine, programme
from exploring import TIMES, few_of
from planner_cases import proven
from scipy.optimize import Bounds, differential_evolution
from second_opinion import judged as second_judged
from second_opinion import simulate
from test_check_bounds_wander import ROUNDS
from test_planner_shipped import UNLIKE
from test_second_opinion import PLANNED, allowed
from tolerance_box import box as tolerance_box

from optimizer.check import bound_aims, bound_search
from optimizer.check.bound_aims import Aim
from optimizer.check.bound_asked import Asked
from optimizer.check.bound_box import SPLITTABLE, Boxes, ends_of
from optimizer.check.bound_course import End
from optimizer.check.bound_rows import Values, values_and_end, values_asked, values_of
from optimizer.check.bound_search import guaranteed
from optimizer.check.box import box_of
from optimizer.check.certificate import Sense
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants


def timed() -> tuple[Constants, Machine, Goal]:
    rounds = tuple(replace(row, setpoint_dc=0, fill_s=100) for row in ROUNDS)
    return programme(*rounds, start_drain_s=30), machine(), everything()


def aims_of(table: Constants, rig: Machine, aim: Goal, *, limit: float | None = None) -> dict[str, Aim]:
    """What is aimed at: the worst of some vertices; a limit that no bound holds, unless one is given."""
    box = box_of(rig)
    found = judged(table, rig, aim, np.vstack([box.vertices(box.screening()), box.draws(20, 1)]))
    aims = {}
    for key, (values, sign) in found.items():
        sense: Any = "at least" if sign > 0.0 else "at most"
        worst = float((sign * values).min() * sign)
        aims[key] = Aim(sense, sign * 1e9 if limit is None else sign * limit, worst)
    return aims


@pytest.fixture
def boxes_run(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many boxes each batch of the search has."""
    counts: list[int] = []

    def counted(constants: Constants, rig: Machine, goal: Goal, boxes: Boxes) -> tuple[Values, End]:
        counts.append(boxes.count)
        return values_and_end(constants, rig, goal, boxes)

    bound_by(monkeypatch, counted)
    monkeypatch.setattr(bound_search, "AGAIN", ())
    return counts


def bound_by(
    monkeypatch: pytest.MonkeyPatch,
    bounded: Callable[[Constants, Machine, Goal, Boxes], tuple[Values, Any]],
) -> None:
    """Bound boxes by a function in place of courses, in the first batch and in those that follow."""
    monkeypatch.setattr(bound_search, "values_and_end", bounded)
    monkeypatch.setattr(bound_search, "values_asked", lambda *given: bounded(*given[:4])[0])


@pytest.fixture
def small_budget(monkeypatch: pytest.MonkeyPatch) -> tuple[int, int]:
    """Two batches of few boxes, so that a test is quick: how many batches, of how many boxes."""
    monkeypatch.setattr(bound_search, "BOXES", 64)
    monkeypatch.setattr(bound_aims, "PASSES", 2)
    monkeypatch.setattr(bound_aims, "PASSES_NEARER", 2)
    return 2, 64


@pytest.mark.parametrize(
    ("gained", "bound", "limit", "reached"),
    [
        # By hand: 0.7 of it for each of ten batches, ln(26 / 10) times: 0.05 come of 0.0076, not of 0.0074.
        (0.0074, 11.71, 10.0, False),
        (0.0076, 11.71, 10.0, True),
        # By hand: twice its pace for the 9 of 19 batches that are left: 0.09 come of 0.01, not of 0.0099.
        (0.0099, 11.91, 12.0, False),
        (0.0101, 11.91, 12.0, True),
    ],
)
def test_a_bound_is_given_up_by_what_it_gained(
    gained: float, bound: float, limit: float, reached: bool
) -> None:
    """One that holds would be nearer by 0.05 (2 % of 12), the other one is 0.09 under its limit."""
    aim, course = Aim("at least", limit, 12.0), [bound - gained, bound - gained / 2, bound]
    assert bound_search._in_reach(course, aim, "dose.milk", 9) is reached


@pytest.mark.parametrize(("limit", "reached"), [(10.0, True), (10.01, False)])
def test_a_bound_that_all_but_holds_is_given_up_by_its_last_four_gains(limit: float, reached: bool) -> None:
    """By hand: in 5 batches 0.017 more at twice the pace of the last two, 0.108 at that of the last four.

    0.049 are missing of 10, 0.059 of 10.01, which is more than half a percent.
    """
    course, aim = [9.9076, 9.9276, 9.9476, 9.9488, 9.951], Aim("at least", limit, 12.0)
    assert bound_search._in_reach(course, aim, "cover.suction_l", 13) is reached


@pytest.mark.parametrize(
    ("suction_l", "brief", "nearer"), [(10.0, True, True), (9.9, True, False), (9.9, False, True)]
)
def test_nothing_is_sharpened_where_a_limit_is_missed(
    monkeypatch: pytest.MonkeyPatch, suction_l: float, brief: bool, nearer: bool
) -> None:
    def bounded(_: object, __: object, ___: object, boxes: Boxes) -> tuple[Values, Any]:
        width_k = boxes.most.room_c - boxes.least.room_c
        both = {"cover.suction_l": np.full(boxes.count, suction_l), "dose.milk": 12.0 - width_k / 32.0}
        return both, SimpleNamespace(first=int)

    bound_by(monkeypatch, bounded)
    rig = machine({"room.air_c": {"nominal": 18.0, "low": 0.0, "high": 32.0}}, tolerances=False)
    table, _, aim = timed()
    aims = {"cover.suction_l": Aim("at least", 10.0, 10.0), "dose.milk": Aim("at least", 10.0, 12.0)}
    found = guaranteed(table, rig, aim, aims, brief=brief)
    assert found["cover.suction_l"] == suction_l
    assert (found["dose.milk"] >= 0.98 * 12.0) is nearer
    assert (found["dose.milk"] < 11.0) is not nearer


def test_all_stay_as_they_are_once_one_limit_is_out_of_reach(monkeypatch: pytest.MonkeyPatch) -> None:
    """No split brings the suction nearer; the dose, which misses as well, one of the coldest room would."""

    def bounded(_: object, __: object, ___: object, boxes: Boxes) -> tuple[Values, Any]:
        width_k = boxes.most.room_c - boxes.least.room_c
        both = {
            "cover.suction_l": np.full(boxes.count, 9.9),
            "dose.milk": 12.0 - np.where(boxes.least.room_c > 0.0, 0.0, width_k) / 8.0,
        }
        return both, SimpleNamespace(first=int)

    bound_by(monkeypatch, bounded)
    monkeypatch.setattr(bound_search, "BOXES", 4)
    rig = machine({"room.air_c": {"nominal": 18.0, "low": 0.0, "high": 32.0}}, tolerances=False)
    table, _, aim = timed()
    aims = {"cover.suction_l": Aim("at least", 10.0, 10.0), "dose.milk": Aim("at least", 11.9, 12.0)}
    rest, at_once = (guaranteed(table, rig, aim, aims, brief=True, at_once=one) for one in (False, True))
    assert rest["cover.suction_l"] == at_once["cover.suction_l"] == 9.9
    assert 8.0 < at_once["dose.milk"] < rest["dose.milk"] <= 12.0


@pytest.mark.parametrize(("bound", "batches"), [(10.0, 26), (9.999, 19)])
def test_a_dose_that_holds_gets_more_batches_to_be_nearer(bound: float, batches: int) -> None:
    assert Aim("at least", 10.0, 12.0).passes(bound) == batches
    assert Aim("at most", -10.0, -12.0).passes(-bound) == batches


@pytest.mark.parametrize(
    ("key", "sense", "limit", "worst", "bound", "enough"),
    [
        # What holds the limit is enough, however far from the worst value found; a dose is not.
        ("cover.suction_l", "at least", 10.0, 12.0, 10.0, True),
        ("cover.suction_l", "at least", 10.0, 12.0, 9.999, False),
        ("tank.bath_c", "at most", 75.0, 60.0, 75.0, True),
        ("tank.bath_c", "at most", 75.0, 60.0, 75.001, False),
        # By hand: a dose lies within two per cent of the worst found.
        ("dose.milk", "at least", 10.0, 12.0, 11.761, True),
        ("dose.milk", "at least", 10.0, 12.0, 11.759, False),
        ("dose.milk", "at least", 11.9, 12.0, 11.899, False),
        # By hand: half a per cent under a worst found that breaks the limit anyhow, not under one that holds.
        ("dose.milk", "at least", 15.0, 12.0, 11.941, True),
        ("dose.milk", "at least", 15.0, 12.0, 11.939, False),
        ("tank.bath_c", "at most", 50.0, 60.0, 60.29, True),
        ("tank.bath_c", "at most", 50.0, 60.0, 60.31, False),
        ("cover.element_l", "at least", 7.5, 7.504, 7.499, False),
        ("cover.element_l", "at least", 7.5, 7.499, 7.47, True),
    ],
)
def test_a_bound_is_enough_that_holds_the_limit_or_is_close(
    key: str, sense: Any, limit: float, worst: float, bound: float, enough: bool
) -> None:
    assert Aim(sense, limit, worst).enough(key, bound) is enough


@pytest.mark.parametrize("seed", [0, 3, 5, 8])
def test_what_is_asked_is_what_a_whole_run_finds(seed: int) -> None:
    """A run that ends early gives the same values, and none of what it has not come to."""
    table, rig, _ = random_case(seed)
    assert rig.element is not None
    rig = rig.model_copy(update={"element": rig.element.model_copy(update={"sensor_error_k": 0.0})})
    aim = everything({"drying": {"method": "none"}})
    boxes = split(rig, {"room_c": 2})
    whole = values_of(table, rig, aim, boxes)
    for key in whole:
        asked = values_asked(table, rig, aim, boxes, Asked([key], whole))
        assert key in asked
        assert all(np.array_equal(asked[one], whole[one]) for one in asked), key
    in_wash = [f"dose.{dose.name}" for dose in aim.dose if set(dose.kinds) <= {"prerinse", "wash"}]
    if table.rounds[-1].kind == "rinse":
        assert "overflow.level_l" not in values_asked(table, rig, aim, boxes, Asked(in_wash[:1], whole))


def test_nothing_is_split_where_the_whole_box_is_enough(boxes_run: list[int]) -> None:
    table, rig, aim = timed()
    aims = {key: replace(one, worst=one.limit) for key, one in aims_of(table, rig, aim, limit=-1e9).items()}
    guaranteed(table, rig, aim, aims)
    assert len(boxes_run) == 1


def test_the_budget_of_boxes_holds(boxes_run: list[int], small_budget: tuple[int, int]) -> None:
    table, rig, aim = timed()
    aims = {key: replace(one, worst=one.sign * 1e9) for key, one in aims_of(table, rig, aim).items()}
    guaranteed(table, rig, aim, aims)
    batches, most = small_budget
    each = 1 + 2 * sum(ends_of(rig)[name][0] < ends_of(rig)[name][1] for name in SPLITTABLE)
    # Box and halves, parts, box and halves of those that are worst then, parts.
    first, *rest = boxes_run
    assert first == each
    split_into, tried = rest[0::2], rest[1::2]
    assert len(split_into) == batches
    assert all(0 < made <= most for made in split_into)
    assert [made % each for made in tried] == [0] * (batches - 1)


def test_a_second_run_is_split_until_both_of_its_temperatures_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: inlet of 8 to 18 °C; the prerinse is 30 °C and the inlet's width, 40 °C in the whole box."""

    def ended(count: int) -> End:
        return End(np.zeros((4, 2, count)), np.ones(count, dtype=bool))

    def first_run(_: object, __: object, ___: object, boxes: Boxes) -> tuple[Values, End]:
        values = np.full(boxes.count, 20.0)
        return dict.fromkeys(("tank.bath_c", "prerinse.bath_c"), values), ended(boxes.count)

    def second_run(*given: Any) -> Values:
        boxes: Boxes = given[3]
        # Each box begins where the whole one ended, or where it ended itself.
        assert given[4].state.shape[-1] == boxes.count
        wide_k = boxes.inlet_high_c - boxes.inlet_low_c
        return {"tank.bath_c": np.full(boxes.count, 60.0), "prerinse.bath_c": 30.0 + wide_k}

    def both_runs(*given: Any) -> Values:
        """First runs, and with an end to begin at second ones with them."""
        boxes: Boxes = given[3]
        first = first_run(*given[:4])[0]
        if len(given) < 6:
            return first
        second = second_run(*given[:4], ended(boxes.count))
        return {key: np.maximum(values, second[key]) for key, values in first.items()}

    bound_by(monkeypatch, first_run)
    monkeypatch.setattr(bound_search, "values_again", second_run)
    monkeypatch.setattr(bound_search, "values_asked", both_runs)
    aims = {"tank.bath_c": Aim("at most", 75.0, 20.0), "prerinse.bath_c": Aim("at most", 36.0, 20.0)}
    table, rig, aim = timed()
    found = guaranteed(table, rig, aim, aims)
    assert found["tank.bath_c"] == 60.0
    assert 20.0 < found["prerinse.bath_c"] <= 36.0
    # Where the whole box is enough for both nothing is split, and the second run counts all the same.
    aims["prerinse.bath_c"] = Aim("at most", 40.0, 20.0)
    assert guaranteed(table, rig, aim, aims) == {"tank.bath_c": 60.0, "prerinse.bath_c": 40.0}


def test_it_gives_up_after_19_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: only the box at the low ends is bad, by 1 less each time that one of two widths is halved.

    192 boxes have room for 7 halvings of one box: 19 batches come to 19 · 7 = 133, where 134 are asked for.
    """
    counts: list[int] = []

    def bounded(_: object, __: object, ___: object, boxes: Boxes) -> tuple[Values, Any]:
        counts.append(boxes.count)
        least, most = boxes.least, boxes.most
        halvings = np.log2(32.0 / (most.room_c - least.room_c) / (most.start_share - least.start_share))
        at_low = (least.room_c == 0.0) & (least.start_share == 0.0)
        return {"cover.suction_l": np.where(at_low, halvings, 1e6)}, SimpleNamespace(first=int)

    bound_by(monkeypatch, bounded)
    wide = {"nominal": 18.0, "low": 0.0, "high": 32.0}
    rig = machine({"room.air_c": wide, "inlet.water_c": 40.0}, tolerances=False)
    table, _, aim = timed()
    found = guaranteed(table, rig, aim, {"cover.suction_l": Aim("at least", 134.0, 1000.0)})
    assert found == {"cover.suction_l": 133.0}
    # The whole box and the halves of three widths, the parts, and before each further batch the same of the
    # worst box; every second time only of the widths that tell, two of them or one.
    assert counts[0] == 7
    assert counts[1::2] == [128] * 19
    assert set(counts[2::4]) == {7}
    assert set(counts[4::4]) <= {3, 5}
    counts.clear()
    assert guaranteed(table, rig, aim, {"cover.suction_l": Aim("at least", 14.0, 1000.0)}) == {
        "cover.suction_l": 14.0
    }
    assert counts == [7, 128, 7, 128]


@pytest.mark.parametrize(("sense", "worst", "runaway"), [("at least", 8.0, 8.2), ("at most", 60.0, 58.0)])
def test_a_bound_far_better_than_the_worst_found_is_none(sense: Sense, worst: float, runaway: float) -> None:
    """No point can be worse than what holds for all: the course that says so has run away."""
    aim, none = Aim(sense, worst, worst), -math.inf if sense == "at least" else math.inf
    assert aim.final(np.array([runaway, runaway])) == none
    assert aim.final(np.array([math.nan])) == none
    # A little better, steps have put it off: as much is taken off what was found.
    less = float(aim.less_steps(np.array(worst)))
    assert aim.final(np.array([0.5 * (worst + runaway)])) == less != worst
    # What was found may be of either of two runs: one alone may well be that much better.
    warmer = replace(aim, warmer=True)
    assert warmer.final(np.array([runaway])) == runaway
    assert warmer.of_both(runaway, worst) == worst
    assert warmer.of_both(runaway, runaway) == none


@pytest.mark.usefixtures("small_budget")
def test_the_same_input_gives_the_same_values_and_none_is_better_than_the_worst_found() -> None:
    table, rig, aim = timed()
    keys = ("dose.milk", "tank.bath_c", "rinse.residue")
    aims = {key: one for key, one in aims_of(table, rig, aim).items() if key in keys}
    first = guaranteed(table, rig, aim, aims)
    assert guaranteed(table, rig, aim, aims) == first
    assert all(aims[key].sign * (aims[key].worst - bound) >= 0.0 for key, bound in first.items())


def test_smaller_boxes_come_closer_to_the_worst_vertex() -> None:
    table, _, aim = timed()
    moving = {
        "element.rated_w": {"nominal": 900.0, "tolerance_pct": 10.0},
        "ware.porcelain_kg": {"nominal": 4.0, "tolerance_pct": 20.0},
        "ware.response_spraying_s": {"nominal": 45.0, "low": 30.0, "high": 60.0},
    }
    rig, key = machine(moving, tolerances=False), "dose.milk"
    box = box_of(rig)
    corners = np.array(list(product(*zip(box.low, box.high, strict=True))))
    worst = float(judged(table, rig, aim, corners)[key][0].min())
    names = ("rated_w", "ware_kj_per_k", "response_spraying_s")
    cuts = [dict.fromkeys(names, parts) for parts in (1, 2, 4)]
    boxes = [split(rig, parts | {"start_share": max(parts.values())}) for parts in cuts]
    assert [one.count for one in boxes] == [1, 16, 256]
    gaps = [worst - float(values_of(table, rig, aim, one)[key].min()) for one in boxes]
    assert gaps[0] > gaps[1] > gaps[2] > -0.001 * worst
    assert gaps[2] < 0.5 * gaps[0]


def attacked(name: str, goal_name: str, count: int, seed: int) -> list[str]:
    """Rows of a proven plan that a point breaks by the second simulator."""
    found = proven(name, goal_name)
    plan = found.plan
    bounds = {row.key: row.guaranteed for row in found.certificate.rows}
    random = np.random.default_rng(seed)
    points = {}
    for key, (low, _, high) in tolerance_box(plan.inputs.machine).items():
        inside = random.uniform(low, high, count)
        at_end = np.where(random.uniform(size=count) < 0.5, low, high)
        points[key] = np.where(random.uniform(size=count) < 0.15, inside, at_end)
    dry, chilled = random.uniform(size=count) < 0.5, random.integers(0, 2, count).astype(float)
    run = simulate(plan.constants, plan.inputs.machine, plan.inputs.goal, points, dry, chilled)
    wrong = []
    for key, (values, least) in second_judged(run, plan.inputs.goal).items():
        bound = bounds.get(key)
        if bound is None:
            continue
        worst = float(values.min() if least else values.max())
        place = int(values.argmin() if least else values.argmax())
        over = bound - worst if least else worst - bound
        at = {name: float(numbers[place]) for name, numbers in points.items()}
        if over > allowed(key, worst, at):
            wrong.append(f"{key}: guaranteed {bound:.6g}, second opinion {worst:.6g}")
    return wrong


@pytest.mark.slow
@pytest.mark.parametrize(("name", "goal_name"), few_of(PLANNED, UNLIKE))
def test_a_second_simulator_breaks_nothing_that_is_guaranteed(name: str, goal_name: str) -> None:
    assert attacked(name, goal_name, 300, seed=2) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(200, 207 + 50 * TIMES))
def test_differential_evolution_breaks_nothing_on_random_machines(seed: int) -> None:
    table, rig, aim = random_case(seed)
    box, aims = box_of(rig), aims_of(table, rig, aim)
    bounds = guaranteed(table, rig, aim, aims)
    for key in bounds:
        if not key.startswith(("dose", "hygiene", "drying", "tank", "prerinse", "cover", "rinse")):
            continue
        sign = aims[key].sign

        def good(points: Any, key: str = key, sign: float = sign) -> Any:
            inside = np.clip(points.T, box.low, box.high)
            return np.nan_to_num(sign * judged(table, rig, aim, inside)[key][0], posinf=1e9)

        best = differential_evolution(
            good, Bounds(box.low, box.high), maxiter=4, popsize=2, polish=False,
            rng=seed, vectorized=True, updating="deferred", tol=0.0,
        )  # fmt: skip
        room = 1e-9 if key.startswith(("dose", "hygiene", "drying")) else 1e-6
        assert sign * bounds[key] <= best.fun + room * max(1.0, abs(best.fun)), key
