"""`scullion rehearse` and `scullion review` as commands: what they print, what they refuse."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from planner_cases import proven
from profile_cases import scullion

from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


class TestCommands:
    @pytest.fixture
    def files(self, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
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
