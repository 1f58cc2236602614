"""What arithmetic alone rules out: nothing that a programme keeps, and what is plain by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from planner_cases import FEW_ROUNDS, shipped, tiny

from optimizer.planner.margins import Assessor
from optimizer.planner.ruled_out import ruled_out
from optimizer.planner.search import choose_by_model
from optimizer.profile.goal import Goal

BY_HAND: dict[str, dict[str, Any]] = {
    # A wash and a rinse of over 3.4 l each, and six rinses of that leave (0.65 / 4.1)^6 of the residue.
    "less water than two rounds take": {"goal__limits__water_l": 6.0},
    # 2.25 l stay of 12 l at the most: six rinses leave 4e-5.
    "cleaner than six full tanks rinse": {
        "machine__tank__residual_l": {"nominal": 2.0, "low": 1.9, "high": 2.1},
        "goal__rinse__residue_max": 1e-5,
    },
    # 1.06 kW warm 3 kg of porcelain and 3.4 l by 0.06 K/s: 30 K take 8 min, and the dose some 5 min.
    "less time than the heat takes": {"goal__limits__duration_min": 12.0},
    "a tank that is never warm enough": {"machine__tank__limit_c": 45.0, "goal__dose__0__floor_c": 42.0},
}
"""Changes of the tiny machine."""


@pytest.mark.parametrize("name", BY_HAND)
def test_what_is_plain_by_hand_is_ruled_out(name: str) -> None:
    assert ruled_out(Assessor(tiny(**BY_HAND[name])))


def test_nothing_is_ruled_out_that_was_not_asked() -> None:
    assert not ruled_out(Assessor(tiny()))
    assert not ruled_out(Assessor(shipped("clubhouse", "everyday")))
    assert not ruled_out(Assessor(shipped("narrowboat", "everyday")))


@pytest.mark.parametrize("seed", range(12))
def test_no_requirement_is_ruled_out_that_a_programme_just_keeps(seed: int) -> None:
    """Oracle: a programme of a random tiny machine, and each of its requirements made as hard as it keeps."""
    random = np.random.default_rng(seed)
    changes = {
        "machine__element__rated_w": float(random.uniform(600.0, 2000.0)),
        "machine__ware__porcelain_kg": float(random.uniform(1.0, 6.0)),
        "machine__tank__capacity_l": float(random.uniform(9.0, 20.0)),
        "goal__dose__0__minutes": float(random.uniform(2.0, 15.0)),
        "goal__rinse__residue_max": float(10.0 ** random.uniform(-2.0, -0.8)),
    }
    assessor = Assessor(tiny(**changes), rounds_most=FEW_ROUNDS)
    choice = choose_by_model(assessor)
    assert choice is not None
    programme, goal = choice.trimmed.programme, assessor.inputs.goal
    runs = assessor.simulator.run(programme)
    margins, _ = assessor.run(programme)

    def just(**sections: dict[str, float]) -> Goal:
        update = {name: getattr(goal, name).model_copy(update=values) for name, values in sections.items()}
        return goal.model_copy(update=update)

    longest_s = assessor.simulator.start_drain_s + float(runs.round_s.sum(axis=-1).max())
    residue = goal.rinse.residue_max ** (1.0 + float(margins["rinse.residue"].min()))
    for harder in (
        just(limits={"duration_min": longest_s / 60.0 + 0.2}),
        just(limits={"water_l": float(runs.filled_l.sum(axis=-1).max()) * 1.001}),
        just(rinse={"residue_max": residue}),
    ):
        inputs = replace(assessor.inputs, goal=harder)
        assert not ruled_out(Assessor(inputs, rounds_most=FEW_ROUNDS))
