"""Currents and protective devices against Ohm's law and the points of the standards."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, get_args

import numpy as np
import pytest
from planner_cases import tiny
from pydantic import ValidationError

from optimizer.check.currents import locked_a, motor_a, running_a, starting_a
from optimizer.check.phases import OFF, Outputs
from optimizer.physics.thermal import element_power_w
from optimizer.planner.circuit_load import Currents
from optimizer.planner.structure import Mode
from optimizer.profile.circuit import INSTANT_TRIP_MULTIPLE, Circuit, Device
from optimizer.profile.load import load_profile
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import DrainPump, Element

RATED_W, RATED_V = 1000.0, 230.0


def element(rated_w: float, rated_v: float) -> Element:
    """An element of the shipped machine's kind."""
    shipped = load_profile("machine", "clubhouse").element
    assert shipped is not None
    return Element.model_validate({**shipped.model_dump(), "rated_w": rated_w, "rated_v": rated_v})


def pump(power_w: float, power_factor: float) -> DrainPump:
    return DrainPump(power_w=power_w, power_factor=power_factor, inrush_multiple=4.0, flow_l_per_min=7.0)


@pytest.mark.parametrize(
    ("voltage_share", "current_share", "power_share"),
    [(1.10, 1.10, 1.21), (1.0, 1.0, 1.0), (0.90, 0.90, 0.81)],
)
def test_resistor_over_the_mains_tolerance(
    voltage_share: float, current_share: float, power_share: float
) -> None:
    """230 V ± 10 % (Regulation (EU) 2019/2022, article 2); the shares are Ohm's law."""
    supply_v = RATED_V * voltage_share
    found_a = element(RATED_W, RATED_V).highest_a(supply_v)
    assert found_a == pytest.approx(current_share * RATED_W / RATED_V)
    assert element_power_w(supply_v, RATED_W, RATED_V) == pytest.approx(power_share * RATED_W)


def test_power_is_voltage_times_current() -> None:
    """114–126 V is range A of a 120 V service (ANSI C84.1; a state rule, and from memory)."""
    supply_v = np.linspace(114.0, 126.0, 7)
    product_w = [volts * element(1400.0, 120.0).highest_a(volts) for volts in supply_v]
    np.testing.assert_allclose(product_w, element_power_w(supply_v, 1400.0, 120.0))


@pytest.mark.parametrize("running_a", [DrainPump.running_a, motor_a], ids=["planner", "check"])
def test_motor_current(running_a: Callable[[DrainPump, float], float]) -> None:
    """P = V I cos φ; at 207 V a motor that keeps its 92 W takes a ninth more than at 230 V."""
    motor = pump(92.0, 0.5)
    assert 230.0 * running_a(motor, 230.0) * 0.5 == pytest.approx(92.0)
    assert running_a(motor, 207.0) / running_a(motor, 230.0) == pytest.approx(10.0 / 9.0)


# Multiples of the rating. Breakers: IEC 60898-1 (secondary source), held and tripping within the hour, and
# the band of instant tripping. Plug-top fuse: BS 1362 (secondary), within 30 min. gG fuse of 6 A and more:
# IEC 60269-1, the fusing multiple 1.6-1.9 in a secondary source, what it holds from memory.
HOLDS = {"breaker_b": 1.13, "breaker_c": 1.13, "breaker_d": 1.13, "fuse_plug": 1.6, "fuse_gg": 1.25}
OPENS = {"breaker_b": 1.45, "breaker_c": 1.45, "breaker_d": 1.45, "fuse_plug": 1.9, "fuse_gg": 1.6}
INSTANT = {"breaker_b": (3.0, 5.0), "breaker_c": (5.0, 10.0), "breaker_d": (10.0, 20.0)}


def of_device(device: str, rating_a: float, usable_share: float = 1.0) -> Circuit:
    """A circuit with nothing else on it."""
    return Circuit(
        kind="circuit",
        title="Test circuit",
        voltage_v=230.0,
        device=device,
        rating_a=rating_a,
        usable_share=usable_share,
        background_a=0.0,
        compressor_start_a=0.0,
        earth_fault="rcd_30ma",
    )


@pytest.mark.parametrize("device", get_args(Device))
def test_the_instant_step_is_the_lowest_of_the_standard_band(device: str) -> None:
    """A fuse has no such step."""
    low, _ = INSTANT.get(device, (None, None))
    assert INSTANT_TRIP_MULTIPLE.get(device) == low
    assert low is None or low > OPENS[device]


@pytest.mark.parametrize("device", get_args(Device))
@pytest.mark.parametrize("rating_a", [6.0, 10.0, 16.0, 32.0])
def test_what_a_circuit_leaves_is_carried_for_ever(device: str, rating_a: float) -> None:
    """The most that a plan may take is below what the standard says each device holds, let alone opens at."""
    most_a = of_device(device, rating_a).available_a
    assert most_a == rating_a
    assert most_a * 1.1 < HOLDS[device] * rating_a < OPENS[device] * rating_a


@pytest.mark.parametrize("device", get_args(Device))
def test_small_pump_stays_below_the_instant_band_of_a_small_breaker(device: str) -> None:
    """85 W is common practice, no source; 3–8 times at the start (secondary sources, which differ).

    Planner and check find the same current: 5.475 A by hand, on the 6 A of a shared circuit.
    """
    changes = {
        "machine__supply__voltage_v": 207.0,
        "machine__supply__controller_w": 0.0,
        "machine__wash_pump__power_w": 85.0,
        "machine__wash_pump__power_factor": 0.6,
        "machine__wash_pump__inrush_multiple": 8.0,
    }
    machine = tiny(**changes).machine
    currents = Currents(machine, of_device(device, 6.0))
    assert currents.starting_a(Mode.UNHEATED) == pytest.approx(5.475, rel=1e-3)
    assert starting_a(OFF, Outputs(wash_pump=True), machine) == pytest.approx(5.475, rel=1e-3)
    assert currents.fits(Mode.UNHEATED)
    assert INSTANT["breaker_b"][0] * 6.0 > 5.475


def test_continuous_load_rule() -> None:
    """NFPA 70, 210.23(A) (secondary): one appliance takes at most 80 % of a branch, 12 A of 15 A.

    The shipped branch of 15 A says so. A 1.4 kW element on 120 V keeps it at nominal voltage but not at
    126 V, the top of the service range.
    """
    branch = load_profile("circuit", "branch-15a-120v")
    assert branch.rating_a * branch.usable_share == pytest.approx(12.0)
    heater = element(1400.0, 120.0)
    assert heater.highest_a(120.0) < 12.0 < heater.highest_a(126.0)


class TestPumpOnAPowerSupply:
    """A pump of 12 or 24 V: its supply takes a current of its own as it starts, and as the rotor is held.

    Invented figures; no source but the meter, on the mains side of the supply.
    """

    CHANGES: ClassVar = {
        "machine__wash_pump__inrush_multiple": None,
        "machine__wash_pump__surge_a": {"nominal": 15.0, "low": 12.0, "high": 18.5},
        "machine__wash_pump__stall_a": {"nominal": 0.9, "low": 0.8, "high": 1.1},
    }

    def test_planner_and_check_take_the_surge(self) -> None:
        """Circuit of 6 A, type B: it may trip at once from 18 A on."""
        supplied, before = tiny(**self.CHANGES).machine, tiny().machine
        currents = Currents(supplied, of_device("breaker_b", 6.0))
        controller_a = before.supply.controller_w / before.supply.voltage_v.low
        assert currents.starting_a(Mode.UNHEATED) == pytest.approx(18.5 + controller_a)
        started_a = starting_a(OFF, Outputs(wash_pump=True), supplied)
        assert started_a == pytest.approx(18.5 + controller_a)
        assert not currents.fits(Mode.UNHEATED)
        assert Currents(supplied, of_device("breaker_c", 6.0)).fits(Mode.UNHEATED)

    def test_running_current_stays_that_of_its_power(self) -> None:
        supplied, before = tiny(**self.CHANGES).machine, tiny().machine
        on = Outputs(wash_pump=True)
        assert running_a(on, supplied) == running_a(on, before)
        assert Currents(supplied, of_device("breaker_c", 6.0)).pump_a == before.wash_pump.running_a(226.0)

    def test_a_seized_one_takes_its_stall_current(self) -> None:
        assert locked_a(tiny(**self.CHANGES).machine.wash_pump, 226.0) == 1.1
        before = tiny().machine.wash_pump
        assert locked_a(before, 226.0) == pytest.approx(4.0 * 60.0 / (226.0 * 0.7))

    def test_without_them_the_hash_of_a_profile_is_what_it_was(self) -> None:
        """A plan file of an earlier version stays valid: it has neither of the two keys."""
        dumped = tiny().machine.model_dump(mode="json")["wash_pump"]
        assert set(dumped) == {
            *("power_w", "power_factor", "inrush_multiple", "prime_l", "holdup_l"),
            *("heat_share", "mechanics_factor"),
        }
        again = tiny(**self.CHANGES).machine
        assert Machine.model_validate_json(again.model_dump_json()) == again

    @pytest.mark.parametrize(
        ("left_out", "key"),
        [
            (("surge_a", "stall_a"), "inrush_multiple"),
            (("surge_a",), "surge_a"),
            (("stall_a",), "stall_a"),
        ],
    )
    def test_half_a_measurement_is_refused(self, left_out: tuple[str, ...], key: str) -> None:
        names = {f"machine__wash_pump__{name}" for name in left_out}
        changes = {path: value for path, value in self.CHANGES.items() if path not in names}
        with pytest.raises(ValidationError) as caught:
            tiny(**changes)
        (error,) = caught.value.errors()
        assert error["loc"][-2:] == ("wash_pump", key)
        assert error["msg"].startswith("is missing")
