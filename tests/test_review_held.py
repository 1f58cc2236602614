"""Runs that were held, watts unlike the outputs, clocks and thermometers that are off, a tank that runs over.

No published source: phases by hand, and simulated runs that are spoilt in one way each.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from planner_cases import proven
from profile_cases import scullion
from test_review_delivered import DRAIN, FILL, HEATS, SPRAY, TestDelivered

from optimizer.check.phases import OFF, Outputs, phases
from optimizer.errors import InputError
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json
from optimizer.report.review import review_report, review_to_dict, verdict
from optimizer.review import machine_now
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.drawn import as_drawn
from optimizer.review.drifts import read_drifts
from optimizer.review.reviewed import Reviewed, reviewed
from optimizer.review.run_log import RunLog, read_run
from optimizer.review.simulated_run import COLUMNS, simulate_run

Array = NDArray[np.float64]
BATH, POWER = 1, 2
EVERY_S, HELD_AT_S = 5, 2000  # in the heated spray of the wash


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


@pytest.fixture(scope="module")
def rows(plan: Plan) -> Array:
    return simulate_run(plan, 4, (), EVERY_S).rows


def review(plan: Plan, rows: Array, file: Path) -> Reviewed:
    lines = [",".join(COLUMNS), *(",".join(f"{cell:g}" for cell in row) for row in rows.tolist())]
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return reviewed(plan, read_run(file, 230.0), consequences=False)


class TestHeldByHand:
    """The programme of `TestDelivered`: a wash that is heated for 60 of its 90 s, and a rinse."""

    table, whole = TestDelivered.table, TestDelivered.whole

    def done(self, *segments: tuple[float, Outputs]) -> Delivered:
        return delivered(self.table, TestDelivered().log(*segments))

    def test_a_spray_goes_on_with_its_rest(self) -> None:
        done = self.done(*self.whole[:4], (20, HEATS), (300, OFF), (40, HEATS), *self.whole[5:])
        assert done.complete
        assert done.unlike == ()
        [held] = done.held
        assert (held.phase.name, held.phase.round, held.start_s, held.lasts_s) == ("spray", 0, 94.0, 300.0)
        assert not held.anew
        spray = done.steps[4]
        assert (spray.lasted_s, spray.held_s, spray.ran_s) == (360, 300, 60)
        assert [part.name for part in spray.parts] == ["spray", "held", "spray"]

    def test_twice_in_one_phase_and_in_a_fill(self) -> None:
        fill = ((30, FILL), (9, OFF), (30, FILL))
        spray = ((20, HEATS), (50, OFF), (20, HEATS), (70, OFF), (20, HEATS))
        done = self.done(*self.whole[:2], *fill, (2, OFF), *spray, *self.whole[5:])
        assert done.complete
        assert [held.lasts_s for held in done.held] == [9.0, 50.0, 70.0]

    def test_the_round_begins_anew_as_the_reference_controller_has_it(self) -> None:
        """It waits with the water in, drains as at the start, and goes on with all of the round."""
        anew = ((400, OFF), (10, DRAIN), (2, OFF))
        for given_up in ((20, HEATS),), ((60, HEATS), (11, SPRAY)):
            done = self.done(*self.whole[:4], *given_up, *anew, *self.whole[2:])
            assert done.complete
            [held] = done.held
            assert held.anew
            assert [step.phase.name for step in done.steps].count("fill") == 3
            assert [step.phase.round for step in done.steps if step.phase.name == "fill"] == [0, 0, 1]

    def test_a_spray_that_is_cut_short_is_none(self) -> None:
        """Drained in turn, and no fill more than the plan has: somebody skipped the rest."""
        done = self.done(*self.whole[:5], (11, SPRAY), *self.whole[6:])
        assert done.complete
        assert done.held == ()
        assert [step.lasted_s for step in done.unlike] == [11]

    def test_two_runs_in_one_file_are_none(self) -> None:
        done = self.done(*self.whole, (5, OFF), *self.whole)
        assert done.held == ()
        assert done.again is not None


def with_a_pause(rows: Array) -> Array:
    """All off for 300 s from `HELD_AT_S` on, then the rest."""
    at = HELD_AT_S // EVERY_S
    held = np.repeat(rows[at : at + 1], 300 // EVERY_S, axis=0)
    held[:, POWER:] = [3.0, 0.0, 0.0, 0.0, 0.0]
    held[:, 0] += np.arange(len(held)) * EVERY_S
    later = rows[at:].copy()
    later[:, 0] += 300.0
    return np.vstack([rows[:at], held, later])


def test_a_lid_that_was_opened_and_shut(plan: Plan, rows: Array, tmp_path: Path) -> None:
    found = review(plan, with_a_pause(rows), tmp_path / "run.csv")
    assert verdict(found).startswith(
        "Verdict: held for 5:00, after which no dose is proven; by what was sprayed"
    )
    said = " ".join(review_report(found, plan.inputs).split())
    assert "At 33:20 all went off within the spray of round 2 for 5:00; then it went on" in said
    assert review_to_dict(found)["held"] == [
        {"round": 2, "phase": "spray", "at_s": 2000.0, "lasted_s": 300.0, "round_began_anew": False}
    ]


def test_a_lid_that_was_opened_where_no_outputs_are_logged(plan: Plan, rows: Array, tmp_path: Path) -> None:
    """The watts alone show it: what no phase of the plan has is left out, and put back as a pause."""
    seen = with_a_pause(rows)[:, :3]
    lines = [",".join(COLUMNS[:3]), *(",".join(f"{cell:g}" for cell in row) for row in seen.tolist())]
    (tmp_path / "run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = reviewed(plan, read_run(tmp_path / "run.csv", 230.0), consequences=False)
    assert found.sureness is not None
    assert found.sureness.explained > 0.95
    [one] = found.done.held
    assert (one.start_s, one.lasts_s) == (pytest.approx(HELD_AT_S, abs=5), pytest.approx(300, abs=5))
    assert found.done.complete


class TestWatts:
    """A log whose watts are not those of its outputs."""

    @pytest.fixture(autouse=True)
    def no_drift_sought(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Phases and their watts are looked at here; which drifts explain the bath takes the longest."""
        monkeypatch.setattr(machine_now, "MOST_FREE", 0)

    def drawn(self, plan: Plan, rows: Array, file: Path) -> tuple[Reviewed, str]:
        found = review(plan, rows, file)
        return found, " ".join(review_report(found, plan.inputs).split())

    def changed(self, rows: Array, from_s: float, to_s: float, share: float, element_only: bool) -> Array:
        found = rows.copy()
        on = (found[:, 0] >= from_s) & (found[:, 0] < to_s) & (found[:, COLUMNS.index("element")] > 0.5)
        rest = 85.0 + 3.0 if element_only else 3.0
        found[on, POWER] = rest + share * (found[on, POWER] - rest)
        return found

    def test_a_sound_log_is_left_alone(self, plan: Plan, rows: Array, tmp_path: Path) -> None:
        assert review(plan, rows, tmp_path / "run.csv").done.drew == ()

    def test_a_lid_switch_in_the_supply(self, plan: Plan, rows: Array, tmp_path: Path) -> None:
        found, said = self.drawn(plan, self.changed(rows, 2000, 2300, 0.0, False), tmp_path / "run.csv")
        assert "From 33:20 on for 5:00 what was switched on drew nothing" in said
        [held] = [part for part in found.done.parts if part.name == "held"]
        assert held.longest_s == 300
        assert found.done.complete
        assert found.done.held == ()

    def test_a_cut_out_that_tripped(self, plan: Plan, rows: Array, tmp_path: Path) -> None:
        found, said = self.drawn(plan, self.changed(rows, 2500, 1e9, 0.0, True), tmp_path / "run.csv")
        assert "the element was switched on and drew nothing: its cut-out" in said
        assert not any(one.outputs.element for one in found.done.parts if one.round > 1)
        assert any(one.name == "spray" and not one.outputs.element for one in found.done.parts)
        assert found.done.complete

    @pytest.mark.parametrize(("share", "told"), [(0.95, False), (0.8, True), (1.2, True)])
    def test_low_voltage_for_a_while(
        self, share: float, told: bool, plan: Plan, rows: Array, tmp_path: Path
    ) -> None:
        found, said = self.drawn(plan, self.changed(rows, 1500, 2400, share, True), tmp_path / "run.csv")
        assert (f"drew 20 % {'less' if share < 1.0 else 'more'} than in the rest of the run" in said) == told
        weak = [part.longest_s for part in found.done.parts if part.element_share != 1.0]
        assert sum(weak) == (pytest.approx(900, abs=3 * EVERY_S) if told else 0)

    def test_watts_of_another_kind_are_no_cut_supply(self, plan: Plan, rows: Array, tmp_path: Path) -> None:
        found = rows.copy()
        found[:, POWER] *= 0.001
        with pytest.raises(InputError, match="did you mean kilowatts"):
            review(plan, found, tmp_path / "run.csv")

    def test_without_watts_there_is_nothing_to_correct(self, plan: Plan) -> None:
        log = RunLog("run.csv", np.arange(10.0), np.full(10, 20.0), None, None, (), (), False)
        assert as_drawn(plan.inputs.machine, log) == (log, ())


@pytest.mark.parametrize(("share", "told"), [(1.003, False), (1.007, True), (0.993, True)])
def test_a_clock_that_is_off(share: float, told: bool, plan: Plan, rows: Array, tmp_path: Path) -> None:
    found = rows.copy()
    found[:, 0] *= share
    run = review(plan, found, tmp_path / "run.csv")
    assert run.done.unlike == ()
    said = " ".join(review_report(run, plan.inputs).split())
    assert ("the clock of the logger or of the controller is off" in said) == told
    assert run.done.clock == pytest.approx(share - 1.0, abs=0.002)


@pytest.mark.parametrize("off_k", [-0.5, 0.5])
def test_a_thermometer_that_is_off(off_k: float, plan: Plan, rows: Array, tmp_path: Path) -> None:
    """The profile tells of no sensor: the log's own has an error, and the intervals hold the doses."""
    sound = {dose.key: dose for dose in review(plan, rows, tmp_path / "run.csv").doses}
    found = rows.copy()
    found[:, BATH] += off_k
    spoilt = review(plan, found, tmp_path / "run.csv")
    assert spoilt.now is not None
    assert spoilt.now.outside == []
    for dose in spoilt.doses:
        assert dose.low <= sound[dose.key].value <= dose.high
        assert dose.high - dose.low < 0.15 * dose.value


def test_a_log_that_nothing_explains_has_no_sure_dose(plan: Plan, rows: Array, tmp_path: Path) -> None:
    found = rows.copy()
    found[:, BATH] += 6.0 * np.sin(found[:, 0] / 400.0)
    run = review(plan, found, tmp_path / "run.csv")
    assert {dose.verdict for dose in run.doses} == {"not sure"}
    assert "doses unsure; no drift of a few quantities explains its bath" in verdict(run)


class TestRunsOver:
    """A rehearsal whose tank cannot hold its water."""

    def test_more_than_the_tank_holds_is_refused(self, plan: Plan) -> None:
        with pytest.raises(InputError) as refused:
            simulate_run(plan, 1, read_drifts(["residual=+40"]))
        [issue] = refused.value.issues
        assert "in a tank that holds 28 l: it runs over before the first fill" in issue.rule

    @pytest.mark.parametrize(("by", "over"), [(14, False), (22, True)])
    def test_it_is_said_and_gone(self, by: int, over: bool, plan: Plan) -> None:
        run = simulate_run(plan, 1, read_drifts([f"residual=+{by}"]))
        assert ("the tank holds 28 l and runs over from minute" in run.warning) == over
        assert run.csv().splitlines()[0].startswith("# simulated")
        assert (f"# {run.warning}" in run.csv().splitlines()) == over
        assert float(run.trace.level_l.max()) < 28.0 + 9.0

    def test_the_command_says_so(
        self, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.chdir(tmp_path)
        Path("plan.json").write_text(plan_to_json(plan), encoding="utf-8")
        ended = scullion(capsys, "rehearse", "plan.json", "--drift", "residual=+22", "--out", "run.csv")
        assert "The tank holds 28 l and runs over" in ended.out
        assert scullion(capsys, "review", "plan.json", "run.csv").code == 0
        assert scullion(capsys, "rehearse", "plan.json", "--drift", "residual=+40").code == 2


class TestFewRows:
    """A row each 5 or 10 s: gaps fall between rows, and rounding must not add up."""

    @pytest.mark.parametrize("every_s", [5, 10])
    def test_all_phases_last_as_planned(self, every_s: int, plan: Plan, tmp_path: Path) -> None:
        run = review(plan, simulate_run(plan, 4, (), every_s).rows, tmp_path / "run.csv")
        lasted = [(step.phase.name, step.lasted_s) for step in run.done.steps]
        assert lasted == [
            (phase.name, phase.longest_s) for phase in phases(plan.constants) if phase.name != "stand"
        ]
        assert [one.asked_s for one in run.rounds] == [one.lasted_s for one in run.rounds]

    def test_a_fill_that_a_switch_ends_ends_when_the_log_says(self) -> None:
        """Two fills of 47 s in rows of 5 s are seen as 45 or 50; what comes later begins when it did."""
        table = replace(TestDelivered.table, fill_control="level")
        whole = [(47 if on == FILL else lasts, on) for lasts, on in TestDelivered.whole]
        seconds = [on for lasts, on in whole for _ in range(lasts)]
        rows = [(5 * len(list(same)), on) for on, same in groupby(seconds[::5])]
        log = TestDelivered().log(*rows)
        parts = delivered(table, replace(log, time_s=np.arange(0.0, len(seconds), 5.0))).parts
        assert sum(part.longest_s for part in parts) == pytest.approx(len(seconds), abs=5)

    def test_no_second_is_laid_to_the_ware(self, plan: Plan, tmp_path: Path) -> None:
        """All four were told that ware or its response is outside when gaps were left out."""
        for seed in (3, 12, 16, 20):
            run = review(plan, simulate_run(plan, seed, (), 5).rows, tmp_path / "run.csv")
            assert run.now is not None
            assert not {"ware", "response"} & {one.word for one in run.now.outside}
