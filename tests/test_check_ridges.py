"""Ridges inside the tolerances: tops by hand, and by another solver of linear programmes (scipy's HiGHS)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from test_check_worst_points import unit_box

from optimizer.check.worst_cases import Array
from optimizer.check.worst_points import WorstPoints
from optimizer.check.worst_ridges import Plane, climb_ridges, top_of


def by_linprog(planes: list[Plane], least: Array, most: Array) -> float:
    """The greatest that the lesser of planes comes to: that each is at least t, and t is greatest."""
    size = len(least)
    found = linprog(
        [*np.zeros(size), -1.0],
        A_ub=np.array([[*-plane.slopes, 1.0] for plane in planes]),
        b_ub=[plane.value for plane in planes],
        bounds=[*zip(least, most, strict=True), (None, None)],
    )
    return float(-found.fun)


def test_the_top_of_two_planes_by_hand() -> None:
    """x brings one a unit on one side and costs one on the other, y costs a half here and brings two there.

    y at its most, 1, brings 2 there, so that x may go on until both are as high: x - 0.5 = 2 - x, at 1.25.
    """
    one, other = Plane(0.0, np.array([1.0, -0.5])), Plane(0.0, np.array([-1.0, 2.0]))
    moves = top_of(one, other, np.array([-2.0, -1.0]), np.array([2.0, 1.0]))
    assert moves == pytest.approx([1.25, 1.0], abs=1e-12)


def test_a_plane_that_is_lower_everywhere_decides_alone() -> None:
    one, other = Plane(0.0, np.array([1.0, -0.5])), Plane(9.0, np.array([-1.0, 2.0]))
    least, most = np.array([-2.0, -1.0]), np.array([2.0, 1.0])
    for pair in ((one, other), (other, one)):
        assert top_of(*pair, least, most) == pytest.approx([2.0, -1.0], abs=1e-12)


def test_the_top_of_any_two_planes_is_that_of_a_linear_programme() -> None:
    random = np.random.default_rng(1)
    for size in (1, 2, 5, 12):
        for _ in range(60):
            planes = [Plane(float(random.normal()), random.normal(size=size)) for _ in range(2)]
            least, most = -random.uniform(size=size), random.uniform(size=size)
            moves = top_of(*planes, least, most)
            assert np.all((least - 1e-12 <= moves) & (moves <= most + 1e-12))
            assert min(plane.at(moves) for plane in planes) == pytest.approx(
                by_linprog(planes, least, most), abs=1e-7
            )


def test_a_ridge_is_climbed_to_where_a_linear_programme_has_its_top() -> None:
    """From somewhere on it, in a box of five: the top of all, where single moves find nothing."""
    random = np.random.default_rng(2)
    for _ in range(20):
        slopes = random.normal(size=(2, 5))
        start = random.uniform(0.2, 0.8, 5)

        def roof(points: Array, slopes: Array = slopes, start: Array = start) -> Array:
            return (1.0 + ((points - start) @ slopes.T).min(axis=1))[:, None]

        search = WorstPoints(unit_box(5), roof)
        search.run([start])
        climb_ridges(search, [0])
        planes = [Plane(1.0, one) for one in slopes]
        top = by_linprog(planes, -start, 1.0 - start)
        assert search.worst_value(0) == pytest.approx(top, abs=1e-6)
        assert top > 1.0 + 1e-3


def two_roofs(points: Array) -> Array:
    """A ridge of 100 at a half of the first where four others are low, of 100.05 at 0.3 where not."""
    across, far = points[:, 0], points[:, 1:].mean(axis=1)
    low, high = 100.0 - np.abs(across - 0.5), 100.05 - 2.0 * np.abs(across - 0.3)
    return np.where(far < 0.5, low - far, high - (1.0 - far))[:, None]


def test_a_ridge_is_climbed_from_another_of_the_worst_points_too() -> None:
    """The other point, at 0.33, has 99.99: it stands under the higher ridge."""
    search = WorstPoints(unit_box(5), two_roofs)
    search.run([np.array([0.5, 0.0, 0.0, 0.0, 0.0]), np.array([0.33, 1.0, 1.0, 1.0, 1.0])])
    assert search.worst_value(0) == 100.0
    climb_ridges(search, [0])
    assert search.worst_value(0) == pytest.approx(100.05, abs=1e-9)


def test_what_helps_at_the_top_of_a_ridge_alone_is_taken_there() -> None:
    """The top is at x = 1 and y = 0.5 + 0.75 / 1.8: 0.5 - 0.8 * 0.75 / 1.8 = 1 / 6; there z brings 0.1."""

    def roof(points: Array) -> Array:
        x, y, z = points[:, 0] - 0.5, points[:, 1] - 0.5, points[:, 2]
        return (10.0 + np.minimum(x - 0.8 * y, y - 0.5 * x) + z * np.maximum(x - 0.4, 0.0))[:, None]

    search = WorstPoints(unit_box(3), roof)
    search.run([np.array([0.5, 0.5, 0.0])])
    climb_ridges(search, [0])
    assert search.worst_value(0) == pytest.approx(10.0 + 1.0 / 6.0 + 0.1, abs=1e-6)


def test_where_there_is_no_ridge_nothing_is_laid_out() -> None:
    """What falls the same all the way from an end: single moves, then a 16th and a 32nd of both."""
    batches = []

    def slope(points: Array) -> Array:
        batches.append(len(points))
        return (100.0 - 3.0 * points.sum(axis=1))[:, None]

    search = WorstPoints(unit_box(2), slope)
    search.run([np.zeros(2)])
    climb_ridges(search, [0])
    assert batches == [1, 4, 2, 2]


def test_a_side_of_a_ridge_that_has_no_number_is_left() -> None:
    """No number but near the point: what is laid out on one side has none, and counts as the worst."""

    def cliff(points: Array) -> Array:
        fall = 100.0 - np.abs(points - 0.5).sum(axis=1)
        return np.where(np.abs(points[:, 0] - 0.53) < 0.02, np.nan, fall)[:, None]

    search = WorstPoints(unit_box(2), cliff)
    search.run([np.array([0.5, 0.5])])
    climb_ridges(search, [0])
    assert search.worst_value(0) == np.inf
    assert all(np.isfinite(point).all() for point in search.points)
