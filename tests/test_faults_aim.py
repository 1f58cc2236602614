"""Points that a search aims at: on a surface whose worst point is known, and in the rows of faults.

No source: arithmetic, and runs at points that the rows do not know.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from fault_cases import EASY, HELD_AT_50, PLAIN, THERMOSTAT

from optimizer.check.aim import Asked, Target, Values, aimed, untold
from optimizer.check.box import Box, box_of
from optimizer.check.drawn_cases import DRAWN_FOR_CUTS, Spread
from optimizer.check.faults.cool_start import COOLER_BY_K, _started, _Starts, cool_start
from optimizer.check.faults.guard_words import LETS_PASS
from optimizer.check.faults.hot_drains import most_passed_c, one_pipe
from optimizer.check.faults.outcome import Harm, guards_needed, harm_sentence
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.run_faults import make_rig, run_faults
from optimizer.check.faults.started_again import cut_states
from optimizer.check.worst_cases import Array
from optimizer.report.faults import fault_legend

HEATED = PLAIN | THERMOSTAT | {"element.rated_w": 1500.0, "ware.glass_kg": 1.0}
HOT = programme(
    a_round("prerinse", fill_s=120),
    a_round("wash", fill_s=120, heat_s=3600, setpoint_dc=700, spray_s=900, rest_s=60),
    start_drain_s=150,
    control="thermostat",
    hysteresis_dk=10,
)


def box() -> Box:
    return box_of(machine(HEATED))


def of_ends(points: Array, limit: float) -> Array:
    """A sum over the quantities, each at its high end worth 1, its low end 0, less a limit."""
    one = box()
    return np.asarray(((points - one.low) / (one.high - one.low)).sum(axis=1) - limit)


def asked_of(limit: float, tried: list[int]) -> tuple[Array, Array]:
    def run(asked: Asked) -> list[Values]:
        tried.extend(len(points) for _, points in asked)
        return [{"sum": of_ends(points, limit)} for _, points in asked]

    one = box()
    points = one.vertices(np.random.default_rng(3).integers(0, 2, (20, one.size)) > 0)
    seen = {0: {"sum": of_ends(points, limit)}}
    return points, aimed(one, points, seen, untold(seen), run)


def test_a_corner_that_no_draw_has_is_found() -> None:
    """All high is one of two to the power of some twenty points; 20 draws stay 3 or more under it."""
    one, tried = box(), list[int]()
    points, found = asked_of(one.size - 0.5, tried)
    assert of_ends(points, 0.0).max() < one.size - 3.0, "else the case shows nothing"
    np.testing.assert_array_equal(found, one.high[None])
    assert sum(tried) <= 4 * one.size


def test_nothing_is_run_for_what_is_told_or_out_of_reach() -> None:
    one, tried = box(), list[int]()
    for limit in (1.0, 3.0 * one.size):
        assert not len(asked_of(limit, tried)[1])
    assert tried == []


def test_what_lies_just_past_the_worst_corner_is_not_found() -> None:
    assert not len(asked_of(box().size + 0.01, [])[1])


def test_each_untold_value_is_aimed_at_in_the_nearest_course() -> None:
    far, near, past = (np.array([0.0, 1.0, 2.0]) + by for by in (-3.0, -2.5, -1.0))
    seen: dict[int, Values] = {0: {"a": far, "b": far}, 1: {"a": near, "b": past}}
    assert untold(seen) == [Target(1, "a")]
    assert untold(seen, moot=lambda told: {"a"} if told == {"b"} else set()) == []


def rig_with(limits: dict[str, float], count: int = 6, seed: int = 5) -> Rig:
    """A rig whose cases are some corners of its box: of few of them, the worst is not among them."""
    one = machine(HEATED)
    corners = box_of(one)
    ends = np.random.default_rng(seed).integers(0, 2, (count, corners.size)) > 0
    few = Spread.of(corners, corners.vertices(ends))
    return make_rig(HOT, one, goal(EASY | limits), circuit()).at(few)


def restarted_k(rig: Rig) -> float:
    """Most that ware is hotter than the bath after a cut, at the points of a rig [K]."""
    cuts = np.array([at for at, phase in enumerate(rig.asked) if phase.name not in ("gap", "stand")])
    cases, start = cut_states(rig, rig.observe(rig.asked), cuts)
    return float(replace(rig, cases=cases).observe(rig.asked, start).heat.drop_k.max())


def started_k(rig: Rig, at_c: float) -> float:
    """The same of a run that is started with tank, ware or both at a temperature [K]."""
    ways = np.repeat(np.arange(3), rig.cases.count)
    return float(_started(rig, rig.observe(rig.asked), at_c, ways).heat.drop_k.max())


STEP = "K or more hotter than the bath, above"


def test_a_cut_tells_a_step_that_its_cases_stay_within() -> None:
    """A limit between what 6 cases do and what 400 others do; without the search nothing is told."""
    few_k, all_k = restarted_k(rig_with({})), restarted_k(rig_with({}, 400, 11))
    assert all_k > few_k + 0.5, "else the case shows nothing"
    rig = rig_with({"limits.ware_drop_k": (few_k + all_k) / 2.0})
    for ready, told in ((rig, True), (replace(rig, spread=None), False)):
        rows = power_cuts(ready, ready.observe(ready.asked))
        assert any(STEP in row.happens for row in rows) is told


@pytest.mark.parametrize("above_k", [0.2, 0.5])
def test_how_cool_is_cool_enough_holds_at_points_that_nobody_drew(above_k: float) -> None:
    """A limit that 6 cases keep from 50 °C, and 400 others do not."""
    limit_k = started_k(rig_with({}), 50.0) + above_k
    limits = {"limits.ware_drop_k": limit_k}
    rig, wide = rig_with(limits), rig_with(limits, 400, 11)
    blind = replace(rig, spread=None)
    blind_c, aimed_c = (_Starts(one, one.observe(one.asked)).coolest(("drop_k",)) for one in (blind, rig))
    assert blind_c is not None
    assert aimed_c is not None
    assert started_k(wide, blind_c) > limit_k + 0.1, "else the case shows nothing"
    assert started_k(wide, aimed_c) <= limit_k + 0.1
    assert aimed_c == blind_c - COOLER_BY_K


def test_the_report_says_in_how_many_cases_it_ran() -> None:
    found = run_faults(HELD_AT_50, machine(HEATED), goal(EASY), circuit())
    assert found.cut_cases == 5 + DRAWN_FOR_CUTS < len(found.corners)


@pytest.mark.parametrize("limit_k", [30.0, 60.0])
def test_how_cool_is_said_wherever_ware_or_tank_may_stand_hotter(limit_k: float) -> None:
    """Of a limit that no cut passes, too: a step of 60 K is never met here, but 30 K is after some cuts."""
    rig = rig_with({"limits.ware_drop_k": limit_k})
    at_c = cool_start(HOT, rig.machine, rig.goal, rig.circuit).both_c
    assert at_c is not None
    sound = rig.observe(rig.asked)
    said, hotter = f"{at_c:.0f} °C or less", dict[str, bool]()
    for at, phase in enumerate(rig.asked):
        if phase.name in ("fill", "heat", "spray", "rest", "drain") and at:
            # It begins as the phase before the pause ends.
            ends = [sound.meter.ends[max(at - 2, 0)], sound.meter.ends[at]]
            hot = max(float(max(one.bath_c.max(), one.ware_c.max())) for one in ends) > at_c
            hotter[f"power.{phase.name}"] = hotter.get(f"power.{phase.name}", False) or hot
    rows = {row.key: row for row in power_cuts(rig, sound) if row.key in hotter}
    assert {key: said in f"{row.happens} {row.guard}" for key, row in rows.items()} == hotter
    assert any(hotter.values()) is (limit_k == 30.0)
    assert all(row.guard.count(f"{at_c:.0f} °C") <= 1 for row in rows.values())


def test_sizes_and_moments_are_said_to_be_of_the_cases_that_were_run() -> None:
    """What is told once is looked for no further: other points do more, sooner and for longer."""
    harm = Harm("pump_dry", 120.0, 0, 300.0)
    said = harm_sentence(harm, "start", ["wash"], "")
    assert said.endswith("2 min 0 s or sooner after the start, for 5 min 0 s or more in all.")
    legend = fault_legend(run_faults(HELD_AT_50, machine(HEATED), goal(EASY), circuit()))
    assert "at the earliest in the cases run" in legend


def test_one_pipe_has_one_number_the_largest() -> None:
    """Rows that let water of 86, 90 and 89 °C pass ask for one pipe."""
    report = run_faults(HELD_AT_50, machine(HEATED), goal(EASY), circuit())
    rows = [
        replace(row, guards=(LETS_PASS.format(845, most_c), "other"))
        for row, most_c in zip(report.rows, (86, 90, 89), strict=False)
    ]
    told = one_pipe(rows)
    assert {row.guards for row in told} == {(LETS_PASS.format(845, 90), "other")}
    assert sum("lets water" in guard for guard in guards_needed(replace(report, rows=told))) == 1
    assert one_pipe(report.rows[:1]) == report.rows[:1]


def test_how_hot_water_a_look_lets_pass_is_climbed_to() -> None:
    """6 cases let less pass than 400 others, and the climb comes as far as they do."""
    limits: dict[str, float] = {}
    few, wide = rig_with(limits), rig_with(limits, 400, 11)
    pipe = machine(HEATED | {"drain_pump.drain_limit_c": 60.0, "element.sensor_error_k": 3.0})
    few, wide = replace(few, machine=pipe), replace(wide, machine=pipe)

    def course(rig: Rig) -> Observation:
        return rig.observe(rig.asked)

    few_c, wide_c = (float(course(one).meter.let_pass_c.max()) for one in (few, wide))
    assert few_c < wide_c - 0.1, "else the case shows nothing"
    assert most_passed_c(few, [course], [course(few)]) >= wide_c - 0.01
    blind = replace(few, spread=None)
    assert most_passed_c(blind, [course], [course(blind)]) == few_c
