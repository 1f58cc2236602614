"""How far numbers may be edited, worked out by hand; in test_emit_limits compilers judge."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_cases import PRERINSE, RINSE, WASH, machine_profile, plan_case, soaked_plan, steam_plan

from optimizer.check.controller_numbers import controller_numbers
from optimizer.emit.assertions import WIDE
from optimizer.emit.limits import TOO_LONG, _longest, limits
from optimizer.emit.shared_limits import facts
from optimizer.profile.measured import Measured
from optimizer.programme.plan import Plan


def timed() -> Plan:
    return plan_case(PRERINSE, WASH)


def by_level(fill_s: int) -> Plan:
    machine = machine_profile(level=True)
    return plan_case(replace(PRERINSE, fill_s=fill_s), replace(WASH, fill_s=fill_s), machine=machine)


def span(plan: Plan, name: str) -> tuple[int, int]:
    return limits(plan).range_of(name)


def own_span(plan: Plan, name: str) -> tuple[int, int]:
    return limits(plan).widest_range_of(name)


@pytest.mark.parametrize(("fill_s", "ends"), [(120, (114, 129)), (100, (100, 129)), (140, (114, 140))])
def test_longest_fill_of_a_level_switch(fill_s: int, ends: tuple[int, int]) -> None:
    """9.5 l at 5 l/min: 114 s; a twentieth and 10 s more while it sticks: 129.7 s. What was proven stays."""
    assert own_span(by_level(fill_s), "round_1_fill_s") == ends


def test_fills_of_a_timed_inlet() -> None:
    """From 6.5 l and a thousandth at 5 l/min into a dry machine to the lip: 239 s at 6.6 l/min."""
    assert own_span(timed(), "round_1_fill_s") == (79, 239)
    # 7.5 l and 1.5 l held up; 0.4 l are there: 103.3 s. Proven are 96.
    assert own_span(plan_case(PRERINSE, replace(WASH, fill_s=120)), "round_2_fill_s") == (104, 239)
    assert own_span(timed(), "round_2_fill_s") == (96, 239)


def test_what_a_programme_may_still_take() -> None:
    """150 min and 20 of standing are 10,200 s, 5746 more than the table: for one phase, or for 8 pauses."""
    plan, spare_s = timed(), 10200 - 4454
    assert span(plan, "stand_s") == (1200, 1200 + spare_s)
    assert span(plan, "gap_s") == (1, 2 + spare_s // 8)
    assert span(plan, "round_1_spray_s") == (120, 180 + spare_s)
    # A rest brings a pause along; where there is one already it does not.
    assert span(plan, "round_1_rest_s") == (0, spare_s - 2)
    # One of a wash is no longer than the goal lets the ware soak, as no spray follows it: an hour.
    assert span(plan, "round_2_rest_s")[1] == 3600 < 20 + spare_s


def test_no_number_is_wider_than_its_type() -> None:
    plan = timed()
    goal = plan.inputs.goal
    long = goal.limits.model_copy(update={"duration_min": 1440.0})
    inputs = replace(plan.inputs, goal=goal.model_copy(update={"limits": long}))
    # A day is 86,400 s, and 65,535 the most that two bytes hold.
    assert own_span(replace(plan, inputs=inputs), "round_1_spray_s") == (120, 65535)


@pytest.mark.parametrize(("value_s", "why"), [(65535, TOO_LONG), (65536, WIDE)])
def test_the_type_is_named_where_the_goal_allows_more_than_it_holds(value_s: int, why: str) -> None:
    found = _longest("gap_s", value_s, 0)
    assert found.holds({"gap_s": 65535})
    assert not found.holds({"gap_s": 65536})
    assert found.message.endswith(why)


def test_the_longest_run_of_a_level_switch_counts_its_fills_in_full() -> None:
    """150 min and 20 of standing are 10,200 s; of 114 s that each fill may take it has 129 for each."""
    assert own_span(by_level(120), "total_max_s")[1] == 10200 + 2 * (129 - 114)


@pytest.mark.parametrize(("proven_dc", "most_dc"), [(600, 740), (740, 740), (750, 750)])
def test_the_watchdog_of_a_bath_by_what_the_tank_stands(proven_dc: int, most_dc: int) -> None:
    """75 °C, with a sensor that reads 1 K low; what was proven stays."""
    wash = replace(WASH, heat_s=0, setpoint_dc=500)
    plan = plan_case(PRERINSE, wash, machine=machine_profile(thermostat=True), bath_max_dc=proven_dc)
    assert own_span(plan, "bath_max_dc")[1] == most_dc


def test_a_top_up_and_its_fill_run_over_together() -> None:
    """239 s fill the tank to the lip; the shortest fill is 79 s, the proven one 90."""
    plan = plan_case(replace(PRERINSE, top_up_s=40, drain_s=200), WASH)
    assert own_span(plan, "round_1_top_up_s") == (40, 239 - 79)
    assert span(plan, "round_1_top_up_s") == (40, 239 - 90)


@pytest.mark.parametrize(("drain_c", "longer"), [(22.7, False), (22.8, True)])
def test_a_pump_that_warms_the_bath_past_the_drain_pipe_sprays_no_longer(
    drain_c: float, longer: bool
) -> None:
    """85 W, a half of it into the bath, at 9 W/K into a room of 18 °C: it settles at 22.72 °C."""
    machine = machine_profile()
    pipe = machine.drain_pump.model_copy(update={"drain_limit_c": drain_c})
    plan = plan_case(RINSE, machine=machine.model_copy(update={"drain_pump": pipe}))
    assert (own_span(plan, "round_1_spray_s")[1] > RINSE.spray_s) == longer


def test_the_element_is_on_for_what_was_proven() -> None:
    assert own_span(timed(), "round_2_heat_s") == (0, 1500)
    assert own_span(timed(), "round_2_spray_element_s") == (0, 480)
    assert own_span(timed(), "round_1_heat_s") == (0, 0)
    assert own_span(steam_plan(), "round_3_heat_s") == (1, 1500)
    assert own_span(steam_plan(), "round_3_spray_s") == (0, 0)


def test_detergent_of_a_bath() -> None:
    """96 s at 6.6 l/min, 0.8 and 0.2 l are 11.56 l: 31.79 g at 2.75 g/l.

    96 s at 5 l/min, 0.4 and 0.2 l are 8.6 l: they bear 68.8 g at 8 g/l. The table has 28.8 g,
    and what was proven stays.
    """
    right = plan_case(PRERINSE, replace(WASH, detergent_dg=318))
    assert own_span(right, "round_2_detergent_dg") == (318, 688)
    assert own_span(timed(), "round_2_detergent_dg") == (288, 688)
    assert own_span(timed(), "round_1_detergent_dg") == (0, 0)


def test_the_start_drain() -> None:
    """27.3 l at 12 l/min are 136.5 s; the table has 30, and what was proven stays."""
    rig = machine_profile()
    rig = rig.model_copy(update={"tank": rig.tank.model_copy(update={"capacity_l": 27.7})})
    assert own_span(plan_case(PRERINSE, WASH, machine=rig), "start_drain_s")[0] == 30
    assert own_span(plan_case(PRERINSE, WASH, machine=rig, start_drain_s=150), "start_drain_s")[0] == 137


def test_drains_are_held_to_what_a_fill_needs() -> None:
    """9.24 l at 6.6 l/min in 84 s of 8 °C, which at 16 °C are 0.1 % more, at 12 l/min: 46.3 s."""
    assert own_span(plan_case(WASH, replace(RINSE, drain_s=60)), "round_2_drain_s")[0] == 47


@pytest.mark.parametrize(("heat_s", "most_dc"), [(300, 703), (0, 738)])
def test_the_highest_setpoint_of_a_bath_in_layers(heat_s: int, most_dc: int) -> None:
    """The tank stands 75 °C. Heated at rest its top is up to 5 K over the mean, the sensor at least 1.5 K.

    So the mean comes to 70 °C, where a sensor that reads 1 K low has 70.5; sprayed there is the error alone.
    The setpoint stays 0.2 K under that, which a bound may add.
    """
    machine = machine_profile(thermostat=True)
    assert machine.element is not None
    layers = {
        "top_over_mean_k": Measured(nominal=3.0, low=2.0, high=5.0),
        "sensor_over_mean_k": Measured(nominal=2.0, low=1.5, high=2.5),
    }
    rig = machine.model_copy(update={"element": machine.element.model_copy(update=layers)})
    wash = replace(WASH, heat_s=heat_s, spray_s=120, spray_element_s=60, setpoint_dc=500)
    assert own_span(plan_case(PRERINSE, wash, machine=rig), "round_2_setpoint_dc") == (1, most_dc)
    # A first wash that is heated at rest may be asked to begin its spray at 60 °C at the most.
    case = plan_case(PRERINSE, wash, wash, machine=rig)
    limits = case.inputs.goal.limits.model_copy(update={"first_wash_most_c": 60.0})
    aim = case.inputs.goal.model_copy(update={"limits": limits})
    cool = replace(case, inputs=replace(case.inputs, goal=aim))
    assert own_span(cool, "round_2_setpoint_dc") == (1, 603 if heat_s else most_dc)
    assert own_span(cool, "round_3_setpoint_dc") == (1, most_dc)


@pytest.mark.parametrize(
    ("hysteresis_dk", "least_dk", "most_dk"), [(4, 4, 10), (5, 5, 10), (6, 5, 10), (15, 5, 15)]
)
def test_the_hysteresis_that_was_measured_or_proven(hysteresis_dk: int, least_dk: int, most_dk: int) -> None:
    """1 K was measured; what was proven stays. Under 0.5 K noise of a reading switches (no source)."""
    machine = machine_profile(thermostat=True)
    plan = plan_case(PRERINSE, machine=machine, hysteresis_dk=hysteresis_dk)
    assert own_span(plan, "hysteresis_dk") == (least_dk, most_dk)


def test_what_a_circuit_leaves_beside_the_pump() -> None:
    """Heated while it sprays the element has to fit beside the pump, heated before it by itself."""
    both, before = timed(), plan_case(PRERINSE, replace(WASH, spray_element_s=0))
    known = limits(both).values
    assert span(both, "element_ma")[1] == known["circuit_ma"] - known["pump_ma"]
    assert span(before, "element_ma")[1] == known["circuit_ma"]


def test_facts_by_hand() -> None:
    """240 V at 900 W of 230 V: 4083.2 mA; 85 and 15 W at 220 V and 0.6: 643.9 and 113.6; 3 W: 13.6.

    The pipe stands the boil, so that no bath is too hot for it; what comes in does not scald (46 °C).
    """
    machine, circuit = machine_profile(), timed().inputs.circuit
    assert machine.drain_pump.stands_the_boil
    known = controller_numbers(machine, [timed().constants])
    assert facts(machine, circuit, known) == {
        "element_rest_s": 20, "element_ma": 4083, "pump_ma": 643, "drain_ma": 113, "circuit_ma": 5486,
        "drain_wait_s": 0, "drain_max_dc": 1200, "drain_stop_dc": 1200, "fill_is_cold": 1,
        "sensor_moves_s": 600,
    }  # fmt: skip
    cold = facts(machine_profile(element=False), circuit, known)
    assert (cold["element_rest_s"], cold["element_ma"]) == (0, 0)
    # A circuit that leaves less than the controller takes leaves nothing.
    background = circuit.background_a.model_copy(update={"high": 5.99})
    assert facts(machine, circuit.model_copy(update={"background_a": background}), known)["circuit_ma"] == 0


def test_a_spray_by_what_the_pump_and_its_vapour_make_of_the_bath() -> None:
    """By hand: a pump that warms by 600 W settles some 100 K over the room (6 W/K); the tank stands 75 °C.

    Through a vent of 2 m2 the saturated vapour of 75 °C (38.6 kPa, IAPWS-IF97) takes away
    0.089 · 38.6 · 2 / 2321 = 2.96 g/s: the 0.97 kg that 7.5 l have over the pump's 6.51 l last 327 s. Of a
    fill that just covers the pump a hundredth, 0.063 kg, lasts for 21 s on top of its spray.
    """
    plan = timed()
    _, longer = own_span(plan, "round_1_spray_s")
    machine = plan.inputs.machine

    def longest_s(part: str, **values: object) -> int:
        changed = getattr(machine, part).model_copy(update=values)
        inputs = replace(plan.inputs, machine=machine.model_copy(update={part: changed}))
        return own_span(replace(plan, inputs=inputs), "round_1_spray_s")[1]

    proven_s = plan.constants.rounds[0].spray_s
    assert longest_s("wash_pump", heat_share=0.0) == longer > proven_s
    strong = machine.wash_pump.power_w.model_copy(update={"nominal": 600.0, "low": 600.0, "high": 600.0})
    assert longest_s("wash_pump", heat_share=1.0, power_w=strong) == proven_s
    assert longest_s("tank", vent_m2=2.0) == pytest.approx(327, abs=2)
    assert longest_s("tank", vent_m2=0.0) == longer
    short = plan_case(replace(PRERINSE, fill_s=70), WASH)
    tank = machine.tank.model_copy(update={"vent_m2": 2.0})
    inputs = replace(short.inputs, machine=short.inputs.machine.model_copy(update={"tank": tank}))
    assert own_span(replace(short, inputs=inputs), "round_1_spray_s")[1] == pytest.approx(
        proven_s + 21, abs=1
    )


def test_a_soak_by_the_goal() -> None:
    plan = soaked_plan()
    assert own_span(plan, "round_2_soak_s") == (1, 3600)
    # The table takes 7336 of the 10,200 s that are allowed: a goal that lets the ware soak for 90 min leaves
    # 2864 more than the 900 there are.
    goal = plan.inputs.goal
    long = goal.model_copy(update={"limits": goal.limits.model_copy(update={"soak_min": 90.0})})
    patient = replace(plan, inputs=replace(plan.inputs, goal=long))
    assert own_span(patient, "round_2_soak_s") == (1, 900 + 2864)
    assert own_span(patient, "round_1_soak_s") == (0, 0)


def test_a_constant_is_held_by_its_watchdog_only_when_it_is_edited_alone() -> None:
    found = limits(timed())
    assert found.range_of("total_max_s") == (4454, 4454)
    assert found.range_of("element_max_s") == (1980, 1980)
    assert found.range_of("fill_max_s") == (96, 96)
    assert found.range_of("drain_min_s") == (30, 30)
    assert found.widest_range_of("fill_max_s")[1] == 239


def test_more_water_asks_for_more_detergent() -> None:
    """6.2 g/l at 6.6 l/min are 0.682 g a second; 11.56 l ask for 71.672 g, in tenths 71.7.

    78.0 g are 6.3 g more: for 9.2 s more of water, in whole seconds 9.
    """
    plan = plan_case(PRERINSE, replace(WASH, detergent_dg=717))
    goal = plan.inputs.goal
    assert goal.detergent is not None
    detergent = goal.detergent.model_copy(update={"least_g_per_l": 6.2, "most_g_per_l": 12.0})
    strong = goal.model_copy(update={"detergent": detergent})
    found = limits(replace(plan, inputs=replace(plan.inputs, goal=strong)))
    more = {**found.values, "round_2_detergent_dg": 780, "round_2_drain_s": 120}
    assert replace(found, values=more).range_of("round_2_fill_s")[1] == 96 + 9


@pytest.mark.parametrize(("fill_s", "most_dg"), [(96, 688), (90, 647), (93, 667)])
def test_less_water_bears_less_detergent(fill_s: int, most_dg: int) -> None:
    """8 g/l of 8.6 l are 68.8 g; a second of water at 5 l/min bears 0.667 g, counted as 0.667."""
    found = limits(plan_case(PRERINSE, replace(WASH, detergent_dg=318)))
    less = {**found.values, "round_2_fill_s": fill_s}
    assert replace(found, values=less).range_of("round_2_detergent_dg")[1] == most_dg
