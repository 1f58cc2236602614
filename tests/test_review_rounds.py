"""Rounds and doses that a log shows, against the run that wrote it.

No published source: the truth is the check's own simulation, with fine steps.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from planner_cases import proven
from review_cases import read_back

from optimizer.check.integrate import Simulation
from optimizer.check.meters import DoseMeter
from optimizer.check.phases import phases
from optimizer.check.trace_rounds import round_peaks_c
from optimizer.check.worst_cases import cases_at
from optimizer.programme.plan import Plan
from optimizer.review.consequences import worst_found
from optimizer.review.delivered import delivered
from optimizer.review.drifts import read_drifts
from optimizer.review.run_log import read_run
from optimizer.review.simulated_run import simulate_run
from optimizer.review.what_it_did import doses_done, rounds_done, rounds_planned


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


def test_doses_are_those_of_the_machine_that_ran(plan: Plan, tmp_path: Path) -> None:
    """The same machine in the check's simulation with fine steps."""
    machine, goal, constants = plan.inputs.machine, plan.inputs.goal, plan.constants
    for seed, drift in ((7, []), (8, ["element=-20%"])):
        run = simulate_run(plan, seed, read_drifts(drift))
        log, now = read_back(plan, tmp_path / "run.csv", run)
        found = doses_done(plan, delivered(constants, log), now)
        table = {name: np.array([value]) for name, value in run.table.items()}
        cases = cases_at(machine, ("",), 1, table)
        meter = DoseMeter(goal, constants, cases)
        for stretch in Simulation(constants, cases, machine.tank.vent_m2).run():
            meter.add(stretch)
        assert {one.key for one in found} == {f"dose.{name}" for name in meter.doses_s}
        for one in found:
            true_min = float(meter.doses_s[one.key.removeprefix("dose.")][0]) / 60.0
            assert one.low <= true_min <= one.high


def test_rounds_are_as_long_as_the_table_says(plan: Plan, tmp_path: Path) -> None:
    run = simulate_run(plan, 1)
    log, _ = read_back(plan, tmp_path / "run.csv", run)
    rounds = rounds_done(plan, log, delivered(plan.constants, log))
    assert [one.kind for one in rounds] == [row.kind for row in plan.constants.rounds]
    for number, one in enumerate(rounds):
        asked_s = sum(phase.longest_s for phase in phases(plan.constants) if phase.round == number)
        assert one.asked_s == asked_s
        assert one.lasted_s == pytest.approx(asked_s, abs=2)
    metered_kwh = sum(one.electricity_kwh or 0.0 for one in rounds)
    watts, seconds = run.rows[:, 2], run.rows[:, 0]
    assert metered_kwh == pytest.approx(float(np.trapezoid(watts, seconds)) / 3.6e6, rel=0.01)


def test_the_peak_of_a_round_is_of_its_own_water(plan: Plan, tmp_path: Path) -> None:
    """A cold rinse after a hot one: until it is full the sensor still has the bath before."""
    run = simulate_run(plan, 4)
    log, _ = read_back(plan, tmp_path / "run.csv", run)
    certificate = worst_found(plan)
    planned = rounds_planned(plan, certificate.trace)
    rounds = rounds_done(plan, log, delivered(plan.constants, log), planned)
    bath_c, sprayed = run.rows[:, 1], run.rows[:, 5] > 0.0
    starts = np.flatnonzero((run.rows[1:, 3] > 0.0) & (run.rows[:-1, 3] == 0.0)) + 1
    for start, end, one in zip(starts, [*starts[1:], len(bath_c)], rounds, strict=True):
        worked = sprayed[start:end] | (run.rows[start:end, 4] > 0.0)
        # A row before the spray and one after it count as well: the log says when something changes to a row.
        assert one.peak_c == pytest.approx(bath_c[start:end][worked].max(), abs=0.5)
        assert bath_c[start] > 30.0 or one.kind != "rinse" or one.peak_c < 45.0
    after_hot = next(n for n in range(1, len(rounds)) if rounds[n - 1].peak_c - rounds[n].peak_c > 10.0)  # type: ignore[operator]
    assert bath_c[starts[after_hot]] > rounds[after_hot].peak_c + 5.0  # type: ignore[operator]
    assert [one.peak_c for one in planned] == round_peaks_c(certificate.trace)
    assert sum(one.electricity_kwh for one in planned) == pytest.approx(plan.costs.electricity_kwh, rel=0.03)
    assert sum(one.water_l for one in planned) == pytest.approx(plan.costs.water_l, rel=0.01)


def test_a_round_that_was_cut_off_before_its_spray_has_no_peak(plan: Plan, tmp_path: Path) -> None:
    run = simulate_run(plan, 4)
    starts = np.flatnonzero((run.rows[1:, 3] > 0.0) & (run.rows[:-1, 3] == 0.0)) + 1
    text = run.csv().splitlines()[: starts[3] + 3 + 30]
    (tmp_path / "cut.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "cut.csv", 230.0)
    last = rounds_done(plan, log, delivered(plan.constants, log))[-1]
    assert (last.kind, last.peak_c, last.whole) == ("rinse", None, False)
