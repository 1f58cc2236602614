"""How a command ends: exit codes, what goes to which stream, and what is not loaded on the way."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from patience import PATIENCE_S
from planner_cases import proven
from profile_cases import ROOT, scullion

from optimizer import __version__
from optimizer.cli.ending import run
from optimizer.errors import CheckFailedError, InputError, InputIssue, NoPlanError, Reason, SolverError
from optimizer.profile.shipped import shipped_profiles
from optimizer.programme.planfile import plan_to_json

HEAVY = ("numpy", "pandas", "scipy", "pulp", "highspy", "rich")
LOADED = f"""
import sys
from optimizer.cli.app import main
sys.argv = ["scullion", *sys.argv[1:]]
try:
    main()
finally:
    print([name for name in {HEAVY} if name in sys.modules], file=sys.stderr)
"""


@pytest.fixture(scope="module")
def shipped_plan_text() -> str:
    """Give the plan file of the quickest shipped profiles."""
    return plan_to_json(proven("cold-shed", "fresh-cups").plan)


def python(*words: str, cwd: Path, home: Path = ROOT, **env: str) -> subprocess.CompletedProcess[str]:
    """Run Python in another process and folder, with the packages of `home`."""
    return subprocess.run(
        [sys.executable, *words],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(home), **env},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=PATIENCE_S,
    )


@pytest.mark.parametrize(
    "words",
    [
        ["--help"],
        ["--version"],
        ["profiles"],
        ["profiles", "--help"],
        ["profiles", "show", "everyday", "--json"],
    ],
)
def test_nothing_heavy_is_loaded(tmp_path: Path, words: list[str]) -> None:
    ended = python("-c", LOADED, *words, cwd=tmp_path)
    assert (ended.returncode, ended.stderr) == (0, "[]\n")


def test_module_and_version(tmp_path: Path) -> None:
    ended = python("-m", "optimizer", "--version", cwd=tmp_path)
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, f"scullion {__version__}\n", "")


def test_shipped_profiles_are_found_from_a_folder_with_profiles_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "profiles" / "machines").mkdir(parents=True)
    ended = python("-m", "optimizer", "profiles", "show", "clubhouse", cwd=tmp_path)
    assert ended.returncode == 0
    assert 'kind = "machine"' in ended.stdout


def test_shipped_profiles_are_found_away_from_the_source(tmp_path: Path) -> None:
    """As installed: the profiles inside the package and nothing beside it."""
    home, other = tmp_path / "site", tmp_path / "other"
    other.mkdir()
    shutil.copytree(ROOT / "optimizer", home / "optimizer", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "profiles", home / "optimizer" / "profiles")
    ended = python("-m", "optimizer", "profiles", cwd=other, home=home)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert all(f"  {one.name} " in ended.stdout for one in shipped_profiles())


def test_every_shipped_file_is_packaged() -> None:
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    globs = setup["tool"]["setuptools"]["package-data"]["optimizer.profiles"]
    packaged = {path for glob in globs for path in (ROOT / "profiles").glob(glob)}
    files = {path for path in (ROOT / "profiles").rglob("*") if path.is_file()}
    assert packaged == files


def test_bad_input_in_another_process(tmp_path: Path) -> None:
    (tmp_path / "my.toml").write_text('kind = "goal"\n[limits]\nduration_min = "long"\n', encoding="utf-8")
    ended = python("-m", "optimizer", "profiles", "show", "my.toml", "--json", cwd=tmp_path)
    assert ended.returncode == 3
    assert len(json.loads(ended.stdout)["error"]["issues"]) == 4
    assert ended.stderr.startswith("Bad input: 4 issues.\n\n- my.toml: title\n    rule   is missing\n")
    assert "Traceback" not in ended.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["my.toml"]


def test_terminal_without_the_degree_sign(tmp_path: Path) -> None:
    ended = python("-m", "optimizer", "profiles", "show", "everyday", cwd=tmp_path, PYTHONIOENCODING="ascii")
    assert ended.returncode == 0
    assert "beef tallow 40-50  C" in ended.stdout


def test_reader_that_goes_away(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "optimizer", "profiles", "schema", "machine"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0, "as where it reads to the end"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_full_disk_behind_standard_output(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "optimizer", "profiles"],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    told = "The output could not be written: No space left on device.\n"
    assert (ended.returncode, ended.stderr) == (1, told)


CLOSED = """
import os, sys
number, words = int(sys.argv[1]), sys.argv[2:]
os.close(number)
os.execv(sys.executable, [sys.executable, "-m", "optimizer", *words])
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a closed stream is not handed on")
@pytest.mark.parametrize(
    "words",
    [
        ["--help"],
        ["--version"],
        ["profiles"],
        ["profiles", "show", "everyday", "--json"],
        ["plan", "cold-shed", "fresh-cups", "--out", "new.json"],
        ["show", "plan.json"],
        ["check", "plan.json"],
        ["starts", "plan.json"],
        ["constants", "plan.json", "--format", "c"],
    ],
    ids=" ".join,
)
def test_closed_standard_output(tmp_path: Path, words: list[str], shipped_plan_text: str) -> None:
    """Every command says the same; and the file that was asked for is there, as is the answer."""
    (tmp_path / "plan.json").write_text(shipped_plan_text, encoding="utf-8")
    ended = python("-c", CLOSED, "1", *words, cwd=tmp_path)
    assert (ended.returncode, ended.stdout, ended.stderr) == (
        1,
        "",
        "The output could not be written: standard output is closed.\n",
    )
    if "--out" in words:
        assert (tmp_path / "new.json").read_text(encoding="utf-8") == shipped_plan_text


@pytest.mark.skipif(sys.platform == "win32", reason="a closed stream is not handed on")
def test_closed_standard_output_that_nothing_is_said_on(tmp_path: Path, shipped_plan_text: str) -> None:
    (tmp_path / "plan.json").write_text(shipped_plan_text, encoding="utf-8")
    words = ["constants", "plan.json", "--format", "c", "--out", "a.h"]
    ended = python("-c", CLOSED, "1", *words, cwd=tmp_path)
    assert (ended.returncode, ended.stderr) == (0, "Wrote a.h.\n")
    assert (tmp_path / "a.h").stat().st_size > 0
    ended = python("-c", CLOSED, "1", "profiles", "show", "nothing", "--json", cwd=tmp_path)
    assert (ended.returncode, ended.stderr.splitlines()[0]) == (3, "Bad input: 1 issue.")


@pytest.mark.skipif(sys.platform == "win32", reason="a closed stream is not handed on")
def test_closed_standard_error(tmp_path: Path) -> None:
    """What is said there does not go to standard output instead."""
    ended = python("-c", CLOSED, "2", "profiles", "show", "nothing", cwd=tmp_path)
    assert (ended.returncode, ended.stdout) == (3, "")


ENDS = [
    (
        InputError([InputIssue("a.toml", "k", "is missing", "", "k = 1")]),
        3,
        "Bad input: 1 issue.\n\n- a.toml: k\n",
    ),
    (
        NoPlanError("cold-shed cannot do it", [Reason("dose fat", "25 min", "3 min")]),
        4,
        "Cold-shed cannot do it",
    ),
    (CheckFailedError("The check failed.", ["bath 91 °C, limit 90 °C"]), 5, "The check failed.\nbath 91 °C"),
    (SolverError("The solver stopped."), 5, "The solver stopped.\n"),
]


@pytest.mark.parametrize(("error", "code", "message"), ENDS)
def test_each_error_has_its_exit_code(
    capsys: pytest.CaptureFixture[str], error: Exception, code: int, message: str
) -> None:
    def command() -> None:
        raise error

    assert run(command) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err.lower().startswith(message.lower())
    assert err.endswith("\n")


def test_interrupt(capsys: pytest.CaptureFixture[str]) -> None:
    def command() -> None:
        raise KeyboardInterrupt

    assert run(command) == 130
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("debug", ["", "1"])
def test_fault_of_our_own(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, debug: str
) -> None:
    def command() -> None:
        raise ZeroDivisionError("division by zero\nand more")

    monkeypatch.setenv("SCULLION_DEBUG", debug)
    assert run(command) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.endswith("This is a bug in scullion: ZeroDivisionError: division by zero\n")
    assert ("Traceback" in err) == (debug == "1")


@pytest.mark.parametrize(("end", "code"), [(SystemExit(), 0), (SystemExit(2), 2), (SystemExit("no"), 1)])
def test_exit_codes_of_the_command_line_itself(end: SystemExit, code: int) -> None:
    def command() -> None:
        raise end

    assert run(command) == code


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys)
    assert ended.code == 2
    assert "Usage: scullion" in ended.out + ended.err
