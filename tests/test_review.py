"""Simulated runs and what the review says of them: rounds, doses, the quantity that drifted.

No published source: the truth is the machine that a run was drawn with, and the check's own simulation.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from planner_cases import proven
from profile_cases import scullion

from optimizer.check.phases import OFF, Outputs, phases
from optimizer.check.trace_rounds import round_peaks_c
from optimizer.errors import InputError
from optimizer.programme.constants import Constants, Round
from optimizer.programme.planfile import plan_to_json
from optimizer.review.consequences import CAUSES, KEYS, MEASURES, broken, certificate_of
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.drifts import DRIFTING, Drift, drifted, read_drifts
from optimizer.review.machine_fit import UNSEEN
from optimizer.review.machine_now import Finding, MachineNow, machine_now
from optimizer.review.run_log import RunLog, Segment, read_run
from optimizer.review.simulated_run import SimulatedRun, simulate_run
from optimizer.review.what_it_did import doses_done, rounds_done, rounds_planned

FILL, SPRAY, DRAIN = Outputs(inlet=True), Outputs(wash_pump=True), Outputs(drain_pump=True)
HEATS = Outputs(wash_pump=True, element=True)
NUMBERS = tuple[float, ...]


@pytest.fixture(scope="module")
def plan():  # type: ignore[no-untyped-def]
    return proven("clubhouse", "everyday").plan


def reviewed(plan, path: Path, run: SimulatedRun) -> tuple[RunLog, MachineNow]:  # type: ignore[no-untyped-def]
    path.write_text(run.csv(), encoding="utf-8")
    log = read_run(path, 230.0)
    done = delivered(plan.constants, log)
    assert done.complete
    return log, machine_now(plan, log, done)


def words_outside(now: MachineNow) -> list[str]:
    return [one.word for one in now.findings if one.verdict == "outside"]


class TestDrifts:
    def test_a_share_and_a_number(self) -> None:
        assert read_drifts(["element=-10%", "inlet=+4"]) == (
            Drift("element", -0.1, True),
            Drift("inlet", 4.0, False),
        )
        table = drifted({"rated_w": 800.0, "inlet_c": 12.0}, read_drifts(["element=-10%", "inlet=+4"]))
        assert table == {"rated_w": 720.0, "inlet_c": 16.0}

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("elemnt=-10%", "did you mean element?"),
            ("element=10%", "a signed number"),
            ("element", "a signed number"),
            ("element=-100%", "drifts by -95 %"),
            ("inlet=+10%", "by kelvin"),
            ("foo", "what drifts: voltage, element, wash_pump, inlet, room, flow, drain"),
            ("zzz=+1", "What drifts: voltage, element, wash_pump, inlet, room, flow, drain"),
            ("element=-nan%", "a signed number"),
            ("mechanics=+10%", "no quantity that drifts"),
        ],
    )
    def test_what_is_none(self, text: str, says: str) -> None:
        with pytest.raises(InputError) as refused:
            read_drifts([text])
        [issue] = refused.value.issues
        assert says in f"{issue.rule} {issue.fix}"

    def test_all_at_once_and_each_once(self) -> None:
        with pytest.raises(InputError) as refused:
            read_drifts(["element=-10%", "element=-20%", "x"])
        assert len(refused.value.issues) == 2

    @pytest.mark.parametrize("text", ["flow=-7", "inlet=-13", "room=+200"])
    def test_no_machine_is_so(self, text: str) -> None:
        with pytest.raises(InputError):
            drifted({"flow_l_per_min": 6.0, "inlet_c": 12.0, "room_c": 20.0}, read_drifts([text]))

    def test_each_quantity_that_may_be_outside_has_causes_and_a_key(self) -> None:
        said = set(DRIFTING) - set(UNSEEN)
        assert {word for word, _ in CAUSES} == said
        assert set(MEASURES) == said
        assert set(KEYS) | {"ware"} == said


class TestDelivered:
    """By hand: a wash that is heated for 60 of its 90 s, and a rinse."""

    table = Constants(
        10,
        2,
        (Round("wash", 60, 0, 90, 60, 0, 0, 30, 50), Round("rinse", 60, 0, 40, 0, 0, 0, 30, 0)),
        0,
        "timed",
        "timed",
        0,
        750,
        "",
    )

    def log(self, *segments: tuple[float, Outputs]) -> RunLog:
        ends = np.cumsum([lasts for lasts, _ in segments])
        starts = ends - [lasts for lasts, _ in segments]
        found = tuple(
            Segment(float(start), float(end), on)
            for start, end, (_, on) in zip(starts, ends, segments, strict=True)
        )
        return RunLog("run.csv", np.arange(0.0, ends[-1] + 1.0), None, None, None, found, (), False)

    whole = ((10, DRAIN), (2, OFF), (60, FILL), (2, OFF), (60, HEATS), (30, SPRAY), (2, OFF), (30, DRAIN),
             (2, OFF), (60, FILL), (2, OFF), (40, SPRAY), (2, OFF), (30, DRAIN))  # fmt: skip

    def test_a_run_as_written(self) -> None:
        done = delivered(self.table, self.log((50, OFF), *self.whole, (90, OFF)))
        assert done.complete
        assert done.start_s == 50.0
        assert [step.phase for step in done.steps] == phases(self.table)
        assert [step.lasted_s for step in done.steps] == [phase.longest_s for phase in phases(self.table)]

    def test_it_may_be_cut_off(self) -> None:
        done = delivered(self.table, self.log(*self.whole[:6]))
        assert not done.complete
        assert done.odd is None
        assert done.left_out[0].name == "gap"

    def test_a_gap_may_fall_between_two_rows(self) -> None:
        done = delivered(self.table, self.log(*(one for one in self.whole if one[1] != OFF)))
        assert done.complete

    def test_another_plan(self) -> None:
        done = delivered(self.table, self.log(*self.whole[:5], (30, DRAIN)))
        assert done.odd is not None
        assert (done.odd.start_s, done.odd.outputs) == (134.0, DRAIN)

    def test_a_second_by_the_rows_is_none(self) -> None:
        """A row a second: 59 or 61 s of a fill of 60 are 60; 57 are 57."""
        for lasts, counted in ((59, 60), (61, 60), (57, 57)):
            done = delivered(self.table, self.log(*self.whole[:2], (lasts, FILL), *self.whole[3:]))
            assert done.steps[2].lasted_s == counted


class TestFillsByASwitch:
    """By hand: a machine whose fill ends by a level switch, at the longest after 60 s."""

    table = replace(TestDelivered.table, fill_control="level")

    def done(self, first_s: int) -> Delivered:
        whole = [(first_s if n == 2 else lasts, on) for n, (lasts, on) in enumerate(TestDelivered.whole)]
        return delivered(self.table, TestDelivered().log(*whole))

    def test_what_came_in_is_what_the_switch_says(self) -> None:
        done = self.done(47)
        [fill, capped] = [one for one in done.to_simulate if one.name == "fill"]
        assert (fill.end, fill.longest_s) == ("level", 60)
        assert done.fills_s == [47]
        assert (capped.end, capped.longest_s) == ("time", 60), "the longest it may: no switch ended it"

    def test_a_log_that_ends_within_a_fill_shows_no_switch(self) -> None:
        done = delivered(self.table, TestDelivered().log(*TestDelivered.whole[:2], (47, FILL)))
        assert done.fills_s == []


def test_a_sound_machine_is_found_sound_and_the_truth_in_its_intervals(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    held = looked_at = 0
    for seed in (1, 2, 3):
        run = simulate_run(plan, seed)
        log, now = reviewed(plan, tmp_path / "run.csv", run)
        assert words_outside(now) == []
        assert log.simulated
        for one in now.findings:
            if one.word != "element":  # its voltage of the day counts as well
                looked_at += 1
                held += one.value_low <= run.table[DRIFTING[one.word][0]] <= one.value_high
    assert held >= 0.9 * looked_at


@pytest.mark.parametrize(
    ("drift", "word"),
    [("element=-20%", "element"), ("inlet=+14", "inlet"), ("loss_spraying=+90%", "loss_spraying")],
)
def test_what_drifted_is_named_and_nothing_else(plan, tmp_path: Path, drift: str, word: str) -> None:  # type: ignore[no-untyped-def]
    run = simulate_run(plan, 5, read_drifts([drift]))
    _, now = reviewed(plan, tmp_path / "run.csv", run)
    assert words_outside(now) == [word]


def test_what_a_log_cannot_part_is_named_as_one_cause(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """More water left in the sump takes as much heat as a heavier tank."""
    run = simulate_run(plan, 1000, read_drifts(["residual=+1"]))
    _, now = reviewed(plan, tmp_path / "run.csv", run)
    assert len(now.causes) == 1
    assert "residual" in now.causes[0]
    from optimizer.report.review import joint_words

    assert joint_words(("tank", "residual")) == "tank, heat capacity or left in the sump"


def test_what_a_log_cannot_show_or_part_is_said_beforehand(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """A tank and the water in its sump take up heat alike: see the benchmark for what comes of it."""
    _, now = reviewed(plan, tmp_path / "run.csv", simulate_run(plan, 1))
    by_word = {one.word: one for one in now.findings}
    assert [one.word for one in now.findings if not one.shows_drift] == ["tank"]
    assert by_word["residual"].mistaken_for == ("tank",)
    assert by_word["tank"].mistaken_for == ("residual",)
    assert [one.word for one in now.findings if one.mistaken_for] == ["residual", "tank"]
    from optimizer.report import review

    (either,) = [said for said in review._not_shown(now) if said.startswith("whether")]
    assert either.endswith(f"measure {MEASURES['residual']}, or {MEASURES['tank']}")


def test_of_a_short_log_no_loss_is_below_nothing(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Two minutes say little: a low end is that of the interval or 0, never less than no loss at all."""
    run = simulate_run(plan, 4, read_drifts(["loss_spraying=-90%"]))
    lines = run.csv().splitlines()
    (tmp_path / "cut.csv").write_text("\n".join(lines[:1200]) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "cut.csv", 230.0)
    for one in machine_now(plan, log, delivered(plan.constants, log)).findings:
        assert one.value_low <= one.value <= one.value_high
        if one.word not in ("inlet", "room"):
            assert one.value_low >= 0.0, one.word


def test_a_drain_that_does_not_manage_is_not_taken_for_six_drifts(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """An inlet so quick that water is left behind: a fit from the profile alone ends in another valley."""
    _, now = reviewed(plan, tmp_path / "run.csv", simulate_run(plan, 45000, read_drifts(["flow=+2.4"])))
    assert now.causes == [("flow",)]


def test_a_probe_on_the_ware_tells_as_well(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    run = simulate_run(plan, 5, read_drifts(["element=-30%"]))
    lines = ["time_s,ware_c,inlet,element,wash_pump,drain_pump"]
    rows = zip(run.trace.ware_c, run.rows, strict=True)
    lines += [f"{row[0]:.0f},{ware_c:.1f},{','.join(f'{on:.0f}' for on in row[3:])}" for ware_c, row in rows]
    (tmp_path / "run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "run.csv", 230.0)
    now = machine_now(plan, log, delivered(plan.constants, log))
    assert now.causes == [("element",)]
    for one in doses_done(plan, delivered(plan.constants, log), now):
        assert one.low < one.value < one.high


def test_doses_are_those_of_the_machine_that_ran(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """The same machine in the check's simulation with fine steps."""
    from optimizer.check.integrate import Simulation
    from optimizer.check.meters import DoseMeter
    from optimizer.check.worst_cases import cases_at

    machine, goal, constants = plan.inputs.machine, plan.inputs.goal, plan.constants
    for seed, drift in ((7, []), (8, ["element=-20%"])):
        run = simulate_run(plan, seed, read_drifts(drift))
        log, now = reviewed(plan, tmp_path / "run.csv", run)
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


def test_rounds_are_as_long_as_the_table_says(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    run = simulate_run(plan, 1)
    log, _ = reviewed(plan, tmp_path / "run.csv", run)
    rounds = rounds_done(plan, log, delivered(plan.constants, log))
    assert [one.kind for one in rounds] == [row.kind for row in plan.constants.rounds]
    for number, one in enumerate(rounds):
        asked_s = sum(phase.longest_s for phase in phases(plan.constants) if phase.round == number)
        assert one.asked_s == asked_s
        assert one.lasted_s == pytest.approx(asked_s, abs=2)
    metered_kwh = sum(one.electricity_kwh or 0.0 for one in rounds)
    watts, seconds = run.rows[:, 2], run.rows[:, 0]
    assert metered_kwh == pytest.approx(float(np.trapezoid(watts, seconds)) / 3.6e6, rel=0.01)


def test_the_peak_of_a_round_is_of_its_own_water(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """A cold rinse after a hot one: until it is full the sensor still has the bath before."""
    run = simulate_run(plan, 4)
    log, _ = reviewed(plan, tmp_path / "run.csv", run)
    certificate = certificate_of(plan)
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


def test_a_round_that_was_cut_off_before_its_spray_has_no_peak(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    run = simulate_run(plan, 4)
    starts = np.flatnonzero((run.rows[1:, 3] > 0.0) & (run.rows[:-1, 3] == 0.0)) + 1
    text = run.csv().splitlines()[: starts[3] + 3 + 30]
    (tmp_path / "cut.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "cut.csv", 230.0)
    last = rounds_done(plan, log, delivered(plan.constants, log))[-1]
    assert (last.kind, last.peak_c, last.whole) == ("rinse", None, False)


@pytest.mark.slow
def test_a_weak_element_breaks_the_plan(plan, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    _, now = reviewed(plan, tmp_path / "run.csv", simulate_run(plan, 5, read_drifts(["element=-25%"])))
    rows = broken(plan, [one for one in now.findings if one.verdict == "outside"])
    assert rows is not None
    assert any(row.key.startswith("dose.") for row in rows)


def test_beyond_a_profile_nothing_is_proven(plan) -> None:  # type: ignore[no-untyped-def]
    """A profile's element has 50 W at the least."""
    gone = Finding("element", 760.0, 800.0, 840.0, 30.0, 20.0, 40.0, 1.0, True, True)
    assert broken(plan, [gone]) is None


class TestCommands:
    @pytest.fixture
    def files(self, plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:  # type: ignore[no-untyped-def]
        monkeypatch.chdir(tmp_path)
        monkeypatch.setenv("COLUMNS", "80")
        (tmp_path / "plan.json").write_text(plan_to_json(plan), encoding="utf-8")
        return tmp_path

    def test_end_to_end(self, files: Path, capsys: pytest.CaptureFixture[str]) -> None:
        ended = scullion(capsys, "rehearse", "plan.json", "--seed", "4", "--out", "run.csv")
        assert ended.code == 0
        again = scullion(capsys, "rehearse", "plan.json", "--seed", "4")
        assert again.out == (files / "run.csv").read_text(encoding="utf-8")
        assert again.out.startswith("# simulated, seed 4: no machine has run\n")
        ended = scullion(capsys, "review", "plan.json", "run.csv")
        assert ended.code == 0
        assert ended.out.startswith("Verdict: all doses delivered; still the machine of the profile.")
        assert "simulated: no machine has run" in ended.out
        assert max(map(len, ended.out.splitlines())) <= 80
        found = json.loads(scullion(capsys, "review", "plan.json", "run.csv", "--json").out)
        # The certificate's own doses in the worst corner: above what is asked, below the nominal ones.
        assert all(one["asked"] <= one["worst"] <= one["planned"] for one in found["doses"])
        assert found["complete"]
        assert [one["verdict"] for one in found["doses"]] == ["delivered"] * len(found["doses"])

    def test_nothing_is_replaced_unasked(self, files: Path, capsys: pytest.CaptureFixture[str]) -> None:
        (files / "run.csv").write_text("mine", encoding="utf-8")
        assert scullion(capsys, "rehearse", "plan.json", "--out", "run.csv").code == 3
        assert (files / "run.csv").read_text(encoding="utf-8") == "mine"

    def test_two_runs_in_one_file_cost_what_the_first_does(
        self, files: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        lines = scullion(capsys, "rehearse", "plan.json", "--every", "5").out.splitlines()
        rows = [line.split(",") for line in lines[3:]]
        rows += [[str(float(rows[-1][0]) + 5.0 * at), *rows[-1][1:3], *"0000"] for at in range(1, 11)]
        again = [[str(float(rows[-1][0]) + 60.0 + float(row[0])), *row[1:]] for row in rows]
        found = []
        for text in (rows, [*rows, *again]):
            (files / "run.csv").write_text(
                "\n".join([lines[2], *map(",".join, text)]) + "\n", encoding="utf-8"
            )
            found.append(json.loads(scullion(capsys, "review", "plan.json", "run.csv", "--json").out))
        assert found[0]["another_run_at_s"] is None
        assert found[1]["another_run_at_s"] == pytest.approx(float(again[0][0]), abs=5.0)
        assert found[1]["cost"]["electricity_kwh"] == pytest.approx(
            found[0]["cost"]["electricity_kwh"], rel=1e-3
        )

    def test_a_bath_alone_tells_neither_doses_nor_the_machine(
        self, files: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        lines = scullion(capsys, "rehearse", "plan.json", "--seed", "4", "--every", "5").out.splitlines()
        text = "\n".join(",".join(line.split(",")[:2]) for line in lines[2:])
        (files / "bath.csv").write_text(text + "\n", encoding="utf-8")
        said = " ".join(scullion(capsys, "review", "plan.json", "bath.csv").out.split())
        assert said.startswith("Verdict: phases too unsure to tell doses or the machine by.")
        assert "Log the watts too, or the four outputs." in said
        assert "The machine" not in said
        assert "outside" not in said

    def test_a_clock_at_the_end_of_summer_time(self, files: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """Times of the wall: at three it is two again. With the offset from UTC nothing jumps."""
        zone = ZoneInfo("Europe/Berlin")
        begins = datetime(2026, 10, 24, 23, 30, tzinfo=UTC)
        lines = scullion(capsys, "rehearse", "plan.json", "--seed", "4", "--every", "10").out.splitlines()
        rows = [line.split(",") for line in lines[3:]]
        at = [(begins + timedelta(seconds=float(row[0]))).astimezone(zone) for row in rows]
        said = []
        for times in ([one.replace(tzinfo=None).isoformat() for one in at], [one.isoformat() for one in at]):
            text = [",".join([time, *row[1:]]) for time, row in zip(times, rows, strict=True)]
            head = lines[2].replace("time_s", "time")
            (files / "run.csv").write_text("\n".join([head, *text]) + "\n", encoding="utf-8")
            said.append(scullion(capsys, "review", "plan.json", "run.csv"))
        assert (said[0].code, said[1].code) == (3, 0)
        assert "the clock was set back: add 3600 s" in " ".join(said[0].err.split())
        assert "with their offset from UTC" in " ".join(said[0].err.split())
        assert "still the machine of the profile" in " ".join(said[1].out.split())

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("", "is empty"),
            ("time_s,water_l\n0,20\n1,20\n", "no column of bath or ware or power"),
            ("a,b\n1,2\n", "its first line must be"),
            ("a,b\n1,2\n", "or say what they are called here: --columns time_s=t,bath_c=T1"),
            (
                "time_s,Bath_temp,P1\n1,2,3\n",
                "did you mean bath_c? Name it so, or say --columns bath_c=Bath_temp",
            ),
            ("time_s,bath_c,Zz\n1,2,3\n", "--columns NAME=Zz says which of them it is"),
            (
                "time_s,inlet\n" + "".join(f"{n},0\n" for n in range(60)),
                "wash_pump, drain_pump is missing",
            ),
        ],
    )
    def test_no_log(self, files: Path, capsys: pytest.CaptureFixture[str], text: str, says: str) -> None:
        (files / "run.csv").write_text(text, encoding="utf-8")
        ended = scullion(capsys, "review", "plan.json", "run.csv")
        assert ended.code == 3
        assert says in " ".join(ended.err.split())

    def test_a_log_of_another_plan_and_one_cut_off(
        self, files: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        lines = scullion(capsys, "rehearse", "plan.json", "--seed", "4").out.splitlines()
        (files / "cut.csv").write_text("\n".join(lines[:2000]) + "\n", encoding="utf-8")
        ended = scullion(capsys, "review", "plan.json", "cut.csv")
        assert ended.code == 0
        assert "cut off before its end" in " ".join(ended.out.split())
        # Row 2000 is well within the spray of the wash.
        assert "The log ends in round 2, in its spray: what there is" in " ".join(ended.out.split())
        assert "1 of 6 rounds were seen to their end" in " ".join(ended.out.split())
        assert "detergent may be left on it" in " ".join(ended.out.split())
        head, rows = lines[2], [line.split(",") for line in lines[3:]]
        late = "\n".join([head, *(",".join(row) for row in rows[600:])])
        (files / "late.csv").write_text(late + "\n", encoding="utf-8")
        ended = scullion(capsys, "review", "plan.json", "late.csv")
        assert ended.code == 3
        assert "one that was begun after the run was" in " ".join(ended.err.split())
        for row in rows[600:640]:
            row[3:] = ["0", "0", "0", "1"]
        text = "\n".join([head, *(",".join(row) for row in rows)]) + "\n"
        (files / "odd.csv").write_text(text, encoding="utf-8")
        ended = scullion(capsys, "review", "plan.json", "odd.csv")
        assert ended.code == 0
        assert "not this plan from 10:00 on" in ended.out
        assert "drain pump is on for 0:40" in " ".join(ended.out.split())
