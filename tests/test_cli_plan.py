"""`plan`, `check` and `constants` as a person or a script calls them."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from calling import Shown, call
from plan_cases import with_own_figures

from optimizer.cli.constants import Form
from optimizer.emit.forms import FORMS
from optimizer.library.firmware import to_emit
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_from_json, plan_to_json

Done = subprocess.CompletedProcess[str]


def scullion(*words: str | Path) -> Done:
    """Run the command as a process of its own, as a shell would."""
    command = [sys.executable, "-m", "optimizer", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    return path, scullion("plan", "cold-shed", "fresh-cups", "--out", path, "--json")


@pytest.fixture(scope="module")
def in_words(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    path = tmp_path_factory.mktemp("plan") / "again.json"
    return path, scullion("plan", "cold-shed", "fresh-cups", "--out", path)


@pytest.fixture(scope="module")
def plan_path(planned: tuple[Path, Done]) -> Path:
    path, done = planned
    assert done.returncode == 0, done.stderr
    return path


def read(path: Path) -> Plan:
    return plan_from_json(path.read_text(encoding="utf-8"), str(path))


@pytest.mark.slow
def test_bound() -> None:
    done = scullion("plan", "cold-shed", "fresh-cups", "--bound", "--json")
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)
    bound, run = content["lower_bound"], content["run"]
    assert bound["cost"] == pytest.approx(run["money"] + run["waiting"])
    assert 0.95 * bound["cost"] < bound["least"] < bound["cost"]
    words = " ".join(scullion("plan", "cold-shed", "fresh-cups", "--bound").stdout.split())
    assert (
        "no programme of up to 2 + 3 + 6 rounds, prerinses cold, "
        "no warm first rinse topped up, costs less than 0.4" in words
    )


@pytest.fixture
def spoilt_path(plan_path: Path, tmp_path: Path) -> Path:
    """A plan file whose washes were cut to seconds by hand."""
    plan = read(plan_path)
    short = tuple(replace(r, heat_s=0, spray_s=9, spray_element_s=0) for r in plan.constants.rounds)
    path = tmp_path / "spoilt.json"
    spoilt = with_own_figures(replace(plan, constants=replace(plan.constants, rounds=short)))
    path.write_text(plan_to_json(spoilt), encoding="utf-8")
    return path


def test_plan_writes_json_and_nothing_else_to_standard_output(
    planned: tuple[Path, Done],
) -> None:
    path, done = planned
    content = json.loads(done.stdout)
    assert content["names"]["machine"] == "cold-shed"
    assert content["certificate"]["passed"] is True
    assert done.stderr == ""
    assert read(path).constants.input_sha256 == content["inputs_sha256"]


def test_same_input_same_bytes(plan_path: Path, in_words: tuple[Path, Done]) -> None:
    again, done = in_words
    assert again.read_bytes() == plan_path.read_bytes()
    assert max(len(line) for line in done.stdout.splitlines() if str(again) not in line) <= 80
    assert f"scullion check {again}" in re.sub(r"\\\n *", "", done.stdout)


def test_a_kept_plan_is_shown_as_it_was_planned(
    planned: tuple[Path, Done], in_words: tuple[Path, Done], capfd: pytest.CaptureFixture[str]
) -> None:
    for (path, done), options in ((in_words, []), (planned, ["--json"])):
        assert call("show", path, *options) == 0
        assert capfd.readouterr() == (done.stdout, done.stderr)


def test_a_plan_that_fails_its_check_is_not_shown(
    spoilt_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert call("show", spoilt_path) == 5
    shown = capfd.readouterr()
    assert shown.out == ""
    assert "dose drinks" in shown.err


def test_answers_follow_the_terminal(
    plan_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(plan_path.parent)
    widths = {}
    for columns in (40, 80, 200):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert call("show", plan_path.name) == 0
        widths[columns] = max(map(len, capfd.readouterr().out.splitlines()))
    assert widths[40] <= 40
    assert 70 <= widths[80] <= 80
    assert 120 <= widths[200] <= 200


@pytest.mark.slow
def test_hygiene_that_cannot_be_reached_is_a_reason() -> None:
    """Nothing counts for A0 below 65 °C (ISO 15883-1), which a machine without an element never reaches."""
    in_json = scullion("plan", "cold-shed", "nursery", "--json")
    content = json.loads(in_json.stdout)["error"]
    assert in_json.returncode == content["exit_code"] == 4
    assert any("hygiene" in reason["requirement"] for reason in content["reasons"])
    assert "hygiene" in in_json.stderr, "to a person as well"


def test_no_plan_gives_reasons_and_exit_code_4(tmp_path: Path, shown: Shown) -> None:
    words = ("plan", "cold-shed", "steamed-glasses")
    code, out, err = shown(*words, "--json", "--out", tmp_path / "plan.json")
    content = json.loads(out)["error"]
    assert code == content["exit_code"] == 4
    assert any("no element" in reason["nearest"] for reason in content["reasons"])
    assert "no element" in err, "to a person as well"
    code, out, err = shown(*words)
    assert (code, out) == (4, "")
    assert "no element" in err
    assert not (tmp_path / "plan.json").exists()


def test_plan_names_every_profile_that_is_not_there(capfd: pytest.CaptureFixture[str]) -> None:
    assert call("plan", "no-machine", "no-goal", "--tariff", "no-tariff") == 3
    shown = capfd.readouterr()
    assert shown.out == ""
    assert all(name in shown.err for name in ("no-machine", "no-goal", "no-tariff"))


def test_existing_file_is_kept_without_force(plan_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = plan_path.read_bytes()
    assert call("constants", plan_path, "--format", "json", "--out", plan_path) == 3
    assert plan_path.read_bytes() == before
    assert "--force" in capfd.readouterr().err


@pytest.mark.parametrize("way", ["plan.json", "link.json", "hard.json", "sub/../plan.json"])
def test_force_never_writes_over_the_plan_that_is_read(
    plan_path: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], way: str
) -> None:
    """By whatever path the same file is reached."""
    own = tmp_path / "plan.json"
    own.write_bytes(plan_path.read_bytes())
    (tmp_path / "sub").mkdir()
    (tmp_path / "link.json").symlink_to(own)
    (tmp_path / "hard.json").hardlink_to(own)
    target = tmp_path / way
    before = sorted(tmp_path.iterdir())
    assert call("constants", own, "--format", "json", "--out", target, "--force") == 3
    assert call("starts", own, "--tariff", "flat", "--from", "2026-01-10", "--csv", target, "--force") == 3
    shown = capfd.readouterr()
    assert shown.out == ""
    assert " ".join(shown.err.split()).count("is a file that this command reads") == 2
    assert own.read_bytes() == plan_path.read_bytes()
    assert sorted(tmp_path.iterdir()) == before


def test_a_controller_is_not_written_over_the_plan(
    plan_path: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "wash_timing.h"
    own.write_bytes(plan_path.read_bytes())
    assert call("constants", own, "--with-controller", tmp_path, "--force") == 3
    assert "is a file that this command reads" in " ".join(capfd.readouterr().err.split())
    assert list(tmp_path.iterdir()) == [own]


def test_check_passes_what_was_planned(plan_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert call("check", plan_path, "--draws", "8", "--seed", "3") == 0
    text = capfd.readouterr().out
    assert text.startswith("Proven, on your minutes: ")
    assert "met at every point of the tolerances" in " ".join(text.split())
    assert "runs (seed 3)" in text
    assert max(map(len, text.splitlines())) <= 80


def test_check_prints_the_table_and_fails(spoilt_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert call("check", spoilt_path, "--draws", "0") == 5
    text = capfd.readouterr().out
    assert text.startswith("NOT MET: ")
    assert "FAILS  dose drinks" in text
    assert call("check", spoilt_path, "--draws", "0", "--json") == 5
    content = json.loads(capfd.readouterr().out)
    assert content["passed"] is False
    assert "dose.drinks" in [row["key"] for row in content["requirements"] if not row["holds"]]


def test_constants_go_to_standard_output_or_to_a_file(
    plan_path: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    plan = to_emit(read(plan_path), rehearsal=False)
    path = tmp_path / "constants"
    for number, (form, one) in enumerate(FORMS.items()):
        # Each form once, to the two places by turns: the place does not know of forms.
        to_file = ("--out", path, "--force") if number % 2 else ()
        assert call("constants", plan_path, "--format", form, *to_file) == 0
        printed = capfd.readouterr().out
        assert (
            (path.read_text(encoding="utf-8"), printed) == (one.text(plan), "")
            if to_file
            else (printed == one.text(plan))
        )


def test_forms_on_the_command_line_are_the_emitters() -> None:
    assert {form.value for form in Form} == FORMS.keys()


def test_no_constants_unless_the_check_passes(
    spoilt_path: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "wash_timing.h"
    assert call("constants", spoilt_path, "--format", "c", "--out", path) == 5
    assert call("constants", spoilt_path, "--format", "c") == 5
    shown = capfd.readouterr()
    assert shown.out == ""
    assert "dose drinks" in shown.err
    assert not path.exists()


@pytest.mark.parametrize("command", [["check"], ["constants", "--format", "c"]])
@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b'{"format": 9}', b"[" * 100_000])
def test_what_is_not_a_plan_is_bad_input(
    command: list[str], content: bytes, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(content)
    assert call(*command, path) == 3
    shown = capfd.readouterr()
    assert shown.out == ""
    assert "plan.json" in shown.err.replace("\n", "")
    assert "bug in scullion" not in shown.err


@pytest.mark.parametrize("words", [["--draws", "-1"], ["--draws", "x"], ["--seed", "-1"], ["--nonsense"]])
def test_wrong_options_are_usage_errors(words: list[str], plan_path: Path) -> None:
    assert call("check", plan_path, *words) == 2


def test_an_unknown_solver_is_told_in_plain_words(capfd: pytest.CaptureFixture[str]) -> None:
    assert call("plan", "cold-shed", "fresh-cups", "--solver", "none-such") == 2
    shown = " ".join(capfd.readouterr().err.split())
    assert "'none-such' is not one of 'auto'" in shown
    assert "Value error" not in shown


def test_unknown_form_is_a_usage_error(plan_path: Path) -> None:
    assert call("constants", plan_path, "--format", "pdf") == 2
    assert call("constants", plan_path) == 2
