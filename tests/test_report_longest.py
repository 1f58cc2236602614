"""A run that may last longer than the nominal one: in the headline, in the rounds, in a comparison."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_cases import certificate_case, plan_case, thermostat_plan, trace_case
from test_report_compare import PLANNED, one_line, table
from width_cases import assert_fits

from optimizer.check.certificate import Row, longest_min
from optimizer.programme.plan import Plan
from optimizer.report.compare import comparison_report
from optimizer.report.plan import plan_report, plan_to_dict
from optimizer.report.rounds import rounds_table, rounds_title, rounds_to_list


def lasting(plan: Plan, guaranteed: float | None, worst: float | None = None) -> str:
    worst = guaranteed if worst is None else worst
    assert worst is not None
    row = Row("limits.duration_min", "duration", "min", "at most", 300.0, guaranteed, worst, "cold inlet")
    return plan_report(plan, certificate_case(plan.constants, row))


def paragraph(text: str, start: str) -> str:
    (found,) = (part for part in text.split("\n\n") if part.startswith(start))
    return one_line(found)


@pytest.mark.parametrize(
    ("longest", "headline", "duration"),
    [
        # The plan's nominal run takes 87:34.
        (180.04, "; 88 min, up to 180 min, 1.01 kWh", "87:34, up to 180 min in the worst case, then"),
        (88.7, "; 88 min, up to 89 min, 1.01 kWh", "87:34, up to 89 min in the worst case, then"),
        (88.5, "; 88 min, 1.01 kWh", "duration 87:34, then 20 min standing"),
        (87.5, "; 88 min, 1.01 kWh", "duration 87:34, then 20 min standing"),
    ],
)
def test_the_longest_run_is_told_where_it_is_longer(longest: float, headline: str, duration: str) -> None:
    text = lasting(plan_case(), longest)
    assert headline in paragraph(text, "supper on tote:")
    assert duration in paragraph(text, "ONE RUN")
    assert_fits(lasting, plan_case(), longest)


def test_the_longest_run_is_the_guaranteed_one() -> None:
    assert ", up to 120 min," in lasting(plan_case(), 120.0, 110.0)
    assert ", up to 110 min," in lasting(plan_case(), None, 110.0)
    plan = plan_case()
    assert longest_min(certificate_case(plan.constants).rows) is None
    row = Row("limits.duration_min", "duration", "min", "at most", 300.0, 120.0, 110.0, "cold inlet")
    assert plan_to_dict(plan, certificate_case(plan.constants, row))["duration_longest_min"] == 120.0


def test_times_that_something_else_ends_are_marked_and_the_nominal_ones_told() -> None:
    """The wash fills for 96 s at most, of which the switch lets it 80; its sensor ends 2000 s after 1500."""
    plan = thermostat_plan()
    shorter = [
        replace(row, fill_s=80, heat_s=row.heat_s and 1500, spray_element_s=row.spray_element_s and 100)
        for row in plan.constants.rounds
    ]
    trace = trace_case(replace(plan.constants, rounds=tuple(shorter)))
    text = rounds_table(plan, trace)
    wash = next(line for line in text.splitlines() if line.startswith("2 wash")).split()
    assert wash[:7] == ["2", "wash", "9.5", "≤1:36", "≤33:20", "20:00", "≤20:00"]
    rinse = next(line for line in text.splitlines() if line.startswith("3 rinse")).split()
    assert rinse[3:6] == ["≤1:24", "-", "2:00"]
    assert "In the nominal run: 26:40 in round 2, 26:40 in round 4." in one_line(text)
    assert "then stop and call for help. In the nominal run: 1:20." in one_line(text)
    assert rounds_title(plan.constants) == "ROUNDS (nominal; ≤ longest time)"
    content = rounds_to_list(plan, trace)[1]
    assert content["longest_times"] == ["fill_s", "heat_s", "spray_element_s"]
    assert content["nominal"] == {"fill_s": 80, "heat_s": 1500, "spray_element_s": 100}


def test_times_of_a_timed_machine_are_all_nominal() -> None:
    plan = plan_case()
    trace = trace_case(plan.constants)
    assert "≤" not in rounds_table(plan, trace)
    assert rounds_title(plan.constants) == "ROUNDS (nominal)"
    for row, told in zip(plan.constants.rounds, rounds_to_list(plan, trace), strict=True):
        assert told["longest_times"] == []
        assert told["nominal"] == {name: getattr(row, name) for name in told["nominal"]}


def test_a_comparison_has_a_column_for_it_where_one_run_is_longer() -> None:
    longer = PLANNED | {"goal": "cups", "duration_longest_min": 130.2, "marks": ""}
    text = comparison_report(table(PLANNED, longer), 150)
    lines = [line.split() for line in text.splitlines()]
    assert ["goal", "rounds", "time", "longest", "water", "energy", "peak", "a", "run", "a", "year"] in lines
    assert ["cups", "5", "92", "131", "35.2", "1.00", "4.73", "0.58", "116"] in lines
    assert "longest: the longest run that the tolerances allow" in one_line(text)
    alike = comparison_report(table(PLANNED, longer | {"duration_longest_min": 93.4}), 150)
    assert "longest" not in alike
