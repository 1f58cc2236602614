"""The cost of a run at every start: by hand, by brute force, and against the planner's bill."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kept_checks import no_bounds
from numpy.typing import NDArray
from plan_cases import machine_profile, plan_case, trace_case
from planner_cases import shipped, tiny

from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.cost import unit_prices
from optimizer.programme.plan import Plan
from optimizer.starts.run_cost import cost_of_starts, power_steps, run_of
from optimizer.starts.step_function import Steps

Array = NDArray[np.float64]


def test_steps_join_what_is_equal() -> None:
    steps = Steps.of([0, 1, 2, 5], [3.0, 3.0, 4.0])
    assert (steps.edges_s.tolist(), steps.values.tolist()) == ([0.0, 2.0, 5.0], [3.0, 4.0])
    assert (steps.first_s, steps.last_s, steps.integral) == (0.0, 5.0, 18.0)
    assert steps.at([0.0, 1.9, 2.0, 4.9]).tolist() == [3.0, 3.0, 4.0, 4.0]


@pytest.mark.parametrize(
    ("edges", "values"), [([0], []), ([0, 1], []), ([0, 1, 1], [1, 2]), ([0, 1], [1, 2])]
)
def test_steps_refuse_what_is_none(edges: list[float], values: list[float]) -> None:
    with pytest.raises(ValueError, match="rising edges"):
        Steps.of(edges, values)


def test_two_powers_over_three_prices_by_hand() -> None:
    """2 kW for 30 min, then 500 W for 60 min; 0.40 up to 1 h, −0.10 up to 2 h, then 0.20.

    Start at 0: 1 kWh · 0.40 + 0.25 kWh · 0.40 + 0.25 kWh · −0.10 = 0.475.
    Start at 0:45: 0.5 kWh · 0.40 + 0.5 kWh · −0.10 + 0.375 kWh · −0.10 + 0.125 kWh · 0.20 = 0.1375.
    Start at 1 h: 1 kWh · −0.10 + 0.25 kWh · −0.10 + 0.25 kWh · 0.20 = −0.075.
    """
    power = Steps.of([0, 1800, 5400], [2000.0, 500.0])
    price = Steps.of([0, 3600, 7200, 14400], [0.4, -0.1, 0.2])
    cost = cost_of_starts(power, price, np.array([3600.0, 0.0, 2700.0]))
    assert cost == pytest.approx([-0.075, 0.475, 0.1375], rel=1e-12)


def test_a_run_must_lie_within_the_prices() -> None:
    power, price = Steps.of([0, 60], [1000.0]), Steps.of([100, 200], [0.3])
    assert cost_of_starts(power, price, np.array([100.0, 140.0])) == pytest.approx([0.005, 0.005])
    assert cost_of_starts(power, price, np.array([])).size == 0
    for start in (99.0, 141.0):
        with pytest.raises(ValueError, match="past the prices"):
            cost_of_starts(power, price, np.array([start]))


def lengths(most: int) -> st.SearchStrategy[list[int]]:
    return st.lists(st.integers(1, most), min_size=1, max_size=6)


def steps_of(durations: list[int], values: list[float]) -> Steps:
    return Steps.of(np.cumsum([0, *durations]), [values[i % len(values)] for i in range(len(durations))])


powers = st.builds(steps_of, lengths(40), st.lists(st.floats(0, 3000), min_size=1, max_size=6))
prices = st.builds(steps_of, lengths(200), st.lists(st.floats(-0.5, 1.0), min_size=1, max_size=6))


def starts_within(power: Steps, price: Steps) -> Array:
    return np.arange(0.0, price.last_s - power.last_s + 1.0)


@given(powers, prices)
def test_the_cost_is_the_sum_over_every_second(power: Steps, price: Steps) -> None:
    """Brute force: each second of the run times the price of the second of the clock it falls into."""
    starts = starts_within(power, price)
    each_s = np.arange(power.last_s)
    watts = power.at(each_s)
    by_hand = [float((watts * price.at(start + each_s)).sum()) / 3.6e6 for start in starts]
    assert cost_of_starts(power, price, starts) == pytest.approx(by_hand, rel=1e-9, abs=1e-12)


@given(powers, prices, st.floats(-1.0, 1.0))
def test_a_dearer_kwh_costs_every_run_its_kwh(power: Steps, price: Steps, more: float) -> None:
    starts = starts_within(power, price)
    raised = cost_of_starts(power, Steps(price.edges_s, price.values + more), starts)
    kwh = power.integral / 3.6e6
    assert raised - cost_of_starts(power, price, starts) == pytest.approx(more * kwh, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("thermostat", [False, True])
def test_power_by_hand(thermostat: bool) -> None:
    """Invented machine: element 900 W at its rated voltage, wash pump 85 W, drain pump 15 W, valve 6 W."""
    machine = machine_profile(thermostat=thermostat)
    plan = plan_case(machine=machine)
    power = power_steps(trace_case(plan.constants), machine)
    controller_w = machine.supply.controller_w
    assert power.first_s == 0.0
    assert power.last_s == plan.costs.duration_min * 60.0
    assert power.at([5.0, 35.0])[:2] == pytest.approx([15.0 + controller_w, 6.0 + controller_w])
    # The wash: 1500 s of element alone, a pause, then 480 s of element and pump.
    fills_s = 30 + 2 + 90 + 2 + 180 + 2 + 60 + 2 + 96 + 2
    assert power.at([fills_s + 10.0]) == pytest.approx([900.0 + controller_w])
    assert power.at([fills_s + 1500 + 2 + 10.0]) == pytest.approx([985.0 + controller_w])
    off_rated = machine.model_copy(update={"element": machine.element.model_copy(update={"rated_v": 240.0})})
    lower = power_steps(trace_case(plan.constants), off_rated)
    assert lower.at([fills_s + 10.0]) == pytest.approx([900.0 * (230.0 / 240.0) ** 2 + controller_w])


CASES = {
    "timed element": tiny,
    "thermostat and level switch": lambda: shipped("narrowboat", "glasses"),
    "thermostat at 120 V": lambda: shipped("garage-120v", "glasses"),
    "no element": lambda: shipped("cold-shed", "fresh-cups"),
}


@pytest.fixture(scope="module", params=CASES.values(), ids=CASES)
def proven(request: pytest.FixtureRequest) -> Proven:
    with no_bounds():
        return plan_and_prove(request.param())


def half_a_swing_kwh(plan: Plan) -> float:
    """By how much a bath that a thermostat holds may end from its mean, which the planner takes.

    Bath, tank and ware, half a hysteresis away, in every round whose spray is held.
    """
    machine, element = plan.inputs.machine, plan.inputs.machine.element
    held = [row for row in plan.constants.rounds if row.spray_element_s and row.setpoint_dc]
    if element is None or not held:
        return 0.0
    litres = machine.inlet.level_l.nominal if machine.inlet.level_l else machine.tank.capacity_l
    kj_per_k = 4.19 * litres + machine.tank.heat_capacity_kj_per_k.nominal
    kj_per_k += machine.ware.heat_capacity_kj_per_k.nominal
    return len(held) * 0.5 * element.hysteresis_k * kj_per_k / 3600.0


def test_the_energy_is_the_planners(proven: Proven) -> None:
    """Two ways to the same cost: the planner's closed form, and the check's integration, second by second."""
    power = power_steps(proven.certificate.trace, proven.plan.inputs.machine)
    kwh = proven.plan.costs.electricity_kwh
    assert power.integral / 3.6e6 == pytest.approx(kwh, abs=0.01 * kwh + half_a_swing_kwh(proven.plan))
    assert power.last_s / 60.0 == pytest.approx(proven.plan.costs.duration_min, rel=0.01)


def test_at_one_price_every_start_costs_what_the_plan_says(proven: Proven) -> None:
    plan = proven.plan
    run = run_of(plan, power_steps(proven.certificate.trace, plan.inputs.machine))
    flat = Steps.of([0.0, 1e6], [plan.inputs.prices.mean_per_kwh])
    cost = run.costs(flat, np.arange(0.0, 9e5, 1800.0))
    swing = half_a_swing_kwh(plan) * plan.inputs.prices.mean_per_kwh
    assert cost == pytest.approx(plan.costs.money, abs=1e-3 * plan.costs.money + swing)
    assert np.ptp(cost) < 1e-9
    assert run.waiting == pytest.approx(plan.costs.waiting, rel=0.01)
    assert run.power.last_s <= run.longest_s == plan.constants.total_max_s - plan.constants.stand_s


def test_another_tariff_brings_its_own_water_and_co2(proven: Proven) -> None:
    """By hand: 1 l more at 3 + 4 a cubic metre is 0.007; 0.5 kg CO2 a kWh at 0.2 a kg is 0.1 a kWh."""
    plan, power = proven.plan, power_steps(proven.certificate.trace, proven.plan.inputs.machine)
    changes = {"water_per_m3": 3.0, "waste_per_m3": 4.0, "co2_kg_per_kwh": 0.5, "co2_price_per_kg": 0.2}
    run = run_of(plan, power, plan.inputs.tariff.model_copy(update=changes))
    detergent = plan.inputs.goal.detergent
    grams = plan.costs.detergent_g * detergent.price_per_kg / 1000.0 if detergent else 0.0
    assert run.fixed == pytest.approx(0.007 * plan.costs.water_l + grams + 0.1 * run.kwh, rel=1e-12)


def test_the_stand_counts_for_ready_alone() -> None:
    plan = plan_case()
    power = power_steps(trace_case(plan.constants), plan.inputs.machine)
    run = run_of(plan, power)
    assert run.ready_s - run.longest_s == plan.constants.stand_s == 1200
    assert run_of(replace(plan, constants=replace(plan.constants, stand_s=0)), power).ready_s == run.longest_s


def test_the_waiting_is_weighed_as_the_planner_weighs_it() -> None:
    plan = plan_case()
    run = run_of(plan, power_steps(trace_case(plan.constants), plan.inputs.machine))
    minutes = run.power.last_s / 60.0
    assert run.waiting == pytest.approx(unit_prices(plan.inputs).waiting_per_min * minutes)
