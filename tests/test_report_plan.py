"""The report of a plan: what it says, in which order, at any width of the terminal."""

from __future__ import annotations

import json
import math
import shlex
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from plan_cases import (
    HOT_RINSE,
    PRERINSE,
    RINSE,
    ROWS,
    WASH,
    certificate_case,
    cold_plan,
    machine_profile,
    plan_case,
    steam_plan,
    thermostat_plan,
)
from width_cases import assert_fits

from optimizer.check.certificate import Row, Trace
from optimizer.check.trace_rounds import round_peaks_c
from optimizer.programme.cautions import cautions
from optimizer.programme.plan import LowerBound, Plan
from optimizer.report.numbers import drawn_of_left
from optimizer.report.plan import first_run, plan_report, plan_to_dict
from optimizer.report.rounds import rounds_table
from optimizer.report.timeline import timeline

LONG = plan_case(PRERINSE, PRERINSE, replace(WASH, spray_s=29000), WASH, WASH, *[RINSE] * 5, HOT_RINSE)
LONG_THERMOSTAT = plan_case(
    *(replace(row, setpoint_dc=655, detergent_dg=12345) for row in (WASH, WASH)),
    machine=machine_profile(thermostat=True),
)
PLANS = {
    "timed": plan_case(),
    "thermostat": thermostat_plan(),
    "cold": cold_plan(),
    "long": LONG,
    "long thermostat": LONG_THERMOSTAT,
}


def report(plan: Plan, plan_file: str | None = None) -> str:
    return plan_report(plan, certificate_case(plan.constants), plan_file)


def priced(plan: Plan, **costs: float) -> Plan:
    return replace(plan, costs=replace(plan.costs, **costs))


def section(text: str, head: str) -> str:
    """Give a section of the report by the start of its heading, on one line."""
    (found,) = (part for part in text.split("\n\n") if part.startswith(head))
    return " ".join(found.split())


@pytest.mark.parametrize("name", PLANS)
def test_no_line_is_wider_than_a_terminal(name: str) -> None:
    assert_fits(report, PLANS[name])
    lines = report(PLANS[name]).splitlines()
    assert not any("\x1b" in line or "nan" in line.split() for line in lines)


@pytest.mark.parametrize("held", [False, True])
def test_a_first_run_that_a_still_sensor_ends_is_told_as_sound(held: bool) -> None:
    """Unplugged, nothing warms: the controller takes a sensor that shows the same for a broken one."""
    assert ("WASH_ERROR_SENSOR_STUCK" in first_run(LONG_THERMOSTAT if held else plan_case())) == held


def test_golden_report() -> None:
    golden = Path(__file__).parent / "golden" / "report.txt"
    assert report(plan_case()) + "\n" == golden.read_text(encoding="utf-8")


def test_sections_in_the_order_in_which_people_ask() -> None:
    text = report(plan_case())
    heads = ["supper on tote:", "ROUNDS", "WHAT IS ON", "ONE RUN", "TIGHTEST", "NEXT", "CAUTIONS"]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    assert all(
        " ".join(caution.split()) in " ".join(text.split()) for caution in cautions(plan_case().inputs)
    )


def test_verdict() -> None:
    verdict = " ".join(report(plan_case()).split("\n\n")[0].split())
    assert verdict == ("supper on tote: met, worst of 912 runs; 88 min, 1.01 kWh, 35.4 l, 0.58 EUR a run.")


def test_verdict_says_that_the_search_was_cut_off() -> None:
    plan = plan_case()
    stopped = replace(plan, solve=replace(plan.solve, status="search budget", gap=0.0312))
    verdict = " ".join(report(stopped).split("\n\n")[0].split())
    assert verdict.endswith("The solver stopped at its search budget: cheaper rounds may have been missed.")


def test_verdict_never_calls_a_failed_check_proven() -> None:
    plan = plan_case()
    certificate = certificate_case(plan.constants, replace(ROWS[0], worst=11.0))
    assert plan_report(plan, certificate).startswith("supper on tote: NOT MET, worst of 912 runs;")


def test_rounds_table_of_a_timed_machine() -> None:
    plan = plan_case()
    lines = rounds_table(plan, certificate_case(plan.constants).trace).splitlines()
    assert " ".join(lines[0].split()) == "round water fill heat spray element peak rest drain detergent"
    assert " ".join(lines[3].split()) == "2 wash 9.6 1:36 25:00 20:00 8:00 61 0:20 1:02 28.8"
    assert " ".join(lines[4].split()) == "3 rinse 8.4 1:24 - 2:00 - 12 - 0:58 -"
    assert len({len(line) for line in lines[:6]}) == 1


def test_rounds_table_of_a_thermostat_and_a_level_switch() -> None:
    plan = thermostat_plan()
    text = rounds_table(plan, certificate_case(plan.constants).trace)
    lines = text.splitlines()
    assert lines[0].split()[:2] == ["round", "level"]
    assert "set" in lines[0].split()
    assert "52.0" in lines[3].split()
    assert lines[3].split()[2] == "9.5"
    assert "The sensor stops the element" in text
    assert "The level switch ends the fill" in text


def test_thermostat_that_is_not_used_is_not_explained() -> None:
    plan = plan_case(PRERINSE, RINSE, machine=machine_profile(thermostat=True))
    text = rounds_table(plan, certificate_case(plan.constants).trace)
    assert "sensor" not in text
    assert "set" not in text.splitlines()[0].split()


def test_a_bath_set_so_low_that_the_nominal_run_heats_nothing_says_why() -> None:
    """garage-120v rinses fresh cups at 15.4 °C or more: a practitioner asked what for."""
    plan = thermostat_plan()
    trace = certificate_case(plan.constants).trace
    mild = replace(trace, element=np.zeros_like(trace.element))
    low = " ".join(rounds_table(plan, mild).split())
    assert "Round 2 heats only a bath that is colder than 52.0 °C (the water comes at 8 to 16 °C)" in low
    assert "need not be as long as the coldest asks" in low
    assert "heats only" not in rounds_table(plan, trace)


def test_columns_that_no_round_uses_are_left_out() -> None:
    plan = cold_plan()
    text = rounds_table(plan, certificate_case(plan.constants).trace)
    assert " ".join(text.splitlines()[0].split()) == "round water fill spray peak drain detergent"
    assert "element" not in text


def test_peaks_are_those_of_the_bath_at_work() -> None:
    plan = plan_case()
    peaks = round_peaks_c(certificate_case(plan.constants).trace)
    assert peaks == pytest.approx([12.0, 12.0 + 1.5 * 33.0, 12.0, 12.0 + 1.5 * 24.0])


def test_peaks_of_a_trace_that_ends_while_the_last_drain_is_on() -> None:
    trace = certificate_case(plan_case(stand_s=0).constants).trace
    cut = Trace(*(getattr(trace, field.name)[:-1] for field in fields(trace)))
    assert cut.drain_pump[-1]
    assert round_peaks_c(cut) == round_peaks_c(trace)
    assert timeline(cut) == timeline(trace)


def test_one_run() -> None:
    text = section(report(plan_case()), "ONE RUN")
    assert "duration 87:34, then 20 min standing (longest allowed 150 min)" in text
    # Rounded up what is drawn, down what is left, with a digit more than either needs.
    assert (
        f"peak current {drawn_of_left(plan_case().costs.peak_a, 5.5)} left on shared (6 A B breaker)" in text
    )
    assert "of the 5.500 A left on shared" in text
    assert "cost 0.58 EUR; the planner also counted 0.18 EUR for the waiting" in text
    assert "search the best found (HiGHS 1.13.1, then every round trimmed)" in text
    assert "optimal" not in text
    assert "bound" not in text


def test_lower_bound() -> None:
    plan = plan_case()
    cost = plan.costs.money + plan.costs.waiting
    bound = LowerBound((2, 3, 6), 0.98765 * cost, cost, 9)
    text = plan_report(plan, certificate_case(plan.constants), bound=bound)
    least = math.floor(bound.least * 10_000.0) / 10_000.0
    assert (
        "no programme of up to 2 + 3 + 6 rounds, prerinses cold, no warm first rinse topped up, "
        f"costs less than {least:.4f} EUR, "
        "waiting counted: this one is within 1.3 %"
    ) in section(text, "ONE RUN")
    found = plan_to_dict(plan, certificate_case(plan.constants), bound)["lower_bound"]
    assert found == {
        "rounds_most": [2, 3, 6], "least": bound.least, "cost": cost, "gap": pytest.approx(0.01235)
    }  # fmt: skip
    assert plan_to_dict(plan, certificate_case(plan.constants))["lower_bound"] is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"device": "breaker_c", "earth_fault": "gfci_class_a"}, "(6 A breaker, taken as type C)"),
        (
            {"device": "breaker_b", "earth_fault": "none", "voltage_v": 120.0},
            "(6 A breaker, taken as type B)",
        ),
        ({"device": "breaker_d"}, "(6 A D breaker)"),
        ({"device": "fuse_gg"}, "(6 A gG fuse)"),
        ({"device": "fuse_plug", "earth_fault": "gfci_class_a"}, "(6 A plug fuse)"),
    ],
)
def test_a_breaker_has_no_class_where_the_place_has_none(changes: dict[str, object], words: str) -> None:
    """IEC 60898-1 has the classes B, C and D; breakers of North America have none (from memory)."""
    plan = plan_case()
    circuit = plan.inputs.circuit.model_copy(update=changes)
    text = section(report(replace(plan, inputs=replace(plan.inputs, circuit=circuit))), "ONE RUN")
    assert words in text


@pytest.mark.parametrize("drawn_a", [11.0, 11.65, 11.699, 11.69999])
def test_a_margin_of_current_is_never_rounded_away(drawn_a: float) -> None:
    drawn, left = (float(part.split()[0]) for part in drawn_of_left(drawn_a, 11.7).split(" of the "))
    assert drawn_a <= drawn < left <= 11.7


@pytest.mark.parametrize(
    ("guaranteed", "words"),
    [
        (87.95, "element uncovered after 87.9 min at the earliest; switched off at 86.2"),
        (None, "element uncovered after 89.7 min at the earliest; switched off at 86.2"),
    ],
)
def test_moments_of_steam_are_the_guaranteed_rounded_to_the_safe_side(
    guaranteed: float | None, words: str
) -> None:
    """By hand: down to a tenth where the water leaves, up to a tenth where the element goes off."""
    plan = steam_plan()
    bare = Row("steam.uncovered_min", "steam", "min", "at least", 86.13, guaranteed, 89.79, "high voltage")
    certificate = certificate_case(plan.constants, *ROWS, bare)
    assert words in section(plan_report(plan, certificate), "ONE RUN")


def test_what_the_goal_presupposes_is_printed_on_one_line() -> None:
    plan = plan_case()
    assert "meant for" not in report(plan)
    goal = plan.inputs.goal.model_copy(update={"about": "Scraped,\n\x1b[1m within  the hour."})
    text = section(report(replace(plan, inputs=replace(plan.inputs, goal=goal))), "ONE RUN")
    assert text.startswith("ONE RUN meant for Scraped, [1m within the hour. duration ")


def test_cost_has_a_range_where_the_price_has() -> None:
    text = section(report(priced(plan_case(), money_low=0.41, money_high=0.83, waiting=0.0)), "ONE RUN")
    assert (
        "cost 0.58 EUR at the mean price of electricity; 0.41 EUR at the lowest, 0.83 EUR at the highest"
        in text
    )
    assert "waiting" not in text


def test_tightest_three() -> None:
    text = section(report(plan_case()), "TIGHTEST")
    assert text.count("to spare") == 3
    assert text.index("dose grease") < text.index("water over the element") < text.index("residue")


def commands(plan: Plan, plan_file: str | None = None) -> list[list[str]]:
    """Commands as a shell reads them: a backslash before a line end joins two lines."""
    text = report(plan, plan_file).replace("\\\n", " ")
    lines = [line.strip() for line in text.splitlines()]
    return [shlex.split(line) for line in lines if line.startswith("scullion ")]


def test_next_steps_are_commands_to_paste() -> None:
    constants = ["scullion", "constants", "plan.json", "--format", "c"]
    assert commands(plan_case()) == [
        ["scullion", "plan", "tote", "supper", "--out", "plan.json"],
        ["scullion", "check", "plan.json"],
        ["scullion", "check", "plan.json", "--faults"],
        [*constants, "--bench-run", "--out", "wash_timing_rehearsal.h"],
        [*constants, "--out", "wash_timing.h"],
    ]
    text = section(report(plan_case()), "NEXT")
    assert "First run: the element unplugged, no ware in the machine, and someone watching" in text
    assert "First heated run: the element in, a full load of old ware, a thermometer in the bath" in text
    assert "the element" not in section(report(cold_plan()), "NEXT")


def test_next_steps_name_what_is_not_usual_and_skip_what_is_done() -> None:
    plan = plan_case()
    names = ("my tote.toml", "supper", "other", "night")
    elsewhere = replace(plan, inputs=replace(plan.inputs, names=names))
    again = ["scullion", "plan", "my tote.toml", "supper", "--circuit", "other", "--tariff", "night"]
    assert commands(elsewhere)[0] == [*again, "--out", "plan.json"]
    assert commands(elsewhere, "it's here.json")[0] == ["scullion", "check", "it's here.json"]


def test_report_as_data() -> None:
    plan = thermostat_plan()
    content = json.loads(json.dumps(plan_to_dict(plan, certificate_case(plan.constants)), allow_nan=False))
    assert content["names"] == {"machine": "tote", "goal": "supper", "circuit": "shared", "tariff": "flat"}
    assert content["rounds"][1]["setpoint_dc"] == 520
    assert content["rounds"][1]["level_l"] == 9.5
    assert content["run"]["electricity_kwh"] == plan.costs.electricity_kwh
    assert content["certificate"]["passed"] is True
    assert content["inputs_sha256"] == plan.constants.input_sha256
    assert "seconds" not in json.dumps(content)
