"""Errors of a command: as JSON, through a pipe that closes, and files that must not be written over."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from profile_cases import ROOT, Ended, scullion

from optimizer.cli import app as app_module
from optimizer.cli.ending import run
from optimizer.cli.terminal import terminal_width
from optimizer.errors import CheckFailedError, InputError, InputIssue, NoPlanError, Reason, SolverError
from optimizer.profile.shipped import profile_path

ISSUE = InputIssue("a.toml", "tank.capacity_l", "is missing", "", "capacity_l = 20")
OPTION = InputIssue("--sort", "", "is no column", "banana", "one of minutes, water")
ERRORS = [
    (InputError([ISSUE] * 30), "bad input", 3),
    (InputError([ISSUE, OPTION]), "bad input", 3),
    (InputError([OPTION]), "usage", 2),
    (NoPlanError("Nothing does", [Reason("dose fat", "25 min", "3 min")]), "no plan", 4),
    (CheckFailedError("The check failed.", ["bath 91 °C, limit 90 °C"]), "check failed", 5),
    (SolverError("The solver stopped."), "solver", 5),
    (OSError(28, "No space left on device"), "system", 1),
    (ZeroDivisionError("division by zero"), "bug", 1),
]


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[Exception], None]:
    """Make `scullion profiles` end with an error."""

    def fail(error: Exception) -> None:
        def shipped() -> None:
            raise error

        monkeypatch.setattr("optimizer.cli.profiles.shipped_profiles", shipped)

    return fail


@pytest.mark.parametrize(("error", "kind", "code"), ERRORS)
def test_with_json_every_error_is_an_object(
    failing: Callable[[Exception], None],
    capsys: pytest.CaptureFixture[str],
    error: Exception,
    kind: str,
    code: int,
) -> None:
    failing(error)
    in_words, in_json = scullion(capsys, "profiles"), scullion(capsys, "profiles", "--json")
    assert (in_words.code, in_json.code) == (code, code)
    assert in_words.out == ""
    assert in_json.err == in_words.err != "", "a person reads the same with and without"
    content = json.loads(in_json.out)
    assert content.keys() == {"error"}
    assert (content["error"]["kind"], content["error"]["exit_code"]) == (kind, code)
    assert content["error"]["message"]


def test_the_object_has_what_the_words_have(
    failing: Callable[[Exception], None], capsys: pytest.CaptureFixture[str]
) -> None:
    found = {}
    for error, kind, _ in (ERRORS[0], *ERRORS[3:5]):
        failing(error)
        found[kind] = json.loads(scullion(capsys, "profiles", "--json").out)["error"]
    assert len(found["bad input"]["issues"]) == 30, "all of them, however many the words show"
    assert found["bad input"]["issues"][0] == {
        "subject": "a.toml",
        "key": "tank.capacity_l",
        "rule": "is missing",
        "found": "",
        "fix": "capacity_l = 20",
    }
    assert found["no plan"]["reasons"][0]["nearest"] == "3 min"
    assert found["check failed"]["failures"] == ["bath 91 °C, limit 90 °C"]


def test_a_list_that_is_cut_says_how_many_more(
    failing: Callable[[Exception], None], capsys: pytest.CaptureFixture[str]
) -> None:
    failing(ERRORS[0][0])
    words = scullion(capsys, "profiles").err
    assert words.count("tank.capacity_l") == 20
    assert words.endswith("And 10 more.\n")


USAGE = [["plan", "--nonsense"], ["plan", "clubhouse"], ["check", "x", "--draws", "-1"], ["nothing"]]


@pytest.mark.parametrize("words", USAGE)
@pytest.mark.parametrize("columns", ["40", "80"])
def test_usage_errors(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: list[str], columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    in_words, in_json = scullion(capsys, *words), scullion(capsys, *words, "--json")
    assert (in_words.code, in_json.code) == (2, 2)
    assert in_words.out == ""
    assert max(map(len, in_words.err.splitlines())) <= int(columns)
    assert "Error: " in in_words.err
    assert "--help" in in_words.err
    content = json.loads(in_json.out)["error"]
    assert (content["kind"], content["exit_code"]) == ("usage", 2)


def test_json_after_the_end_of_options_is_a_name(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys, "profiles", "show", "--", "--json")
    assert (ended.code, ended.out) == (3, "")


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "optimizer", *map(str, words)]


PIPED = [
    (["profiles"], 0),
    (["--help"], 0),
    (["profiles", "show", "clubhouse"], 0),
    (["profiles", "show", "nothing"], 3),
]


@pytest.mark.parametrize(("words", "code"), PIPED)
def test_a_reader_that_goes_away_changes_no_exit_code(words: list[str], code: int, tmp_path: Path) -> None:
    """The reader is gone before anything is written, or reads to the end."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    reading, writing = os.pipe()
    os.close(reading)
    ended = []
    for out in (writing, subprocess.PIPE):
        ended.append(
            subprocess.run(
                command(*words), stdout=out, stderr=subprocess.PIPE, cwd=tmp_path, env=env, check=False
            )
        )
    os.close(writing)
    assert [one.returncode for one in ended] == [code, code]
    assert ended[0].stderr == ended[1].stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    ("words", "code"), [(["profiles", "--json"], 1), (["profiles", "show", "nothing", "--json"], 3)]
)
def test_an_error_that_cannot_be_written_is_still_told(words: list[str], code: int, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            command(*words),
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=tmp_path,
            env=env,
            check=False,
        )
    assert ended.returncode == code
    assert ended.stderr.startswith(
        "The output could not be written: " if code == 1 else "Bad input: 1 issue."
    )
    assert "Traceback" not in ended.stderr
    assert "Exception ignored" not in ended.stderr


@pytest.mark.skipif(shutil.which("bash") is None, reason="no shell that has pipefail")
@pytest.mark.parametrize("lines", ["0", "1"])
def test_head_under_pipefail(lines: str, tmp_path: Path) -> None:
    script = f"set -o pipefail; {sys.executable} -m optimizer profiles schema machine | head -n {lines}"
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    ended = subprocess.run(["bash", "-c", script], capture_output=True, cwd=tmp_path, env=env, check=False)
    assert (ended.returncode, ended.stderr) == (0, b"")


def test_nothing_printed_is_acted_on(capsys: pytest.CaptureFixture[str]) -> None:
    """ECMA-48 escape sequences, in both their forms, and the marks that turn text round (Unicode, UAX 9)."""
    signs = "\x1b]0;title\x07 \x9b31m \u202e \x7f \r over"

    def answer() -> None:
        sys.stdout.write(f"tab\there {signs}\r\nnext\n")
        sys.stderr.write(f"{signs}\n")

    assert run(answer) == 0
    shown = capsys.readouterr()
    harmless = r"\u001b]0;title\u0007 \u009b31m \u202e \u007f \u000d over"
    assert shown.out == f"tab\there {harmless}\r\nnext\n"
    assert shown.err == f"{harmless}\n"
    assert json.loads(f'"{harmless}"') == signs, "in JSON it is the same text"


def test_help_needs_no_more_than_the_terminal_has(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    commands = [["--help"]]
    shown = scullion(capsys, "--help")
    assert "..." not in shown.out.split("Commands:")[1], "no line of help is cut"
    names = [line.split()[0] for line in shown.out.split("Commands:")[1].splitlines() if line[2:3].strip()]
    commands += [[name, "--help"] for name in names if hasattr(app_module, f"{name}_app")]
    assert len(commands) > 9
    for words in commands:
        shown = scullion(capsys, *words)
        assert shown.code == 0
        assert max(map(len, shown.out.splitlines())) <= 40


@pytest.mark.parametrize(("columns", "width"), [("40", 40), ("200", 200), ("", 80), ("0", 80), ("wide", 80)])
def test_width_of_the_terminal(monkeypatch: pytest.MonkeyPatch, columns: str, width: int) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    with open(os.devnull, "w", encoding="utf-8") as nothing:
        assert terminal_width(nothing) == width
    assert terminal_width(None) == width


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with profiles of one's own, a price series among them, and other ways to them."""
    for kind, name in (("machine", "cold-shed"), ("goal", "glasses"), ("tariff", "half-hourly")):
        shutil.copy(profile_path(kind, name), tmp_path / f"{kind}.toml")
    series = next(profile_path("tariff", "half-hourly").parent.glob("*.csv"))
    shutil.copy(series, tmp_path / series.name)
    (tmp_path / "link.toml").symlink_to(tmp_path / "machine.toml")
    os.link(tmp_path / series.name, tmp_path / "prices")
    (tmp_path / "sub").mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


TARGETS = ["machine.toml", "./sub/../goal.toml", "link.toml", "tariff.toml", "prices"]
PROFILES = ["./machine.toml", "./goal.toml", "--tariff", "./tariff.toml"]


def refused(ended: Ended) -> bool:
    words = " ".join(ended.err.split())
    return ended.code == 3 and ended.out == "" and "is a file that this command reads" in words


@pytest.mark.parametrize("target", TARGETS)
def test_force_never_writes_over_a_file_that_the_command_reads(
    own: Path, capsys: pytest.CaptureFixture[str], target: str
) -> None:
    before = contents(own)
    asked = ["--machine", "./machine.toml", "--goal", "./goal.toml", "--tariff", "./tariff.toml"]
    assert refused(scullion(capsys, "plan", *PROFILES, "--out", target, "--force"))
    assert refused(scullion(capsys, "starts", *asked, "--out", "new.json", "--csv", target, "--force"))
    assert refused(scullion(capsys, "compare", *asked, "--csv", target, "--force"))
    assert refused(scullion(capsys, "frontier", *PROFILES, "--csv", target, "--force"))
    assert contents(own) == before


def test_two_answers_are_not_written_to_one_file(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = contents(own)
    asked = ["--machine", "./machine.toml", "--goal", "./goal.toml", "--out", "new", "--csv", "sub/../new"]
    ended = scullion(capsys, "starts", *asked, "--force")
    assert (ended.code, ended.out) == (3, "")
    assert "is named for two things to write" in " ".join(ended.err.split())
    assert contents(own) == before


def test_a_file_of_another_command_may_be_written_over(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert scullion(capsys, "profiles", "show", "./machine.toml").code == 0
    assert scullion(capsys, "profiles", "new", "machine", "machine.toml", "--force").code == 0
