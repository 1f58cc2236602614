"""The controller in MicroPython under a real MicroPython: its WebAssembly build 1.27, run by Node.

`.ci/run` fetches that build into a folder beside the tests; another one is named in the environment.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

import pytest
from controller_rig import SOURCES, TESTS, USUAL, Program, with_numbers

from optimizer.emit.forms import FORMS
from optimizer.emit.several import Several
from optimizer.programme.plan import Plan

PACKAGE = Path("node_modules", "@micropython", "micropython-webassembly-pyscript")
BUILD = Path(os.environ.get("SCULLION_MICROPYTHON", TESTS.parent / ".ci" / "micropython" / PACKAGE))
NODE = shutil.which("node")

needs_micropython = pytest.mark.skipif(
    NODE is None or not (BUILD / "micropython.wasm").is_file(),
    reason="no MicroPython here: .ci/run fetches its WebAssembly build 1.27, and node runs it",
)

_FOLDER = Path(tempfile.mkdtemp(prefix="micropython-"))
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)


def in_micropython(
    plans: Mapping[str, Plan], *changes: tuple[str, str], numbers: Mapping[str, int] = USUAL
) -> Program:
    """Lay out the module for some programmes, the controller's source changed, and what runs it.

    `numbers` of the machine are written into the constants, after `USUAL`.
    """
    folder = Path(tempfile.mkdtemp(dir=_FOLDER))
    timing = FORMS["micropython"].write_several(Several.of_plans(plans))
    (folder / "wash_timing.py").write_text(with_numbers(timing, {**USUAL, **numbers}), encoding="utf-8")
    source = (SOURCES / "wash_controller.py").read_text(encoding="utf-8")
    for old, new in changes:
        assert source.count(old) == 1, old
        source = source.replace(old, new)
    (folder / "wash_controller.py").write_text(source, encoding="utf-8")
    harness = TESTS / "controller_harness"
    return (str(NODE), f"{harness}.mjs", str(BUILD), str(folder), f"{harness}.py")
