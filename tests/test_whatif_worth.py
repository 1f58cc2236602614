"""What a better measurement is worth: never negative, and what a plan of the edited profile says."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from calling import Shown
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import FEW, shipped, tiny
from worth_cases import HERE, costs, of_keys, one_of

from optimizer.measure.bench_tests import BENCH_TESTS, settled_by
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.profile.shipped import profile_path, shipped_names
from optimizer.programme.plan import Costs, Inputs
from optimizer.report.worth import worth_report
from optimizer.whatif import worth as module
from optimizer.whatif.narrower_plans import SENSOR, Interval, NarrowerPlans, intervals, narrowed
from optimizer.whatif.possible_changes import halved, measured_of
from optimizer.whatif.upgrades import NOISE
from optimizer.whatif.worth import Worth

MONEY = st.floats(0.001, 100.0)
IDLE = ("ware.steam_share", "element.top_over_mean_k")
SOME = ("tank.residual_l", *IDLE)


@pytest.fixture(scope="module")
def planned() -> list[list[str]]:
    """Sets of intervals that were planned for with each of them halved, as `found` was found."""
    return []


@pytest.fixture(scope="module")
def found(planned: list[list[str]]) -> Worth:
    plan = NarrowerPlans.plan

    def noted(self: NarrowerPlans, some: Sequence[Sequence[Interval]], *, near: bool) -> None:
        planned.extend([one.key for one in each] for each in some)
        plan(self, some, near=near)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(NarrowerPlans, "plan", noted)
        return of_keys(tiny(), SOME)


@pytest.fixture(scope="module")
def from_nothing() -> Worth:
    """A residue that only a smaller carry-over reaches, with the rounds that there may be."""
    return of_keys(tiny(goal__rinse__residue_max=RESIDUE), ("tank.residual_l", "ware.steam_share"))


RESIDUE = 0.0031
"""Two rinses leave more with the carry-over of the profile, and less with half its interval [1]."""


def keys_of(inputs: Inputs) -> list[str]:
    return [one.key for one in intervals(inputs)]


class TestIntervals:
    def test_a_number_that_is_exact_is_not_listed_and_one_step_wider_is(self) -> None:
        """Boundary: no width, and the least width that a float can have, at either end."""
        key, exact = "tank.loss_still_w_per_k", 4.0
        for low, high, listed in (
            (4.0, 4.0, False),
            (4.0, 4.000000000000001, True),
            (3.9999999999999996, 4.0, True),
        ):
            ends = {"nominal": exact, "low": low, "high": high}
            assert (key in keys_of(tiny(machine__tank__loss_still_w_per_k=ends))) is listed

    def test_a_sensor_counts_where_one_switches_the_element(self) -> None:
        for control, error_k, listed in (
            ("thermostat", 1.0, True),
            ("thermostat", 0.0, False),
            ("timed", 1.0, False),
        ):
            inputs = tiny(machine__element__control=control, machine__element__sensor_error_k=error_k)
            assert (SENSOR in keys_of(inputs)) is listed
        half = narrowed(shipped("narrowboat", "glasses"), [one_of(shipped("narrowboat", "glasses"), SENSOR)])
        assert half.machine.element is not None
        assert half.machine.element.sensor_error_k == 0.5

    def test_narrower_is_half_as_wide_about_the_same_nominal_value(self) -> None:
        one = one_of(tiny(), "ware.film_l")
        assert (one.now.low, one.now.nominal, one.now.high) == (0.10, 0.12, 0.15)
        assert one.narrower == Measured(nominal=0.12, low=0.11, high=0.135)
        assert narrowed(tiny(), [one]).machine.ware.film_l == one.narrower

    @pytest.mark.parametrize("name", shipped_names("machine"))
    def test_every_interval_of_a_shipped_machine_and_of_its_circuit_is_there_with_its_unit(
        self, name: str
    ) -> None:
        inputs = shipped(name, "fresh-cups")
        wide = {key for key, one in measured_of(inputs.machine) if one.low < one.high}
        wide |= {f"circuit.{key}" for key, one in measured_of(inputs.circuit) if one.low < one.high}
        found = list(intervals(inputs))
        assert {one.key for one in found} - {SENSOR} == wide
        shares = {"ware.steam_share", "wash_pump.mechanics_factor"}
        assert {one.key for one in found if not one.unit} <= shares
        for one in found:
            narrower = narrowed(inputs, [one])
            assert narrower != inputs


class TestBenchTests:
    def test_every_number_that_may_have_an_interval_has_a_test(self) -> None:
        keys = [f"{table}.{key}" for table, fields in _tables(Machine) for key in fields]
        keys += [f"circuit.{key}" for key in _measured_fields(Circuit)]
        assert len(keys) > 25
        assert [key for key in [*keys, SENSOR] if settled_by(key) is None] == []

    def test_a_key_is_settled_once_and_is_a_key(self) -> None:
        said = [key for test in BENCH_TESTS for key in test.settles]
        assert len(said) == len(set(said))
        for key in said:
            table, name = key.split(".")
            fields = Circuit.model_fields if table == "circuit" else dict(_tables(Machine, every=True))[table]
            assert name in fields
        assert all(test.minutes > 0.0 and test.do for test in BENCH_TESTS)


def _tables(model: Any, *, every: bool = False) -> Iterator[tuple[str, Any]]:
    for name, field in model.model_fields.items():
        for part in (field.annotation, *getattr(field.annotation, "__args__", ())):
            if hasattr(part, "model_fields") and part is not Measured:
                yield name, part.model_fields if every else _measured_fields(part)


def _measured_fields(model: Any) -> list[str]:
    return [name for name, field in model.model_fields.items() if "Measured" in str(field.annotation)]


class TestSavings:
    def test_the_saving_is_that_of_a_plan_of_the_edited_profile(self, found: Worth) -> None:
        """Oracle: the planner by itself with the profile's interval edited; it starts from nothing."""
        now = plan_and_prove(tiny(), search=FEW).plan.costs.with_waiting
        assert found.now is not None
        assert found.now.with_waiting == pytest.approx(now, rel=NOISE)
        for row in found.rows:
            assert row.interval is not None
            edited = plan_and_prove(narrowed(tiny(), [row.interval]), search=FEW).plan.costs.with_waiting
            assert row.saving is not None
            assert now - edited == pytest.approx(row.saving, abs=NOISE * now)
        assert max(row.saving or 0.0 for row in found.rows) > 2.0 * NOISE * now

    def test_no_saving_is_negative_and_all_at_once_saves_no_less(self, found: Worth) -> None:
        savings = [row.saving for row in found.rows]
        assert all(saving is not None and saving >= 0.0 for saving in savings)
        assert found.all_at_once is not None
        assert (found.all_at_once.saving or 0.0) >= max(saving or 0.0 for saving in savings)

    def test_a_dearer_plan_with_a_narrower_interval_is_no_loss(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Whatever the search comes to, the present programme holds there too."""
        now = Costs(1.0, 10.0, 5.0, 60.0, 1.0, 1.0, 1.0, 0.2, 5.0)
        for money, saving in ((0.9, 0.1), (1.0, 0.0), (1.1, 0.0)):
            result = _Result("planned", _Plan(replace(now, money=money)))
            row = module._row(one_of(tiny(), "ware.film_l"), result, now)
            assert row.saving == pytest.approx(saving)
        for status in ("no plan", "check failed"):
            row = module._row(one_of(tiny(), "ware.film_l"), _Result(status, None), now)
            assert (row.status, row.saving, row.costs) == ("planned", 0.0, now)
        assert module._row(None, _Result("failed", None, ("out of memory",)), now).saving is None

    @given(st.lists(MONEY | st.none(), min_size=1, max_size=5), MONEY | st.none(), MONEY)
    def test_whatever_the_searches_find(
        self, singles: list[float | None], together: float | None, now_money: float
    ) -> None:
        """Property: no saving below 0, all at once no less than any one, no row that costs more than now."""
        now, one = costs(now_money), one_of(tiny(), "ware.film_l")
        results = [_result_of(money) for money in (*singles, together)]
        rows = [module._row(one, result, now) for result in results[:-1]]
        all_at_once = module._together(results[-1], now, rows)
        for row in (*rows, all_at_once):
            assert row.saving is not None
            assert row.costs is not None
            assert row.saving >= 0.0
            assert row.costs.with_waiting <= now.with_waiting
            assert row.saving == pytest.approx(now.with_waiting - row.costs.with_waiting)
            assert row.saving <= (all_at_once.saving or 0.0)

    def test_most_money_for_a_minute_of_work_comes_first(self, found: Worth) -> None:
        shares = [row.saving_per_minute or 0.0 for row in found.rows]
        assert shares == sorted(shares, reverse=True)
        assert found.rows[0].saving_per_minute == pytest.approx(
            (found.rows[0].saving or 0.0) / (found.rows[0].minutes or 1.0)
        )

    def test_what_makes_no_difference_to_a_programme_has_no_effect(self, found: Worth) -> None:
        """Nothing boils in this goal."""
        (steam,) = [row for row in found.rows if row.key == "ware.steam_share"]
        assert steam.saving == 0.0
        assert "NO EFFECT" in worth_report(found, 200)


class TestFewerPlans:
    def test_what_promises_nothing_is_planned_for_as_one(
        self, found: Worth, planned: list[list[str]]
    ) -> None:
        rows = {row.key: row for row in found.rows}
        assert planned == [list(SOME), list(IDLE), ["tank.residual_l"]]
        assert all((rows[key].status, rows[key].saving) == ("planned", 0.0) for key in IDLE)

    def test_where_all_at_once_save_nothing_none_is_planned(self) -> None:
        """What holds with one interval halved holds with all of them."""
        planner = NarrowerPlans(tiny(), None, HERE, "auto", lambda _: None, FEW)
        asked = [one_of(tiny(), key) for key in IDLE]
        planner.results[tuple(asked)] = _Result("no plan", None)  # type: ignore[assignment]
        assert not planner.can_save(asked)
        assert [planner.result_of(one) for one in asked] == [planner.results[tuple(asked)]] * 2
        planner.results[tuple(asked)] = _Result("failed", None)  # type: ignore[assignment]
        assert planner.can_save(asked), "nobody knows"


class _Plan:
    def __init__(self, costs: Costs) -> None:
        self.costs = costs


class _Result:
    def __init__(self, status: str, plan: _Plan | None, why: tuple[str, ...] = ()) -> None:
        self.status, self.plan, self.why = status, plan, why


def _result_of(money: float | None) -> _Result:
    return _Result("no plan", None) if money is None else _Result("planned", _Plan(costs(money)))


class TestNoPlanNow:
    @pytest.mark.slow
    def test_which_narrower_interval_givesone_of(self, from_nothing: Worth) -> None:
        assert from_nothing.now is None
        assert from_nothing.refusal is not None
        assert [(row.key, row.status) for row in from_nothing.rows] == [
            ("tank.residual_l", "planned"),
            ("ware.steam_share", "no plan"),
        ]
        assert from_nothing.any_plan
        assert all(row.saving is None for row in from_nothing.rows)
        text = worth_report(from_nothing, 200)
        assert text.index("WHAT WOULD MAKE A PROGRAMME POSSIBLE") < text.index("NO PROGRAMME EITHER WITH")


@pytest.mark.slow
def test_the_command_agrees_with_a_plan_of_the_edited_file(tmp_path: Path, shown: Shown) -> None:
    """Oracle: rows of the command against `scullion plan` of the file with that interval edited."""
    code, out, _ = shown("worth", "cold-shed", "fresh-cups", "--json", "--jobs", "1")
    assert code == 0
    answer = json.loads(out)
    now = answer["now"]["counted"]
    text = profile_path("machine", "cold-shed").read_text(encoding="utf-8")
    seen = 0
    for old, new, key in (
        ("residual_l = { nominal = 0.5, low = 0.35, high = 0.75 }", (0.5, 0.425, 0.625), "tank.residual_l"),
        ("flow_l_per_min = { nominal = 8, tolerance_pct = 15 }", (8, 7.4, 8.6), "inlet.flow_l_per_min"),
    ):
        assert old in text
        nominal, low, high = new
        name = old.split(" = ")[0]
        edited = text.replace(old, f"{name} = {{ nominal = {nominal}, low = {low}, high = {high} }}")
        path = tmp_path / "mine.toml"
        path.write_text(edited, encoding="utf-8")
        code, out, _ = shown(
            "plan", path, "fresh-cups", "--circuit", "plug-13a-fused", "--tariff", "flat", "--json"
        )
        assert code == 0
        run = json.loads(out)["run"]
        counted = run["money"] + run["waiting"]
        (row,) = [row for row in answer["intervals"] if row["key"] == key]
        assert now - counted == pytest.approx(row["saving_per_run"], abs=NOISE * now)
        seen += row["saving_per_run"] > 0.0
    assert seen


def test_halving_is_what_upgrades_does_to_all_of_them() -> None:
    measured = Measured(nominal=6.0, low=5.0, high=9.0)
    assert halved(measured) == Measured(nominal=6.0, low=5.5, high=7.5)
