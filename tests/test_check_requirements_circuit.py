"""Currents: each holds at its limit and fails one step past it."""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, goal, machine, programme
from plan_cases import cold_plan, plan_case
from requirement_cases import row, wash_of

from optimizer.check.certify import check
from optimizer.report.certificate import certificate_report


def test_running_current() -> None:
    # 3 W / 230 V + 900 W / 230 V + 85 W / (230 V · 0.6) = 4.5420 A, and 1 A for the background.
    heated = wash_of(spray_element_s=100)
    assert row("circuit.running_a", heated).worst == pytest.approx(3 / 230 + 900 / 230 + 85 / 138)
    assert row("circuit.running_a", heated, feed={"rating_a": 5.543}).passed
    assert not row("circuit.running_a", heated, feed={"rating_a": 5.541}).passed


def test_the_element_draws_most_at_high_voltage_and_the_motors_at_low() -> None:
    # Ohm's law: +10 % volts, 1.10 times the current; P / (V pf) for the motor, -10 % volts: 1 / 0.9 times.
    rig = {"supply.voltage_v": {"nominal": 230.0, "tolerance_pct": 10.0}}
    found = row("circuit.running_a", wash_of(spray_element_s=100), rig=rig)
    assert found.worst == pytest.approx(1.10 * 900 / 230 + (3 / 230 + 85 / 138) / 0.9)


def test_nothing_is_said_of_an_element_that_is_not_there() -> None:
    cold = programme(a_round("prerinse"), a_round("wash", spray_s=1800), a_round("rinse"))
    certificate = check(cold, machine({"element": None}, tolerances=False), goal(), circuit(), draws=0)
    assert "element" not in certificate_report(certificate, cold_plan().inputs)
    heated = check(wash_of(spray_element_s=300), machine(tolerances=False), goal(), circuit(), draws=0)
    assert "element" in certificate_report(heated, plan_case().inputs)


# Source: IEC 60898-1: a type B breaker may trip at once from 3 times its rating, C from 5, D from 10.
@pytest.mark.parametrize(
    ("device", "multiple"), [("breaker_b", 3.0), ("breaker_c", 5.0), ("breaker_d", 10.0)]
)
def test_inrush(device: str, multiple: float) -> None:
    heated = wash_of(spray_element_s=100)
    peak_a = 3 / 230 + 900 / 230 + 5.0 * 85 / 138 + 1.0
    for step, passes in ((0.001, True), (-0.001, False)):
        feed = {"device": device, "rating_a": peak_a / multiple + step}
        if feed["rating_a"] >= 1.0:
            found = row("circuit.inrush_a", heated, feed=feed)
            assert found.worst == pytest.approx(peak_a)
            assert found.passed is passes


def test_a_pump_on_a_power_supply_starts_with_its_own_surge() -> None:
    """Invented: 14 A as it starts, whatever its running current; 14 A and the rest on 5 times the rating."""
    rig = {
        "wash_pump.inrush_multiple": None,
        "wash_pump.surge_a": {"nominal": 12.0, "low": 10.0, "high": 14.0},
        "wash_pump.stall_a": 0.8,
    }
    peak_a = 3 / 230 + 900 / 230 + 14.0 + 1.0
    for step, passes in ((0.001, True), (-0.001, False)):
        feed = {"device": "breaker_c", "rating_a": peak_a / 5.0 + step}
        found = row("circuit.inrush_a", wash_of(spray_element_s=100), rig=rig, feed=feed)
        assert found.worst == pytest.approx(peak_a)
        assert found.passed is passes


def test_a_pump_that_starts_without_a_surge_still_starts() -> None:
    """An inrush multiple of 1: the current of the start is the running one, by hand, and not none."""
    running_a = 3 / 230 + 900 / 230 + 85 / 138
    found = row("circuit.inrush_a", wash_of(spray_element_s=100), rig={"wash_pump.inrush_multiple": 1.0})
    assert found.worst == pytest.approx(running_a + 1.0)


# What an inverter gives for a moment is a number of its own (invented); it shuts off beyond (no source).
@pytest.mark.parametrize("device", ["breaker_d", "fuse_gg"])
def test_an_inverter_gives_out_before_the_device_opens(device: str) -> None:
    heated = wash_of(spray_element_s=100)
    peak_a = 3 / 230 + 900 / 230 + 5.0 * 85 / 138 + 1.0
    for step, passes in ((0.001, True), (-0.001, False)):
        feed = {"device": device, "rating_a": 10.0, "momentary_a": peak_a + step}
        found = row("circuit.inrush_a", heated, feed=feed)
        assert (found.worst, found.limit) == (pytest.approx(peak_a), pytest.approx(peak_a + step))
        assert found.passed is passes


def test_a_breaker_opens_before_the_inverter_gives_out() -> None:
    """10 A of class B: 30 A, whatever more the inverter gives."""
    feed = {"device": "breaker_b", "rating_a": 10.0, "momentary_a": 31.0}
    assert row("circuit.inrush_a", wash_of(spray_element_s=100), feed=feed).limit == 30.0


def test_a_fuse_has_no_inrush_row() -> None:
    exact = machine(tolerances=False)
    certificate = check(wash_of(), exact, goal(), circuit({"device": "fuse_gg"}), draws=0)
    assert "circuit.inrush_a" not in {found.key for found in certificate.rows}
