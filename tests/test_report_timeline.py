"""The timeline against the on and off times of the programme it draws."""

from __future__ import annotations

from dataclasses import replace

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import HOT_RINSE, PRERINSE, RINSE, WASH, cold_plan, phases, plan_case, run_s, trace_case

from optimizer.programme.constants import Constants, Round
from optimizer.report.timeline import BLOCKS, MARGIN, OFF, _temperatures, minutes_a_column, timeline

OUTPUTS = {"inlet": "inlet", "wash pump": "wash_pump", "drain pump": "drain_pump"}


def rows_of(constants: Constants) -> dict[str, str]:
    """Rows of a timeline by their label, without it."""
    lines = timeline(trace_case(constants)).splitlines()[:-1]
    return {" ".join(line[:MARGIN].split()): line[MARGIN:] for line in lines}


def on_seconds(constants: Constants, label: str) -> set[int]:
    """List the seconds in which an output is on, from the table of phases alone."""
    found: set[int] = set()
    start = 0
    for phase in phases(constants):
        length = phase.seconds if phase.output == OUTPUTS.get(label) else 0
        if label == "element":
            length = phase.element_s
        found |= set(range(start, start + length))
        start += phase.seconds
    return found


ROUND = st.builds(
    Round,
    kind=st.just("wash"),
    fill_s=st.integers(1, 300),
    heat_s=st.integers(0, 4000),
    spray_s=st.integers(60, 6000),
    spray_element_s=st.integers(0, 60),
    setpoint_dc=st.just(0),
    rest_s=st.integers(0, 60),
    drain_s=st.integers(1, 200),
    detergent_dg=st.just(0),
)


@cases(40)
@given(st.lists(ROUND, min_size=1, max_size=8))
def test_blocks_stand_where_an_output_is_on_and_nowhere_else(rounds: list[Round]) -> None:
    constants = plan_case(*rounds).constants
    rows = rows_of(constants)
    step_s = minutes_a_column(run_s(constants) / 60.0, 60) * 60.0
    for label in ("inlet", "element", "wash pump", "drain pump"):
        seconds = on_seconds(constants, label)
        if not seconds:
            assert label not in rows
            continue
        for column, sign in enumerate(rows[label]):
            on_s = len(seconds & set(range(int(column * step_s), int((column + 1) * step_s))))
            if on_s:
                assert abs(BLOCKS.index(sign) / 8.0 - on_s / step_s) <= 1.0 / 8.0
            else:
                assert sign == OFF


def test_known_programme() -> None:
    """Ten minutes of drain, fill, spray and drain, at quarter minutes: every edge falls on a column."""
    constants = plan_case(
        Round("wash", 118, 0, 298, 60, 0, 0, 60, 0), start_drain_s=118, gap_s=2, stand_s=600
    ).constants
    rows = rows_of(constants)
    assert rows["drain pump"] == "███████▇" + "·" * 28 + "████"
    assert rows["inlet"] == "·" * 8 + "███████▇" + "·" * 24
    assert rows["wash pump"] == "·" * 16 + "█" * 19 + "▇" + "·" * 4
    assert rows["element"] == "·" * 16 + "████" + "·" * 20
    assert rows["round"] == " " * 8 + "1"
    assert rows["minutes"] == "0         2.5       5         7.5"
    assert rows[""] == "┴─────────" * 4


@pytest.mark.parametrize(
    "rounds",
    [
        (PRERINSE, replace(WASH, heat_s=600, spray_s=300, spray_element_s=300), RINSE),
        (PRERINSE, WASH, RINSE, HOT_RINSE),
        (PRERINSE, PRERINSE, replace(WASH, spray_s=28000), WASH, *[RINSE] * 6),
    ],
)
def test_half_an_hour_to_ten_hours_fill_the_width(rounds: tuple[Round, ...]) -> None:
    constants = plan_case(*rounds).constants
    rows = rows_of(constants)
    widths = {len(rows[label]) for label in ("inlet", "element", "wash pump", "drain pump", "")}
    assert len(widths) == 1
    assert 36 <= widths.pop() <= 60
    assert all(any(sign in BLOCKS[1:] for sign in rows[label]) for label in OUTPUTS)


def test_bath_temperature_reads_off_the_labels() -> None:
    constants = plan_case(replace(WASH, heat_s=1520, spray_element_s=0)).constants  # 12 °C + 38 K
    rows = rows_of(constants)
    column = int((30 + 2 + 96 + 2 + 1520 + 300) / (60.0 * minutes_a_column(run_s(constants) / 60.0, 60)))
    bath = [rows[label][column] for label in ("bath 50 °C", "40 °C", "30 °C", "20 °C", "10 °C")]
    assert bath == ["█"] * 5
    assert "bath 60 °C" not in rows
    assert [rows[label][0] for label in ("10 °C", "20 °C")] == ["█", "▂"]  # 12 °C at the start


@pytest.mark.parametrize(("most_c", "rows"), [(49.9, 5), (50.3, 5), (51.0, 6)])
def test_no_row_of_temperatures_stands_empty(most_c: float, rows: int) -> None:
    """An eighth of a row of 10 K is 1.25 K; half of it is drawn, less is not."""
    lines = _temperatures([12.0, most_c])
    assert len(lines) == rows
    assert all(set(line) & set(BLOCKS[1:]) for line in lines)


def test_very_hot_bath_takes_wider_rows_and_no_more_of_them() -> None:
    rows = rows_of(plan_case(replace(WASH, heat_s=3400, spray_element_s=0)).constants)  # 97 °C
    assert [label for label in rows if "°C" in label] == ["bath 100 °C", "80 °C", "60 °C", "40 °C", "20 °C"]


def test_machine_without_an_element_has_no_element_row() -> None:
    assert "element" not in rows_of(cold_plan().constants)


def test_standing_is_not_drawn() -> None:
    constants = plan_case().constants
    assert rows_of(constants) == rows_of(replace(constants, stand_s=0))


def test_round_numbers_never_touch() -> None:
    constants = plan_case(PRERINSE, replace(WASH, spray_s=30000), *[RINSE] * 9).constants
    marks = rows_of(constants)["round"].split()
    assert marks == sorted(marks, key=int)
    assert all(1 <= int(mark) <= 11 for mark in marks)
