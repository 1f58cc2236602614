"""The bench run: same order, no element, no flood; each of the three is seen to fail as well."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from check_cases import THERMOSTAT, circuit, five_rounds, five_rounds_by_thermostat, goal, machine
from emit_cases import plan_of, tables
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import HOT_RINSE, cold_plan, phases, plan_case, steam_plan, thermostat_plan

from optimizer.check.bench_check import check_bench
from optimizer.check.certificate import Row
from optimizer.check.certify import check
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.errors import InputError
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan

PLANS = {"timed": plan_case, "thermostat": thermostat_plan, "cold": cold_plan, "steam": steam_plan}


def on(constants: Constants) -> list[str]:
    """What is on, one after the other, by a list of phases that is written for other tests."""
    return [phase.output for phase in phases(constants) if phase.output != "still"]


def rows_of(constants: Constants, plan: Plan) -> dict[str, Row]:
    return {row.key: row for row in check_bench(constants, plan.inputs.machine, plan.constants)}


def failing(constants: Constants, plan: Plan) -> list[str]:
    return [key for key, row in rows_of(constants, plan).items() if not row.passed]


@pytest.mark.parametrize("name", PLANS)
def test_same_order_in_seconds_without_the_element(name: str) -> None:
    plan = PLANS[name]()
    bench = bench_run(plan).constants
    assert on(bench) == on(plan.constants)
    assert [row.kind for row in bench.rounds] == [row.kind for row in plan.constants.rounds]
    lengths = [bench.gap_s, bench.stand_s or 2, *(phase.seconds for phase in phases(bench))]
    assert all(2 <= seconds <= 6 for seconds in lengths)
    assert all(phase.element_s == 0 for phase in phases(bench))
    assert all(
        (row.heat_s, row.spray_element_s, row.setpoint_dc, row.detergent_dg) == (0,) * 4
        for row in bench.rounds
    )
    assert failing(bench, plan) == []
    assert check_bench(bench, plan.inputs.machine) == check_bench(bench, plan.inputs.machine, plan.constants)


def test_a_heated_round_rests_before_its_drain() -> None:
    rests = [row.rest_s > 0 for row in bench_run(plan_case(replace(HOT_RINSE, rest_s=0))).constants.rounds]
    assert rests == [True]
    assert [row.rest_s > 0 for row in bench_run(plan_case()).constants.rounds] == [False, True, False, True]


def test_fills_are_cut_to_what_the_tank_holds() -> None:
    """11 fills of 6 s at 6.6 l/min and 1 l of carry-over are 8.26 l: 7.6 l take 5 s, 3.4 l not even 2 s."""
    rounds = plan_case().constants.rounds[:1] * 11
    for capacity_l, fill_s, passes in ((28.0, 6, True), (7.6, 5, True), (3.5, 2, True), (3.4, 2, False)):
        plan = plan_case(*rounds)
        tank = plan.inputs.machine.tank.model_copy(update={"capacity_l": capacity_l})
        rig = plan.inputs.machine.model_copy(update={"tank": tank})
        plan = replace(plan, inputs=replace(plan.inputs, machine=rig))
        bench = bench_run(plan).constants
        assert {row.fill_s for row in bench.rounds} == {fill_s}
        row = rows_of(bench, plan)["bench.level_l"]
        assert row.worst == pytest.approx(0.8 + 0.2 + 11 * fill_s * 6.6 / 60.0)
        assert (row.limit, row.passed) == (capacity_l, passes)


Spoil = Callable[[Constants], Constants]


def row_changed(index: int, **changes: int) -> Spoil:
    def spoil(bench: Constants) -> Constants:
        rows = list(bench.rounds)
        rows[index] = replace(rows[index], **changes)
        return replace(bench, rounds=tuple(rows))

    return spoil


@pytest.mark.parametrize(
    ("spoil", "keys"),
    [
        (row_changed(1, heat_s=2), ["bench.element_s"]),
        (row_changed(1, spray_element_s=2), ["bench.element_s"]),
        (row_changed(1, fill_s=7), ["bench.most_s"]),
        (row_changed(1, fill_s=300), ["bench.level_l", "bench.most_s"]),
        (row_changed(1, drain_s=1), ["bench.least_s"]),
        (row_changed(1, kind="prerinse"), ["bench.order"]),
        (lambda bench: replace(bench, rounds=bench.rounds[1:]), ["bench.order"]),
        (lambda bench: replace(bench, rounds=(*bench.rounds, bench.rounds[-1])), ["bench.order"]),
        (lambda bench: replace(bench, stand_s=60), ["bench.most_s"]),
        (row_changed(1, detergent_dg=1), ["bench.detergent_g"]),
        (lambda bench: replace(bench, lid_open_after_s=1), ["bench.lid_s"]),
        (lambda bench: replace(bench, gap_s=1), ["bench.least_s"]),
    ],
)  # fmt: skip
def test_each_of_the_three_is_seen_to_fail(spoil: Spoil, keys: list[str]) -> None:
    plan = plan_case()
    assert failing(spoil(bench_run(plan).constants), plan) == keys


def test_a_bench_run_is_no_programme_and_a_programme_no_bench_run() -> None:
    plan = replace(plan_case(machine=machine()), constants=five_rounds())
    bench = bench_run(plan).constants
    assert bench.input_sha256 != plan.constants.input_sha256
    with pytest.raises(InputError, match="washes nothing"):
        check(bench, machine(), goal(), circuit(), draws=0)
    with pytest.raises(InputError, match="no bench run"):
        check_bench(plan.constants, machine())


def test_a_bench_run_for_another_kind_of_machine_is_refused() -> None:
    plan = replace(plan_case(machine=machine(THERMOSTAT)), constants=five_rounds_by_thermostat())
    with pytest.raises(InputError, match="control"):
        check_bench(bench_run(plan).constants, machine())


@pytest.mark.parametrize("form", FORMS)
def test_marked_everywhere(form: str) -> None:
    bench = bench_run(plan_case())
    text = " ".join(FORMS[form].text(bench).replace("*", " ").split())
    assert "BENCH RUN: it washes nothing." in text
    assert f"in {bench.constants.total_max_s} s: every phase in its order" in text
    assert "BENCH RUN" not in FORMS[form].text(plan_case())
    assert bench.constants.total_max_s == 6 + 4 * (6 + 4 + 6 + 3 * 2) + 2 * (4 + 2) + 4


@cases(100)
@given(tables(), st.floats(2.0, 30.0))
def test_any_bench_run_that_passes_cannot_flood(table: Constants, capacity_l: float) -> None:
    """Litres by hand: the fastest inlet for all fills on top of the most carry-over, no drain."""
    # Made to fit the machine; all else is any table.
    warm = table.control == "thermostat"
    plan = plan_of(replace(table, hysteresis_dk=10 * warm, bath_max_dc=740 * warm))
    tank = plan.inputs.machine.tank.model_copy(update={"capacity_l": capacity_l})
    rig = plan.inputs.machine.model_copy(update={"tank": tank})
    plan = replace(plan, inputs=replace(plan.inputs, machine=rig))
    bench = bench_run(plan).constants
    filled_l = 0.8 + 0.2 + sum(row.fill_s + row.top_up_s for row in bench.rounds) * 6.6 / 60.0
    assert (failing(bench, plan) == []) == (filled_l <= capacity_l)
    assert sum(row.heat_s + row.spray_element_s for row in bench.rounds) == 0
