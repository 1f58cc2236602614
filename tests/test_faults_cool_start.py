"""How cool tank and ware have to be before a start: by a balance of heat, and by the temperature before.

No source: arithmetic on the numbers of `fault_cases`.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, programme
from emit_cases import plan_of
from fault_cases import EASY, THERMOSTAT, plain_machine

from optimizer.check.drawn_cases import DRAWN, spread
from optimizer.check.equations import State
from optimizer.check.faults.cool_start import COOLER_BY_K, cool_start
from optimizer.check.faults.guard_words import cool_ware
from optimizer.check.faults.held_run import held_run
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.run_faults import make_rig
from optimizer.check.worst_cases import QUANTITIES, fault_cases, tolerances
from optimizer.emit.opening import STEPS, opening
from optimizer.programme.constants import Constants

STRONG = {"element.rated_w": 1500.0, "ware.glass_kg": 1.0, "ware.response_still_s": 20000.0}
WASH = programme(
    a_round("prerinse"), a_round("wash", heat_s=2000, spray_s=900, rest_s=30, drain_s=80), start_drain_s=155
)


def steps_c(limit_k: float | None, constants: Constants = WASH) -> float | None:
    limits = {} if limit_k is None else {"limits.ware_drop_k": limit_k}
    found = cool_start(constants, plain_machine(STRONG), goal(EASY | limits), circuit())
    return found.steps_c


@pytest.mark.parametrize("limit_k", [10.0, 15.0, 20.0])
def test_as_cool_as_keeps_a_step_by_hand(limit_k: float) -> None:
    """10 l of 18 °C into tank and carry-over: at N all is 18 °C + (N - 18 K) · kept / (kept + let in)."""
    found = steps_c(limit_k)
    assert found is not None
    kept, let_in = 4.5 + 0.6 * 4.18, 10.0 * 4.18
    most_c = 18.0 + limit_k * (kept + let_in) / let_in
    # Tank and bath as cool as the room beside ware at N: its step is the larger one.
    room_c = plain_machine(STRONG).room.air_c.low
    least_c = (kept * room_c + let_in * 18.0) / (kept + let_in) + limit_k
    assert min(most_c, least_c) - COOLER_BY_K - 2.0 <= found <= max(most_c, least_c) + 2.0
    assert found % COOLER_BY_K == 0.0


def test_no_limit_asks_for_no_cooling() -> None:
    assert steps_c(None) == math.inf
    assert "as cool as the room, by a thermometer" in cool_ware(None)


@pytest.mark.parametrize("limit_k", [10.0, 20.0])
def test_at_most_so_cool_holds_and_5_k_more_does_not(limit_k: float) -> None:
    """Each part at N or cooler, in any mixture: it keeps the limit; 5 K hotter, some mixture does not."""
    at_c = steps_c(limit_k)
    assert at_c is not None
    ready = make_rig(WASH, plain_machine(STRONG), goal(EASY), circuit())
    cases = replace(ready.cases, start_share=np.ones(ready.cases.count))
    water_kg = np.full(cases.count, 8.0)

    def step_k(bath_c: float, ware_c: float) -> float:
        bath, ware = (np.maximum(cases.room_c, one) for one in (bath_c, ware_c))
        seen = replace(ready, cases=cases).observe(ready.asked, State(bath, ware, water_kg, cases.film_kg))
        return float(seen.heat.drop_k.max())

    mixtures = [(share * at_c, at_c) for share in (0.0, 0.3, 0.6, 1.0)] + [(at_c, 0.7 * at_c)]
    assert max(step_k(*each) for each in mixtures) <= limit_k + 0.2
    assert step_k(0.0, at_c + COOLER_BY_K) > limit_k


@pytest.mark.parametrize(("over_k", "finite"), [(2.0, True), (39.0, False), (-5.0, False)])
def test_what_a_start_from_the_room_keeps_a_warmer_one_keeps_too(over_k: float, finite: bool) -> None:
    """A heating by time ends hotter from a warm tank; missed from the room as well, no cooling helps."""
    table = programme(a_round("wash", heat_s=1500, spray_s=900, rest_s=30, drain_s=80), start_drain_s=155)

    def first_c(at_c: float, wanted: dict[str, float]) -> float:
        ready = make_rig(table, plain_machine(STRONG), goal(EASY | wanted), circuit())
        cases = replace(ready.cases, start_share=np.ones(ready.cases.count))
        warm_c = np.maximum(cases.room_c, at_c)
        start = State(warm_c, warm_c, np.full(cases.count, 8.0), cases.film_kg)
        return float(replace(ready, cases=cases).observe(ready.asked, start).heat.first_wash_c.max())

    cold_c = first_c(0.0, {})
    wanted = {"limits.first_wash_most_c": round(cold_c + over_k, 2)}
    limits = goal(EASY | wanted)
    ready = make_rig(table, plain_machine(STRONG), limits, circuit())
    cool = cool_start(table, ready.machine, limits, ready.circuit)
    found = cool.wash_c
    assert found is not None
    assert math.isfinite(found) == finite
    words = " ".join(one.happens for one in power_cuts(ready, ready.observe(ready.asked)))
    assert "at once or cold" not in words
    if finite:
        assert cool.both_c == found
        assert first_c(found, wanted) <= cold_c + over_k + 0.1 < first_c(found + COOLER_BY_K, wanted) + 0.05
        assert f"start it again at {found:.0f} °C or less" in words
        assert "Started again at once or warm, it may miss: hottest bath as the first wash's spray" in words
        assert "however cool" not in words


def test_a_cut_says_this_number() -> None:
    limits = goal(EASY | {"limits.ware_drop_k": 20.0})
    ready = make_rig(WASH, plain_machine(STRONG), limits, circuit())
    found = cool_start(WASH, ready.machine, limits, ready.circuit).both_c
    assert found is not None
    sound = ready.observe(ready.asked)
    said = cool_ware(found)
    assert f"{found:.0f} °C or less, by a thermometer and never by hand" in said
    rows = {row.key: row for row in power_cuts(ready, sound)}
    assert said in rows["power.spray"].guards


def test_a_held_lid_says_the_same_number() -> None:
    """Its round begins again with cold water on ware that the bath has heated."""
    table = programme(a_round("wash", spray_s=2600, spray_element_s=2400), start_drain_s=60)
    limits = goal(EASY | {"limits.ware_drop_k": 15.0})
    ready = make_rig(table, plain_machine(STRONG), limits, circuit())
    found = cool_start(table, ready.machine, limits, ready.circuit).both_c
    assert found is not None
    assert cool_ware(found) in held_run(ready, ready.observe(ready.asked)).guard


def test_the_form_says_the_same_number() -> None:
    plan = plan_of(WASH)
    found = cool_start(plan.constants, plan.inputs.machine, plan.inputs.goal, plan.inputs.circuit).both_c
    text = " ".join(" ".join(opening(plan)).split())
    assert any("{cool}" in step for step in STEPS)
    assert "{cool}" not in text
    known = found is not None and math.isfinite(found)
    cool = f"at {found:.0f} C or less" if known else "as cool as the room"
    assert f"do not start before tank and ware are {cool}, by a thermometer and never by hand" in text


def test_drawn_points_lie_in_the_box_and_are_the_same_each_time() -> None:
    rig = plain_machine(THERMOSTAT)
    cases, again, few = spread(rig).cases(), spread(rig).cases(), fault_cases(rig)
    assert few.count < cases.count <= few.count + DRAWN
    assert cases.names == again.names
    np.testing.assert_array_equal(cases.inlet_c, again.inlet_c)
    for name in set(QUANTITIES) & {"inlet_c", "room_c", "sensor_error_k", "humidity"}:
        ends = getattr(tolerances(rig), name)
        values = getattr(cases, name)
        assert ends.low - 1e-9 <= values.min() <= values.max() <= ends.high + 1e-9
        assert (values.min(), values.max()) == pytest.approx((ends.low, ends.high))
