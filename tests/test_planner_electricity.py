"""Electricity of a run at the ends of the tolerances, by hand: Joule's law, power times time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_cases import cold_plan, machine_profile, plan_case, thermostat_plan

from optimizer.planner.cost import electricity_of
from optimizer.programme.plan import Plan

J_PER_KWH = 3.6e6


def on_s(plan: Plan, name: str) -> int:
    return sum(getattr(row, name) for row in plan.constants.rounds)


def element_kwh(plan: Plan, volts: float) -> float:
    """A resistor of 900 W at 230 V, by P = V²/R."""
    seconds = on_s(plan, "heat_s") + on_s(plan, "spray_element_s")
    return 900.0 * (volts / 230.0) ** 2 * seconds / J_PER_KWH


def test_timed_element_takes_what_the_voltage_gives() -> None:
    """Supply of 220 to 240 V, nominal 230 V; no other load of this machine has a tolerance."""
    plan = plan_case()
    found = electricity_of(plan)
    low, nominal, high = (element_kwh(plan, volts) for volts in (220.0, 230.0, 240.0))
    assert found.nominal_kwh - found.low_kwh == pytest.approx(nominal - low, rel=1e-3)
    assert found.high_kwh - found.nominal_kwh == pytest.approx(high - nominal, rel=1e-3)
    pump_kwh = 85.0 * on_s(plan, "spray_s") / J_PER_KWH
    assert found.nominal_kwh > nominal + pump_kwh
    assert found.nominal_kwh == pytest.approx(nominal + pump_kwh, abs=0.01), "drain pump, valve, controller"


def test_without_an_element_nothing_is_left_to_the_voltage() -> None:
    found = electricity_of(cold_plan())
    assert found.low_kwh == pytest.approx(found.nominal_kwh, rel=1e-3)
    assert found.high_kwh == pytest.approx(found.nominal_kwh, rel=1e-3)


def test_motors_take_their_own_tolerance() -> None:
    """Wash pump of 85 W within 10 %."""
    machine = machine_profile(element=False)
    power = machine.wash_pump.power_w.model_copy(update={"low": 76.5, "high": 93.5})
    pump = machine.wash_pump.model_copy(update={"power_w": power})
    plan = cold_plan()
    inputs = replace(plan.inputs, machine=machine.model_copy(update={"wash_pump": pump}))
    found = electricity_of(replace(plan, inputs=inputs))
    spray_s = on_s(plan, "spray_s")
    assert found.high_kwh - found.nominal_kwh == pytest.approx(8.5 * spray_s / J_PER_KWH, rel=0.02)
    assert found.nominal_kwh - found.low_kwh == pytest.approx(8.5 * spray_s / J_PER_KWH, rel=0.02)


def test_thermostat_takes_what_the_bath_needs() -> None:
    """Water that comes in 8 K warmer needs so much less heat: 4186 J/(kg K), handbook value at 20 °C.

    Carry-over, losses and sensor make up the rest, our estimate: 15 % of that.
    """
    plan = thermostat_plan()
    rows = [replace(row, heat_s=row.heat_s and 9000, spray_element_s=0) for row in plan.constants.rounds]
    found = electricity_of(replace(plan, constants=replace(plan.constants, rounds=tuple(rows))))
    assert found.low_kwh < found.nominal_kwh < found.high_kwh
    assert found.high_kwh - found.low_kwh == pytest.approx(2 * 9.5 * 4186.0 * 8.0 / J_PER_KWH, rel=0.15)
