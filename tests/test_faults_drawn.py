"""Points of the box that no corner has: what is met there is told."""

from __future__ import annotations

from dataclasses import replace

from check_cases import circuit, goal, machine
from fault_cases import EASY, HELD_AT_50, PLAIN, THERMOSTAT

from optimizer.check.drawn_cases import spread
from optimizer.check.faults.catalogue import SLOW_SHARE
from optimizer.check.faults.run_faults import make_rig, run_faults

HEATED = PLAIN | THERMOSTAT | {"element.rated_w": 1500.0}


def drained_c(drawn: bool) -> float:
    rig = machine(HEATED | {"drain_pump.drain_limit_c": 30.0})
    ready = make_rig(HELD_AT_50, rig, goal(EASY), circuit())
    cases = spread(rig).cases() if drawn else ready.cases
    seen = replace(ready, cases=cases).observe(ready.asked, drain_share=SLOW_SHARE)
    return float(seen.meter.drained_c.max())


def test_a_hot_drain_that_no_corner_shows_is_met_at_a_drawn_point() -> None:
    """A pipe between what the corners drain and what the box does; no source."""
    few_c, all_c = drained_c(False), drained_c(True)
    assert all_c > few_c + 0.1, "else the case shows nothing"
    rig = machine(HEATED | {"drain_pump.drain_limit_c": (few_c + all_c) / 2.0})
    found = run_faults(HELD_AT_50, rig, goal(EASY), circuit())
    (slow,) = [one for one in found.rows if one.key == "drain.slow"]
    assert "too hot for the drain pipe" in slow.happens
    assert any(guard.startswith("drain pipe that stands the boil") for guard in slow.guards)
