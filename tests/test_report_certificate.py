"""The certificate and the reasons for no plan, as text and as data."""

from __future__ import annotations

import json
import math
from dataclasses import replace

from plan_cases import ROWS, certificate_case, plan_case
from width_cases import assert_fits

from optimizer.check.certificate import Certificate, Row, failure_lines
from optimizer.check.requirements import OPEN_LOOP_BATH
from optimizer.errors import NoPlanError, Reason
from optimizer.report.certificate import certificate_report as report
from optimizer.report.certificate import certificate_to_dict
from optimizer.report.errors import no_plan_report, no_plan_to_dict

LONG = Row(
    "cover.suction_l",
    "water at the suction while the wash pump runs",
    "l",
    "at least",
    123.456,
    None,
    100.0,
    ", ".join(["low inlet flow", "high carry-over", "low voltage", "cold inlet", "cold room"] * 3),
)


def certificate_report(certificate: Certificate) -> str:
    return report(certificate, plan_case().inputs)


def certificate(*rows: Row) -> Certificate:
    return certificate_case(plan_case().constants, *rows)


def test_passed_certificate_says_so_first() -> None:
    text = certificate_report(certificate())
    assert text.startswith("Met: 6 requirements, 0 proven and 6 by the worst of 912 runs (seed 1).\n")
    assert text.count("holds  ") == 6
    assert "FAILS" not in text


def test_proven_is_said_of_what_a_bound_holds_alone() -> None:
    rows = [replace(row, guaranteed=row.limit) for row in ROWS]
    partly = " ".join(certificate_report(certificate(*rows[:4], *ROWS[4:])).split())
    assert partly.startswith("Met: 6 requirements, 4 proven and 2 by the worst of 912 runs (seed 1).")
    wholly = " ".join(certificate_report(certificate(*rows)).split())
    assert wholly.startswith(
        "Proven: 6 requirements met at every point of the tolerances; worst found in 912 runs (seed 1)."
    )
    for text, proven in ((partly, False), (wholly, True)):
        assert text.lower().startswith("proven") == proven
    for some, proven in ((rows[:4] + list(ROWS[4:]), False), (rows, True)):
        content = certificate_to_dict(certificate(*some))
        assert (content["passed"], content["proven"]) == (True, proven)
    broken = certificate_to_dict(certificate(replace(rows[0], guaranteed=11.9), *rows[1:]))
    assert (broken["passed"], broken["proven"]) == (False, False)


def test_a_timed_bath_too_near_the_limit_says_what_helps() -> None:
    near = Row(
        "tank.bath_c",
        f"{OPEN_LOOP_BATH}: 8 K under the tank's limit",
        "°C",
        "at most",
        70.0,
        71.5,
        71.0,
        "high voltage",
    )
    for row, helps in ((near, True), (replace(near, guaranteed=69.5, worst=69.0), False)):
        text = " ".join(certificate_report(certificate(*ROWS, row)).split())
        assert ("The tank may get too hot: fit a thermostat." in text) == helps
        assert "hottest bath, heated by time alone: 8 K under the tank's limit" in text


def test_failures_come_first_and_in_words() -> None:
    text = " ".join(certificate_report(certificate(*ROWS, LONG)).split())
    assert text.startswith("NOT MET: 1 of 7 requirements, worst of 912 runs (seed 1).")
    assert "Do not run this programme." in text
    assert text.index("FAILS water at the suction while the wash pump runs") < text.index("holds")
    assert text.count("FAILS") == 1


def test_no_line_is_wider_than_a_terminal() -> None:
    rows = [
        replace(row, requirement=f"{row.requirement}, {'as long as the check has any ' * 2}") for row in ROWS
    ]
    assert_fits(certificate_report, certificate(*rows, LONG))


def test_one_row_is_in_the_singular() -> None:
    one = replace(certificate(replace(ROWS[0], guaranteed=12.0)), points=1)
    assert certificate_report(one).startswith("Proven: 1 requirement met at every point of the tolerances; ")
    assert "worst found in 1 run (seed 1)." in " ".join(certificate_report(one).split())


def test_row_shows_limit_worst_margin_and_point() -> None:
    lines = certificate_report(certificate()).splitlines()
    assert " ".join(lines[2].split()) == "limit guaranteed worst found margin point"
    assert lines[3] == "holds  dose grease"
    assert " ".join(lines[4].split()) == "at least 12 min - 12.04 0.04"
    assert lines[5] == "       low voltage, cold inlet, cold room, high level"


def test_columns_line_up() -> None:
    lines = certificate_report(certificate()).splitlines()[2:]
    point = lines[0].index("point")
    numbers = [line for line in lines if line.startswith("       at ")]
    assert len(numbers) == len(ROWS)
    assert all(line[point - 3] != " " for line in numbers)
    assert all(line[point] != " " for line in numbers if len(line) > point)
    assert any(len(line) > point for line in numbers)


def test_margin_in_words() -> None:
    expected = "bath temperature, for the tank: 61.3 °C, at most 75 °C asked, 14 K to spare (high voltage, "
    assert ROWS[1].margin_line() == expected + "warm inlet)"
    assert LONG.margin_line().startswith(
        "water at the suction while the wash pump runs: 100 l, at least 123.5 l asked, 23 l SHORT ("
    )


def test_failure_lines_are_the_failures() -> None:
    assert failure_lines(certificate().rows) == []
    assert failure_lines(certificate(*ROWS, LONG).rows) == [LONG.margin_line()]


def test_a_value_that_is_none_fails_and_is_never_nan() -> None:
    lost = replace(ROWS[0], worst=math.nan)
    broken = certificate(lost, *ROWS[1:])
    text = certificate_report(broken)
    assert "nan" not in text
    assert "FAILS  dose grease" in text
    assert "no value" in text
    content = json.loads(json.dumps(certificate_to_dict(broken), allow_nan=False))
    assert content["proven"] is False
    assert content["requirements"][0]["worst"] is None
    assert content["requirements"][0]["holds"] is False


def test_a_row_holds_by_the_worse_of_bound_and_worst_found() -> None:
    grease, bath = ROWS[0], ROWS[1]
    for row, holds, margin in (
        (replace(grease, guaranteed=12.0), True, 0.0),
        (replace(grease, guaranteed=11.9), False, -0.1),
        (replace(grease, guaranteed=12.5, worst=11.9), False, -0.1),
        (replace(bath, guaranteed=75.0), True, 0.0),
        (replace(bath, guaranteed=75.1), False, -0.1),
        (replace(bath, guaranteed=70.0, worst=75.1), False, -0.1),
    ):
        assert row.passed is holds
        assert abs(row.margin - margin) < 1e-9
    for broken in (replace(grease, guaranteed=math.nan), replace(grease, guaranteed=13.0, worst=math.nan)):
        assert not broken.passed
    assert replace(grease, guaranteed=11.9).margin_line().startswith("dose grease: 11.9 min, at least 12 min")


def test_data_has_what_the_table_has() -> None:
    content = certificate_to_dict(certificate())
    assert (content["passed"], content["points"], content["draws"], content["seed"]) == (True, 912, 64, 1)
    first = content["requirements"][0]
    assert first["key"] == "dose.grease"
    assert (first["unit"], first["sense"], first["limit"], first["worst"]) == ("min", "at least", 12.0, 12.04)
    assert abs(first["margin"] - 0.04) < 1e-9


ERROR = NoPlanError(
    "No programme on cold-shed meets everyday",
    [
        Reason("dose grease", "12 min at 50 °C", "0.8 min, with three washes", "an element, or soap " * 6),
        Reason("longest duration", "60 min", "74 min"),
    ],
)


def test_no_plan_gives_each_reason_its_nearest_value() -> None:
    text = no_plan_report(ERROR)
    assert text.startswith("No programme on cold-shed meets everyday.\n")
    assert (
        "- dose grease\n    asked    12 min at 50 °C\n    nearest  0.8 min, with three washes\n    try"
        in text
    )
    assert text.endswith("- longest duration\n    asked    60 min\n    nearest  74 min")
    assert_fits(no_plan_report, ERROR)


def test_no_plan_as_data() -> None:
    content = json.loads(json.dumps(no_plan_to_dict(ERROR)))
    assert content["no_plan"] == ERROR.headline
    assert content["reasons"][1] == {
        "requirement": "longest duration",
        "asked": "60 min",
        "nearest": "74 min",
        "advice": "",
        "key": "",
    }
