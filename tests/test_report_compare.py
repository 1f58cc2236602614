"""The table of a comparison: what it says, at any width of the terminal. All numbers are invented."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st
from width_cases import WIDTHS

from optimizer.batch.compare import COLUMNS, NUMBERS, SHOWABLE
from optimizer.report.compare import (
    comparison_report,
    comparison_to_csv,
    comparison_to_dict,
    interruption_note,
    progress_bar,
)
from optimizer.report.layout import pages_of

PLANNED: dict[str, Any] = {
    "machine": "tote",
    "goal": "plates",
    "circuit": "shared",
    "tariff": "flat",
    "status": "planned",
    "rounds": 5,
    "duration_min": 92.4,
    "duration_longest_min": 92.4,
    "water_l": 35.25,
    "electricity_low_kwh": 0.9,
    "electricity_kwh": 1.0,
    "electricity_high_kwh": 1.1,
    "peak_a": 4.734,
    "currency": "EUR",
    "run_money": 0.581,
    "best_start": "Mon 22:00",
    "best_start_money": 0.48,
    "worst_start": "Mon 06:00",
    "worst_start_money": 0.63,
    "year_money": 116.2,
    "co2_kg": None,
    "tightest": "dose grease",
    "marks": "cheapest",
    "why": None,
}
REFUSED: dict[str, Any] = dict.fromkeys(COLUMNS) | {
    "machine": "tote",
    "goal": "tins",
    "circuit": "shared",
    "tariff": "flat",
    "status": "no plan",
    "marks": "",
    "why": "dose fat: asked 25 min at 60 °C, nearest 0 min at the most",
}


def table(*rows: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(list(rows), columns=list(COLUMNS))
    return frame.astype(dict.fromkeys(NUMBERS, "float64") | {"rounds": "Int64"})


def widest(text: str) -> int:
    return max(map(len, text.splitlines()))


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_what_all_cases_share_is_said_once() -> None:
    text = comparison_report(table(PLANNED, PLANNED | {"goal": "cups", "marks": ""}, REFUSED), 150)
    assert text.startswith("3 cases on tote, shared, flat; 150 runs a year.\n")
    lines = [line.split() for line in text.splitlines()]
    assert ["plates", "5", "92", "35.2", "1.00", "4.73", "0.58*", "116"] in lines
    assert ["cups", "5", "92", "35.2", "1.00", "4.73", "0.58", "116"] in lines
    assert ["plates", "0.90", "1.10", "Mon", "22:00", "0.48", "Mon", "06:00", "0.63"] in lines
    assert "CO2" not in text, "no tariff has it"
    assert "tins: no plan. dose fat: asked 25 min at 60 °C, nearest 0 min" in one_line(text)
    assert "scullion plan tote plates --circuit shared --tariff flat" in text
    assert "licensed electrician" in text


def test_usual_circuits_are_said_a_machine_and_not_in_every_line() -> None:
    usual = {"a": "x", "b": "y"}
    rows = [PLANNED | {"machine": m, "circuit": c, "goal": g} for m, c in usual.items() for g in "gh"]
    text = comparison_report(table(*rows), 200)
    assert "CASES\n- a: x\n- b: y\n" in text
    assert "machine  goal  rounds" in text


def test_currencies_are_told_apart() -> None:
    text = comparison_report(table(PLANNED, PLANNED | {"tariff": "sterling", "currency": "GBP"}), 200)
    assert "0.58 EUR*" in text
    assert "0.58 GBP*" in text
    assert "money is compared within a currency" in text


def test_long_names_give_way_to_numbers() -> None:
    machines = [f"./a/very/long/way/to/the-machine-in-the-kitchen-{number}.toml" for number in range(2)]
    goals = [f"the-plates-and-cups-of-a-whole-club-{number}" for number in range(2)]
    rows = [PLANNED | {"machine": machine, "goal": goal} for machine in machines for goal in goals]
    text = comparison_report(table(*rows), 200)
    assert "- 3: the-machine-in-the-kitchen-1, the-plates-and-cups-of-a-whole-club-0" in one_line(text)
    assert widest("\n".join(line for line in text.splitlines() if "scullion plan" not in line)) <= 80


def test_names_that_only_their_folder_tells_apart_are_kept_whole() -> None:
    text = comparison_report(table(PLANNED | {"goal": "a/g.toml"}, PLANNED | {"goal": "b/g.toml"}), 200)
    assert "a/g.toml  5" in text.replace("       ", "  ")


def test_chosen_columns_stand_for_every_case() -> None:
    text = comparison_report(table(PLANNED, REFUSED), 200, ("status", "rounds", "tightest"))
    lines = [line.split() for line in text.splitlines()]
    assert ["goal", "status", "rounds", "tightest"] in lines
    assert ["tins", "no", "plan", "-", "-"] in lines
    assert "peak" not in text


@given(st.lists(st.sampled_from(SHOWABLE), min_size=1), st.booleans(), st.sampled_from(WIDTHS))
def test_any_choice_of_columns_fits_the_terminal(chosen: list[str], mixed: bool, width: int) -> None:
    rows = [
        PLANNED,
        PLANNED | {"goal": "cups", "currency": "GBP" if mixed else "EUR", "co2_kg": 0.3},
        REFUSED,
    ]
    with pages_of(width):
        text = comparison_report(table(*rows), 200, chosen)
    assert widest(text) <= width
    assert "nan" not in text
    assert "<NA>" not in text


def test_no_column_is_repeated_or_without_a_title() -> None:
    """Each by itself; the parts of a case's name are there already."""
    rows = table(PLANNED, PLANNED | {"goal": "cups"})
    once = comparison_report(rows, 200, SHOWABLE)
    assert comparison_report(rows, 200, (*SHOWABLE, *SHOWABLE)) == once
    titles = {}
    for name in SHOWABLE:
        with pages_of(200):
            text = comparison_report(rows, 200, [name])
        head = text.split("THE COLUMNS ASKED FOR\n")[1].splitlines()[0]
        titles[name] = head.removeprefix("goal").strip()
    missing = {"goal", "co2_kg"}
    """The name that is there already, and what no case has."""
    assert {name for name, title in titles.items() if not title} == missing
    told = [title for name, title in titles.items() if name not in missing]
    assert len(set(told)) == len(told)


def test_energy_is_not_called_power() -> None:
    """Energy is in kWh, power in kW (IEC 60050-601)."""
    text = comparison_report(table(PLANNED), 200)
    assert "energy" in text.split("ONE RUN")[1].splitlines()[1].split()
    assert "power" not in text


def test_money_of_any_currency() -> None:
    """By hand: a yen has no smaller coin, a forint neither; a price may be below nothing."""
    yen = PLANNED | {"currency": "JPY", "run_money": 2950.4, "year_money": 590_080.0}
    forint = PLANNED | {"currency": "HUF", "run_money": -231.6, "year_money": -46_320.0}
    text = comparison_report(table(yen, yen | {"goal": "cups", "run_money": 98.25}), 200)
    lines = [line.split() for line in text.splitlines()]
    assert ["plates", "5", "92", "35.2", "1.00", "4.73", "2950*", "590080"] in lines
    assert ["cups", "5", "92", "35.2", "1.00", "4.73", "98*", "590080"] in lines
    both = " ".join(comparison_report(table(yen, forint | {"goal": "cups"}), 200).split())
    assert "2950 JPY* 590080 JPY" in both
    assert "-232 HUF* -46320 HUF" in both


def test_json_and_csv_hold_nothing_that_is_no_value() -> None:
    content = comparison_to_dict(table(PLANNED, REFUSED), 200, interrupted=True)
    again = json.loads(json.dumps(content, allow_nan=False))
    assert again["interrupted"] is True
    assert again["cases"] == [PLANNED, REFUSED]
    rows = list(csv.DictReader(io.StringIO(comparison_to_csv(table(PLANNED, REFUSED)))))
    assert [row["rounds"] for row in rows] == ["5", ""]
    assert rows[1]["why"] == REFUSED["why"]


def test_progress_and_interruption_are_counted() -> None:
    assert progress_bar(1, 1, 0) == f"[{'#' * 30}] 1 of 1 case"
    assert progress_bar(0, 0, 0).startswith("[ ")
    assert "the same command goes on from there" in one_line(interruption_note(9, 4, "kept"))
    assert "--cache FOLDER" in interruption_note(9, 4, None)
