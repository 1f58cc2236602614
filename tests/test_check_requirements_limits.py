"""Rounds, sprays, outputs, duration and water: each holds at its limit and fails one step past it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_cases import a_round, programme
from requirement_cases import ROUNDING, STEPS_SHARE, of_weighed_l, row, wash_of

from optimizer.check.certificate import Row


@pytest.mark.parametrize(("key", "kind"), [("prerinse.rounds", "prerinse"), ("rinse.rounds", "rinse")])
def test_rounds(key: str, kind: str) -> None:
    assert row(key, wash_of(), aim={f"{kind}.rounds_min": 1}).passed
    assert not row(key, wash_of(), aim={f"{kind}.rounds_min": 2}).passed


@pytest.mark.parametrize("kind", ["prerinse", "rinse"])
def test_shortest_spray(kind: str) -> None:
    def spray(spray_s: int) -> Row:
        rounds = [a_round("prerinse", spray_s=spray_s), a_round("wash"), a_round("rinse", spray_s=spray_s)]
        return row(f"{kind}.spray_min", programme(*rounds), aim={f"{kind}.spray_least_min": 2.0})

    assert spray(120).passed
    assert not spray(119).passed


def test_conflicts() -> None:
    assert row("outputs.conflicts", wash_of(spray_element_s=300, rest_s=26)).passed
    failed = row("outputs.conflicts", wash_of(spray_element_s=300, rest_s=25))
    assert not failed.passed
    assert "29 s" in failed.point


def test_several_conflicts_are_counted_and_the_first_is_named() -> None:
    hot = a_round("wash", spray_element_s=300)
    failed = row("outputs.conflicts", programme(hot, hot, hot))
    assert failed.worst == 3.0
    assert failed.point == "wash (round 1): element off for 2 s before the drain, 30 s needed; 2 more"
    alone = row("outputs.conflicts", wash_of(spray_element_s=300, rest_s=25))
    assert alone.point.endswith("30 s needed")


def test_duration_to_the_second_without_the_standing() -> None:
    # 10 + 3 rounds of 2 + 100 + 2 + 300 + 2 + 70 s = 1438 s; the stand does not count.
    aim = {"limits.duration_min": 1438 / 60}
    at_limit = row("limits.duration_min", replace(wash_of(), stand_s=600), aim=aim)
    assert at_limit.passed
    assert at_limit.guaranteed == at_limit.worst == 1438 / 60
    assert not row("limits.duration_min", wash_of(spray_s=301), aim=aim).passed
    # Of the standing there is a row of its own: 10 min on top, and as many as the goal asks for.
    standing = row("limits.standing_min", replace(wash_of(), stand_s=600), aim=aim)
    assert (standing.worst, standing.limit) == (pytest.approx(1438 / 60 + 10.0), pytest.approx(1438 / 60))


def test_a_duration_that_a_switch_ends_is_bounded_and_not_exact() -> None:
    rig = {"inlet.control": "level", "inlet.level_l": 10.5}
    rounds = (a_round("prerinse", fill_s=110), a_round("wash", fill_s=110), a_round("rinse", fill_s=110))
    found = row("limits.duration_min", programme(*rounds, fill_control="level"), rig=rig)
    # By hand, dry at first: 10.5 l at 6 l/min, then twice 10.5 l less the 0.6 l of 20 °C in the sump.
    minutes = (1438 - 300) / 60 + 10.5 / 6.0 + 2.0 * (10.5 - of_weighed_l(0.6)) / 6.0
    assert found.worst == pytest.approx(minutes, abs=1e-6)
    assert found.guaranteed is not None
    # Over a start from dry to wet the bound takes the film on top of the level with a sump that is dry.
    most_min = minutes + of_weighed_l(0.2) / 6.0
    assert minutes * (1.0 + STEPS_SHARE) < found.guaranteed <= most_min * (1.0 + STEPS_SHARE) + ROUNDING


def test_water() -> None:
    aim = {"limits.water_l": 30.0}
    assert row("limits.water_l", wash_of(), aim=aim).passed
    assert not row("limits.water_l", wash_of(fill_s=101), aim=aim).passed
