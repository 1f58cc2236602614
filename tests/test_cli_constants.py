"""`check` of files of constants, bench runs, and what is refused before any work is done."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from calling import Shown
from planner_cases import proven

from optimizer.check.bench_check import check_bench
from optimizer.check.certificate import Row
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan

NAMES = ["--machine", "cold-shed", "--goal", "fresh-cups"]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("cold-shed", "fresh-cups").plan


def file_of(plan: Plan, form: str, folder: Path) -> Path:
    path = folder / f"wash_timing.{form}"
    path.write_text(FORMS[form].text(plan), encoding="utf-8")
    return path


@pytest.mark.parametrize("form", FORMS)
def test_certificate_of_a_file_is_that_of_its_plan(
    form: str, plan: Plan, plan_path: Path, tmp_path: Path, shown: Shown
) -> None:
    of_plan = shown("check", plan_path, "--draws", "8", "--json")
    of_file = shown("check", file_of(plan, form, tmp_path), *NAMES, "--draws", "8", "--json")
    assert of_file == of_plan
    assert (of_file[0], json.loads(of_file[1])["warnings"]) == (0, [])
    in_words = shown("check", file_of(plan, form, tmp_path), *NAMES, "--draws", "8")
    assert in_words == shown("check", plan_path, "--draws", "8")
    rows = json.loads(of_file[1])["requirements"]
    proven = f"Proven, on your minutes: {len(rows)} requirements met at every point of the tolerances; "
    assert " ".join(in_words[1].split()).startswith(proven)


@pytest.mark.slow
def test_same_plan_checked_in_two_processes_gives_the_same_bytes(plan_path: Path) -> None:
    answers = []
    for seed in ("1", "2"):
        command = [sys.executable, "-m", "optimizer", "check", str(plan_path), "--json"]
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        answers.append(subprocess.run(command, capture_output=True, check=True, env=environment).stdout)
    assert answers[0] == answers[1]
    content = json.loads(answers[0])
    assert content["passed"] is True
    assert len(content["requirements"]) > 10


def test_a_file_of_constants_asks_for_its_profiles(plan: Plan, tmp_path: Path, shown: Shown) -> None:
    path = file_of(plan, "c", tmp_path)
    code, out, err = shown("check", path)
    assert (code, out) == (2, "")
    assert "--machine with the name" in err
    assert "--goal with the name" in err
    assert shown("check", path, "--machine", "cold-shed")[0] == 2
    assert shown("check", path, "--machine", "cold-shed", "--goal", "no-such-goal")[0] == 3


def test_other_profiles_than_those_of_the_file_are_named(plan: Plan, tmp_path: Path, shown: Shown) -> None:
    path = file_of(plan, "csv", tmp_path)
    other = ["--machine", "cold-shed", "--goal", "everyday", "--draws", "0"]
    _, out, _ = shown("check", path, *other)
    assert out.startswith("Warning: ")
    assert plan.constants.input_sha256[:12] in out
    assert "cold-shed, everyday" in " ".join(out.split())
    _, out, _ = shown("check", path, *other, "--json")
    (warning,) = json.loads(out)["warnings"]
    assert plan.constants.input_sha256[:12] in warning


def test_a_file_for_another_kind_of_machine_names_that_machine(
    plan: Plan, tmp_path: Path, shown: Shown
) -> None:
    """Nothing is wrong with the file: what is to be changed is the machine that is named."""
    path = file_of(plan, "iec", tmp_path)
    code, out, err = shown("check", path, "--machine", "narrowboat", "--goal", "glasses")
    assert (code, out) == (2, "")
    words = " ".join(err.split())
    planned = "wash_timing.iec was planned for: the inlet is switched by time there, by a level switch here"
    assert planned in words
    assert "found narrowboat fix --machine with the profile that the plan was made with" in words
    assert "WASH_" not in words


@pytest.mark.parametrize("form", FORMS)
def test_constants_where_a_plan_is_asked_for_are_named_as_such(
    form: str, plan: Plan, tmp_path: Path, shown: Shown
) -> None:
    path = file_of(plan, form, tmp_path)
    for command in ("explain", "show", "starts"):
        code, out, err = shown(command, path)
        assert (code, out) == (3, "")
        words = " ".join(err.split())
        assert words.startswith("Bad input: 1 issue.")
        assert "is a file of constants, not a plan" in words
        assert "scullion check" in words


def test_a_plan_with_a_key_missing_is_still_a_plan(plan_path: Path, tmp_path: Path, shown: Shown) -> None:
    content = json.loads(plan_path.read_text(encoding="utf-8"))
    del content["profiles"]
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    assert "file of constants" not in shown("show", path)[2]


def test_a_folder_where_a_file_is_asked_for(tmp_path: Path, shown: Shown) -> None:
    assert "give the path of a plan or file of constants in it" in " ".join(
        shown("check", tmp_path)[2].split()
    )


def test_a_file_edited_past_what_holds_fails(plan: Plan, tmp_path: Path, shown: Shown) -> None:
    rows = [replace(row, fill_s=20) if row.kind == "wash" else row for row in plan.constants.rounds]
    path = file_of(replace(plan, constants=replace(plan.constants, rounds=tuple(rows))), "c", tmp_path)
    code, out, _ = shown("check", path, *NAMES, "--draws", "0")
    assert code == 5
    assert "FAILS  water at the suction" in out


@pytest.mark.parametrize(
    "content", [b"", b"{", b"\xff", b"kind = 1", b'{"rounds": []}', b"#define WASH_GAP_S 2U"]
)
def test_what_is_neither_is_bad_input(content: bytes, tmp_path: Path, shown: Shown) -> None:
    path = tmp_path / "file"
    path.write_bytes(content)
    code, out, err = shown("check", path, *NAMES)
    assert (code, out) == (3, "")
    assert "Bad input" in err


@pytest.mark.parametrize("form", FORMS)
def test_a_bench_run_is_written_and_checked(form: str, plan_path: Path, tmp_path: Path, shown: Shown) -> None:
    path = tmp_path / "bench"
    assert shown("constants", plan_path, "--format", form, "--bench-run", "--out", path) == (
        0,
        "",
        f"Wrote {path}.\n",
    )
    code, out, _ = shown("check", path, *NAMES)
    assert code == 0
    assert out.startswith("Bench run of ")
    assert "Warning" not in out
    code, out, _ = shown("check", path, *NAMES, "--json")
    content = json.loads(out)
    assert (code, content["bench_run"], content["proven"], content["warnings"]) == (0, True, True, [])
    assert [row["key"] for row in content["requirements"]][:3] == [
        "bench.order",
        "bench.element_s",
        "bench.level_l",
    ]


def test_an_edited_bench_run_fails_and_a_round_taken_out_is_seen(
    plan: Plan, tmp_path: Path, shown: Shown
) -> None:
    bench = bench_run(plan)
    table = bench.constants
    longer = replace(table, rounds=(replace(table.rounds[0], fill_s=60), *table.rounds[1:]))
    code, out, _ = shown("check", file_of(replace(bench, constants=longer), "c", tmp_path), *NAMES)
    assert code == 5
    assert out.startswith("BENCH RUN NOT PROVEN")
    fewer = replace(bench, constants=replace(table, rounds=table.rounds[:-1]))
    assert "Warning" in shown("check", file_of(fewer, "c", tmp_path), *NAMES)[1]


def test_no_bench_run_unless_it_is_harmless(
    plan_path: Path, tmp_path: Path, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bench run that is made passes its check; the one that is judged here has a fill of 60 s."""

    def judged(constants: Constants, machine: Machine, programme: Constants) -> tuple[Row, ...]:
        first, *others = constants.rounds
        longer = replace(constants, rounds=(replace(first, fill_s=60), *others))
        return check_bench(longer, machine, programme)

    monkeypatch.setattr("optimizer.check.bench_check.check_bench", judged)
    path = tmp_path / "bench.h"
    code, out, err = shown("constants", plan_path, "--format", "c", "--bench-run", "--out", path)
    assert (code, out) == (5, "")
    assert "longest phase" in err
    assert not path.exists()


@pytest.mark.parametrize(
    "command", [["plan", "cold-shed", "fresh-cups"], ["constants", "{plan}", "--format", "c"]]
)
@pytest.mark.parametrize("place", ["taken", "no/folder/file"])
def test_a_place_that_is_taken_is_refused_before_the_work(
    command: list[str],
    place: str,
    plan_path: Path,
    tmp_path: Path,
    shown: Shown,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def work(*_: object, **__: object) -> None:
        pytest.fail("the work was begun")

    monkeypatch.setattr("optimizer.plan_and_prove.plan_and_prove", work)
    monkeypatch.setattr("optimizer.check.certify.check", work)
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    words = [str(plan_path) if word == "{plan}" else word for word in command]
    code, out, err = shown(*words, "--out", tmp_path / place)
    assert (code, out) == (3, "")
    assert "--force" in err or "its folder does not exist" in err
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
@pytest.mark.parametrize("place", ["/dev/stdout", "pipe"])
@pytest.mark.parametrize("force", [[], ["--force"]])
def test_what_is_no_file_is_refused_before_the_work(
    place: str, force: list[str], plan_path: Path, tmp_path: Path
) -> None:
    """A pipe would be replaced by a file, and /dev/stdout is one; without --out it all goes to stdout."""
    os.mkfifo(tmp_path / "pipe")
    words = ["constants", str(plan_path), "--format", "c", "--out", str(tmp_path / place), *force]
    command = [sys.executable, "-m", "optimizer", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stdout) == (3, "")
    assert "is not an ordinary file" in done.stderr
    assert (tmp_path / "pipe").is_fifo()
