"""The table of the faults, as text and as data."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache

import pytest
from check_cases import THERMOSTAT, circuit, five_rounds_by_thermostat, goal, machine
from fault_cases import row as row_of
from width_cases import assert_fits

from optimizer.check.faults import kept_hot
from optimizer.check.faults.catalogue import catalogue
from optimizer.check.faults.contacts_to_buy import lid_tested
from optimizer.check.faults.cool_start import CoolStart, cool_start
from optimizer.check.faults.guard_words import CONTACTORS_TESTED, FLOAT_TESTED, LID_TESTED_AT_THE_MAINS
from optimizer.check.faults.kept_hot import STICKS
from optimizer.check.faults.outcome import FaultReport, FaultRow, guards_needed
from optimizer.check.faults.run_faults import make_rig, run_faults
from optimizer.report.faults import fault_table, faults_to_dict

FLOAT = "float switch in series with the element"
SOUND = FaultRow("none", "no fault", "", "harmless", None, None, 61.3, 10.8, False, 0.0, ())
ROWS = (
    replace(SOUND, key="inlet.shut", fault="inlet stays shut", happens="No water comes in. " * 9,
            severity="danger", after_s=365.4, round=2, bath_c=28.8, level_l=1.25, uncovered_s=1935.0,
            guards=(FLOAT, "level or flow switch " * 4)),
    replace(SOUND, key="inlet.open", fault="inlet does not close", happens="Water runs.", severity="damage",
            after_s=5.0, round=1, bath_c=52.0, level_l=28.0, overflows=True, guards=("second valve",)),
    replace(SOUND, key="drain.slow", fault="drain slow", happens="Not as asked.", severity="spoils the wash",
            bath_c=50.7, level_l=24.3),
    replace(SOUND, key="sensor.cold", fault="sensor reads cold", happens="Nothing.", bath_c=81.0,
            level_l=8.4),
    replace(SOUND, key="float.closed", fault="float stuck", happens="Unseen.", severity="latent",
            guards=("float tested",)),
)  # fmt: skip
REPORT = FaultReport(SOUND, ROWS, (FLOAT, "RCD"), ("hot, much water", "nominal"))


def test_each_fault_has_its_mark_its_numbers_and_its_guard() -> None:
    lines = fault_table(REPORT).splitlines()
    assert lines[0] == "SINGLE FAULTS, each alone with the constants, worst of 2 cases"
    assert lines[1].split() == ["after", "round", "bath", "level", "bare"]
    assert lines[2].split() == ["m:ss", "°C", "l", "m:ss"]
    at = lines.index("DANGER  inlet stays shut")
    assert lines[at + 1].split() == ["6:05", "2", "29", "1.2", "32:15+"]
    assert lines[lines.index("DAMAGE  inlet does not close") + 1].split() == ["0:05", "1", "52", "28.0+", "-"]
    assert lines[lines.index("spoils  drain slow") + 1].split() == ["-", "-", "51", "24.3", "-"]
    assert lines[lines.index("holds   sensor reads cold") + 1].split() == ["-", "-", "81", "8.4", "-"]
    assert "        guard: second valve" in lines
    # What a run showed of a bare element is no bound: its sentence says "or more", and so does its column.
    assert "(+: for so long or longer)" in " ".join(" ".join(lines).split())
    assert sum(line.startswith("        guard: ") for line in lines) == 3


@cache
def by_thermostat() -> FaultReport:
    return run_faults(five_rounds_by_thermostat(), machine(THERMOSTAT), goal(), circuit())


def test_a_guard_that_is_dead_unseen_is_latent_and_never_said_to_hold() -> None:
    """IEC 61508 calls such a failure of a guard dangerous and undetected (from memory)."""
    lines = fault_table(REPORT).splitlines()
    assert "latent  float stuck" in lines
    assert "latent: a guard is dead, and nothing shows it until it is needed" in " ".join(lines).replace(
        "  ", " "
    )
    real = by_thermostat()
    (stuck,) = [row for row in faults_to_dict(real)["faults"] if row["key"] == "float.closed"]
    assert stuck["severity"] == "latent"
    assert list(stuck["guards"]) == [FLOAT_TESTED, CONTACTORS_TESTED]
    assert "each month by you, the tank empty and the plug out, an ohm-meter across it" in FLOAT_TESTED


def test_it_says_which_guards_are_not_optional() -> None:
    text = " ".join(fault_table(REPORT).split())
    assert f"NOT OPTIONAL, whatever the constants: {FLOAT}; RCD." in text
    after = text.split("These faults ask for, besides:")[1]
    assert FLOAT not in after
    assert "- level or flow switch" in after
    assert "- second valve" in after
    # Contactors, and the relay that holds itself, have contacts that can weld as well.
    assert "work without the two. Their own contacts can weld too: try them as the tests below" in text
    alone = fault_table(replace(REPORT, rows=ROWS[2:4]))
    assert "NOT OPTIONAL" in alone
    assert "besides" not in alone


def test_what_nobody_sees_fail_is_told_with_its_test() -> None:
    """IEC 60335-1, clause 27.5: 0.1 Ω from earth pin to metal (from memory); the rest is common practice."""
    rows = {row.key: row for row in by_thermostat().rows}
    overflow, earth = rows["overflow.dead"], rows["earth.broken"]
    assert (overflow.severity, earth.severity) == ("latent", "latent")
    assert "tried each month: the tap open, the plug out, its float held up by a wedge" in overflow.guards[0]
    assert "wired to read no overflow" in overflow.guards[0]
    assert "the inlet valve is on (a lamp at its output shows it) and no water comes in" in overflow.guards[0]
    assert (
        "the plug out in the last seconds of that fill, as the wash pump would run dry" in overflow.guards[0]
    )
    (lid,) = {guard for guard in rows["lid.bridged"].guards if guard.startswith("lid opened")}
    # What else would stop it hides a contact that has welded: common practice, no source.
    assert "the controller's own lid input (hook lid_shut), if it has one, wired to read shut" in lid
    assert "as the wash pump sprays in the coldest round of a run" in lid
    supplied = lid_tested(
        machine({"wash_pump.inrush_multiple": None, "wash_pump.surge_a": 6.0, "wash_pump.stall_a": 0.4})
    )
    assert "everything stops, a lamp across the mains input of each power supply too, and closing" in supplied
    assert supplied.replace(LID_TESTED_AT_THE_MAINS, "") == lid
    assert "earth pin to sheath and the pumps' metal, 0.1 Ω or less" in earth.guards[0]
    assert "however hot it is" in overflow.happens


def test_a_relay_that_has_welded_is_replaced_before_anything_is_started_again() -> None:
    """Common practice, no source; a number only where it was tried: "however hot" is of sound runs alone."""
    table, pipe = five_rounds_by_thermostat(), {"drain_pump.drain_limit_c": 70.0}
    rig = machine(THERMOSTAT | pipe)
    assert cool_start(table, rig, goal(), circuit()).both_c == math.inf
    piped = [row_of(table, rig, key) for key in STICKS]
    for row in (*piped, *by_thermostat().rows):
        told = row.key in STICKS
        for words in ("an electrician has replaced the relay (and what drives it)", "dark as stop"):
            assert (words in row.happens) == told
        assert not told or "only once tank and ware are as cool as the room" in row.happens


@pytest.mark.parametrize(
    ("found_c", "pipe_c", "at_c"), [(30.0, 70.0, 30), (90.0, 70.0, 70), (90.0, 100.0, 90)]
)
def test_what_was_tried_is_told_of_a_welded_relay_and_never_more_than_the_pipe_stands(
    found_c: float, pipe_c: float, at_c: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_hot, "cool_start", lambda *_: CoolStart(95.0, found_c, 95.0))
    rig = make_rig(
        five_rounds_by_thermostat(),
        machine(THERMOSTAT | {"drain_pump.drain_limit_c": pipe_c}),
        goal(),
        circuit(),
    )
    (stuck,) = [one for one in catalogue(rig.machine) if one.key == "element.on"]
    assert f"only once tank and ware are at {at_c} °C or less" in kept_hot.welded_words(rig, stuck)


def test_the_element_that_burns_is_not_given_a_temperature() -> None:
    assert "how hot it gets then is not modelled: it burns" in " ".join(fault_table(REPORT).split())


def test_no_line_is_wider_than_a_terminal() -> None:
    real = by_thermostat()
    for report in (REPORT, real):
        assert_fits(fault_table, report)


def test_data_has_what_the_table_has() -> None:
    content = json.loads(json.dumps(faults_to_dict(REPORT), allow_nan=False))
    assert content["not_optional"] == [FLOAT, "RCD"]
    assert content["guards"] == guards_needed(REPORT)
    assert content["cases"] == ["hot, much water", "nominal"]
    assert content["sound"]["bath_c"] == 61.3
    first = content["faults"][0]
    assert first["key"] == "inlet.shut"
    assert (first["severity"], first["after_s"], first["round"]) == ("danger", 365.4, 2)
    assert (first["uncovered_s"], first["overflows"], len(first["guards"])) == (1935.0, False, 2)
    assert content["faults"][2]["after_s"] is None
