"""The box of tolerances: its ends, its draws and the words for its points."""

from __future__ import annotations

import numpy as np
import pytest
from check_cases import THERMOSTAT, machine

from optimizer.check.box import Box, box_of

UNIT = Box(
    machine(), ("room_c", "inlet_c"), np.array([0.0, 10.0]), np.array([0.4, 14.0]), np.array([1.0, 20.0])
)


def test_quantities_without_a_tolerance_are_no_part_of_it() -> None:
    exact = machine({"tank.vent_m2": 0.0}, tolerances=False)
    assert box_of(exact).names == ("start_share", "start_chill_share")
    hot_feed = machine({"tank.vent_m2": 0.0, "inlet.water_c": 55.0}, tolerances=False)
    assert box_of(hot_feed).names == ("start_share",)
    every = box_of(machine(THERMOSTAT))
    assert {"sensor_error_k", "level_l"} <= set(every.names)
    assert not {"sensor_error_k", "level_l", "pipe_l"} & set(box_of(machine()).names)
    assert every.size == len(every.names)


def test_draws_reach_from_end_to_end() -> None:
    """What is drawn from inside is level from 0 to 1: a standard deviation of 1/√12, a tenth in each tenth.

    A third lies inside; of the ends half are low.
    """
    shares = (UNIT.draws(6000, seed=3) - UNIT.low) / (UNIT.high - UNIT.low)
    inside = shares[(shares > 0.0) & (shares < 1.0)]
    assert len(inside) / shares.size == pytest.approx(1.0 / 3.0, abs=0.02)
    assert (shares == 0.0).mean() == pytest.approx(1.0 / 3.0, abs=0.02)
    assert (shares == 1.0).mean() == pytest.approx(1.0 / 3.0, abs=0.02)
    assert inside.std() == pytest.approx(12.0**-0.5, abs=0.01)
    assert np.histogram(inside, 10, (0.0, 1.0))[0] / len(inside) == pytest.approx(0.1, abs=0.02)
    assert not np.array_equal(UNIT.draws(5, seed=1), UNIT.draws(5, seed=2))


def test_single_moves_by_hand() -> None:
    assert list(UNIT.moves(np.array([0.0, 14.0]))) == [(0, 1.0), (0, 0.4), (1, 10.0), (1, 20.0)]
    assert list(UNIT.moves(np.array([0.7, 20.0]))) == [(0, 0.0), (0, 1.0), (0, 0.4), (1, 10.0), (1, 14.0)]


def test_points_at_the_ends() -> None:
    found = UNIT.vertices(np.array([[True, False], [False, True]]))
    assert found.tolist() == [[1.0, 10.0], [0.0, 20.0]]


def test_every_quantity_has_a_value_at_a_point() -> None:
    box = box_of(machine())
    point = box.nominal.copy()
    point[box.names.index("room_c")] = 21.0
    found = box.table(point)
    assert (found["room_c"], found["inlet_c"], found["top_over_mean_k"]) == (21.0, 12.0, 0.0)
    assert box.cases(np.array([point, box.low])).room_c.tolist() == [21.0, 14.0]


@pytest.mark.parametrize(
    ("point", "words"),
    [
        ([0.0, 20.0], "cold room, warm inlet"),
        ([1.0, 10.0], "warm room, cold inlet"),
        ([0.39, 14.5], "cold room (0.39 °C), warm inlet (14.5 °C)"),
        ([0.41, 13.5], "warm room (0.41 °C), cold inlet (13.5 °C)"),
    ],
)
def test_words_for_a_point(point: list[float], words: str) -> None:
    assert UNIT.words(np.array(point), (0, 1)) == words
    assert UNIT.words(np.array(point), (1,)) == words.split(", ")[1]


def test_corners_hold_what_hurts_together() -> None:
    """Each with either reading and slow or quick ware; hot, the element is strong and loses little."""
    box = box_of(machine(THERMOSTAT))
    corners = dict(zip(box.names, ((box.corners() - box.low) / (box.high - box.low)).T, strict=True))
    assert len(box.corners()) == 16
    for hot, cold in (
        ("voltage_v", "loss_still_w_per_k"),
        ("inlet_c", "ware_kj_per_k"),
        ("room_c", "tank_kj_per_k"),
    ):
        assert (corners[hot] == 1.0 - corners[cold]).all()
    assert (corners["residual_l"] == corners["film_l"]).all()
    kinds = np.stack(
        [corners[name] for name in ("voltage_v", "film_l", "sensor_error_k", "response_still_s")]
    )
    assert len(np.unique(kinds, axis=1).T) == 16
