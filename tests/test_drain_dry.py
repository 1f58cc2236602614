"""How long a drain pump may run dry: the range beside the constants, the check, the profile of the machine.

The start drain of a sound machine meets an empty tank. That 300 s hold where a profile is silent is our
choice (no source); the rest is litres over litres a minute, by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from check_cases import a_round, machine, programme
from plan_cases import PRERINSE, WASH, machine_profile, plan_case
from pydantic import ValidationError

from optimizer.check.certify import misfits
from optimizer.check.fills import drain_dry_most_s, start_drain_left_l
from optimizer.emit.limits import limits
from optimizer.planner.simulation import Simulator
from optimizer.profile.shipped import shipped_profiles
from optimizer.programme.inputs import load_inputs

SPARE_S = 10200 - 4454
"""What the goal of the range's plan leaves beside its table [s]: see `test_emit_ranges`."""


@pytest.mark.parametrize("dry_most_s", [None, 140, 299, 7200])
def test_no_drain_may_be_written_longer_than_the_pump_may_run_dry(dry_most_s: int | None) -> None:
    """Nor longer than the goal leaves time for: the start drain of the table has 30 s, that of a round 60."""
    rig = machine_profile()
    drain = rig.drain_pump.model_copy(update={"dry_most_s": dry_most_s})
    found = limits(plan_case(PRERINSE, WASH, machine=rig.model_copy(update={"drain_pump": drain})))
    stands_s = dry_most_s or 300
    assert found.range_of("start_drain_s")[1] == min(stands_s, 30 + SPARE_S)
    assert found.range_of("round_1_drain_s")[1] == min(stands_s, 60 + SPARE_S)


@pytest.mark.parametrize(
    ("key", "place"), [("start_drain_s", "start_drain_s"), ("drain_s", "rounds[2].drain_s")]
)
@pytest.mark.parametrize(("drain_s", "refused"), [(300, False), (301, True)])
def test_a_check_refuses_a_longer_one(key: str, place: str, drain_s: int, refused: bool) -> None:
    rounds = [a_round("wash"), a_round("rinse")]
    if key == "drain_s":
        rounds[1] = replace(rounds[1], drain_s=drain_s)
    table = programme(*rounds)
    found = misfits(table if key == "drain_s" else replace(table, start_drain_s=drain_s), machine())
    assert [one.key for one in found] == [place] * refused
    assert all("run dry" in one.rule and one.fix == "at most 300 s" for one in found)


def test_a_large_tank_asks_for_no_more_than_it_needs() -> None:
    """27.5 l at 4.5 l/min, its low end, are 366.7 s: more than 300, and the pump has to stand it."""
    rig = {"drain_pump.flow_l_per_min": {"nominal": 5.0, "tolerance_pct": 10.0}}
    assert drain_dry_most_s(machine(rig)) == 367
    assert drain_dry_most_s(machine(rig | {"drain_pump.dry_most_s": 367})) == 367
    with pytest.raises(ValidationError, match=r"less than a full tank takes to drain \(367 s\)"):
        machine(rig | {"drain_pump.dry_most_s": 366})


@pytest.mark.parametrize(("flow", "dry_most_s"), [(5.0, None), (5.0, 367.0), (1.2, None)])
def test_the_planner_drains_no_longer_than_that(flow: float, dry_most_s: float | None) -> None:
    """A start drain that takes a full tank may be the longest: no plan had a pump that needs over 300 s."""
    rig = {"drain_pump.flow_l_per_min": {"nominal": flow, "tolerance_pct": 10.0}}
    slow = machine(rig | ({} if dry_most_s is None else {"drain_pump.dry_most_s": dry_most_s}))
    start_s = math.ceil(Simulator(slow, load_inputs("clubhouse", "everyday").goal).start_drain_s)
    assert start_s <= drain_dry_most_s(slow)
    assert start_drain_left_l(slow, start_s) == 0.0


def test_what_a_pump_stands_at_the_start_it_stands_in_a_round() -> None:
    """27.5 l at 1.8 l/min are 917 s, that a start drain may run dry; 400 s in a round are less."""
    slow = machine({"drain_pump.flow_l_per_min": {"nominal": 2.0, "tolerance_pct": 10.0}})
    rounds = [a_round("wash"), replace(a_round("rinse"), drain_s=400)]
    assert drain_dry_most_s(slow) == 917
    assert misfits(programme(*rounds), slow) == []


@pytest.mark.parametrize(("flow", "empties_s"), [(0.2, 8250), (0.9, 1834)])
def test_a_pump_that_drains_a_full_tank_for_half_an_hour_is_refused(flow: float, empties_s: int) -> None:
    """27.5 l / 0.2 l/min = 137.5 min. That 30 min are too many is our choice, no source."""
    with pytest.raises(ValidationError, match=rf"in {empties_s} s at its low end .* 1800 s are too many"):
        machine({"drain_pump.flow_l_per_min": flow})
    assert machine({"drain_pump.flow_l_per_min": 1.0}).empties_s == 1650


def test_every_shipped_machine_has_time_to_spare() -> None:
    """A start drain of 3:57 at the most is what the slowest of them takes."""
    names = [one.name for one in shipped_profiles() if one.kind == "machine"]
    machines = [load_inputs(name, "everyday").machine for name in names]
    assert len(machines) == 4
    assert all(drain_dry_most_s(one) == 300 and one.drain_pump.dry_most_s is None for one in machines)
