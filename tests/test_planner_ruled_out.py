"""What is said to be proven impossible: nothing that a programme keeps, and what is plain by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import a_round, programme
from planner_cases import FEW_ROUNDS, FOUR_RINSES, shipped, tiny

from optimizer.check.certify import check
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import obstacles
from optimizer.planner.ruled_out import ruled_out
from optimizer.planner.search import Search, choose_by_model
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs

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


def fed(high_c: float) -> dict[str, Any]:
    return {"machine__inlet__water_c": {"nominal": high_c - 1.0, "low": high_c - 2.0, "high": high_c}}


def strong(g_per_setting: float) -> dict[str, Any]:
    cold = {"spray_least_c": 0.0, "drain_least_c": 0.0, "dissolves_from_c": 0.0}
    grams = {"g_per_setting": g_per_setting, "least_g_per_l": 3.0, "price_per_kg": 4.0}
    return {"goal__detergent": cold | grams}


JUST_HELD: dict[str, tuple[str, dict[str, Any], dict[str, Any], dict[str, Any]]] = {
    "rise from ware to bath": (
        "cold-shed",
        fed(23.93),
        {"goal__limits__ware_rise_k": 20.0},
        {"goal__limits__ware_rise_k": 22.0},
    ),
}
"""Machine, what is changed, what the planner finds an obstacle in, and what it has a plan for instead."""


@pytest.mark.slow
@pytest.mark.parametrize("name", JUST_HELD)
def test_an_obstacle_that_a_checked_programme_passes_is_not_called_proven(name: str) -> None:
    """Oracle: the check, which keeps nothing back, of a programme planned for another limit."""
    machine, both, here, instead = JUST_HELD[name]
    inputs, other = (shipped(machine, "fresh-cups", **both, **one) for one in (here, instead))
    found = plan_and_prove(other, search=Search(rounds_most=FOUR_RINSES))
    assert check(found.plan.constants, inputs.machine, inputs.goal, inputs.circuit).passed
    with pytest.raises(NoPlanError) as caught:
        plan_and_prove(inputs, search=Search(rounds_most=FOUR_RINSES, why=False))
    assert [one.requirement for one in caught.value.reasons] == [name]
    assert not caught.value.proven


@pytest.mark.parametrize(
    ("machine", "changes"),
    [
        # 6.1 l under the pump take 53.8 s at 6.8 l/min: 8.25 l at 9.2, and 1.03 l are carried over.
        ("cold-shed", {"machine__tank__ware_from_l": 7.0, "machine__tank__capacity_l": 9.28}),
        # 6.1 l of 30 °C warm a tank of 4 kJ/K from the room's 2 °C: the bath is 24 K over the ware.
        ("cold-shed", {"goal__limits__ware_rise_k": 20.0} | fed(30.0)),
        # 182 g by the hardness, in 29 l at 5.95 / 8.05 and 0.53 l of the round before: 8.3 g/l.
        ("garage-120v", strong(16.5)),
    ],
)
def test_what_is_over_a_limit_by_hand_is_proven(machine: str, changes: dict[str, Any]) -> None:
    assert ruled_out(Assessor(shipped(machine, "fresh-cups", **changes)))


def test_a_bath_too_strong_is_not_told_as_a_tank_too_small() -> None:
    """30 l would do for 9.9 l: the detergent of 16 g a setting is what does not fit."""
    for grams in (16.0, 16.4, 17.0):
        found = obstacles(Assessor(shipped("garage-120v", "fresh-cups", **strong(grams))))
        assert [one.requirement for one in found] == ["strongest bath of a wash"]


def test_a_wash_too_strong_in_a_dry_machine_has_a_prerinse_that_nobody_asked_for() -> None:
    """By hand: 173 g need 21.6 l at 8 g/l, of the 29.0 l to the lip at 5.95 / 8.05 there are 21.4 in a dry
    machine, and behind a prerinse what it leaves comes on top."""
    plans = [
        plan_and_prove(
            shipped("garage-120v", "fresh-cups", **strong(15.7), goal__prerinse__rounds_min=rounds),
            search=Search(rounds_most=FOUR_RINSES),
        ).plan
        for rounds in (0, 1)
    ]
    assert [plan.constants.rounds[0].kind for plan in plans] == ["prerinse", "prerinse"]
    assert plans[0].costs.with_waiting <= plans[1].costs.with_waiting


RINSES = [a_round("rinse", fill_s=fill_s, spray_s=120, drain_s=fill_s + 5) for fill_s in (73, 84, 84, 84)]
BY_OTHER_ROUNDS: dict[str, tuple[Inputs, Constants, list[str]]] = {
    # Not heated, 9 l of 56 to 60 °C are 44 K over the ware; heated for 4 min it follows within 12 K.
    "ware.rise_k": (
        shipped(
            "clubhouse",
            "glasses",
            machine__inlet__water_c={"nominal": 58.0, "low": 56.0, "high": 60.0},
            machine__ware__response_still_s={"nominal": 140.0, "low": 130.0, "high": 150.0},
            machine__drain_pump__drain_limit_c=80.0,
            goal__limits__ware_rise_k=12.0,
            goal__limits__duration_min=40.0,
        ),
        programme(
            a_round("wash", fill_s=103, heat_s=226, spray_s=547, drain_s=104, detergent_dg=435),
            *RINSES,
            start_drain_s=237,
        ),
        [],
    ),
    # The least bath is 41 °C hot; one that fills for 3 min loses 40 W/K meanwhile.
    "prerinse.bath_c": (
        shipped(
            "clubhouse",
            "everyday",
            circuit="plug-10a",
            machine__inlet__water_c={"nominal": 43.0, "low": 42.0, "high": 44.0},
            machine__inlet__flow_l_per_min={"nominal": 2.5, "tolerance_pct": 10},
            machine__tank__loss_still_w_per_k={"nominal": 40.0, "tolerance_pct": 10},
            machine__tank__loss_spraying_w_per_k={"nominal": 12.0, "tolerance_pct": 10},
        ),
        programme(
            a_round("prerinse", fill_s=187, spray_s=120, drain_s=82),
            a_round("wash", fill_s=243, spray_s=1631, spray_element_s=1083, drain_s=103, detergent_dg=430),
            *[a_round("rinse", fill_s=177, spray_s=120, drain_s=79)] * 4,
            start_drain_s=237,
        ),
        ["prerinse.bath_c"],
    ),
}
"""What the least first bath is too hot for, a programme with another one, and what is told as an obstacle."""


@pytest.mark.parametrize("key", BY_OTHER_ROUNDS)
def test_a_first_bath_too_hot_is_proven_only_where_all_others_are(key: str) -> None:
    """Oracle: the check, of a programme made by hand."""
    inputs, constants, told = BY_OTHER_ROUNDS[key]
    assert check(constants, inputs.machine, inputs.goal, inputs.circuit, leave_out="nearness").passed
    assessor = Assessor(inputs)
    assert [one.key for one in obstacles(assessor)] == told
    assert not ruled_out(assessor)
