"""The example programs around the controllers, on boards that are not there: in C, and in MicroPython."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
import several_cases
from controller_cases import built_several
from controller_micropython import BUILD, NODE, in_micropython, needs_micropython
from controller_rig import CHECKED, SOURCES, STRICT, TESTS, USUAL, needs_cc

from optimizer.programme.plan import Plan

INLET, ELEMENT, WASH_PUMP, DRAIN_PUMP, BUTTON, FLOAT, OVERFLOW, LID = 2, 3, 4, 5, 6, 7, 8, 9
STATED = ("-DWASH_BOARD_FILLED_IN", "-DWASH_STEPS_MAX_PER_S=100")
Event = tuple[int, int | str, int]
ANY_MACHINE = {"DRAIN_WAIT_S": 14400, "DRAIN_STOP_DC": 650}
"""Hours until the hottest bath has cooled; past 65 °C nothing is drained."""
DRY: list[Event] = [(1, OVERFLOW, 0), (1, LID, 0)]
"""The overflow switch is closed while nothing overflows, the lid is shut."""


def press(at_ms: int, long: bool = False, pin: int = BUTTON) -> list[Event]:
    return [(at_ms, pin, 0), (at_ms + (2000 if long else 200), pin, 1)]


class Said(NamedTuple):
    """A line that a board printed."""

    ms: int
    what: str
    rest: str


def lines(text: str) -> list[Said]:
    found = []
    for line in text.splitlines():
        ms, what, rest = [*line.split(" ", 2), "", ""][:3]
        found.append(Said(int(ms), what, rest) if ms.isdigit() else Said(-1, "log", line))
    return found


@cache
def c_program(*options: str, plans: Callable[[], dict[str, Plan]] = several_cases.quick) -> Path:
    """Compile the example for some programmes, all warnings and sanitizers on."""
    numbers = [f"-DWASH_{name}={value}" for name, value in ANY_MACHINE.items()]
    folder = built_several(plans(), "-DWASH_STEPS_MAX_PER_S=100", *numbers).parent
    sources = [str(SOURCES / "wash_main.c"), str(SOURCES / "wash_controller.c"), str(TESTS / "board_stub.c")]
    command = ["cc", "-std=c99", *STRICT, "-Wconversion", "-Wshadow", *CHECKED, *STATED, *options]
    places = [f"-I{folder}", f"-I{SOURCES}", "-o", str(folder / "main")]
    subprocess.run([*command, *places, *sources], check=True)
    return folder / "main"


def in_c(
    events: list[Event],
    until_ms: int,
    *options: str,
    plans: Callable[[], dict[str, Plan]] = several_cases.quick,
) -> list[Said]:
    script = [
        f"{ms} " + (f"{pin} {n}" if isinstance(pin, str) else f"pin {pin} {n}") for ms, pin, n in events
    ]
    text = "\n".join([*script, f"{until_ms} end", ""])
    program = c_program(*options, plans=plans)
    done = subprocess.run([program], input=text, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return lines(done.stdout)


def in_python(
    events: list[Event],
    until_ms: int,
    before: str = "",
    plans: Callable[[], dict[str, Plan]] = several_cases.quick,
    after: str = "",
    numbers: Mapping[str, int] = USUAL,
) -> list[Said]:
    run = f"{before}\nboard_stub.run(wash_main, {events}, {until_ms})\n{after}"
    return scripted(run, plans, numbers)


def scripted(
    run: str,
    plans: Callable[[], dict[str, Plan]] = several_cases.quick,
    numbers: Mapping[str, int] = USUAL,
) -> list[Said]:
    """Run some lines beside the example in MicroPython, on a machine of these numbers; what they print."""
    command = in_micropython(plans(), numbers=numbers)
    assert isinstance(command, tuple)
    folder = Path(command[3])
    shutil.copy(SOURCES / "wash_main.py", folder)
    shutil.copy(TESTS / "board_stub.py", folder)
    script = folder / "script.py"
    script.write_text(f"import board_stub\nimport wash_main\n{run}\n", encoding="utf-8")
    words = [str(NODE), str(TESTS / "run_main.mjs"), str(BUILD), str(folder), str(script)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr[-500:]
    return lines(done.stdout)


BOTH = [
    pytest.param(in_c, marks=needs_cc, id="c"),
    pytest.param(in_python, marks=[needs_micropython, pytest.mark.slow], id="micropython"),
]
REHEARSAL = [*DRY, *press(2500), *press(4500), *press(6500), *press(12_000, long=True)]
"""Three short presses from the first programme to the rehearsal, then a long one."""


def writes(said: list[Said]) -> list[tuple[int, int, int]]:
    return [(one.ms, *map(int, one.rest.split())) for one in said if one.what == "write"]


def text_of(said: list[Said]) -> str:
    return "\n".join(f"{one.what} {one.rest}" for one in said)
