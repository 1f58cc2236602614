"""The search inside the tolerances, and from more corners: worst points that are worked out by hand."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from check_cases import THERMOSTAT, machine
from test_check_worst_points import unit_box

from optimizer.check.box import Box, box_of
from optimizer.check.worst_cases import Array
from optimizer.check.worst_inside import QUARTERS, _apart_but_for, _jump, look_inside
from optimizer.check.worst_points import WorstPoints
from optimizer.check.worst_ridges import inside


def looked_inside(size: int, badness: Callable[[Array], Array]) -> tuple[float, float, list[int]]:
    """What the search finds for the first requirement, then inside the tolerances, and its last batches."""
    batches: list[int] = []

    def counted(points: Array) -> Array:
        batches.append(len(points))
        return badness(points)

    search = WorstPoints(unit_box(size), counted)
    search.find(draws=0, seed=1)
    before = search.worst_value(0)
    batches.clear()
    look_inside(search, [0])
    return before, search.worst_value(0), batches


@pytest.mark.parametrize("size", [2, 4, 5])
def test_it_looks_inside_the_tolerances_where_it_is_asked_to(size: int) -> None:
    """Worst at three eighths of each, where it comes to one: one is followed to it, the others are ridges."""
    before, found, _ = looked_inside(size, lambda points: 1.0 - np.abs(points - 0.375).sum(axis=1)[:, None])
    assert before == 1.0 - 0.125 * size
    assert found == pytest.approx(1.0, abs=1e-12)


def waves(points: Array) -> Array:
    """A wave of 4 on 100, at its top where x + 0.4 y is a whole number, and half of y beside it."""
    phase = points[:, 0] + 0.4 * points[:, 1]
    return (100.0 + 0.5 * points[:, 1] + 4.0 * (1.0 - 2.0 * np.abs(phase - np.round(phase))))[:, None]


def test_another_point_may_be_worse_once_the_wave_stands_elsewhere() -> None:
    """At the ends and nominal the top is met at y = 0 alone: 104, and no single move to the inside helps.

    With y = 1 it lies at x = 0.6, which is the best of all: of the eighths 0.625 gives 104.3, and both sides
    of the ridge are planes.
    """
    before, found, batches = looked_inside(2, waves)
    assert before == pytest.approx(104.0, abs=1e-12)
    assert found == pytest.approx(104.5, abs=1e-9)
    # Quarters of both; x in eighths for five y, five points known.
    assert batches[:2] == [4, 30]


def test_what_only_bends_is_not_followed_and_its_top_is_still_climbed() -> None:
    """Worst at 0.34: the quarters give 0.25, a 16th more 0.3125, and a 32nd 0.34375; following takes 7."""
    _, found, batches = looked_inside(1, lambda points: 100.0 - 60.0 * (points - 0.34) ** 2)
    assert found == pytest.approx(100.0 - 60.0 * 0.00375**2, abs=1e-12)
    assert batches[0] == 2
    assert max(batches) < 7


def test_what_is_worst_at_an_end_is_looked_at_once() -> None:
    """A course that bends and falls: the quarters are run, a 16th and a 32nd; ends and nominal are known."""
    _, found, batches = looked_inside(1, lambda points: 100.0 - 5.0 * points**2)
    assert found == 100.0
    assert batches == [2, 1, 1]


def test_what_has_no_number_somewhere_is_left() -> None:
    before, found, batches = looked_inside(2, lambda points: np.where(points[:, :1] > 0.7, np.nan, 1.0))
    assert (before, found, batches) == (np.inf, np.inf, [])


def test_two_quantities_are_moved_to_their_other_ends_at_once() -> None:
    """Of two that cost one each alone and bring one together, no single move from 100 helps.

    The pair gives 101. A third is climbed to after it: it brings a half then, and costs a half before.
    """

    def gate(points: Array) -> Array:
        x, y, z = points.T
        return (100.0 - x - y + 3.0 * x * y + (x * y - 0.5) * z)[:, None]

    search = WorstPoints(unit_box(3), gate)
    search.run([np.zeros(3)])
    search.climb([0])
    assert search.worst_value(0) == 100.0
    look_inside(search, [0])
    assert search.worst_value(0) == 101.5


SENSED = Box(machine(), ("sensor_error_k", *"abcdef"), np.zeros(7), np.full(7, 0.5), np.ones(7))
"""A sensor's error and six quantities that are high in every corner, each from 0 to 1."""


def two_tops(points: Array) -> Array:
    """Read low: 105, and 0.1 more for each of the six; read high: 100, and 1 less for each that there is.

    So there are two tops, 105.6 with all six high and 106 with all of them low.
    """
    low, six = points[:, 0] <= 0.5, points[:, 1:].sum(axis=1)
    return np.where(low, 105.0 + 0.1 * six, 106.0 - six)[:, None]


@pytest.mark.parametrize(("entwined", "worst"), [((), 105.6), ((0,), 106.0)])
def test_the_higher_top_is_come_to_from_a_corner_that_is_not_the_worst(
    entwined: tuple[int, ...], worst: float
) -> None:
    """Read high, a point of the design has two or three of the six: 104 at the most, so that none is climbed
    from, and the corner has 100. From there each of the six, low, brings one, and together they bring six."""
    search = WorstPoints(SENSED, two_tops)
    search.find(draws=0, seed=1, entwined=entwined)
    assert search.worst_value(0) == pytest.approx(worst, abs=1e-12)


def test_corners_by_what_the_sensor_reads() -> None:
    """Eight corners read low and eight high; a timed machine's are one list."""
    for rig, sizes in ((machine(THERMOSTAT), [8, 8]), (machine(), [16])):
        box = box_of(rig)
        numbers = box.corners_by_reading(box.corners())
        assert [len(some) for some in numbers] == sizes
        assert sorted(number for some in numbers for number in some) == list(range(16))
    box = box_of(machine(THERMOSTAT))
    error_k = box.corners()[:, box.names.index("sensor_error_k")]
    for some, reads_k in zip(box.corners_by_reading(box.corners()), (-1.0, 1.0), strict=True):
        assert error_k[some].tolist() == [reads_k] * 8


def saw_teeth(points: Array) -> Array:
    """On 100 a wave of 2 along x, of 8 along y and none along z, each with its tops at 0, 2/3 and 4/3."""
    x, y, z = points.T
    tops = [1.0 - 2.0 * np.abs(1.5 * one - np.round(1.5 * one)) for one in (x, y)]
    return (100.0 + 2.0 * tops[0] + 8.0 * tops[1] + 0.1 * z)[:, None]


@pytest.mark.parametrize("places", [[0, 1, 2], [1, 0, 2], [2, 1, 0]])
def test_the_quantity_is_followed_along_which_most_comes_and_goes(places: list[int]) -> None:
    search = WorstPoints(unit_box(3), saw_teeth)
    search.run([np.zeros(3)])
    search.run(inside(search, 0, place, share) for place in range(3) for share in QUARTERS)
    assert _jump(search, 0, 0, places) == 1
    assert _jump(search, 0, 0, [0, 2]) == 0
    assert _jump(search, 0, 0, [2]) is None


def test_it_is_followed_from_the_twelve_worst_points_that_differ_in_anything_else() -> None:
    """Of 32 corners the worst have the first three high; the fifth is followed, the fourth is silent."""
    search = WorstPoints(unit_box(5), lambda points: (points @ [8.0, 4.0, 2.0, 0.0, 1.0])[:, None])
    search.run(np.array(list(itertools.product([0.0, 1.0], repeat=5))))
    starts = _apart_but_for(search, 0, [0, 1, 2, 4], 4)
    assert [search.points[start][:3].tolist() for start in starts] == sorted(
        ([*map(float, f"{number:03b}")] for number in range(8)), reverse=True
    )
    assert {search.points[start][4] for start in starts} == {1.0}
    assert len(_apart_but_for(search, 0, [0, 1, 2, 3, 4], 4)) == 12
    assert len(_apart_but_for(search, 0, [0, 1, 2, 3, 4], 3)) == 12
