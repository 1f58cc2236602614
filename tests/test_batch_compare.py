"""`compare` on shipped profiles: real plans, whoever makes them, and the rows they give."""

from __future__ import annotations

import csv
from pathlib import Path

import pandas as pd
import pytest
from calling import call
from conftest import Compared

from optimizer.batch import compare as compare_module
from optimizer.batch.cases import StudyRequest, read_cases
from optimizer.batch.compare import COLUMNS, NUMBERS, compare, sorted_by
from optimizer.batch.run_cases import WorkerSettings


def test_every_combination_is_a_row_in_the_order_given(compared: Compared) -> None:
    assert [(case["machine"], case["goal"]) for case in compared.cases] == [
        ("clubhouse", "fresh-cups"),
        ("clubhouse", "glasses"),
        ("cold-shed", "fresh-cups"),
        ("cold-shed", "glasses"),
    ]
    assert {(case["circuit"], case["tariff"]) for case in compared.cases[:2]} == {("shared-6a", "two-rate")}
    assert all(list(case) == list(COLUMNS) for case in compared.cases)


def test_fresh_cups_take_less_of_everything_than_glasses(compared: Compared) -> None:
    """Rinsed cold beside washed warm: one is quickest and cheapest, the other is neither."""
    fresh, glasses, cold = compared.cases[:3]
    columns = ("duration_min", "water_l", "electricity_kwh", "peak_a", "run_money", "year_money")
    for column in (*columns, "best_start_money"):
        assert fresh[column] < glasses[column], column
    assert (fresh["marks"], glasses["marks"]) == ("cheapest, quickest", "")
    assert cold["marks"] == "cheapest, least water", "the cheapest of another currency"


def test_rows_agree_with_themselves_and_with_the_tariff(compared: Compared) -> None:
    """The day price holds from 06:00 to 22:00: profiles/tariffs/two-rate.toml."""
    for case in compared.cases[:3]:
        assert case["year_money"] == pytest.approx(200 * case["run_money"])
        assert case["electricity_low_kwh"] < case["electricity_kwh"] < case["electricity_high_kwh"]
        assert case["best_start_money"] <= case["run_money"] * 1.001
        assert case["worst_start_money"] >= case["run_money"] * 0.999
    for case in compared.cases[:2]:
        assert (case["best_start"], case["worst_start"]) == ("Mon 00:00", "Mon 06:00")
        spread = case["worst_start_money"] - case["best_start_money"]
        assert spread == pytest.approx(case["electricity_kwh"] * (0.34 - 0.22), rel=0.01)
    flat = compared.cases[2]
    assert (flat["best_start"], flat["worst_start"]) == ("any", "any")
    assert flat["best_start_money"] == pytest.approx(flat["run_money"], rel=0.01)
    assert flat["co2_kg"] == pytest.approx(0.2 * flat["electricity_kwh"]), "kg/kWh as in flat.toml"
    assert compared.cases[0]["co2_kg"] is None


def test_row_without_a_plan_says_why(compared: Compared) -> None:
    case = compared.cases[3]
    assert case["status"] == "no plan"
    assert "dose lips: asked 3 min at 45 °C" in case["why"]
    assert all(case[column] is None for column in NUMBERS)
    assert case["marks"] == ""


def test_csv_holds_the_same(compared: Compared) -> None:
    with compared.table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row, case in zip(rows, compared.cases, strict=True):
        assert list(row) == list(COLUMNS)
        for column in NUMBERS:
            assert (float(row[column]) if row[column] else None) == case[column]
        assert row["why"] == (case["why"] or "")


def test_two_jobs_give_the_same_bytes(compared: Compared, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    words = ("compare", "--machine", "cold-shed", "--goal", "fresh-cups,glasses", "--json")
    assert call(*words, "--cache", compared.cache) == 0
    by_one = capfdbinary.readouterr()
    assert call(*words, "--jobs", "2") == 0
    assert capfdbinary.readouterr() == by_one


@pytest.mark.slow
def test_two_jobs_give_the_same_bytes_of_two_machines(
    compared: Compared, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert call(*compared.words, "--jobs", "2", "--json") == 0
    assert capfdbinary.readouterr() == (compared.stdout, b"")


def test_cache_gives_the_same_bytes_and_solves_nothing(
    compared: Compared, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    def no_workers(*_: object) -> None:
        raise AssertionError("a worker was asked")

    monkeypatch.setattr("optimizer.batch.run_cases.WorkerProcesses", no_workers)
    words = [*compared.words, "--cache", compared.cache]
    assert call(*words, "--json") == 0
    assert capfdbinary.readouterr() == (compared.stdout, b"")
    assert call(*words, "--sort", "duration_min") == 0
    text = capfdbinary.readouterr().out.decode()
    assert max(map(len, text.splitlines())) <= 80
    order = [line.split()[:2] for line in text.splitlines() if line.startswith(("clubhouse ", "cold-shed "))]
    assert order[:3] == [
        ["clubhouse", "fresh-cups"],
        ["cold-shed", "fresh-cups"],
        ["clubhouse", "glasses"],
    ]
    assert "WITHOUT A PLAN\n- cold-shed, glasses: no plan." in text
    assert "A dry element sets fire" in text


def test_machine_that_does_not_fit_its_circuit_is_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    cases = read_cases(StudyRequest(("clubhouse",), ("glasses",), ("branch-15a-120v", "shared-6a")))[:1]
    table = compare(cases, WorkerSettings(), 200).table
    assert table["status"].tolist() == ["does not fit"]
    assert "supply.voltage_v is not the voltage of the circuit branch-15a-120v (120 V)" in table["why"][0]


def test_no_plan_at_all_is_exit_code_4(compared: Compared, capfd: pytest.CaptureFixture[str]) -> None:
    words = ["compare", "--machine", "cold-shed", "--goal", "glasses", "--cache", compared.cache]
    assert call(*words) == 4
    out = capfd.readouterr().out
    assert "ONE RUN" not in out
    assert "A dry element sets fire" not in out  # no machine here has one


def test_every_fault_at_once_and_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def no_work(*_: object) -> None:
        raise AssertionError("work began")

    monkeypatch.setattr(compare_module, "run_and_pass_on", no_work)
    there = tmp_path / "there.csv"
    there.touch()
    words = ["--machine", "no-machine,clubhouse", "--goal", "no-goal,,glasses", "--circuit", "no-circuit"]
    words += ["--tariff", "no-tariff", "--sort", "price", "--columns", "rounds,colour", "--csv", str(there)]
    assert call("compare", *words, "--scheduler", "nowhere", "--jobs", "2") == 3
    shown = capfd.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("Bad input: 10 issues.")
    for name in ("no-machine", "no-goal", "no-circuit", "no-tariff", "price", "colour", "nowhere"):
        assert shown.err.count(f'found  "{name}"') == 1
    assert "- --jobs\n" in shown.err
    assert "a name is missing beside a comma" in shown.err
    assert "is already there" in shown.err


def test_sort_keeps_order_and_puts_what_is_missing_last() -> None:
    table = pd.DataFrame(
        {
            "goal": ["a", "b", "c", "d", "e"],
            "currency": ["USD", "EUR", None, "USD", "EUR"],
            "run_money": [0.2, 0.4, None, 0.1, 0.4],
            "duration_min": [90.0, 80.0, None, 90.0, 70.0],
        }
    )
    assert "".join(sorted_by(table, "run_money")["goal"]) == "bedac"
    assert "".join(sorted_by(table, "duration_min")["goal"]) == "ebadc"
