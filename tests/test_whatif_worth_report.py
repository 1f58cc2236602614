"""What a better measurement is worth, as it is told: table, JSON, exit codes, a bench book measured first."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from calling import call
from width_cases import assert_fits
from worth_cases import example, without_plan

import optimizer
from optimizer.batch.run_cases import WorkerSettings
from optimizer.batch.workers import processors
from optimizer.profile.shipped import folder_of
from optimizer.programme.plan import Inputs
from optimizer.report.worth import worth_report, worth_to_dict
from optimizer.whatif import worth as module
from optimizer.whatif.worth import Narrowed, Worth


class TestReport:
    @pytest.mark.parametrize("name", ["worth", "worth_no_plan"])
    def test_as_it_was(self, name: str) -> None:
        """Golden."""
        text = worth_report(example() if name == "worth" else without_plan(), 200)
        golden = Path(__file__).parent / "golden" / f"{name}.txt"
        assert text == golden.read_text(encoding="utf-8").rstrip("\n")

    def test_money_by_hand(self) -> None:
        """200 runs of 0.02 EUR are 4 EUR; a flow takes 20 min to measure: 0.2 EUR a minute."""
        row = worth_to_dict(example(), 200)["intervals"][0]
        assert (row["key"], row["test"], row["minutes"]) == ("inlet.flow_l_per_min", "fills", 20)
        assert row["saving_per_year"] == pytest.approx(4.0)
        assert row["saving_per_year_and_minute"] == pytest.approx(0.2)
        assert row["halved"] == {"low": pytest.approx(5.7), "high": pytest.approx(6.3)}

    def test_fits_the_terminal(self) -> None:
        for one in (example(), without_plan(), example(rows=(), all_at_once=None)):
            assert_fits(worth_report, one, 200)
            assert "nan" not in worth_report(one, 200)
            json.dumps(worth_to_dict(one, 200), allow_nan=False)

    def test_says_where_a_cheaper_programme_was_found_that_holds_now(self) -> None:
        said = [" ".join(worth_report(example(missed=more), 200).split()) for more in (0.01, 0.001)]
        assert ["2.00 EUR a year less than the plan" in text for text in said] == [True, False]

    def test_an_interrupted_work_says_what_is_not_finished(self) -> None:
        stopped = tuple(Narrowed(row.interval, "not finished") for row in example().rows)
        found = example(rows=stopped, all_at_once=Narrowed(None, "not finished"), interrupted=True)
        text = worth_report(found, 200)
        assert "HALVED AT ONCE\nNot finished." in text
        assert "NOT FINISHED\n- inlet.flow_l_per_min" in text
        assert "NO EFFECT" not in text
        nothing = example(all_at_once=Narrowed(None, "no plan"), now=None, rows=())
        assert "no programme" in worth_report(nothing, 200)

    def test_exact_numbers_have_nothing_to_halve(self) -> None:
        assert "no number has an interval" in worth_report(example(rows=(), all_at_once=None), 200)


class TestCommand:
    def test_the_command_ends_with_4_where_none_does(
        self, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
    ) -> None:
        one = without_plan()
        never = tuple(replace(row, status="no plan", costs=None) for row in one.rows)
        helpless = replace(one, rows=never, all_at_once=Narrowed(None, "no plan"))
        for answer, code in ((one, 0), (helpless, 4), (replace(one, interrupted=True), 130)):
            monkeypatch.setattr(module, "worth", lambda *_, answer=answer: answer)
            assert call("worth", "clubhouse", "everyday", "--json") == code
            assert json.loads(capfd.readouterr().out)["now"] is None

    def test_all_processors_plan_and_what_goes_on_is_told(
        self, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
    ) -> None:
        jobs: list[int | None] = []

        def noted(_: Inputs, settings: WorkerSettings, solver: str, report: Any) -> Worth:
            jobs.append(settings.jobs)
            report("3 of 27 narrower intervals planned")
            return example()

        monkeypatch.setattr(module, "worth", noted)
        assert call("worth", "clubhouse", "everyday", "--json") == 0
        assert call("worth", "clubhouse", "everyday", "--json", "--jobs", "3") == 0
        assert jobs == [processors(), 3]
        capfd.readouterr()


class TestBook:
    def test_a_book_is_measured_first(
        self, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
    ) -> None:
        """Folder or file: the intervals are those of the profile that measure makes of it."""
        book = folder_of("machine").parent / "bench" / "clubhouse"
        given: list[Inputs] = []

        def noted(inputs: Inputs, *_: object) -> Worth:
            given.append(inputs)
            return example()

        monkeypatch.setattr(module, "worth", noted)
        for name in (book, book / "bench.toml"):
            assert call("worth", name, "everyday", "--json") == 0
        capfd.readouterr()
        measured = optimizer.measure_book(str(book)).machine
        assert [one.machine for one in given] == [measured, measured]
        assert given[0].names[1:] == ("everyday", "shared-6a", "two-rate")

    def test_like_goes_with_a_book_only(self, capfd: pytest.CaptureFixture[str]) -> None:
        assert call("worth", "clubhouse", "everyday", "--like", "clubhouse") == 2
        assert "goes with a bench book" in " ".join(capfd.readouterr().err.split())
