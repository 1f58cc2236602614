"""Electricity of a run at the ends of the tolerances, by hand: Joule's law, power times time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_cases import cold_plan, machine_profile, plan_case, thermostat_plan

from optimizer.planner.cost import electricity_of
from optimizer.profile.measured import Measured
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


def exact(value: float) -> Measured:
    return Measured(nominal=value, low=value, high=value)


def calm(plan: Plan, *, water_k: float, error_k: float, place_k: float) -> Plan:
    """Give a plan a machine whose water, sensor and sensor's place alone have tolerances; nothing is lost.

    The ware takes no heat while the pump stands still, and the element is on at no other time.
    """
    machine = plan.inputs.machine
    assert machine.element is not None
    new = {
        "supply": {"voltage_v": exact(230.0)},
        "inlet": {
            "flow_l_per_min": exact(6.0),
            "water_c": Measured(nominal=12.0, low=12.0 - water_k / 2.0, high=12.0 + water_k / 2.0),
        },
        "tank": {"residual_l": exact(0.6), "loss_still_w_per_k": exact(0.01)},
        "ware": {"response_still_s": exact(1e6)},
        "element": {
            "sensor_error_k": error_k / 2.0,
            "sensor_over_mean_k": Measured(nominal=place_k / 2.0, low=0.0, high=place_k),
        },
    }
    parts = {name: getattr(machine, name).model_copy(update=values) for name, values in new.items()}
    return replace(plan, inputs=replace(plan.inputs, machine=machine.model_copy(update=parts)))


def until_warm(plan: Plan) -> Plan:
    """Heat until the sensor reads the setpoint, with the pump off."""
    rows = [replace(row, heat_s=row.heat_s and 9000, spray_element_s=0) for row in plan.constants.rounds]
    return replace(plan, constants=replace(plan.constants, rounds=tuple(rows)))


@pytest.mark.parametrize(
    ("water_k", "error_k", "place_k"), [(8.0, 0.0, 0.0), (0.0, 2.0, 0.0), (0.0, 0.0, 2.0), (8.0, 2.0, 2.0)]
)
def test_thermostat_takes_what_the_bath_needs(water_k: float, error_k: float, place_k: float) -> None:
    """Water that comes in 8 K warmer needs so much less heat, and so does a bath that is stopped 2 K earlier.

    Two baths of 9.5 l: 4186 J/(kg K), handbook value at 20 °C, and 4.5 kJ/K of tank.
    """
    found = electricity_of(
        until_warm(calm(thermostat_plan(), water_k=water_k, error_k=error_k, place_k=place_k))
    )
    by_hand = 2 * (9.5 * 4186.0 + 4500.0) * (water_k + error_k + place_k) / J_PER_KWH
    assert found.high_kwh - found.low_kwh == pytest.approx(by_hand, rel=0.03)
    assert found.nominal_kwh - found.low_kwh == pytest.approx(by_hand / 2.0, rel=0.05)


def test_losses_and_ware_widen_what_a_thermostat_takes() -> None:
    """8 K of water, 2 K of sensor and 2 K of its place, by hand as above: all else comes on top."""
    found = electricity_of(until_warm(thermostat_plan()))
    assert found.low_kwh < found.nominal_kwh < found.high_kwh
    assert found.high_kwh - found.low_kwh > 2 * (9.5 * 4186.0 + 4500.0) * 12.0 / J_PER_KWH
