"""A controller beside constants of another version: nothing runs, and what is said tells what to do.

An older controller had numbers of its own for drains and sensor, which might be another machine's; it is made
here of the present one, by what it had then.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import several_cases
from controller_bench import ALL
from controller_cases import quick_plan
from controller_rig import IN, OF_MACHINE, SOURCES, STRICT, Error, In, needs_cc
from test_firmware_iec import Block

from optimizer.emit.c99 import OLD_CONTROLLER
from optimizer.emit.forms import FORMS, controller_files, firmware_files
from optimizer.emit.meanings import CONSTANTS_FORMAT, SEVERAL_FORMAT

TWO_VERSIONS = "are of two versions of scullion; write both anew: scullion constants PLAN"
OWN = "\n".join(f"#ifndef WASH_{name}\n#define WASH_{name} 400\n#endif" for name in OF_MACHINE)
"""What a controller of format 3 and 4 had: numbers of its own, which give way to those of the header."""


def compiler_says(files: dict[str, str], folder: Path, language: str = "c99") -> str:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    compiler = "cc" if language.startswith("c9") else "c++"
    kind = "c" if compiler == "cc" else "c++"
    command = [compiler, f"-std={language}", "-x", kind, *STRICT, "-fsyntax-only", "wash_controller.c"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False).stderr


def c_files(*, several: bool) -> dict[str, str]:
    if several:
        return firmware_files(several_cases.quick(), "c")
    return controller_files(quick_plan())


def older_controller(files: dict[str, str]) -> dict[str, str]:
    """The controller as it was: without a word of its version, with numbers of its own."""
    header, count = re.subn(
        r"^#define WASH_CONTROLLER_FORMAT .*\n", "", files["wash_controller.h"], flags=re.M
    )
    assert count == 1
    source, count = re.subn(r"^#if !defined\(WASH_FORMAT\).*?^#endif\n", OWN + "\n",
                            files["wash_controller.c"], flags=re.M | re.S)  # fmt: skip
    assert count == 1
    return {**files, "wash_controller.h": header, "wash_controller.c": source}


def older_header(files: dict[str, str], number: int) -> dict[str, str]:
    """The header as it was: of another format, without the numbers."""
    text = files["wash_timing.h"].replace(f"{OLD_CONTROLLER}\n\n", "")
    text = re.sub(r"^(#define WASH_FORMAT +)\w+", rf"\g<1>{number}U", text, flags=re.M)
    for name in OF_MACHINE:
        text = re.sub(rf"^(#define |WASH_ASSERT.*\b)WASH_{name} .*\n", "", text, flags=re.M)
    return {**files, "wash_timing.h": re.sub(r"^WASH_ASSERT\(WASH_FORMAT.*\n", "", text, flags=re.M)}


@needs_cc
@pytest.mark.parametrize("several", [False, True])
@pytest.mark.parametrize("language", ["c99", "c++11"])
def test_an_old_controller_beside_a_new_header_does_not_compile(
    language: str, several: bool, tmp_path: Path
) -> None:
    files = c_files(several=several)
    assert compiler_says(files, tmp_path, language) == ""
    said = compiler_says(older_controller(files), tmp_path, language)
    assert "error" in said
    assert f"wash_controller {TWO_VERSIONS} --with-controller DIR" in said


@needs_cc
@pytest.mark.parametrize("several", [False, True])
def test_a_new_controller_beside_an_old_header_does_not_compile(several: bool, tmp_path: Path) -> None:
    files = c_files(several=several)
    for number in (SEVERAL_FORMAT - 2 if several else CONSTANTS_FORMAT - 2, SEVERAL_FORMAT + 1):
        said = compiler_says(older_header(files, number), tmp_path)
        assert f"this controller {TWO_VERSIONS} --with-controller DIR" in said


@needs_cc
def test_old_beside_old_did_compile(tmp_path: Path) -> None:
    """So that it is the two versions that are refused, not what they are made of here."""
    files = older_header(older_controller(c_files(several=False)), 3)
    said = compiler_says(files, tmp_path)
    assert said == ""


@needs_cc
def test_a_header_by_itself_needs_no_controller(tmp_path: Path) -> None:
    """A controller of one's own includes the header alone."""
    files = {"wash_timing.h": c_files(several=False)["wash_timing.h"]}
    files["wash_controller.c"] = '#include "wash_timing.h"\nint main(void) { return 0; }\n'
    assert compiler_says(files, tmp_path) == ""


def module(text: str, **names: Any) -> Any:
    """Run a module as CPython does."""
    found: dict[str, Any] = dict(names)
    exec(text.replace("from micropython import const", "const = int"), found)
    return type("module", (), found)


def test_in_micropython_the_two_versions_are_told_as_the_programmes_are_read() -> None:
    files = firmware_files(several_cases.quick(), "micropython")
    new, timing = module(files["wash_controller.py"]), module(files["wash_timing.py"])
    assert len(new.programmes(timing)) == len(several_cases.quick())
    wanted = f"wash_timing and wash_controller {TWO_VERSIONS} --format micropython --with-controller DIR"
    for number in (4, SEVERAL_FORMAT + 1):
        timing.WASH_FORMAT = number
        with pytest.raises(ValueError, match=re.escape(wanted)):
            new.programmes(timing)
    del timing.WASH_FORMAT
    with pytest.raises(ValueError, match=re.escape(wanted)):
        new.programmes(timing)
    # An older controller looks for its tables by their old name.
    with pytest.raises(ValueError, match=re.escape(wanted)):
        [table[:4] for table in timing.WASH_TABLES]


def test_an_old_function_block_lacks_members_that_new_tables_fill() -> None:
    """Its compiler then knows no such member, and the lines above say what to do."""
    tables = firmware_files(several_cases.quick(), "iec")["wash_tables.st"]
    for name in ("FORMAT", *OF_MACHINE):
        assert f"{name} := WASH_{name}" in tables
    assert "files of two versions of scullion: write all" in tables.split("VAR_GLOBAL")[0]


@pytest.mark.parametrize("number", [0, SEVERAL_FORMAT - 2, SEVERAL_FORMAT + 1])
def test_a_function_block_takes_no_tables_of_another_version(number: int) -> None:
    """A member that old tables do not fill is 0: an all-off wait of 0 s would drain whatever stands in it."""
    plan = several_cases.quick()["first"]
    told = np.zeros(1, IN)[0]
    told["flags"], told["bath_dc"] = int(In.POWER | In.BATH | In.COVERED | In.START), 200
    ons = {}
    for version in (SEVERAL_FORMAT, number):
        block = Block(plan, int(ALL))
        block.space["TABLE"].FORMAT = version
        ons[version] = {block.tell(1000 * step, told)[0] for step in range(1, 60)}
        assert (block.space["ERROR"] == Error.PROGRAMME) == (version == number)
        assert not (version == number and block.space["TANK_COOL"])
    assert ons[number] == {0} < ons[SEVERAL_FORMAT]


def test_no_controller_has_a_number_of_the_machine() -> None:
    """Not as a default either: it would be taken where the constants lack it."""
    for name in ("wash_controller.c", "wash_controller.py", "wash_programme.st"):
        text = (SOURCES / name).read_text(encoding="utf-8")
        for number in OF_MACHINE:
            assert not re.search(rf"\b{number} *(=|:=) *[cT\d(]|define WASH_{number}\b", text), (name, number)
    assert all(f"#define WASH_{number} " in FORMS["c"].text(quick_plan()) for number in OF_MACHINE)
