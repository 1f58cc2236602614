"""The report of the faults as a whole: which there are, with what they agree, that they repeat, how fast."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from check_cases import (
    THERMOSTAT,
    a_round,
    circuit,
    five_rounds,
    five_rounds_by_thermostat,
    goal,
    machine,
    programme,
)
from fault_cases import LEVEL, plain_machine
from kept_checks import no_bounds

from optimizer.check.certificate import Certificate
from optimizer.check.certify import check
from optimizer.check.faults.guard_words import (
    BATH_CUT_OUT,
    BATH_CUT_OUT_OR_NONE,
    ELECTRONIC,
    FLOAT_SWITCH,
    HOTTER_TANK,
    PIPE_OF_A_STUCK_SENSOR,
    PUMP_CUT_OUT,
    SHEATH_CUT_OUT,
    STANDS_IT,
)
from optimizer.check.faults.guards import Protection
from optimizer.check.faults.outcome import (
    SEVERITIES,
    FaultReport,
    FaultRow,
    guards_needed,
)
from optimizer.check.faults.run_faults import make_rig, run_faults
from optimizer.check.integrate import Simulation
from optimizer.check.phases import phases
from optimizer.check.worst_cases import FAULT_CORNERS, cases_at, fault_cases
from optimizer.errors import InputError
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.report.faults import fault_table

COLD = programme(a_round("prerinse"), a_round("wash", spray_s=1800, detergent_dg=300), a_round("rinse"))
WATER = [
    "inlet.shut",
    "inlet.open",
    "inlet.no_top_up",
    "drain.dead",
    "drain.slow",
    "drain.runs",
    "tank.leaks",
]
PUMP = ["pump.seized", "pump.runs", "pump.starved"]
SWITCH = ["level.open", "level.closed"]
SENSOR = ["sensor.cold", "sensor.hot"]
ELEMENT = ["element.dead", "element.on", "element.stays_on"]

KINDS = {
    "timed": (five_rounds(), machine(), [*WATER, *PUMP, *ELEMENT]),
    "thermostat and level switch": (
        five_rounds_by_thermostat(),
        machine(THERMOSTAT),
        [*WATER, *SWITCH, *PUMP, *SENSOR, *ELEMENT],
    ),
    "no element": (COLD, machine({"element": None}), [*WATER, *PUMP]),
    "no element, level switch": (
        replace(COLD, fill_control="level"),
        machine({"element": None, **LEVEL}),
        [*WATER, *SWITCH, *PUMP],
    ),
}


def faults(constants: Constants, rig: Machine) -> FaultReport:
    return run_faults(constants, rig, goal({"limits.duration_min": 180.0}), circuit())


def required(rig: Machine) -> tuple[str, ...]:
    """What is not optional: a report says the same (`test_every_part_has_its_faults…`)."""
    return Protection.of(COLD, rig, circuit()).required


@dataclass(frozen=True)
class Case:
    """A kind of machine with its programme, the faults it can have, and its report."""

    constants: Constants
    rig: Machine
    parts: list[str]
    report: FaultReport


@pytest.fixture(scope="module", params=KINDS.values(), ids=KINDS.keys())
def case(request: pytest.FixtureRequest) -> Case:
    constants, rig, parts = request.param
    return Case(constants, rig, parts, faults(constants, rig))


def test_every_part_has_its_faults_and_no_part_that_is_not_there(case: Case) -> None:
    heated = [*ELEMENT, *SENSOR]
    cuts = ["fill", "heat", "spray", "rest", "drain", "stand"]
    if not set(heated) & set(case.parts):
        cuts = ["fill", "spray", "drain"]
    sticks = ["sensor.sticks"] * (SENSOR[0] in case.parts)
    of_element = ["float.closed", "cut_out.closed", *sticks]
    last = ["overflow.dead", "lid.bridged", "earth.broken", "earth_fault.dead"]
    dead = [*of_element * bool(set(heated) & set(case.parts)), *last]
    powers = [f"power.{name}" for name in (*cuts, "returns")]
    assert [row.key for row in case.report.rows] == [
        *case.parts,
        *dead,
        "lid.open",
        "lid.held",
        "drain.dry",
        "drain.seized",
        "detergent.forgotten",
        "detergent.doubled",
        "detergent.misplaced",
        "ware.little",
        "circuit.compressor",
        *powers,
    ]
    assert case.report.not_optional == Protection.of(case.constants, case.rig, circuit()).required
    for row in case.report.rows:
        assert row.severity in SEVERITIES
        assert row.happens.endswith(".")
        # Damage and danger need a guard and have a moment; what the constants hold by themselves needs none.
        # A dead guard that nobody sees has to be tested, and harms at no moment of its own.
        hurts = row.severity in ("damage", "danger")
        assert bool(row.guard) == (hurts or row.severity == "latent")
        assert (row.severity == "latent") == (row.key in dead)
        assert (row.after_s is not None) == (row.round is not None) == hurts
        assert row.overflows == ("runs over" in row.happens)
        assert (row.uncovered_s > 0.0) == ("it burns" in row.happens)
        assert row.level_l <= case.rig.tank.capacity_l


def test_same_input_same_report() -> None:
    constants, rig, _ = KINDS["no element, level switch"]
    assert faults(constants, rig) == faults(constants, rig)


@pytest.mark.slow
def test_same_input_same_report_of_every_kind(case: Case) -> None:
    assert faults(case.constants, case.rig) == case.report


FREED = ("start_share", "response_still_s")


def worst(certificate: Certificate, key: str) -> float:
    return next(row.worst for row in certificate.rows if row.key == key)


def test_without_a_fault_the_run_is_that_of_the_certificate(case: Case) -> None:
    """At the certificate's worst point the hotter of two runs here is as hot as the certificate says.

    Faults are met in a first run; the certificate takes the hotter of two. The second begins where the last
    drain of the first one ends: tank and what it left still warm, the load wet and at room temperature.
    """
    with no_bounds():
        certificate = check(case.constants, case.rig, goal(), circuit(), draws=0)
    sound, hottest_c = case.report.sound, worst(certificate, "tank.bath_c")
    assert (sound.severity, sound.overflows, sound.uncovered_s) == ("harmless", False, 0.0)
    assert sound.level_l == pytest.approx(worst(certificate, "overflow.level_l"), abs=0.02)
    table = {name: np.array([value]) for name, value in certificate.worst_points["tank.bath_c"].items()}
    cases = cases_at(case.rig, ("worst point",), 1, table)
    few = make_rig(case.constants, case.rig, goal(), circuit())
    rig = replace(few, cases=cases)
    first = rig.observe(rig.asked).meter
    (*_, last_drain) = (number for number, phase in enumerate(rig.asked) if phase.name == "drain")
    warm = replace(first.ends[last_drain], ware_c=cases.room_c, film_kg=cases.film_kg)
    wet = replace(rig, cases=replace(cases, start_share=np.ones(1)))
    second = wet.observe(rig.asked, start=warm).meter
    assert max(first.hottest_c[0], second.hottest_c[0]) == pytest.approx(hottest_c, abs=0.005)
    # The few cases are at the same ends but for two quantities, whose hottest end depends on the programme:
    # a wet start brings water as warm as the room, and a ware that follows a still bath keeps its heat.
    assert sound.bath_c <= hottest_c + 0.005
    freed = {name: np.repeat(getattr(cases, name), few.cases.count) for name in FREED}
    few = replace(few, cases=replace(few.cases, **freed))
    few_c = few.observe(few.asked).meter.hottest_c.max()
    assert few_c == pytest.approx(first.hottest_c[0], abs=0.02)


def test_phases_delivered_as_asked_make_no_difference() -> None:
    constants, rig = five_rounds(), machine()
    simulation = Simulation(constants, fault_cases(rig), rig.tank.vent_m2)
    for usual, delivered in zip(simulation.run(), simulation.run(phases(constants)), strict=True):
        assert (usual.phase, usual.last) == (delivered.phase, delivered.last)
        for name in ("time_s", "bath_c", "ware_c", "water_kg"):
            assert (getattr(usual.samples, name) == getattr(delivered.samples, name)).all()


def test_cases_are_the_ends_of_the_tolerances() -> None:
    cases = fault_cases(machine())
    assert cases.names == (*FAULT_CORNERS, "nominal")
    assert list(cases.room_c) == [25.0, 25.0, 14.0, 14.0, 18.0]
    assert cases.flow_kg_per_s[0] > cases.flow_kg_per_s[4] > cases.flow_kg_per_s[1]
    assert cases.drain_l_per_s[0] < cases.drain_l_per_s[4] < cases.drain_l_per_s[1]
    assert list(cases.start_share) == [1.0, 0.0, 1.0, 0.0, 1.0]


def test_seven_guards_are_not_optional_whatever_the_programme() -> None:
    """Industrial tank-heater guidance: a plastic tank has a level control and a manual-reset cut-out besides.

    The RCD of 30 mA is that of IEC 60364-4-41 for socket circuits, type A of IEC 60364-5-53 (from memory).
    """
    rcd = "30 mA RCD (type A or better) ahead of the machine; press its test button each month"
    float_switch, on_sheath, in_bath, rim, lid, motor, last = required(machine())
    assert float_switch.startswith("float switch in series with the element")
    assert on_sheath.startswith("thermal cut-out with manual reset in series with the element")
    assert (
        "its feeler on the element's SHEATH, on its highest heated part, which falls dry first" in on_sheath
    )
    assert "in series with the element, its feeler in the bath, just under the least water, near" in in_bath
    assert "not at the bottom, for the limit of the tank" in in_bath
    assert rim.startswith("overflow switch under the lip that by itself closes a second valve, at the tap")
    assert lid.startswith("lid switch in the supply of pumps and element, its contacts rated for 6 A AC")
    assert motor.startswith("thermal protector or thermal fuse in the motor of each pump")
    assert last == rcd
    without = required(machine({"element": None}))
    assert without[1].startswith("lid switch in the supply of the pumps, its contacts rated for 6 A AC")
    assert (without[0], *without[2:]) == (rim.removesuffix(", and may scald"), motor, rcd)
    assert "(one that is shut without power)" in rim


def test_pumps_behind_a_power_supply_are_parted_on_its_low_voltage_side_too() -> None:
    """Common practice, no source: charged capacitors feed a motor on after their mains is cut."""
    supplied = {"inrush_multiple": None, "surge_a": 6.0, "stall_a": 0.4}
    changes = {f"wash_pump.{key}": value for key, value in supplied.items()}
    for rig, said in ((machine(), False), (machine(changes), True)):
        *_, lid, motor, _ = required(rig)
        assert ("of a wash pump behind a power supply it opens the low-voltage lead too" in lid) == said
        assert ("and behind a power supply a fuse in the low-voltage lead of each pump" in motor) == said
        assert ("(surge_a), which the relay that holds itself has to stand" in lid) == said
        volts = rig.supply.voltage_v.high
        # Ohm's law: 0.4 A of the mains is so much at 12 V, and half of it at 24.
        locked_w = math.ceil(0.4 * volts)
        at_12_a = math.ceil(locked_w / 1.2) / 10.0
        figures = f"({locked_w} W together, from stall_a: {at_12_a:g} A at 12 V, "
        assert (figures in lid and "takes up to 6 A from the mains" in lid) == said
    both = changes | {f"drain_pump.{key}": 2.0 * value for key, value in supplied.items() if value}
    *_, lid, _, _ = required(machine(both | {"drain_pump.inrush_multiple": None}))
    assert "A of it motors" not in lid
    assert f"({math.ceil(1.2 * volts)} W together, from stall_a" in lid
    assert "takes up to 18 A from the mains" in lid


@pytest.mark.parametrize(("water_c", "scalds"), [(44.9, False), (60.0, True)])
def test_a_lid_that_is_opened_is_a_danger_cold_or_not(water_c: float, scalds: bool) -> None:
    """It scalds from 45 °C on (no source, our choice); cold water meets mains parts and a person too."""
    rig = plain_machine({"element": None, "inlet.water_c": water_c, "room.air_c": 40.0})
    found = faults(COLD, rig)
    row = next(row for row in found.rows if row.key == "lid.open")
    assert row.severity == "danger"
    assert row.guards == ("lid switch in the supply of the pumps",)
    assert (row.round, row.after_s) == (1, 0.0)
    assert "sprays over the floor, mains parts" in row.happens
    assert ("it scalds" in row.happens) == scalds
    assert any(one.startswith("lid switch in the supply of the pumps") for one in found.not_optional)
    assert any(row.key == "lid.bridged" for row in found.rows)


def test_nothing_is_said_of_an_element_that_is_not_there(case: Case) -> None:
    """Neither a guard in series with it, nor how long it is bare, nor that it burns."""
    text = fault_table(case.report)
    assert ("element" in text) == ("bare" in text) == (case.rig.element is not None)
    assert ("burns" in text) == (case.rig.element is not None)


def test_without_an_element_the_cut_out_is_in_series_with_the_pump_that_heats() -> None:
    """1500 W of pump on what is left in the sump: 0.6 l and a tank of 4.5 kJ/K pass 40 °C within minutes."""
    rig = plain_machine(
        {"element": None, "wash_pump.heat_share": 1.0, "wash_pump.power_w": 1500.0, "tank.limit_c": 40.0}
    )
    rows = {row.key: row for row in faults(COLD, rig).rows}
    assert rows["inlet.shut"].severity == "danger"
    assert PUMP_CUT_OUT in rows["inlet.shut"].guards
    assert not any("element" in guard for row in rows.values() for guard in row.guards)


def test_guards_come_once_those_against_the_worst_first() -> None:
    found = faults(five_rounds(), machine())
    guards = guards_needed(found)
    assert guards[:7] == list(found.not_optional)
    assert len(set(guards)) == len(guards)
    named = {guard for row in found.rows for guard in row.guards}
    assert all(any(guard.startswith(name) for guard in guards) for name in named)
    assert not {FLOAT_SWITCH, SHEATH_CUT_OUT, BATH_CUT_OUT} & set(guards), "said once, and with what to buy"
    danger = FaultRow("b", "", "", "danger", 1.0, 1, 20.0, 1.0, False, 9.0, ("against danger",))
    damage = replace(danger, key="a", severity="damage", guards=("against damage", "float"))
    small = replace(found, rows=(damage, danger), not_optional=("float",))
    assert guards_needed(small) == ["float", "against danger", "against damage"]


def test_what_is_not_optional_or_no_guard_is_not_asked_for_besides() -> None:
    """An electronic cut-out stands within a sentence; that a tank needs nothing is no guard."""
    found = faults(five_rounds(), machine())
    asked = (f"{ELECTRONIC}, or {HOTTER_TANK}", STANDS_IT, BATH_CUT_OUT_OR_NONE, "against danger")
    danger = FaultRow("b", "", "", "danger", 1.0, 1, 20.0, 1.0, False, 9.0, asked)
    must = f"for the tank no other. Besides an {ELECTRONIC}, ± 1 K"
    small = replace(found, rows=(danger,), not_optional=(must,))
    assert guards_needed(small) == [must, "against danger"]
    # Where it is not named, it is asked for.
    assert guards_needed(replace(small, not_optional=("float",))) == ["float", asked[0], "against danger"]


def test_what_the_programme_misses_by_itself_is_not_blamed_on_a_fault() -> None:
    """No dose is reached in a minute of cold spray; a slow drain that empties the tank changes nothing."""
    constants = programme(a_round("wash", spray_s=60, drain_s=200))
    found = run_faults(constants, plain_machine(), goal(), circuit())
    assert {row.key: row for row in found.rows}["drain.slow"].severity == "harmless"


def test_constants_for_another_kind_of_machine_are_refused() -> None:
    with pytest.raises(InputError, match="control"):
        run_faults(five_rounds_by_thermostat(), machine(), goal(), circuit())


@pytest.mark.parametrize(
    ("pipe_c", "words"),
    [(40.0, "The pipe stands 40 °C. Before you start again read the bath with another thermometer"),
     (60.0, "The pipe stands 60 °C. Before you start again read the bath with another thermometer"),
     (90.0, "The pipe stands 90 °C."), (100.0, "The drain pipe stands the boil")],
)  # fmt: skip
def test_a_sensor_that_sticks_cold_is_said_to_be_believed(pipe_c: float, words: str) -> None:
    """With the element off no controller finds it; what then goes down the drain hangs on the pipe.

    By hand: at most 58.5 °C, 55 and what a sensor may err, in a sound run; then 945 W at 240 V for 230 are on
    for ten minutes more, in water of a level switch at 10 l and a tank of 4 kJ/K at the least.
    """
    heated = a_round("wash", fill_s=120, heat_s=2400, setpoint_dc=550)
    table = programme(heated, control="thermostat", fill_control="level", hysteresis_dk=10)
    found = faults(table, machine(THERMOSTAT | {"drain_pump.drain_limit_c": pipe_c}))
    (row,) = [row for row in found.rows if row.key == "sensor.sticks"]
    assert "stood still for 10 min 0 s" in row.happens
    assert "the reading is believed" in row.happens
    too_hot = pipe_c <= 60.0
    assert ("the lid opened away from your face" in row.happens) == too_hot
    assert ("Never put a hand in the bath or on the tank" in row.happens) == too_hot
    assert "feel before" not in row.happens
    assert words in row.happens
    if pipe_c < 100.0:
        hottest_c = float(row.happens.split("bath of up to ")[1].split()[0])
        assert 60.0 < hottest_c < 58.5 + 600.0 * 1030.0 / (10.0 * 4180.0 + 4000.0) + 3.5
        assert hottest_c == row.bath_c, "one bath, one number"
        assert (PIPE_OF_A_STUCK_SENSOR in row.guards) == (row.bath_c > pipe_c)
    assert "round of steam" not in row.happens
    assert (row.severity, row.guard.split(" with")[0]) == ("latent", "sensor compared")


@pytest.mark.parametrize(("tank_c", "told"), [(64.0, True), (84.0, False)])
def test_a_stuck_sensor_whose_bath_is_too_hot_for_the_tank_asks_for_a_cut_out(
    tank_c: float, told: bool
) -> None:
    """The bath of the test above: up to 72 °C or so."""
    heated = a_round("wash", fill_s=120, heat_s=2400, setpoint_dc=550)
    table = programme(heated, control="thermostat", fill_control="level", hysteresis_dk=10)
    found = faults(table, machine(THERMOSTAT | {"tank.limit_c": tank_c}))
    (row,) = [row for row in found.rows if row.key == "sensor.sticks"]
    assert (f"The tank stands {tank_c:g} °C." in row.happens) == told
    assert any("in the bath" in guard for guard in row.guards) == told
