"""Logs without outputs or under other names: phases by watts or bath, `--columns`, what is no such log.

No published source: the truth is what the simulated run switched.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from planner_cases import proven
from profile_cases import scullion

from optimizer.check.phases import OFF, phases
from optimizer.emit.bench_run import bench_run
from optimizer.errors import InputError
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json
from optimizer.review.delivered import delivered
from optimizer.review.drifts import read_drifts
from optimizer.review.phases_found import _least, with_phases
from optimizer.review.reviewed import reviewed
from optimizer.review.run_log import RunLog, read_called, read_run
from optimizer.review.simulated_run import COLUMNS, simulate_run

NEAR_S = 3.0
"""How near a phase that was found has to be [s]."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


def written(plan: Plan, folder: Path, leaves: tuple[str, ...], drift: str = "", first: int = 0,
            last: int | None = None) -> tuple[Path, Path]:  # fmt: skip
    """A simulated run as a whole log, and as one without some columns; a minute before and after."""
    found = simulate_run(plan, 3, read_drifts([drift] if drift else []))
    idle = found.rows[[0] * 60].copy()
    idle[:, 2:] = 0.0
    idle[:, 2] = plan.inputs.machine.supply.controller_w
    rows = np.vstack([idle, found.rows, idle])
    rows[:, 0] = np.arange(len(rows))
    rows = rows[first:last]
    files = []
    for name, columns in (
        ("whole.csv", COLUMNS),
        ("less.csv", [one for one in COLUMNS if one not in leaves]),
    ):
        text = io.StringIO()
        places = [COLUMNS.index(one) for one in columns]
        np.savetxt(text, rows[:, places], fmt="%.1f", delimiter=",", header=",".join(columns), comments="")
        (folder / name).write_text(text.getvalue(), encoding="utf-8")
        files.append(folder / name)
    return files[0], files[1]


def starts_s(plan: Plan, log: RunLog) -> list[tuple[str, int, float]]:
    """Phases with their beginnings, but for gaps, which the rows may miss."""
    done = delivered(plan.constants, log)
    assert done.odd is None
    return [(one.phase.name, one.phase.round, one.start_s) for one in done.steps if one.phase.outputs != OFF]


@pytest.mark.parametrize(
    ("drift", "first", "last"),
    [
        ("", 0, None),
        ("element=-20%", 0, None),
        ("", 0, 3000),
        ("", 45, 4000),
        ("loss_spraying=+90%", 0, None),
    ],
)
def test_watts_show_the_phases(plan: Plan, tmp_path: Path, drift: str, first: int, last: int | None) -> None:
    whole, less = written(plan, tmp_path, COLUMNS[3:], drift, first, last)
    log, sure = with_phases(plan, read_run(less, 230.0))
    found, wanted = starts_s(plan, log), starts_s(plan, read_run(whole, 230.0))
    assert [one[:2] for one in found] == [one[:2] for one in wanted]
    for one, other in zip(found, wanted, strict=True):
        assert abs(one[2] - other[2]) <= NEAR_S
    assert sure.by == "watts"
    assert sure.within_s <= NEAR_S
    assert sure.explained > 0.9


def test_a_bath_alone_shows_where_the_run_lies(plan: Plan, tmp_path: Path) -> None:
    whole, less = written(plan, tmp_path, COLUMNS[2:])
    log, sure = with_phases(plan, read_run(less, 230.0))
    found, wanted = starts_s(plan, log), starts_s(plan, read_run(whole, 230.0))
    assert max(abs(one[2] - other[2]) for one, other in zip(found, wanted, strict=True)) <= 2 * sure.within_s
    assert sure.by == "bath"


def test_watts_of_something_else_are_refused(plan: Plan, tmp_path: Path) -> None:
    _, less = written(plan, tmp_path, COLUMNS[3:])
    log = read_run(less, 230.0)
    assert log.power_w is not None
    for watts in (np.full(len(log.time_s), 60.0), log.power_w[::-1].copy(), 3.0 * log.power_w):
        with pytest.raises(InputError) as refused:
            with_phases(plan, replace(log, power_w=watts))
        assert "do not follow this plan" in refused.value.issues[0].rule


def test_least_of_a_window_by_hand() -> None:
    values = np.random.default_rng(1).uniform(size=50)
    for least_s, most_s in ((0, 0), (0, 1), (2, 5), (3, 9), (7, 40)):
        by_hand = [
            min((values[t - d] for d in range(least_s, most_s + 1) if t - d >= 0), default=np.inf)
            for t in range(len(values))
        ]
        assert _least(values, least_s, most_s).tolist() == by_hand


def test_columns_of_another_logger(plan: Plan, tmp_path: Path) -> None:
    _, less = written(plan, tmp_path, ())
    text = less.read_text(encoding="utf-8").replace("time_s,bath_c,power_w,inlet", "t,T1,Plug,Valve")
    lines = text.splitlines()
    lines = [f"{lines[0]},Note", *(f"{line},x" for line in lines[1:])]
    less.write_text("\n".join(lines) + "\n", encoding="utf-8")
    called = read_called(["time_s=t,bath_c=T1", "power_w=Plug", "inlet=valve"])
    log = read_run(less, 230.0, called)
    assert "not read: Note" in log.remarks
    assert delivered(plan.constants, log).complete
    with pytest.raises(InputError):
        read_run(less, 230.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [("bath_c", "is a name here"), ("bathc=T1", "did you mean bath_c?"), ("bath_c=a,bath_c=b", "twice"),
     ("bath_c=a,ware_c=a", "twice"), ("=a", "names no column"), ("bath_c=", "is a name here")],
)  # fmt: skip
def test_what_maps_no_column(text: str, says: str) -> None:
    with pytest.raises(InputError) as refused:
        read_called([text])
    assert says in f"{refused.value.issues[0].rule} {refused.value.issues[0].fix}"


class TestNoLogOfThePlan:
    def test_another_plan_by_its_hash(self, plan: Plan, tmp_path: Path) -> None:
        (tmp_path / "run.csv").write_text(simulate_run(plan, 1).csv(), encoding="utf-8")
        assert read_run(tmp_path / "run.csv", 230.0, None, plan.constants.input_sha256).simulated
        with pytest.raises(InputError) as refused:
            read_run(tmp_path / "run.csv", 230.0, None, "0" * 64)
        assert "of another plan" in refused.value.issues[0].rule

    def test_two_runs_in_one_file(self, plan: Plan, tmp_path: Path) -> None:
        whole, _ = written(plan, tmp_path, ())
        head, *rows = whole.read_text(encoding="utf-8").splitlines()
        shifted = [f"{float(row.split(',')[0]) + len(rows)},{row.split(',', 1)[1]}" for row in rows]
        whole.write_text("\n".join([head, *rows, *shifted]) + "\n", encoding="utf-8")
        found = reviewed(plan, read_run(whole, 230.0))
        assert found.done.complete
        assert found.done.again is not None
        assert found.done.again.start_s == pytest.approx(len(rows) + 60, abs=1)
        whole.write_text("\n".join([head, *rows, head, *rows]) + "\n", encoding="utf-8")
        with pytest.raises(InputError) as refused:
            read_run(whole, 230.0)
        assert "two logs in one file" in refused.value.issues[0].rule

    @pytest.mark.parametrize("jump_s", [3600, -3600])
    def test_a_clock_that_was_set(self, plan: Plan, tmp_path: Path, jump_s: int) -> None:
        whole, _ = written(plan, tmp_path, ())
        head, *rows = whole.read_text(encoding="utf-8").splitlines()
        set_rows = [f"{float(row.split(',')[0]) + jump_s},{row.split(',', 1)[1]}" for row in rows[2000:]]
        whole.write_text("\n".join([head, *rows[:2000], *set_rows]) + "\n", encoding="utf-8")
        with pytest.raises(InputError) as refused:
            read_run(whole, 230.0)
        assert "the clock was set" in refused.value.issues[0].fix

    def test_a_bench_run(self, plan: Plan, tmp_path: Path) -> None:
        seconds = [row for phase in phases(bench_run(plan).constants) for row in [phase] * phase.longest_s]
        lines = ["time_s,bath_c,inlet,element,wash_pump,drain_pump"]
        for time_s, phase in enumerate(seconds):
            on = phase.outputs
            outputs = (on.inlet, on.element, on.wash_pump, on.drain_pump)
            lines.append(f"{time_s},{20 + time_s % 3},{','.join(str(int(one)) for one in outputs)}")
        (tmp_path / "bench.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        with pytest.raises(InputError) as refused:
            reviewed(plan, read_run(tmp_path / "bench.csv", 230.0))
        assert "bench run" in refused.value.issues[0].rule


def test_the_command_says_how_sure_it_is(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    _, less = written(plan, tmp_path, COLUMNS[3:])
    text = less.read_text(encoding="utf-8")
    less.write_text(text.replace("bath_c", "T1"), encoding="utf-8")
    ended = scullion(capsys, "review", "plan.json", "less.csv", "--columns", "bath_c=T1")
    assert ended.code == 0
    said = " ".join(ended.out.split())
    assert "phases were found from the watts, 19 of 20 switchings to within" in said
    assert scullion(capsys, "review", "plan.json", "less.csv").code == 3
    assert scullion(capsys, "review", "plan.json", "less.csv", "--columns", "bath_c").code == 2


def test_an_element_that_heats_mostly_with_the_pump_off(tmp_path: Path) -> None:
    """Its watts are read without those of a pump that stands; such a run was refused, at 79 % as planned."""
    narrowboat = proven("narrowboat", "everyday").plan
    (tmp_path / "run.csv").write_text(simulate_run(narrowboat, 50012).csv(), encoding="utf-8")
    log = read_run(tmp_path / "run.csv", 230.0)
    _, sure = with_phases(narrowboat, replace(log, segments=()))
    assert sure.explained > 0.95
