"""Many runs: averages with limits, when the plan breaks if it goes on, and the profile for the next plan."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from planner_cases import proven
from profile_cases import scullion

from optimizer.measure.intervals import tolerance_factor
from optimizer.profile.load import load_profile, parse_profile
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json
from optimizer.review.delivered import Delivered
from optimizer.review.drifts import Drift
from optimizer.review.machine_now import Finding, MachineNow, machine_now
from optimizer.review.reviewed import Reviewed
from optimizer.review.run_log import RunLog, Segment
from optimizer.review.simulated_run import simulate_run
from optimizer.review.trends import LEARNS_AT_LEAST, ewma, trends
from optimizer.review.tuned_profile import new_ends, profile_text, tuned


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


HANDBOOK = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
            52.6, 52.4, 53.6, 52.1)  # fmt: skip
HANDBOOK_EWMA = (50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
                 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99)  # fmt: skip


def test_the_handbooks_own_example() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 50, s 2.0539, lambda 0.3; its averages to two decimals."""
    chart = ewma(HANDBOOK, 50.0, 2.0539, 0.3)
    assert chart.high == pytest.approx(52.5884, abs=2e-4)
    assert chart.low == pytest.approx(47.4115, abs=2e-4)
    assert chart.average == pytest.approx(np.array(HANDBOOK_EWMA), abs=0.0101)
    assert chart.first_out is None


def test_a_step_is_out_of_control() -> None:
    chart = ewma([*HANDBOOK, 56.0, 56.0, 56.0], 50.0, 2.0539, 0.3)
    assert chart.first_out == len(HANDBOOK)
    assert ewma([*HANDBOOK, 44.0, 45.0], 50.0, 2.0539, 0.3).first_out is None
    assert ewma([40.0], 50.0, 2.0539, 0.3).first_out == 0


def finding(word: str, value: float, half: float, low: float, high: float, seen: bool = True) -> Finding:
    middle = 0.5 * (low + high)
    outside = 1.0 if value - half > high or value + half < low else 0.0
    return Finding(word, low, middle, high, value, value - half, value + half, outside, False, seen)


def run_of(*findings: Finding) -> Reviewed:
    from optimizer.check.phases import OFF

    log = RunLog("x", np.arange(3.0), np.zeros(3), None, None, (Segment(0.0, 2.0, OFF),), (), True)
    return Reviewed(log, Delivered((), (), None, 0.0), (), (), MachineNow(findings, 0.15, {}, {}), ())


def test_a_trend_is_found_and_followed_until_the_check_fails(plan: Plan) -> None:
    """An element that loses 1 % a run: by hand, the check first fails at a power found by trying."""
    rated_w = plan.inputs.machine.element.rated_w.nominal  # type: ignore[union-attr]
    runs = [run_of(finding("element", rated_w * (1.0 - 0.01 * n), 0.01 * rated_w, 0.95 * rated_w,
                           1.05 * rated_w)) for n in range(12)]  # fmt: skip
    [one] = trends(plan, runs, lambda _: None)
    assert one.slope == pytest.approx(-0.01 * rated_w)
    assert one.first_out is not None
    assert one.first_out >= LEARNS_AT_LEAST
    assert one.breaks_in is not None
    assert one.breaks.startswith(("dose.", "hygiene."))


def test_runs_that_scatter_have_no_trend_and_few_have_no_limits(plan: Plan) -> None:
    random = np.random.default_rng(3)
    values = 100.0 + random.standard_normal(30)
    runs = [run_of(finding("room", float(value), 2.0, 90.0, 110.0)) for value in values]
    [one] = trends(plan, runs, lambda _: None)
    assert (one.slope, one.breaks_in, one.first_out) == (0.0, None, None)
    [one] = trends(plan, runs[:5], lambda _: None)
    assert one.chart is None


class TestNewEnds:
    machine = load_profile("machine", "clubhouse")

    def test_outside_once_is_wider_at_once(self) -> None:
        rated = self.machine.element.rated_w
        out = finding("element", 0.7 * rated.nominal, 0.02 * rated.nominal, rated.low, rated.high)
        [one] = new_ends(self.machine, [[out]])
        assert one.wider
        assert one.low == pytest.approx(0.68 * rated.nominal, rel=1e-3)
        assert one.low <= 0.68 * rated.nominal
        assert one.high == rated.high
        again = tuned(self.machine, [one])
        assert again.element.rated_w.low == one.low
        assert again.tank == self.machine.tank

    @pytest.mark.parametrize(("runs", "narrower"), [(2, False), (3, True), (12, True)])
    def test_narrower_from_three_runs_on_and_by_the_tolerance_interval(
        self, runs: int, narrower: bool
    ) -> None:
        """Tolerance factors: ISO 16269-6, held by its tables in test_measure_statistics."""
        loss = self.machine.tank.loss_spraying_w_per_k
        middle, half = loss.nominal, 0.02 * (loss.high - loss.low)
        off = 0.1 * half * np.resize([1.0, -1.0, 0.0], runs)
        logs = [[finding("loss_spraying", middle + one, half, loss.low, loss.high)] for one in off.tolist()]
        changes = new_ends(self.machine, logs)
        assert bool(changes) == narrower
        if narrower:
            [one] = changes
            scatter = np.hypot(off.std(ddof=1), half / 1.96)
            assert one.high - one.low >= 2.0 * tolerance_factor(runs) * scatter * 0.999
            assert one.low >= loss.low
            assert one.high <= loss.high

    @pytest.mark.parametrize("word", ["inlet", "room", "flow", "ware"])
    def test_weather_mains_and_load_are_never_narrower(self, word: str) -> None:
        logs = [[finding(word, 15.0, 0.01, 5.0, 25.0)] for _ in range(20)]
        assert new_ends(self.machine, logs) == []

    def test_what_no_run_sees_stays(self) -> None:
        logs = [[finding("loss_spraying", 2.0, 0.001, 1.0, 3.0, seen=False)] for _ in range(20)]
        assert new_ends(self.machine, logs) == []

    @pytest.mark.parametrize("name", ["clubhouse", "narrowboat", "garage-120v", "cold-shed"])
    def test_a_profile_reads_back_as_it_was_written(self, name: str) -> None:
        machine = load_profile("machine", name)
        assert parse_profile("machine", profile_text(machine, [], 1, False), "x") == machine
        flow = machine.inlet.flow_l_per_min
        out = finding("flow", 1.3 * flow.high, 0.05 * flow.high, flow.low, flow.high)
        heavy = finding("ware", 30.0, 0.5, 10.0, 20.0)
        changes = new_ends(machine, [[out, heavy]])
        text = profile_text(machine, changes, 1, True)
        again = parse_profile("machine", text, "x")
        assert again.inlet.flow_l_per_min.high == changes[0].high
        assert "SIMULATED" in text
        assert "wider, by 1 of 1 runs outside" in text


@pytest.mark.slow
def test_logs_on_the_command_line(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A coil of the element burns out before the fifth run, on machines of one seed.

    Both commands that review them fit the same logs: each is fitted once.
    """
    fitted: dict[str, MachineNow] = {}

    def fitted_once(plan: Plan, log: RunLog, done: Delivered) -> MachineNow:
        if log.subject not in fitted:
            fitted[log.subject] = machine_now(plan, log, done)
        return fitted[log.subject]

    monkeypatch.setattr("optimizer.review.reviewed.machine_now", fitted_once)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    Path("plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    names = []
    for number in range(9):
        drift = [Drift("element", -0.15, True)] if number >= 4 else []
        name = f"run{number}.csv"
        Path(name).write_text(simulate_run(plan, 6, drift, 5).csv(), encoding="utf-8")
        names.append(name)
    ended = scullion(capsys, "review", "plan.json", *names, "--csv", "t.csv", "--plot", "t.svg",
                     "--out", "mine.toml")  # fmt: skip
    assert ended.code == 0
    assert "9 runs; out of control: element, with its voltage from run 5 on" in " ".join(ended.out.split())
    assert max(map(len, ended.out.splitlines())) <= 80
    assert Path("t.svg").read_bytes().startswith(b"<?xml")
    rows = list(csv.DictReader(io.StringIO(Path("t.csv").read_text(encoding="utf-8"))))
    assert {int(row["run"]) for row in rows} == set(range(1, 10))
    machine = parse_profile("machine", Path("mine.toml").read_text(encoding="utf-8"), "mine.toml")
    assert machine.element.rated_w.low < plan.inputs.machine.element.rated_w.low  # type: ignore[union-attr]
    assert "plan" in ended.out.split("New profile")[1]
    assert scullion(capsys, "review", "plan.json", *names, "--out", "mine.toml").code == 3
    found = json.loads(scullion(capsys, "review", "plan.json", *names, "--json").out)
    assert [one["quantity"] for one in found["trends"] if one["first_out"]] == ["element"]


def test_one_bad_log_among_several_is_named(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    Path("a.csv").write_text(simulate_run(plan, 1, (), 5).csv(), encoding="utf-8")
    Path("b.csv").write_text("nothing\n", encoding="utf-8")
    ended = scullion(capsys, "review", "plan.json", "a.csv", "b.csv", "c.csv")
    assert ended.code == 3
    assert "b.csv" in ended.err
    assert "c.csv" in ended.err
    assert "a.csv" not in ended.err
