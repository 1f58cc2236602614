"""What the circuit carries decides how a round may be heated: to a hundredth of an ampere."""

from __future__ import annotations

from typing import Any

import pytest
from planner_cases import FEW, shipped, tiny

from optimizer.errors import NoPlanError
from optimizer.planner.circuit_load import Currents
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.planner.tabulate import Tabulator
from optimizer.profile.circuit import INSTANT_TRIP_MULTIPLE
from optimizer.programme.plan import Inputs

SUPPLIES: dict[str, dict[str, Any]] = {
    "230 V": {},
    "120 V": {
        "machine__supply__voltage_v": {"nominal": 120.0, "low": 116.0, "high": 124.0},
        "machine__element__rated_v": 120.0,
        "circuit__voltage_v": 120.0,
        "circuit__rating_a": 20.0,
    },
}
"""An element of 1000 W and a pump of 60 W, power factor 0.7, on two mains."""

BY_HAND_A = {
    # element P·V/V_rated² at high voltage, pump P/(V·pf) and controller P/V at low voltage
    "230 V": (1000.0 * 234.0 / 230.0**2, 60.0 / (226.0 * 0.7), 3.0 / 226.0),
    "120 V": (1000.0 * 124.0 / 120.0**2, 60.0 / (116.0 * 0.7), 3.0 / 116.0),
}


def at(supply: str, **changes: Any) -> Inputs:
    return tiny(**(SUPPLIES[supply] | changes))


def with_left(supply: str, left_a: float, **changes: Any) -> Inputs:
    """Inputs whose circuit leaves so much for the machine."""
    return at(supply, circuit__rating_a=left_a + 0.2, **changes)


@pytest.mark.parametrize("supply", SUPPLIES)
class TestRunning:
    def test_by_hand(self, supply: str) -> None:
        """Ohm's law and name-plates."""
        inputs = at(supply)
        currents = Currents(inputs.machine, inputs.circuit)
        element_a, pump_a, controller_a = BY_HAND_A[supply]
        assert currents.running_a(Mode.WHILE_SPRAYING) == pytest.approx(element_a + pump_a + controller_a)
        assert currents.running_a(Mode.THEN_SPRAY) == pytest.approx(element_a + controller_a)
        assert currents.running_a(Mode.UNHEATED) == pytest.approx(pump_a + controller_a)

    @pytest.mark.parametrize("mode", [Mode.WHILE_SPRAYING, Mode.THEN_SPRAY])
    def test_a_mode_is_there_at_its_current_and_gone_a_step_below(self, supply: str, mode: Mode) -> None:
        needed_a = Currents(at(supply).machine, at(supply).circuit).running_a(mode)
        for left_a, there in ((needed_a + 1e-9, True), (needed_a - 0.01, False)):
            assessor = Assessor(with_left(supply, left_a))
            table = Tabulator(assessor).table()
            assert assessor.heats(mode) is there
            assert (mode not in table.blocked) is there
            assert any(option.mode is mode for options in table.options for option in options) is there

    def test_the_plan_follows(self, supply: str) -> None:
        """Dear time: heat while spraying where it fits; a hundredth of an ampere less, and never."""
        needed_a = Currents(at(supply).machine, at(supply).circuit).running_a(Mode.WHILE_SPRAYING)
        dear = {"tariff__value_per_min": 0.05}
        roomy, short = (
            plan(with_left(supply, left_a, **dear), search=FEW)
            for left_a in (needed_a + 1e-9, needed_a - 0.01)
        )
        assert any(row.spray_element_s for row in roomy.constants.rounds)
        assert not any(row.spray_element_s for row in short.constants.rounds)
        assert any(row.heat_s for row in short.constants.rounds)
        assert roomy.costs.peak_a <= roomy.inputs.circuit.available_a
        assert short.costs.peak_a <= short.inputs.circuit.available_a


class TestStarting:
    """A breaker may trip at once from its lowest instantaneous multiple on (IEC 60898-1: B 3, C 5, D 10)."""

    def test_multiples(self) -> None:
        assert INSTANT_TRIP_MULTIPLE == {"breaker_b": 3.0, "breaker_c": 5.0, "breaker_d": 10.0}

    @pytest.mark.parametrize("supply", SUPPLIES)
    @pytest.mark.parametrize("device", ["breaker_b", "breaker_c", "breaker_d"])
    def test_a_start_fits_below_the_multiple_and_not_above(self, supply: str, device: str) -> None:
        """Pump at its inrush, element beside it, controller and all else on the circuit."""
        element_a, pump_a, controller_a = BY_HAND_A[supply]
        rating_a = 6.0 if supply == "230 V" else 10.0
        free_a = INSTANT_TRIP_MULTIPLE[device] * rating_a - element_a - controller_a - 0.2
        for inrush, fits in ((free_a / pump_a - 0.01, True), (free_a / pump_a + 0.01, False)):
            changes = {
                "circuit__device": device,
                "circuit__rating_a": rating_a,
                "machine__wash_pump__inrush_multiple": min(inrush, 12.0),
                "machine__wash_pump__power_w": 60.0 * max(inrush / 12.0, 1.0),
            }
            inputs = at(supply, **changes)
            currents = Currents(inputs.machine, inputs.circuit)
            started_a = inputs.machine.wash_pump.inrush_multiple * currents.pump_a
            by_hand_a = started_a + element_a + controller_a + 0.2
            assert currents.starting_a(Mode.WHILE_SPRAYING) == pytest.approx(by_hand_a)
            starts = currents.starting_a(Mode.WHILE_SPRAYING) <= INSTANT_TRIP_MULTIPLE[device] * rating_a
            assert starts is fits
            runs = currents.running_a(Mode.WHILE_SPRAYING) <= inputs.circuit.available_a
            assert currents.fits(Mode.WHILE_SPRAYING) is (fits and runs)

    @pytest.mark.parametrize("device", ["breaker_d", "fuse_gg"])
    def test_an_inverter_gives_no_more_for_a_moment(self, device: str) -> None:
        """Its surge power over its voltage (no source), where the device lets more through."""
        needed_a = Currents(at("230 V").machine, at("230 V").circuit).starting_a(Mode.WHILE_SPRAYING)
        for momentary_a, fits in ((needed_a + 0.01, True), (needed_a - 0.01, False)):
            inputs = at("230 V", circuit__device=device, circuit__momentary_a=momentary_a)
            assert Currents(inputs.machine, inputs.circuit).fits(Mode.WHILE_SPRAYING) is fits

    def test_what_an_inverter_would_have_to_give(self) -> None:
        """The plan is there at the nearest value of the reason, and not a tenth of an ampere below."""
        inputs = shipped("clubhouse", "everyday", circuit__momentary_a=4.0)
        with pytest.raises(NoPlanError) as caught:
            plan(inputs)
        (reason,) = caught.value.reasons
        assert reason.requirement == "current as a pump starts"
        assert reason.asked == "4 A, the most that the inverter or the generator gives for a moment"
        nearest_a = float(reason.nearest.split()[0])
        assert Currents(inputs.machine, inputs.circuit.that_starts(nearest_a)).fits(Mode.UNHEATED)
        assert not Currents(inputs.machine, inputs.circuit.that_starts(nearest_a - 0.1)).fits(Mode.UNHEATED)

    @pytest.mark.parametrize(
        ("momentary_a", "asked_a", "expected"),
        [
            (None, 60.0, (20.0, None)),
            (25.0, 60.0, (20.0, 60.0)),
            (25.0, 28.0, (10.0, 28.0)),
            (70.0, 60.0, (20.0, 70.0)),
        ],
    )
    def test_a_circuit_made_just_large_enough(
        self, momentary_a: float | None, asked_a: float, expected: tuple[float, float | None]
    ) -> None:
        """10 A of class B let 30 A through (IEC 60898-1: 3 times); 60 A want 20 A of it."""
        gives = {} if momentary_a is None else {"circuit__momentary_a": momentary_a}
        fed = at("230 V", circuit__device="breaker_b", circuit__rating_a=10.0, **gives)
        larger = fed.circuit.that_starts(asked_a)
        assert (larger.rating_a, larger.momentary_a) == expected

    @pytest.mark.parametrize("device", ["fuse_gg", "fuse_plug"])
    def test_a_fuse_has_no_such_step(self, device: str) -> None:
        inputs = at("230 V", circuit__device=device, machine__wash_pump__inrush_multiple=12.0)
        assert Currents(inputs.machine, inputs.circuit).fits(Mode.WHILE_SPRAYING)

    @pytest.mark.parametrize("pump", ["wash_pump", "drain_pump"])
    def test_a_pump_that_trips_the_breaker_leaves_no_plan(self, pump: str) -> None:
        """Either pump; the reason gives both currents."""
        changes = {f"machine__{pump}__inrush_multiple": 12.0, f"machine__{pump}__power_w": 240.0}
        inputs = shipped("clubhouse", "everyday", **changes)
        with pytest.raises(NoPlanError) as caught:
            plan(inputs)
        (reason,) = caught.value.reasons
        assert reason.requirement == "current as a pump starts"
        assert reason.asked.startswith("18 A, 3 times the rating")
        factor = (
            inputs.machine.wash_pump.power_factor
            if pump == "wash_pump"
            else inputs.machine.drain_pump.power_factor
        )
        high_w = getattr(inputs.machine, pump).power_w.high
        by_hand_a = 12.0 * high_w / (225.0 * factor) + 3.0 / 225.0 + 1.2  # all else on the circuit
        assert float(reason.nearest.split()[0]) == pytest.approx(by_hand_a, abs=0.1)
