"""The phases of the check: their order, conflicts of outputs, and constants for another kind of machine."""

from __future__ import annotations

from dataclasses import replace

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

from optimizer.check.certify import check, misfits
from optimizer.check.phases import OFF, Outputs, Phase, conflicts, phases
from optimizer.errors import InputError
from optimizer.programme.constants import Constants, Kind

THERMOSTAT_ALONE = {"element.control": "thermostat", "element.sensor_error_k": 1.0}


def test_phases_follow_the_table() -> None:
    table = programme(
        a_round("wash", fill_s=100, heat_s=200, spray_s=300, spray_element_s=120, rest_s=40, drain_s=70),
        stand_s=50,
    )
    found = [(phase.name, phase.longest_s, phase.outputs) for phase in phases(table)]
    gap = ("gap", 2, OFF)
    assert found == [
        ("drain", 10, Outputs(drain_pump=True)), gap,
        ("fill", 100, Outputs(inlet=True)), gap,
        ("heat", 200, Outputs(element=True)), gap,
        ("spray", 120, Outputs(wash_pump=True, element=True)),
        ("spray", 180, Outputs(wash_pump=True)), gap,
        ("rest", 40, OFF), gap,
        ("drain", 70, Outputs(drain_pump=True)),
        ("stand", 50, OFF),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("control", "fill_control", "ends"),
    [
        ("timed", "timed", {"fill": "time", "heat": "time", "steam": "time"}),
        ("thermostat", "timed", {"fill": "time", "heat": "setpoint", "steam": "time"}),
        ("timed", "level", {"fill": "level", "heat": "time", "steam": "time"}),
    ],
)
def test_what_ends_a_phase(control: str, fill_control: str, ends: dict[str, str]) -> None:
    """A sensor ends a heating of a thermostat, but not the boiling of a pool; a switch ends a fill."""
    rounds = a_round("wash", heat_s=9, spray_element_s=9), a_round("steam", heat_s=9, spray_s=0)
    found = phases(programme(*rounds, control=control, fill_control=fill_control))
    assert {"steam" if p.steam else p.name: p.end for p in found if p.name in ("fill", "heat")} == ends
    assert {p.end for p in found if p.name not in ("fill", "heat")} == {"time"}
    assert {(p.outputs.element, p.cycles) for p in found if p.name == "spray"} == {
        (True, control == "thermostat"), (False, False),
    }  # fmt: skip


def test_a_phase_of_no_length_takes_its_gap_along() -> None:
    found = [phase.name for phase in phases(programme(a_round("rinse")))]
    assert found == ["drain", "gap", "fill", "gap", "spray", "gap", "drain"]


def test_doses_count_from_the_spray_to_the_end_of_the_drain() -> None:
    found = {(p.name, p.sprayed, p.wet) for p in phases(programme(a_round("wash", heat_s=9, rest_s=9)))}
    counting = {name for name, sprayed, _ in found if sprayed}
    assert counting == {"spray", "gap", "rest", "drain"}
    assert ("gap", False, False) in found
    assert ("drain", False, False) in found
    assert {("fill", False, True), ("gap", False, True), ("heat", False, True)} <= found


def test_the_shortest_well_formed_programme_has_no_conflict() -> None:
    assert conflicts(phases(programme(a_round("rinse"), gap_s=1)), ("rinse",), 30) == []


@pytest.mark.parametrize(
    ("outputs", "words"),
    [
        (Outputs(inlet=True, element=True), "element on while filling"),
        (Outputs(drain_pump=True, element=True), "element on while filling or draining"),
        (Outputs(inlet=True, drain_pump=True), "inlet and drain pump on together"),
        (Outputs(wash_pump=True, drain_pump=True), "two motors start in the same second"),
    ],
)
def test_conflicts_of_outputs(outputs: Outputs, words: str) -> None:
    found = conflicts([Phase("rest", 0, 60, outputs)], ("wash",), 0)
    assert any(words in line for line in found)


def test_a_motor_that_starts_as_another_stops_is_no_conflict_but_two_starts_are() -> None:
    spray = Phase("spray", 0, 60, Outputs(wash_pump=True))
    drain = Phase("drain", 0, 60, Outputs(drain_pump=True))
    assert conflicts([spray, drain], ("wash",), 0) == []
    assert conflicts([replace(spray, longest_s=0), drain], ("wash",), 0) != []


@pytest.mark.parametrize(
    ("number", "kinds", "where"),
    [(-1, ("wash",), "start"), (0, ("wash",), "wash (round 1)"), (1, ("wash", "rinse"), "rinse (round 2)")],
)
def test_a_conflict_says_where(number: int, kinds: tuple[Kind, ...], where: str) -> None:
    both = Phase("rest", number, 60, Outputs(inlet=True, element=True))
    assert conflicts([both], kinds, 0) == [f"{where}: element on while filling or draining"]
    if number >= 0:
        hot = [
            Phase("heat", number, 60, Outputs(element=True)),
            Phase("gap", number, 9),
            Phase("drain", number, 60),
        ]
        assert conflicts(hot, kinds, 10) == [f"{where}: element off for 9 s before the drain, 10 s needed"]
        assert conflicts(hot, kinds, 9) == []


@pytest.mark.parametrize(
    ("plain_s", "rest_s", "count"), [(0, 26, 0), (0, 25, 1), (28, 0, 0), (27, 0, 1), (0, 0, 1)]
)
def test_the_element_rests_before_the_drain(plain_s: int, rest_s: int, count: int) -> None:
    # 30 s asked; one gap of 2 s before the drain, two where there is a rest.
    table = programme(
        a_round("wash", spray_s=300, spray_element_s=300 - plain_s, rest_s=rest_s), a_round("rinse")
    )
    assert len(conflicts(phases(table), ("wash", "rinse"), 30)) == count


def test_a_hot_drain_is_counted_once_and_not_for_the_cold_round_after() -> None:
    table = programme(a_round("wash", spray_element_s=300), a_round("rinse"))
    assert len(conflicts(phases(table), ("wash", "rinse"), 600)) == 1


def issue_keys(constants: Constants, changes: dict[str, object]) -> list[str]:
    with pytest.raises(InputError) as caught:
        check(constants, machine(changes), goal(), circuit())
    return [issue.key for issue in caught.value.issues]


def test_constants_for_another_kind_of_machine_are_refused() -> None:
    heated = five_rounds()
    assert issue_keys(heated, dict(THERMOSTAT)) == ["control", "fill_control"]
    assert issue_keys(heated, {"element": None}) == ["rounds[2]", "rounds[5]"]
    thermostat = replace(heated, control="thermostat")
    assert "hysteresis_dk" in issue_keys(thermostat, THERMOSTAT_ALONE)
    assert "rounds[2].setpoint_dc" in issue_keys(thermostat, THERMOSTAT_ALONE)
    assert issue_keys(programme(a_round("wash", setpoint_dc=500)), {}) == ["rounds[1].setpoint_dc"]
    assert issue_keys(programme(), {}) == ["rounds"]


@pytest.mark.parametrize(
    ("changes", "table", "words"),
    [
        (THERMOSTAT_ALONE, five_rounds(), "the machine's element is controlled by a thermostat"),
        ({}, five_rounds_by_thermostat(), "the machine's element is controlled by time"),
        ({}, five_rounds_by_thermostat(), "the machine's inlet is controlled by time"),
        (THERMOSTAT, five_rounds(), "the machine's inlet is controlled by level"),
        ({"element": None}, five_rounds_by_thermostat(), "a machine without an element is timed"),
        (THERMOSTAT, replace(five_rounds_by_thermostat(), hysteresis_dk=11), "is a wider gap"),
    ],
)
def test_what_does_not_fit_is_said(changes: dict[str, object], table: Constants, words: str) -> None:
    assert any(words in issue.rule for issue in misfits(table, machine(changes)))


def test_a_gap_as_wide_as_measured_or_less_fits() -> None:
    """1 K was measured."""
    for hysteresis_dk in (1, 5, 10):
        table = replace(five_rounds_by_thermostat(), hysteresis_dk=hysteresis_dk)
        assert misfits(table, machine(THERMOSTAT)) == []


def test_a_tank_that_gets_hotter_than_its_sensor_reads_is_told_so() -> None:
    """75 °C less 1 K of error; a timed machine has no sensor that could be off, and no watchdog of it."""
    held = replace(five_rounds_by_thermostat(), bath_max_dc=741)
    (issue,) = misfits(held, machine(THERMOSTAT))
    assert issue.rule == "the tank stands 75 °C, and its water may be 1 K hotter than the sensor reads"
    (issue,) = misfits(replace(five_rounds(), bath_max_dc=751), machine())
    assert "nothing reads the bath" in issue.rule


def test_a_bench_run_is_refused_unless_one_is_expected() -> None:
    rehearsed = replace(five_rounds(), bench_run=True)
    assert [issue.key for issue in misfits(rehearsed, machine())] == ["bench_run"]
    assert misfits(rehearsed, machine(), bench_run=True) == []
