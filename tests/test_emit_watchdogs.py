"""The watchdogs of the table, each by its definition in seconds, and what no table may hold."""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_cases import a_round, five_rounds, five_rounds_by_thermostat, programme
from plan_cases import plan_case, run_s
from planner_cases import proven, shipped

from optimizer.check.certify import check, misfits
from optimizer.check.phases import phases
from optimizer.check.table_rows import bath_max_most_dc
from optimizer.programme.constants import ROUNDS_MAX, UINT16_MAX, Constants
from optimizer.units import whole_tenths


def test_watchdogs_are_the_ends_of_the_table() -> None:
    table = five_rounds()
    assert [row.element_max_s for row in table.rounds] == [0, 1600 + 1500, 0, 0, 2400]
    assert table.element_max_s == 3100
    assert table.fill_max_s == 100
    assert (table.drain_min_s, replace(table, start_drain_s=10).drain_min_s) == (70, 10)


@pytest.mark.parametrize("table", [five_rounds(), five_rounds_by_thermostat(), plan_case().constants])
def test_total_is_every_phase_of_the_controller_at_its_longest(table: Constants) -> None:
    """Against the sequence that the check runs, and against the list the tests of the report keep."""
    assert table.total_max_s == sum(phase.longest_s for phase in phases(table))
    assert table.total_max_s == run_s(table) + table.stand_s


@pytest.mark.parametrize(
    ("tops", "key"),
    [
        ({"bath_max_dc": UINT16_MAX}, None),
        ({"bath_max_dc": UINT16_MAX + 1}, "bath_max_dc"),
        ({"bath_max_dc": 499}, "rounds[1].setpoint_dc"),
    ],
)
def test_highest_temperature_has_a_range_and_lies_above_every_setpoint(
    tops: dict[str, int], key: str | None
) -> None:
    row = a_round("wash", heat_s=9, setpoint_dc=500)
    table = programme(row, control="thermostat", hysteresis_dk=10, bath_max_dc=500)
    assert table.issues("x") == []
    assert [issue.key for issue in replace(table, bath_max_dc=0).issues("x")][:1] == ["bath_max_dc"]
    assert programme(a_round("rinse"), bath_max_dc=0).issues("x") == []
    assert [issue.key for issue in replace(table, **tops).issues("x")] == ([key] if key else [])


def test_element_time_of_a_round_and_number_of_rounds_fit_their_types() -> None:
    long = a_round("wash", heat_s=40_000, spray_s=40_000, spray_element_s=25_535)
    assert programme(long).issues("x") == []
    assert len(programme(replace(long, spray_element_s=25_536)).issues("x")) == 1
    assert programme(*[a_round("rinse")] * ROUNDS_MAX).issues("x") == []
    assert [f.key for f in programme(*[a_round("rinse")] * (ROUNDS_MAX + 1)).issues("x")] == ["rounds"]


@pytest.mark.parametrize(("machine", "goal"), [("clubhouse", "everyday"), ("cold-shed", "fresh-cups")])
def test_where_nothing_reads_the_bath_it_has_no_watchdog(machine: str, goal: str) -> None:
    inputs = shipped(machine, goal)
    table = proven(machine, goal).plan.constants
    assert table.bath_max_dc == 0
    assert misfits(table, inputs.machine) == []
    (issue,) = misfits(replace(table, bath_max_dc=600), inputs.machine)
    assert (issue.key, issue.fix) == ("bath_max_dc", "0")


def test_a_thermostat_has_one_at_its_hottest_reading_and_not_at_the_limit_of_the_tank() -> None:
    """The hottest reading guaranteed, the sensor's error in it, and 1 K; a second check passes it as well."""
    found = proven("narrowboat", "everyday")
    inputs, table = found.plan.inputs, found.plan.constants
    (row,) = [row for row in found.certificate.rows if row.key == "watchdog.reading_c"]
    assert row.guaranteed is not None
    assert 0.5 < table.bath_max_dc / 10.0 - row.guaranteed < 1.5
    assert table.bath_max_dc < bath_max_most_dc(table, inputs.machine)
    warmest_dc = max(row.setpoint_dc for row in table.rounds)
    assert warmest_dc < table.bath_max_dc
    again = check(table, inputs.machine, inputs.goal, inputs.circuit)
    assert again.passed
    said, anew = ([(row.key, row.limit, row.worst) for row in one.rows] for one in (found.certificate, again))
    assert said == anew
    (issue,) = misfits(replace(table, bath_max_dc=900), inputs.machine)
    assert (issue.key, issue.fix) == ("bath_max_dc", f"at most {bath_max_most_dc(table, inputs.machine)}")


def test_no_tenth_of_a_limit_is_lost_or_won() -> None:
    """Every tenth up to 200 °C comes back, though 64.3 * 10 is less than 643 in binary."""
    assert [whole_tenths(tenths / 10.0) for tenths in range(2001)] == list(range(2001))
    assert whole_tenths(74.99) == 749
