"""The shipped bench book: marked as invented, made by its script, and true to the machine behind it."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
from planner_cases import PLAINLY

import optimizer
from optimizer.measure.bench_log import read_log
from optimizer.measure.book import Bench
from optimizer.measure.measurement import Measurement, measure_book
from optimizer.measure.read_book import load_book, make_book
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.load import load_profile

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "profiles" / "bench" / "clubhouse"
SCRIPTS = str(ROOT / "benchmarks")


@pytest.fixture(scope="module")
def found() -> Measurement:
    return measure_book(load_book("clubhouse"))


def test_says_that_it_is_invented_and_names_the_dangers() -> None:
    text = (DEMO / "bench.toml").read_text(encoding="utf-8")
    assert text.startswith("# Invented data")
    assert "licensed electrician" in text


def test_the_profile_holds_the_true_numbers(found: Measurement) -> None:
    """Oracle: the readings were made from the nominal numbers of the shipped machine; the ends hold them."""
    true = load_profile("machine", "clubhouse")
    looked_at = set()
    for one in found.estimates:
        table, key = one.key.split(".")
        value = getattr(getattr(true, table), key)
        number = getattr(value, "nominal", value)
        assert one.low <= number <= one.high, one.key
        looked_at.add(one.key)
    assert {
        *("tank.heat_capacity_kj_per_k", "tank.loss_still_w_per_k", "tank.loss_spraying_w_per_k"),
        *("wash_pump.heat_share", "ware.response_spraying_s", "ware.response_still_s", "element.rated_w"),
        *("inlet.flow_l_per_min", "tank.residual_l", "supply.voltage_v", "element.cover_l"),
    } <= looked_at


def test_the_profile_says_that_its_machine_is_invented(found: Measurement) -> None:
    """As the book does; a book that says nothing of it gives a profile that says nothing."""
    assert found.machine is not None
    assert found.machine.about.startswith("Invented.")
    assert tomllib.loads(found.text())["about"] == found.machine.about


def test_it_gives_a_whole_profile_with_nothing_left_open(found: Measurement) -> None:
    assert found.machine is not None
    assert found.fit.unsettled == ()
    assert optimizer.measure_book(str(DEMO)).machine == found.machine


def test_the_script_makes_the_book_that_is_shipped(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """But for the last digit of a temperature, where another computer rounds the other way."""
    monkeypatch.syspath_prepend(SCRIPTS)
    for name in ("bench_books", "bench_plain", "bench_protocol", "bench_thermal", "bench_truth"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    import bench_books  # type: ignore[import-not-found]

    bench_books.main([str(tmp_path)])
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in DEMO.iterdir()}
    for path in sorted(tmp_path.glob("*.csv")):
        new, shipped = read_log(path), read_log(DEMO / path.name)
        assert np.array_equal(new.time_s, shipped.time_s)
        assert np.abs(new.bath_c - shipped.bath_c).max() < 0.1001
        assert np.mean(new.bath_c != shipped.bath_c) < 0.02
    new_text, text = ((folder / "bench.toml").read_text(encoding="utf-8") for folder in (tmp_path, DEMO))
    assert tomllib.loads(new_text).keys() == tomllib.loads(text).keys()
    differ = [one for one, other in zip(new_text.split(), text.split(), strict=True) if one != other]
    assert len(differ) < 5


def test_another_seed_is_another_book(monkeypatch: pytest.MonkeyPatch) -> None:
    """Random books of all shipped machines are sound, and come to a profile."""
    monkeypatch.syspath_prepend(SCRIPTS)
    import bench_books
    from bench_truth import random_bench, random_truth  # type: ignore[import-not-found]

    for seed, like in ((5, "narrowboat"), (6, "cold-shed")):
        rng = np.random.default_rng(seed)
        truth = random_truth(rng, like)
        book = bench_books.invented_book(truth, random_bench(rng), rng)
        read = make_book(Bench.model_validate(book.tables), book.logs, "book")
        measured = measure_book(read, truth.machine, like)
        by_key = {one.key: one for one in measured.estimates}
        tank = by_key["tank.heat_capacity_kj_per_k"]
        assert tank.low <= truth.one["tank.heat_capacity_kj_per_k"] <= tank.high
        assert measured.machine is not None


@pytest.mark.slow
def test_there_is_a_plan_for_it(found: Measurement) -> None:
    inputs = optimizer.measure_book("clubhouse").inputs("everyday")
    assert plan_and_prove(inputs, search=PLAINLY).certificate.passed
