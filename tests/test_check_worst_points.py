"""The search for worst points, against every point of small boxes, and against points that others found."""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, circuit, five_rounds, five_rounds_by_thermostat, goal, machine
from planner_cases import shipped

from optimizer.check.box import Box, box_of
from optimizer.check.certificate import Row
from optimizer.check.certify import Runs, check
from optimizer.check.requirements import Judged
from optimizer.check.worst_cases import Array
from optimizer.check.worst_points import WorstPoints
from optimizer.programme.constants import Constants, Round

LIKE = {"abs": 1e-6, "rel": 1e-4}
EXACT: dict[str, Any] = {
    "supply.voltage_v": 230.0, "room.air_c": 18.0, "inlet.water_c": 12.0, "inlet.flow_l_per_min": 6.0,
    "tank.heat_capacity_kj_per_k": 4.5, "tank.loss_still_w_per_k": 6.0, "tank.loss_spraying_w_per_k": 9.0,
    "tank.residual_l": 0.6, "ware.porcelain_kg": 4.0, "ware.film_l": 0.2, "ware.response_spraying_s": 45.0,
    "ware.response_still_s": 1800.0, "wash_pump.power_w": 85.0, "wash_pump.holdup_l": 1.5,
    "drain_pump.flow_l_per_min": 12.0, "element.rated_w": 900.0,
}  # fmt: skip
"""The test rig without tolerances; the start alone may be dry or wet."""
WIDE: dict[str, Any] = {
    "supply.voltage_v": {"nominal": 230.0, "low": 207.0, "high": 253.0},
    "room.air_c": {"nominal": 18.0, "low": 8.0, "high": 30.0},
    "inlet.water_c": {"nominal": 12.0, "low": 5.0, "high": 22.0},
    "tank.heat_capacity_kj_per_k": {"nominal": 4.5, "tolerance_pct": 40.0},
    "tank.residual_l": {"nominal": 1.2, "low": 0.2, "high": 2.4},
    "ware.film_l": {"nominal": 0.4, "low": 0.05, "high": 0.8},
    "ware.porcelain_kg": {"nominal": 4.0, "tolerance_pct": 40.0},
    "ware.response_spraying_s": {"nominal": 100.0, "low": 30.0, "high": 240.0},
}
ONCE = ("dose.", "hygiene.", "rinse.", "cover.suction_l", "limits.")
"""Requirements that a first run is the worst for."""
GROUPS = {
    "water": ("tank.residual_l", "ware.film_l", "inlet.water_c", "room.air_c"),
    "masses": ("tank.heat_capacity_kj_per_k", "ware.porcelain_kg", "supply.voltage_v", "tank.residual_l"),
    "lag": ("ware.response_spraying_s", "ware.porcelain_kg", "supply.voltage_v", "room.air_c"),
}
"""Quantities with a wide tolerance, all others exact: 3^5 points, the start included."""


def rig(control: str, group: str) -> tuple[Constants, Runs]:
    changes = EXACT | {name: WIDE[name] for name in GROUPS[group]}
    changes |= THERMOSTAT if control == "thermostat" else {}
    constants = five_rounds_by_thermostat() if control == "thermostat" else five_rounds()
    built = machine(changes)
    return constants, Runs(constants, built, goal(), circuit(), box_of(built))


@cache
def searched(control: str, group: str) -> tuple[Runs, WorstPoints]:
    _, runs = rig(control, group)
    search = WorstPoints(runs.box, runs.badness)
    search.find(draws=16, seed=1)
    return runs, search


def every_point(box: Box) -> Array:
    """All combinations of low, nominal and high."""
    return np.array(list(product(*np.stack([box.low, box.nominal, box.high], axis=1))))


CASES = [pytest.param(c, g, id=f"{c}-{g}") for c in ("timed", "thermostat") for g in GROUPS]


@pytest.mark.parametrize(("control", "group"), CASES)
def test_none_of_all_combinations_is_worse(control: str, group: str) -> None:
    """Oracle: every combination of low, nominal and high, run one and all."""
    runs, search = searched(control, group)
    grid = every_point(runs.box)
    assert len(grid) == 3**runs.box.size >= 3**5
    bad = runs.badness(grid)
    for which in search.touched():
        worst = search.worst_value(which)
        assert worst >= bad[:, which].max() - 1e-4 * abs(worst)


@pytest.mark.parametrize(("control", "group"), CASES)
def test_no_single_move_from_a_worst_point_makes_it_worse(control: str, group: str) -> None:
    """Property: a worst point is a fixed point of all single moves."""
    runs, search = searched(control, group)
    for which in search.touched():
        (point,) = search.worst(which)
        singles = []
        for place, value in runs.box.moves(point):
            singles.append(point.copy())
            singles[-1][place] = value
        bad = runs.badness(np.array([point, *singles]))[:, which]
        assert bad.max() <= bad[0] + 1e-4 * abs(bad[0])


def test_rows_are_the_fine_runs_of_the_worst_points() -> None:
    """Each row's point, run by itself, gives the value that the row states."""
    constants, runs = rig("timed", "masses")
    found = check(constants, runs.machine, runs.goal, runs.circuit)
    values = {row.key: row for row in found.rows}
    # The hottest of two runs in a row, the second on a warm machine, is none of a run by itself.
    once = {key: table for key, table in found.worst_points.items() if key.startswith(ONCE)}
    assert len(once) > 4
    for key, table in once.items():
        point = np.array([[table[name] for name in runs.box.names]])
        (alone,) = [one for one in runs.run(point).judged() if one.key == key]
        assert isinstance(alone, Judged)
        assert values[key].worst == pytest.approx(float(alone.values[0]), rel=1e-5, abs=1e-9)


def bumpy(box: Box, peak: Array) -> Any:
    """Badness that is highest at a point, product of one bump a quantity: no quantity acts by itself."""

    def badness(points: Array) -> Array:
        share = (points - peak) / (box.high - box.low)
        return np.exp(-2.0 * share**2).prod(axis=1)[:, None]

    return badness


def test_the_nominal_value_is_tried_as_well() -> None:
    """Worst at nominal in some quantities, at an end in others."""
    box = box_of(machine())
    peak = np.where(np.arange(box.size) % 3 == 0, box.nominal, box.high)
    search = WorstPoints(box, bumpy(box, peak))
    search.find(draws=0, seed=1)
    assert search.worst_value(0) == 1.0
    assert np.array_equal(search.worst(0)[0], peak)


def unit_box(size: int) -> Box:
    """As many quantities, each from 0 to 1 and nominal in the middle."""
    ends = np.zeros(size)
    return Box(machine(), tuple("x" * size), ends, ends + 0.5, ends + 1.0)


def test_two_quantities_that_hurt_only_together_are_found() -> None:
    """Alone each of the two makes it better: no single move from nominal helps."""
    box = box_of(machine())

    def badness(points: Array) -> Array:
        high = (points == box.high)[:, :4].astype(float)
        return np.asarray(10.0 * high[:, 0] * high[:, 3] - high.sum(axis=1))[:, None]

    search = WorstPoints(box, badness)
    search.find(draws=0, seed=1)
    assert search.worst_value(0) == 8.0


def at_ends(box: Box, seed: int) -> Array:
    """A vertex, drawn, that is no point of the design."""
    return box.vertices(np.random.default_rng(seed).uniform(size=box.size) < 0.5)


def test_it_climbs_on_as_long_as_a_move_helps() -> None:
    """A chain of ten by hand: a link counts 2 where all before it hold, and costs 1 where one does not.

    So one move helps at a time, and the mean effect of most links points the other way.
    """
    box = box_of(machine())
    target = at_ends(box, 3)

    def badness(points: Array) -> Array:
        holds = (points == target)[:, :10]
        held = np.cumprod(holds, axis=1)
        return np.asarray(3.0 * held.sum(axis=1) - holds.sum(axis=1))[:, None]

    screened = badness(box.vertices(box.screening()))
    assert screened.max() < 12.0
    search = WorstPoints(box, badness)
    search.find(draws=0, seed=1)
    assert search.worst_value(0) == 20.0
    assert np.array_equal(search.worst(0)[0][:10], target[:10])


def test_it_gives_up_after_twelve_passes() -> None:
    """A chain of 60 quantities: two batches to begin with, two in the first pass and one in each further.

    The single moves from where a pass ends are run with it, and are known to the next.
    """
    ends, batches = np.zeros(60), []
    box = Box(machine(), tuple("x" * 60), ends, ends + 0.4, ends + 1.0)
    target = at_ends(box, 3)

    def badness(points: Array) -> Array:
        batches.append(len(points))
        holds = points == target
        return np.asarray(3.0 * np.cumprod(holds, axis=1).sum(axis=1) - holds.sum(axis=1))[:, None]

    search = WorstPoints(box, badness)
    search.find(draws=0, seed=1)
    assert search.worst_value(0) < 120.0
    assert len(batches) == 2 + 2 + 11


def test_the_worst_is_guessed_as_if_each_quantity_acted_by_itself() -> None:
    """Only vertices count, by how many of their ends are those of the worst: the second batch is that one."""
    box, batches = box_of(machine()), []
    target = at_ends(box, 4)

    def badness(points: Array) -> Array:
        batches.append(points)
        ends = ((points == box.low) | (points == box.high)).all(axis=1)
        return np.where(ends, (points == target).sum(axis=1), 0.0)[:, None]

    WorstPoints(box, badness).find(draws=0, seed=1)
    assert batches[1].tolist() == [target.tolist()]


def test_the_best_start_may_lead_nowhere() -> None:
    """Starts of 8, 4 and, a corner, 3; all else 0. A move leads from the second to 9, from the last to 10."""
    box = box_of(machine())
    starts = [*box.vertices(box.screening())[:2], box.corners()[5]]
    above = [starts[1].copy(), starts[2].copy()]
    above[0][5], above[1][7] = box.nominal[5], box.nominal[7]
    heights = zip((8.0, 4.0, 3.0, 9.0, 10.0), (*starts, *above), strict=True)
    height = {point.tobytes(): value for value, point in heights}

    def badness(points: Array) -> Array:
        return np.array([[height.get(point.tobytes(), 0.0)] for point in points])

    search = WorstPoints(box, badness)
    search.find(draws=0, seed=1)
    assert search.worst_value(0) == 10.0


def test_no_number_counts_as_the_worst() -> None:
    box = box_of(machine())

    def badness(points: Array) -> Array:
        return np.where(points[:, :1] == box.high[0], np.nan, 1.0)

    search = WorstPoints(box, badness)
    search.find(draws=0, seed=1)
    assert search.worst_value(0) == np.inf
    assert search.worst(0)[0][0] == box.high[0]


def test_a_point_is_named_by_what_changes_the_value_most_first() -> None:
    """Of 107.05 the room makes 5, the inlet 2, the voltage 0.05: that is less than a thousandth."""
    box = box_of(machine())
    parts = {"inlet_c": 2.0, "voltage_v": 0.05, "room_c": 5.0}

    def badness(points: Array) -> Array:
        places = [box.names.index(name) for name in parts]
        return 100.0 + (points == box.high)[:, places] @ np.array([*parts.values()])[:, None]

    search = WorstPoints(box, badness)
    named = search.named([(0, box.high), (0, box.nominal), (0, np.where(box.high > 20.0, box.high, box.low))])
    assert named[:2] == ["warm room, warm inlet", ""]
    assert named[2] == "warm room"


@pytest.mark.parametrize("size", [1, 2, 3, 7, 8, 16, 19])
def test_the_design_holds_all_pairs_of_ends_equally_often(size: int) -> None:
    """What defines a two-level design of resolution IV (Box, Hunter and Hunter): any three columns hold all
    eight combinations of ends equally often."""
    ends = np.arange(float(size))
    half = Box(machine(), tuple("x" * size), ends, ends, ends + 1.0).screening()
    signs = np.where(half, 1, -1)
    assert len(signs) in (4, 8, 16, 32, 64)
    assert len(signs) < 4 * (size + 1)
    assert (signs.sum(axis=0) == 0).all()
    for first in range(size):
        for second in range(first):
            assert signs[:, first] @ signs[:, second] == 0
            for third in range(second):
                assert (signs[:, first] * signs[:, second] * signs[:, third]).sum() == 0


def test_draws_mix_ends_with_values_from_inside() -> None:
    box = box_of(machine())
    points = box.draws(400, seed=2)
    assert np.array_equal(points, box.draws(400, seed=2))
    assert (points >= box.low).all()
    assert (points <= box.high).all()
    at_end = (points == box.low) | (points == box.high)
    assert 0.6 < at_end.mean() < 0.74
    inside = (points - box.low) / (box.high - box.low)
    assert inside[~at_end].mean() == pytest.approx(0.5, abs=0.02)


def garage(goal_name: str, bath_max_dc: int, *rows: Round, stand_s: int = 0) -> dict[str, Row]:
    inputs = shipped("garage-120v", goal_name)
    table = Constants(
        start_drain_s=173, gap_s=2, rounds=rows, stand_s=stand_s, control="thermostat", fill_control="timed",
        hysteresis_dk=20, bath_max_dc=bath_max_dc, input_sha256="",
    )  # fmt: skip
    found = Runs(table, inputs.machine, inputs.goal, inputs.circuit, box_of(inputs.machine))
    search = WorstPoints(found.box, found.badness)
    search.find(draws=64, seed=1)
    points = np.array([search.worst(which)[0] for which in search.touched()])
    return {row.key: row for row in found.run(points).rows()}


@pytest.mark.slow
def test_a_second_run_that_is_worse_where_the_wave_stands_elsewhere_is_found() -> None:
    """As a programme of steamed glasses begins again, its ware drops by 34.91 K somewhere inside the
    tolerances (differential evolution over the whole box, 450,000 points), and by 34.77 K in a first run."""
    inputs = shipped("garage-120v", "steamed-glasses")
    rinse = Round("rinse", 63, 0, 120, 0, 0, 0, 71, 0)
    table = Constants(
        start_drain_s=223, gap_s=2, stand_s=1200, control="thermostat", fill_control="timed",
        hysteresis_dk=20, bath_max_dc=1016, input_sha256="", rounds=(
            Round("wash", 66, 1945, 715, 0, 524, 0, 75, 327), rinse, rinse, rinse, rinse,
            Round("steam", 85, 5321, 0, 0, 0, 2184, 117, 0, top_up_s=22),
        ),
    )  # fmt: skip
    found = check(table, inputs.machine, inputs.goal, inputs.circuit, leave_out="proof")
    (drop,) = (row for row in found.rows if row.key == "ware.drop_k")
    assert 34.9122 * 0.999 < drop.worst < 35.0


COLD_ROUNDS = (
    Round("prerinse", 60, 0, 120, 0, 0, 0, 56, 0),
    Round("rinse", 57, 0, 120, 0, 0, 0, 53, 0),
    Round("rinse", 57, 0, 120, 0, 0, 0, 53, 0),
)


def test_what_an_independent_attack_found_is_found() -> None:
    """Two programmes that corners with quantities in groups had certified, 61.8 s and 25.3 min; the second
    opinion's search found 52.2 s and 24.1 min in the same box. The model has become stricter since: no more
    than that. The water and the detergent are not looked at here."""
    first, *rinses = COLD_ROUNDS
    nursery = garage(
        "nursery", 1040, first, Round("wash", 57, 1245, 1269, 0, 467, 0, 53, 222), *rinses,
        Round("rinse", 57, 3305, 310, 0, 919, 0, 53, 0), stand_s=1200,
    )  # fmt: skip
    assert nursery["hygiene.a0"].worst <= 52.2 * 1.001
    assert nursery["dose.milk"].worst <= 9.967 * 1.001
    tins = garage(
        "roasting-tins", 1040, first, Round("wash", 57, 3181, 879, 0, 891, 0, 53, 296), *rinses, rinses[0]
    )
    assert tins["dose.fat"].worst <= 24.09 * 1.001
