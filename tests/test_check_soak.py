"""A soak in the table: its phases, what no machine may be given, what it counts and how long it may be."""

from __future__ import annotations

from typing import Any

import pytest
from check_cases import a_round, circuit, goal, machine, programme

from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.check.phases import Outputs, phases
from optimizer.check.soak_rows import soak_rows
from optimizer.programme.constants import Constants, Round

# Water, room and ware at one temperature, a pump that warms nothing, no vent: nothing ever changes.
STEADY: dict[str, Any] = {
    "room.air_c": 40.0,
    "inlet.water_c": 40.0,
    "wash_pump.heat_share": 0.0,
    "tank.vent_m2": 0.0,
}
ONE_DOSE = {"name": "soil", "reference_c": 40.0, "z_k": 30.0, "minutes": 5.0, "kinds": ["wash"]}


def wash_of(after_soak_s: int, **numbers: int) -> Constants:
    rounds = a_round("prerinse"), a_round("wash", **numbers), a_round("rinse")
    return programme(*rounds, after_soak_s=after_soak_s)


def checked(table: Constants, aim: dict[str, Any]) -> dict[str, Row]:
    certificate = check(table, machine(STEADY, tolerances=False), goal(aim), circuit(), draws=0)
    return {row.key: row for row in certificate.rows}


def worst(key: str, table: Constants, aim: dict[str, Any]) -> float:
    return checked(table, aim)[key].worst


def test_a_soak_parts_the_spray_with_a_pause_on_either_side() -> None:
    """By hand: of 300 s, 120 heated and 120 not before the soak, the last 60 after it; the ware stays wet."""
    row = a_round("wash", spray_s=300, spray_element_s=120, soak_s=900)
    found = phases(programme(row, after_soak_s=60))
    assert [(p.name, p.longest_s) for p in found[4:]] == [
        ("spray", 120), ("spray", 120), ("gap", 2), ("soak", 900), ("gap", 2), ("spray", 60), ("gap", 2),
        ("drain", 70),
    ]  # fmt: skip
    heated, *others = found[4:]
    assert heated.outputs == Outputs(wash_pump=True, element=True)
    assert not any(p.outputs.element for p in others)
    assert all(p.sprayed for p in others)
    assert all(p.wet for p in others[:-1])
    assert programme(row, after_soak_s=60).total_max_s == sum(p.longest_s for p in found)


@pytest.mark.parametrize(
    ("row", "after_soak_s", "words"),
    [
        (a_round("rinse", soak_s=60), 60, "only a wash may soak"),
        (a_round("wash", soak_s=60), 0, "some of the spray before the soak and some after it"),
        (a_round("wash", soak_s=60), 300, "some of the spray before the soak and some after it"),
        (a_round("wash", soak_s=60, spray_element_s=241), 60, "may not be on after the soak"),
        (a_round("wash"), 60, "must be 0 where no round has a soak"),
        (a_round("wash", soak_s=60, spray_element_s=240), 60, ""),
        (a_round("wash", soak_s=60), 299, ""),
        (a_round("wash", soak_s=60), 1, ""),
    ],
)
def test_a_soak_that_no_machine_may_be_given(row: Round, after_soak_s: int, words: str) -> None:
    found = programme(row, after_soak_s=after_soak_s).issues("x")
    assert [words in issue.rule for issue in found] == [True] * bool(words)


def test_a_soak_counts_by_its_share() -> None:
    """By hand, at a rate of 1: 300 s of spray, and a fifth of 2 + 600 + 2 s of soak and 2 + 70 s after."""
    aim = {"dose": [ONE_DOSE | {"soak_share": 0.2}]}
    table = wash_of(spray_s=300, soak_s=600, detergent_dg=1, after_soak_s=60)
    assert worst("dose.soil", table, aim) == pytest.approx(5.0 + 0.2 * (604.0 + 72.0) / 60.0)
    none = {"dose": [ONE_DOSE | {"soak_share": 0.0}]}
    assert worst("dose.soil", table, none) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("numbers", "holds"),
    [
        ({"rest_s": 120}, None),
        ({"rest_s": 600}, True),
        ({"rest_s": 601}, False),
        # A minute of spray after it, once it is topped up, takes off what came loose.
        ({"rest_s": 601, "top_up_s": 20, "mix_s": 60}, None),
        ({"rest_s": 601, "top_up_s": 20, "mix_s": 59}, False),
    ],
)
def test_a_rest_that_no_spray_follows_counts_as_a_soak(numbers: dict[str, int], holds: bool | None) -> None:
    """10 min at the most in this goal; two minutes are free (no source, our choice)."""
    rows = checked(wash_of(0, **numbers), {"limits.soak_min": 10.0})
    assert ("soak.rest_min" in rows) == (holds is not None)
    if holds is not None:
        assert rows["soak.rest_min"].passed == holds


@pytest.mark.parametrize(
    ("soak_s", "spray_s", "after_soak_s", "failing"),
    [
        (600, 300, 60, []),
        (601, 300, 60, ["soak.min"]),
        (600, 120, 60, []),
        (600, 119, 60, ["soak.spray_min"]),
        (600, 300, 59, ["soak.spray_min"]),
    ],
)
def test_a_soak_holds_to_the_second(soak_s: int, spray_s: int, after_soak_s: int, failing: list[str]) -> None:
    """10 min at the most in this goal; a minute of spray before and after it."""
    table = wash_of(spray_s=spray_s, soak_s=soak_s, after_soak_s=after_soak_s)
    rows = checked(table, {"limits.soak_min": 10.0})
    assert [key for key in ("soak.min", "soak.spray_min") if not rows[key].passed] == failing


def test_of_two_soaks_the_longest_counts() -> None:
    """By hand: 10 and 5 min in either order; the shortest spray is that of the first row, 200 less 60 s."""
    soaks = (a_round("wash", soak_s=600, spray_s=200), a_round("wash", soak_s=300))
    for washes in (soaks, soaks[::-1]):
        table = programme(a_round("prerinse"), *washes, a_round("rinse"), after_soak_s=60)
        longest, shortest = soak_rows(table, goal())
        assert (longest.key, longest.worst) == ("soak.min", 10.0)
        assert (shortest.key, shortest.worst) == ("soak.spray_min", 1.0)
