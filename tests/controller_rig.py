"""The reference controller on the host: all warnings, sanitizers, many copies in lock step."""

from __future__ import annotations

import atexit
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import IntEnum, IntFlag
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

TESTS = Path(__file__).parent
SOURCES = TESTS.parent / "optimizer" / "emit" / "firmware"
STRICT = ["-Wall", "-Wextra", "-Werror", "-pedantic"]
CHECKED = ["-g", "-O0", "-fsanitize=undefined,address", "-fno-sanitize-recover=all"]

needs_cc = pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
needs_cxx = pytest.mark.skipif(shutil.which("c++") is None, reason="no C++ compiler here")

IN = np.dtype(
    [("bath_dc", "=i2"), ("flags", "u1"), ("asks", "u1"), ("more", "=u2"), ("choose", "u1"), ("twice", "u1"),
     ("skew_ms", "=u4")]
)  # fmt: skip
OUT = np.dtype(
    [("on", "u1"), ("state", "u1"), ("round", "u1"), ("error", "u1"), ("detergent_dg", "=u2"),
     ("running", "u1"), ("answer", "u1"), ("doses", "u1"), ("asked", "u1"),
     ("seen_dc", "=i2"), ("left_s", "=u4"), ("seen_round", "u1"), ("rounds_left", "u1"), ("seen_state", "u1"),
     ("seen_error", "u1"), ("seen_lid", "u1"), ("cool", "u1"), ("spare", "u1", 2)]
)  # fmt: skip
NO_CALL = 2


class Hook(IntFlag):
    """Hooks that a copy has."""

    BATH = 1
    FULL = 2
    COVERED = 4
    OVERFLOW = 8
    FLAG = 16
    DETERGENT = 32
    HALF_FLAG = 64
    LID = 128
    LID_UNSAID = 256
    COOL = 512


class In(IntFlag):
    """What a copy is told at a step."""

    BATH = 1
    FULL = 2
    COVERED = 4
    OVERFLOW = 8
    START = 16
    STOP = 32
    POWER = 64
    SKIP = 128


class Ask(IntFlag):
    """What else a copy is asked for at a step."""

    SKIP_ROUND = 1
    LID_OPEN = 2
    TANK_IS_COOL = 4
    WRITE_LOST = 8
    SPOILT = 16
    STICKS = 32


class Twice(IntFlag):
    """What the second reading of a step says otherwise than the first."""

    BATH_APART = 1
    OPEN = 2
    OVERFLOW = 4
    LID = 8


class On(IntFlag):
    """Outputs."""

    INLET = 1
    ELEMENT = 2
    WASH_PUMP = 4
    DRAIN_PUMP = 8


State = IntEnum(
    "State",
    "IDLE COOL START_DRAIN GAP FILL HEAT SPRAY SOAK LAST_SPRAY REST TOP_UP MIX DRAIN STAND "
    "SAFE_OFF SAFE_DRAIN HELD",
    start=0,
)
Error = IntEnum(
    "Error",
    "OK STOPPED HOOKS POWER_CUT LATE NOT_FILLED NOT_DRAINED UNCOVERED OVERFLOW TOO_HOT "
    "SENSOR_LOST SENSOR_STUCK FILL_TIME ELEMENT_TIME TOTAL_TIME CLOCK_STOPPED FLOAT_CLOSED "
    "LID_OPEN PROGRAMME MEMORY",
    start=0,
)


@dataclass(frozen=True)
class Twins:
    """Two programs that are to do the same at every step."""

    one: Path
    other: tuple[str, ...]


Program = Path | tuple[str, ...] | Twins
"""What to start: a compiled rig, the words of a command, or both in lock step."""


@cache
def _harness() -> Path:
    """Compile the harness once: no header changes it."""
    folder = Path(tempfile.mkdtemp(prefix="harness-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    _cc(folder / "harness.o", "-c", f"-I{SOURCES}", str(TESTS / "controller_harness.c"))
    return folder / "harness.o"


def _cc(target: Path, *words: str) -> None:
    command = ["cc", "-std=c99", *STRICT, *CHECKED, *words, "-o", str(target)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


USUAL = {"DRAIN_WAIT_S": 0, "DRAIN_MAX_DC": 400, "FILL_IS_COLD": 0, "SENSOR_MOVES_S": 600}
"""What the constants of a rig say of its machine where a test says nothing else: that a bath that nothing
reads is never too hot for the drain pipe, and that the inlet may be hot."""
OF_MACHINE = (*USUAL, "DRAIN_STOP_DC")
"""Numbers of the constants that a test may state as it states the controller's own: -DWASH_DRAIN_WAIT_S=9."""


def with_numbers(text: str, numbers: Mapping[str, int]) -> str:
    """Give a header, or a module of constants, with other numbers; the limits on them are left out."""
    for name, value in numbers.items():
        text = re.sub(rf"^WASH_ASSERT\(.*\bWASH_{name}\b.*\n", "", text, flags=re.M)
        old = rf"^(#define WASH_{name} +)\w+|^(WASH_{name} = const\()\d+"
        new = f"{value}U" if text.startswith("/*") else str(value)
        text, count = re.subn(old, rf"\g<1>\g<2>{new}", text, flags=re.M)
        assert count == 1, name
    return text


def stated(options: Sequence[str]) -> tuple[dict[str, int], list[str]]:
    """Part the options of a compiler into numbers of the header, and those that are left."""
    numbers, others = {}, []
    for option in options:
        found = re.fullmatch(r"-DWASH_(\w+)=(\d+)U?L?", option)
        if found and found[1] in OF_MACHINE:
            numbers[found[1]] = int(found[2])
        else:
            others.append(option)
    return numbers, others


def compiled(folder: Path, *options: str, source: Path | None = None, usual: bool = True) -> Path:
    """Compile the controller against the `wash_timing.h` in a folder, and link it with the harness.

    Numbers of the machine among the options are written into that header; `usual`: `USUAL` before them.
    """
    program, header = folder / "rig", folder / "wash_timing.h"
    numbers, others = stated(options)
    text = header.read_text(encoding="utf-8")
    header.write_text(with_numbers(text, {**(USUAL if usual else {}), **numbers}), encoding="utf-8")
    controller = str(source or SOURCES / "wash_controller.c")
    _cc(program, *others, f"-I{folder}", f"-I{SOURCES}", controller, str(_harness()))
    return program


@dataclass
class Rig:
    """Copies of the controller that wait for their next step."""

    process: subprocess.Popen[bytes]
    count: int

    def step(
        self, clock_ms: int, flags: NDArray[np.uint8] | int, bath_dc: NDArray[np.int16] | int = 0
    ) -> NDArray[np.void]:
        """Step every copy and give back what each did."""
        told = np.zeros(self.count, IN)
        told["flags"], told["bath_dc"] = flags, bath_dc
        return self.tell(clock_ms, told)

    def tell(self, clock_ms: int, told: NDArray[np.void]) -> NDArray[np.void]:
        """Step every copy, told everything that it can be told."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(np.uint32(clock_ms % 2**32).tobytes() + told.tobytes())
        self.process.stdin.flush()
        answer = self.process.stdout.read(self.count * OUT.itemsize)
        if len(answer) != self.count * OUT.itemsize:
            assert self.process.stderr is not None
            pytest.fail(self.process.stderr.read().decode())
        return np.frombuffer(answer, OUT)


@dataclass
class TwinRig(Rig):
    """Copies of two controllers in lock step: what comes back is what both did, or the test fails."""

    other: Rig

    def tell(self, clock_ms: int, told: NDArray[np.void]) -> NDArray[np.void]:
        """Step every copy of both."""
        here, there = super().tell(clock_ms, told), self.other.tell(clock_ms, told)
        differs = np.flatnonzero(here != there)
        if differs.size:
            at = differs[0]
            did = f"did {here[at]} in one, {there[at]} in the other"
            pytest.fail(f"at {clock_ms} ms copy {at}, told {told[at]}, {did}")
        return here


@contextmanager
def rig(program: Program, hooks: list[Hook] | list[int]) -> Iterator[Rig]:
    """Start the harness with one copy a set of hooks."""
    if isinstance(program, Twins):
        with rig(program.one, hooks) as one, rig(program.other, hooks) as other:
            yield TwinRig(one.process, one.count, other)
        return
    command = [str(program)] if isinstance(program, Path) else list(program)
    words = [*command, *(str(int(has)) for has in hooks)]
    pipe = subprocess.PIPE
    with subprocess.Popen(words, stdin=pipe, stdout=pipe, stderr=pipe) as process:
        try:
            yield Rig(process, len(hooks))
        finally:
            assert process.stdin is not None
            process.stdin.close()
    assert process.returncode == 0
