"""`constants --with-controller` as a person or a script calls it."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from calling import call
from controller_cases import proven
from controller_rig import SOURCES, STRICT, needs_cc
from plan_cases import with_own_figures

from optimizer.check.certified import certified
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS, controller_file_names
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json

FILE_NAMES = controller_file_names(bench_run=False)
BENCH_FILE_NAMES = controller_file_names(bench_run=True)


def constants(*words: str | Path) -> int:
    return call("constants", *words)


def stored(plan: Plan, folder: Path) -> Path:
    path = folder / "plan.json"
    path.write_text(plan_to_json(plan), encoding="utf-8")
    return path


@pytest.fixture
def plan_path(tmp_path: Path) -> Path:
    return stored(proven("clubhouse").plan, tmp_path)


def files_in(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}


@needs_cc
def test_writes_header_and_controller_that_compile_together(
    plan_path: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "firmware"
    folder.mkdir()
    assert constants(plan_path, "--with-controller", folder) == 0
    assert capfd.readouterr().out == ""
    written = files_in(folder)
    assert set(written) == set(FILE_NAMES)
    assert {"wash_timing.h", "wash_controller.h", "wash_controller.c", "wash_main.c"} < set(written)
    known = proven("clubhouse")
    told = replace(known.plan, certified=certified(known.certificate))
    assert written["wash_timing.h"] == FORMS["c"].text(told)
    for name in FILE_NAMES[1:]:
        # The same for every machine: all that is the machine's stands in the header.
        assert written[name] == (SOURCES / name).read_text(encoding="utf-8")
    assert compiler_says(folder) == ""


def compiler_says(folder: Path) -> str:
    command = ["cc", "-std=c99", *STRICT, "-fsyntax-only", "wash_controller.c"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False).stderr


@needs_cc
def test_bench_run_goes_with_the_controller_too(plan_path: Path, tmp_path: Path) -> None:
    folder = tmp_path / "firmware"
    folder.mkdir()
    assert constants(plan_path, "--bench-run", "--format", "c", "--with-controller", folder) == 0
    written = files_in(folder)
    assert set(written) == set(BENCH_FILE_NAMES)
    assert written["wash_timing_rehearsal.h"] == FORMS["c"].text(bench_run(proven("clubhouse").plan))
    # Each controller names its own header and no other, and finds it.
    assert all("wash_timing.h" not in text for text in written.values())
    assert '#include "wash_timing_rehearsal.h"' in written["wash_controller.c"]
    assert compiler_says(folder) == ""


@needs_cc
def test_neither_header_is_taken_for_the_other(plan_path: Path, tmp_path: Path) -> None:
    """In one folder they lie side by side; in one program the compiler stops."""
    folder = tmp_path / "firmware"
    folder.mkdir()
    assert constants(plan_path, "--bench-run", "--with-controller", folder) == 0
    assert constants(plan_path, "--with-controller", folder) == 3
    assert constants(plan_path, "--with-controller", folder, "--force") == 0
    assert set(files_in(folder)) == {*FILE_NAMES, *BENCH_FILE_NAMES}
    assert compiler_says(folder) == ""
    assert '#include "wash_timing.h"' in files_in(folder)["wash_controller.c"]
    both = '#include "wash_timing.h"\n#include "wash_timing_rehearsal.h"\n'
    (folder / "wash_controller.c").write_text(both, encoding="utf-8")
    assert "error" in compiler_says(folder)


@pytest.mark.parametrize("there", FILE_NAMES)
def test_files_that_are_there_are_left_alone_unless_forced(
    plan_path: Path, tmp_path: Path, there: str, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "firmware"
    folder.mkdir()
    (folder / there).write_text("mine", encoding="utf-8")
    assert constants(plan_path, "--with-controller", folder) == 3
    assert there in capfd.readouterr().err.replace("\n", "")
    assert files_in(folder) == {there: "mine"}
    assert constants(plan_path, "--with-controller", folder, "--force") == 0
    assert set(files_in(folder)) == set(FILE_NAMES)
    assert "mine" not in files_in(folder).values()


def test_a_folder_that_is_not_there_is_bad_input(plan_path: Path, tmp_path: Path) -> None:
    assert constants(plan_path, "--with-controller", tmp_path / "nowhere") == 3
    assert not (tmp_path / "nowhere").exists()


def test_nothing_is_written_unless_the_check_passes(tmp_path: Path) -> None:
    plan = proven("clubhouse").plan
    short = tuple(replace(row, spray_s=9, spray_element_s=0) for row in plan.constants.rounds)
    path = stored(with_own_figures(replace(plan, constants=replace(plan.constants, rounds=short))), tmp_path)
    folder = tmp_path / "firmware"
    folder.mkdir()
    assert constants(path, "--with-controller", folder) == 5
    assert files_in(folder) == {}


@pytest.mark.parametrize("words", [("--format", "json"), ("--out", "x.h")])
def test_options_that_do_not_go_with_it_are_usage_errors(
    plan_path: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    assert constants(plan_path, "--with-controller", tmp_path, *words) == 2
    assert files_in(tmp_path).keys() == {"plan.json"}
