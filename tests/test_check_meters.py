"""Meters fed with courses written by hand: what each of them keeps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, a_round, goal, machine, programme
from iapws import IAPWS97

from optimizer.check.box import box_of
from optimizer.check.equations import Samples
from optimizer.check.integrate import Stretch
from optimizer.check.meters import DoseMeter, HeatMeter, Recorder, WaterMeter
from optimizer.check.phases import OFF, Outputs, Phase
from optimizer.check.sensor_meter import HottestOfRounds, SensorMeter
from optimizer.check.worst_cases import Cases

KG_PER_L = float(IAPWS97(T=293.15, P=0.101325).rho) / 1000.0
"""Water at 20 °C, which is what a litre on kitchen scales weighs (IAPWS-IF97, package iapws)."""
TABLE = programme(a_round("prerinse"), a_round("wash"), a_round("rinse"))
PUMP = Outputs(wash_pump=True)


def cases(changes: dict[str, Any] | None = None, **values: float) -> Cases:
    """The nominal case alone: 0.2 l of film, 0.6 l in the sump, 1.5 l held up."""
    box = box_of(machine(changes))
    return replace(
        box.cases(box.nominal[None]), **{name: np.array([value]) for name, value in values.items()}
    )


def stretch(
    phase: Phase,
    time_s: list[float],
    bath_c: list[float],
    water_l: list[float],
    *,
    last: bool = True,
    ware_c: float = 20.0,
) -> Stretch:
    """A stretch of the nominal case, its water in litres at 20 °C."""
    time, bath, water = (np.array([values], dtype=float) for values in (time_s, bath_c, water_l))
    samples = Samples(time, bath, np.full_like(time, ware_c), water * KG_PER_L, np.zeros(1))
    return Stretch(phase, last, np.array([phase.outputs.element]), samples)


def water_meter(*stretches: Stretch, **changes: Any) -> WaterMeter:
    rig = machine({f"element.{name}": value for name, value in changes.items()})
    meter = WaterMeter(cases(), rig.element)
    for one in stretches:
        meter.add(one)
    return meter


def test_the_most_and_the_least_water_wherever_in_a_stretch() -> None:
    spray = Phase("spray", 1, 60, PUMP, wet=True)
    meter = water_meter(stretch(spray, [0, 20, 40, 60], [20.0] * 4, [10.0, 12.0, 9.0, 11.0]))
    assert meter.fullest_l[0] == pytest.approx(12.0, abs=1e-3)
    # The film of 0.2 l hangs on the ware, 1.5 l are in the air.
    assert meter.suction_l[0] == pytest.approx(9.0 - 1.7, abs=1e-3)
    assert meter.element_l[0] == np.inf


def test_a_still_bath_holds_nothing_up_and_covers_the_element_alone() -> None:
    heat = Phase("heat", 1, 60, Outputs(element=True), wet=True)
    meter = water_meter(stretch(heat, [0, 30, 60], [20.0] * 3, [10.0, 8.0, 9.0]))
    assert meter.element_l[0] == pytest.approx(7.8, abs=1e-3)
    assert meter.suction_l[0] == np.inf


def test_what_lasted_no_time_or_was_not_wet_does_not_count() -> None:
    heat = Phase("heat", 1, 60, replace(PUMP, element=True), wet=True)
    drain = Phase("drain", 1, 60, Outputs(drain_pump=True))
    meter = water_meter(
        stretch(heat, [0, 0], [20.0] * 2, [1.0] * 2), stretch(drain, [0, 60], [20.0] * 2, [40.0] * 2)
    )
    assert (meter.element_l[0], meter.suction_l[0]) == (np.inf, np.inf)
    assert meter.fullest_l[0] == pytest.approx(1.0, abs=1e-3)


def test_the_pool_boils_dry_by_the_steam_table() -> None:
    """By hand: of 8.7 l 0.2 hang on the ware, 0.25 splash about, 7.5 cover: 0.75 l at 900 W after 400 s.

    A litre of water at the boil is 0.958 kg at 2257 kJ/kg (IAPWS-IF97, package iapws).
    """
    liquid, vapour = IAPWS97(T=373.124, x=0), IAPWS97(T=373.124, x=1)
    j_per_l = liquid.rho * (vapour.h - liquid.h)
    steam = Phase("heat", 1, 900, Outputs(element=True), wet=True, steam=True)
    heating = stretch(steam, [0, 400], [20.0, 20.0], [8.7, 8.7], last=False)
    boiling = stretch(steam, [0, 500], [20.0, 20.0], [8.7, 8.3])
    meter = water_meter(heating, boiling, splash_l=0.25)
    assert meter.uncovered_s[0] == pytest.approx(400.0 + 0.75 * j_per_l / 900.0, rel=2e-3)
    assert 2150.0 < meter.uncovered_s[0] < 2250.0
    # What splashes about does not cover.
    assert meter.element_l[0] == pytest.approx(8.3 - 0.2 - 0.25, abs=1e-3)
    assert water_meter(boiling, splash_l=0.25).uncovered_s[0] == np.inf


def test_without_steam_nothing_splashes() -> None:
    heat = Phase("heat", 1, 900, Outputs(element=True), wet=True)
    heated = stretch(heat, [0, 400], [20.0, 20.0], [8.7, 8.7], last=False)
    meter = water_meter(heated, splash_l=0.25)
    assert meter.element_l[0] == pytest.approx(8.5, abs=1e-3)
    assert meter.uncovered_s[0] == np.inf


def drained(number: int, full_l: float, left_l: float) -> tuple[Stretch, Stretch]:
    drain = Phase("drain", number, 60, Outputs(drain_pump=True), sprayed=True)
    return (
        stretch(drain, [0, 40], [20.0] * 2, [full_l, left_l], last=False),
        stretch(drain, [0, 20], [20.0] * 2, [left_l, left_l]),
    )


def test_what_a_drain_leaves() -> None:
    """All water, but in the first round what was let in; litres above the carry-over of 0.8."""
    meter = water_meter(*drained(0, 10.8, 1.0), *drained(1, 10.0, 1.5), *drained(2, 10.0, 0.8))
    shares = [left[0] / full[0] for left, full in zip(meter.left_kg, meter.full_kg, strict=True)]
    assert shares == pytest.approx([1.0 / 10.0, 0.15, 0.08], rel=1e-3)
    # 0.7 l above it, as litres of the inlet at 12 °C.
    cold = float(IAPWS97(T=285.15, P=0.101325).rho) / 1000.0
    assert meter.undrained_l[0] == pytest.approx(0.7 * KG_PER_L / cold, abs=3e-4)
    assert water_meter(*drained(1, 10.0, 0.5)).undrained_l[0] == 0.0


def test_the_start_drain_is_not_a_round() -> None:
    assert water_meter(*drained(-1, 10.0, 2.0)).full_kg == []


def test_water_let_in() -> None:
    """6 l/min for 20 and 50 s: 7 l; nothing while the inlet is closed."""
    fill, spray = Phase("fill", 0, 60, Outputs(inlet=True), wet=True), Phase("spray", 0, 60, PUMP, wet=True)
    meter = water_meter(
        stretch(fill, [0, 20], [20.0] * 2, [0.8, 2.8]), stretch(fill, [0, 50], [20.0] * 2, [2.8, 7.8]),
        stretch(spray, [0, 60], [20.0] * 2, [7.8, 7.8]),
    )  # fmt: skip
    assert meter.filled_l[0] == pytest.approx(7.0)


def heat_meter(*stretches: Stretch, **values: float) -> HeatMeter:
    meter = HeatMeter(TABLE, cases(**values))
    for one in stretches:
        meter.add(one)
    return meter


def test_the_hottest_bath_wherever_in_a_stretch() -> None:
    spray = Phase("spray", 0, 60, PUMP, wet=True)
    meter = heat_meter(stretch(spray, [0, 20, 40], [30.0, 61.0, 55.0], [9.0] * 3))
    assert (meter.hottest_c[0], meter.prerinse_c[0]) == (61.0, 61.0)
    assert (
        heat_meter(stretch(replace(spray, round=1), [0, 1], [61.0] * 2, [9.0] * 2)).prerinse_c[0] == -np.inf
    )
    still = Phase("rest", 0, 60, wet=True)
    assert heat_meter(stretch(still, [0, 1], [61.0] * 2, [9.0] * 2)).prerinse_c[0] == -np.inf
    both = heat_meter(
        stretch(spray, [0, 1], [61.0] * 2, [9.0] * 2), stretch(spray, [0, 1], [50.0] * 2, [9.0] * 2)
    )
    assert (both.hottest_c[0], both.prerinse_c[0]) == (61.0, 61.0)


@pytest.mark.parametrize(
    ("on", "bath_c", "hottest_c"),
    [
        (Outputs(element=True), 60.0, 64.0),
        (Outputs(element=True, wash_pump=True), 60.0, 60.0),  # the pump mixes it
        (OFF, 60.0, 60.0),  # nothing heats it
        (Outputs(element=True), 98.0, 100.0),  # the top boils
        (Outputs(element=True), 101.0, 101.0),
    ],
)
def test_the_top_of_a_bath_in_layers(on: Outputs, bath_c: float, hottest_c: float) -> None:
    meter = heat_meter(
        stretch(Phase("heat", 1, 9, on, wet=True), [0, 9], [20.0, bath_c], [9.0] * 2), top_over_mean_k=4.0
    )
    assert meter.hottest_c[0] == pytest.approx(hottest_c, abs=0.05)


def test_heat_of_the_ware_at_the_last_drain_and_time_to_it() -> None:
    """4 kg of porcelain at 1.05 kJ/(kg K), 42 °C above a room of 18 °C: 176 kJ. The standing is not in it."""
    drain = Phase("drain", 2, 70, Outputs(drain_pump=True))
    stand = Phase("stand", 2, 600)
    meter = heat_meter(
        stretch(drain, [0, 40], [50.0] * 2, [9.0, 1.0], last=False, ware_c=70.0),
        stretch(drain, [0, 30], [50.0] * 2, [1.0, 1.0], ware_c=60.0),
        stretch(stand, [0, 600], [90.0] * 2, [1.0] * 2, ware_c=20.0),
    )
    assert meter.ware_heat_j[0] == pytest.approx(4.0 * 1050.0 * 42.0)
    assert meter.elapsed_s[0] == 70.0
    assert meter.hottest_c[0] == 50.0


def test_a_phase_that_ends_early_lasts_as_long_as_it_ran() -> None:
    heat = Phase("heat", 1, 900, Outputs(element=True), end="setpoint", wet=True)
    meter = heat_meter(*[stretch(heat, [0, 40], [50.0] * 2, [9.0] * 2)] * 2)
    assert meter.elapsed_s[0] == 80.0


@pytest.mark.parametrize(
    ("on", "bath_c", "reads_c"),
    [
        (Outputs(element=True), 60.0, 60.0 + 3.0 + 0.7),
        (Outputs(element=True, wash_pump=True), 60.0, 60.7),
        (OFF, 60.0, 60.7),
        (Outputs(element=True), 98.0, 100.7),
    ],
)
def test_what_the_sensor_reads(on: Outputs, bath_c: float, reads_c: float) -> None:
    sensed = cases(THERMOSTAT, sensor_over_mean_k=3.0, sensor_error_k=0.7)
    meter = SensorMeter(TABLE, sensed)
    meter.add(stretch(Phase("heat", 1, 9, on, wet=True), [0, 4, 9], [20.0, bath_c, 30.0], [9.0] * 3))
    meter.add(stretch(Phase("stand", 1, 9), [0, 9], [99.0] * 2, [9.0] * 2))
    assert meter.hottest_c[0] == pytest.approx(reads_c, abs=0.05)
    assert meter.heating_s == {}


def test_the_hottest_bath_of_each_round_but_for_its_drain() -> None:
    """62 °C in the middle of a spray; a bath of 70 °C that drains was as hot before."""
    meter = HottestOfRounds(TABLE, cases())
    for phase, baths_c in (
        (Phase("spray", 1, 9, PUMP, wet=True), [40.0, 62.0, 50.0]),
        (Phase("gap", 1, 9, wet=True), [50.0, 49.0, 48.0]),
        (Phase("drain", 1, 9), [70.0, 70.0, 70.0]),
        (Phase("fill", 2, 9), [15.0, 14.0, 13.0]),
    ):
        meter.add(stretch(phase, [0, 4, 9], baths_c, [9.0] * 3))
    assert meter.hottest_c[:, 0].tolist() == [-np.inf, 62.0, 15.0]


def test_how_long_a_heating_took() -> None:
    meter = SensorMeter(TABLE, cases(THERMOSTAT))
    meter.add(
        stretch(Phase("heat", 1, 900, Outputs(element=True), "setpoint"), [0, 400], [20.0, 55.0], [9.0] * 2)
    )
    assert {number: float(taken_s[0]) for number, taken_s in meter.heating_s.items()} == {1: 400.0}


def test_a_trace_has_a_sample_a_second_of_the_case_asked_for() -> None:
    recorder = Recorder(case=0)
    recorder.add(stretch(Phase("heat", 1, 4, Outputs(element=True)), [0, 4], [20.0, 28.0], [9.0, 9.0]))
    recorder.add(stretch(Phase("spray", 1, 2, PUMP), [0, 2], [28.0, 26.0], [9.0, 8.0], ware_c=25.0))
    trace = recorder.trace()
    assert trace.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert trace.bath_c == pytest.approx([20.0, 22.0, 24.0, 26.0, 28.0, 27.0, 26.0], abs=1e-4)
    assert trace.ware_c == pytest.approx([20.0] * 4 + [25.0] * 3, abs=1e-3)
    assert trace.element.tolist() == [True] * 4 + [False] * 3
    assert trace.wash_pump.tolist() == [False] * 4 + [True] * 2 + [False]
    assert not trace.inlet.any()
    assert not trace.drain_pump.any()
    assert trace.level_l[0] == pytest.approx(9.0, abs=1e-3)


def test_doses_by_the_second_at_their_reference() -> None:
    """At 50 °C milk counts 1 a second in a wash with detergent, a fifth of it while it soaks; z is 49 K."""
    table = programme(a_round("prerinse"), a_round("wash", detergent_dg=300), a_round("rinse"))
    spray, soak = Phase("spray", 1, 60, PUMP, sprayed=True), Phase("soak", 1, 60, sprayed=True)

    def milk_s(*phases: Phase, ware_c: float = 50.0) -> float:
        meter = DoseMeter(goal(), table, cases())
        for phase in phases:
            meter.add(stretch(phase, [0, 60], [50.0] * 2, [9.0] * 2, ware_c=ware_c))
        return float(meter.doses_s["milk"][0])

    assert milk_s(spray) == pytest.approx(60.0)
    assert milk_s(spray, soak) == pytest.approx(60.0 + 12.0)
    assert milk_s(spray, ware_c=99.0) == pytest.approx(600.0)
    assert milk_s(replace(spray, round=0), replace(spray, round=2), replace(spray, sprayed=False)) == 0.0


def test_hygiene_is_earned_in_rinses_alone() -> None:
    """A0: one a second at 80 °C (ISO 15883-1), whether the pump runs or not, from the first spray on."""
    meter = DoseMeter(goal({"hygiene": {"method": "a0", "target_s": 60.0}}), TABLE, cases())
    for number in (0, 1, 2):
        spray = Phase("spray", number, 60, PUMP, sprayed=True)
        for phase in (spray, replace(spray, outputs=OFF), replace(spray, sprayed=False)):
            meter.add(stretch(phase, [0, 60], [50.0] * 2, [9.0] * 2, ware_c=80.0))
    assert meter.hygiene_s[0] == pytest.approx(120.0)
