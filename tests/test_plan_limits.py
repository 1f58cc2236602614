"""Properties and boundaries of the planner: dearer or tighter is never cheaper, and one step past."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest
from planner_cases import shipped, tiny

from optimizer.errors import InputError, NoPlanError, SolverError
from optimizer.planner import solver as solve_module
from optimizer.planner.current_limit import Currents
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose
from optimizer.planner.structure import Mode
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import plan_to_json

ROUNDING = 0.003
"""What whole seconds may cost [1]."""


def cost(inputs: Inputs) -> float:
    choice = choose(Assessor(inputs))
    assert choice is not None
    return choice.trimmed.objective


@pytest.fixture(scope="module")
def usual() -> float:
    return cost(tiny())


@pytest.mark.parametrize(
    "changes",
    [
        {"price_per_kwh": 0.45},
        {"tariff__water_per_m3": 6.0},
        {"tariff__value_per_min": 0.01},
        {"goal__detergent__price_per_kg": 9.0},
    ],
)
def test_dearer_prices_are_never_cheaper(usual: float, changes: dict[str, Any]) -> None:
    assert cost(tiny(**changes)) > usual


@pytest.mark.parametrize(
    "changes",
    [
        {"goal__limits__duration_min": 45.0},
        {"goal__rinse__residue_max": 0.002},
        {"goal__dose__0__minutes": 8.0},
        {"machine__tank__limit_c": 52.0},
        {"circuit__rating_a": 4.85},
        {"machine__inlet__water_c": {"nominal": 14.0, "low": 8.0, "high": 20.0}},
        {"machine__tank__residual_l": {"nominal": 0.4, "low": 0.2, "high": 0.8}},
        {"machine__supply__voltage_v": {"nominal": 230.0, "low": 215.0, "high": 245.0}},
    ],
)
def test_tighter_requirements_and_wider_tolerances_are_never_cheaper(
    usual: float, changes: dict[str, Any]
) -> None:
    assert cost(tiny(**changes)) >= usual * (1.0 - ROUNDING)


def modes_at(available_a: float, voltage_v: float = 230.0) -> set[Mode]:
    """Heat modes on a circuit that leaves so much current."""
    machine = tiny().machine
    circuit = tiny().circuit.model_copy(
        update={"rating_a": available_a + 0.2, "voltage_v": voltage_v, "usable_share": 1.0}
    )
    currents = Currents(machine, circuit)
    return {mode for mode in Mode if currents.fits(mode)}


def test_a_heat_mode_goes_one_step_under_its_current() -> None:
    """Ohm's law by hand: element at 234 V, motor at 226 V, controller beside them."""
    element_a = 1000.0 * 234.0 / 230.0**2
    pump_a, controller_a = 60.0 / (226.0 * 0.7), 3.0 / 226.0
    both_a, alone_a = element_a + pump_a + controller_a, element_a + controller_a
    assert Mode.WHILE_SPRAYING in modes_at(both_a + 0.001)
    assert Mode.WHILE_SPRAYING not in modes_at(both_a - 0.01)
    assert Mode.THEN_SPRAY in modes_at(both_a - 0.01)
    assert Mode.THEN_SPRAY in modes_at(alone_a + 0.001)
    assert Mode.THEN_SPRAY not in modes_at(alone_a - 0.01)


def test_a_starting_pump_must_not_trip_the_breaker() -> None:
    """IEC 60898-1: a B breaker may trip at once from 3 times its rating."""
    pump = {
        "machine__wash_pump__inrush_multiple": 12.0,
        "machine__wash_pump__power_w": 120.0,
        "machine__wash_pump__power_factor": 0.35,
    }
    machine = tiny(**pump).machine
    start_a = 12.0 * 120.0 / (226.0 * 0.35) + 3.0 / 226.0 + 0.2
    element_a = 1000.0 * 234.0 / 230.0**2
    rating_a = (start_a + element_a) / 3.0
    for device, offset_a, fits in (
        ("breaker_b", 0.001, True),
        ("breaker_b", -0.01, False),
        ("fuse_gg", -0.01, True),
    ):
        update = {"rating_a": rating_a + offset_a, "device": device}
        currents = Currents(machine, tiny().circuit.model_copy(update=update))
        running_fits = currents.running_a(Mode.WHILE_SPRAYING) <= currents.circuit.available_a
        assert running_fits, "else the starting current is not what decides"
        assert currents.fits(Mode.WHILE_SPRAYING) is fits


def nearest(inputs: Inputs, requirement: str) -> str:
    with pytest.raises(NoPlanError) as caught:
        plan(inputs)
    return next(reason.nearest for reason in caught.value.reasons if reason.requirement == requirement)


@pytest.mark.parametrize(
    ("changes", "requirement", "key", "beyond"),
    [
        ({"goal__limits__duration_min": 20.0}, "longest duration", "goal__limits__duration_min", 0.95),
        ({"goal__dose__0__minutes": 200.0}, "dose fat", "goal__dose__0__minutes", 1.05),
        ({"goal__limits__water_l": 6.0}, "water of a run", "goal__limits__water_l", 0.85),
        (
            {"goal__rinse__residue_max": 1e-7, "machine__tank__residual_l": 2.5},
            "rinse residue",
            "goal__rinse__residue_max",
            0.8,
        ),
    ],
)
def test_a_plan_exists_at_the_nearest_value_and_none_beyond(
    changes: dict[str, Any], requirement: str, key: str, beyond: float
) -> None:
    """The nearest dose, duration and residue are met to a few per cent; litres may be generous by a tenth."""
    value = float(nearest(tiny(**changes), requirement).split()[0])
    assert choose(Assessor(tiny(**(changes | {key: value})))) is not None
    assert choose(Assessor(tiny(**(changes | {key: value * beyond})))) is None


def test_no_element_and_no_way_to_the_floor() -> None:
    text = nearest(tiny(machine__element=None), "dose fat")
    assert text == "0 min at the most"


def test_a_circuit_too_small_for_the_heat_that_is_needed() -> None:
    """With 4 A no heat fits; the answer names the current of the element alone."""
    small = tiny(circuit__rating_a=4.0)
    text = nearest(small, "current of the circuit")
    assert text == "4.5 A (the element alone)"


def test_the_same_input_gives_the_same_bytes_in_another_process() -> None:
    code = (
        "from optimizer.programme.inputs import load_inputs\n"
        "from optimizer.planner.make_plan import plan\n"
        "from optimizer.programme.planfile import plan_to_json\n"
        "import sys; sys.stderr.write(plan_to_json(plan(load_inputs('cold-shed', 'glasses'))))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == "", "HiGHS must not print"
    assert run.stderr == plan_to_json(plan(shipped("cold-shed", "glasses")))


def test_cbc_finds_a_programme_of_the_same_cost(usual: float) -> None:
    choice = choose(Assessor(tiny()), "cbc")
    assert choice is not None
    assert choice.outcome.solver.startswith("CBC")
    assert choice.trimmed.objective == pytest.approx(usual, rel=0.005)


def test_a_solver_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solve_module.pulp.HiGHS, "available", lambda self: False)
    with pytest.raises(InputError, match="not installed"):
        choose(Assessor(tiny()), "highs")
    choice = choose(Assessor(tiny()))
    assert choice is not None
    assert choice.outcome.solver.startswith("CBC")


def test_a_time_limit_is_never_called_optimal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut off at once there is no solution to read; the answer must say so, not call it optimal."""
    monkeypatch.setattr(solve_module, "TIME_LIMIT_S", 1e-3)
    with pytest.raises(SolverError, match="found no programme within"):
        choose(Assessor(shipped("clubhouse", "everyday")))


def test_a_steeper_goal_costs_more_money_but_time_worth_nothing_costs_less() -> None:
    inputs = tiny()
    idle = replace(
        inputs,
        goal=inputs.goal.model_copy(
            update={"limits": inputs.goal.limits.model_copy(update={"time_weight": 0.0})}
        ),
    )
    assert plan(idle).costs.money <= plan(inputs).costs.money * (1.0 + ROUNDING)
