"""The log that the reference controller writes: its lines, and that C and Python write the same."""

from __future__ import annotations

import csv
import io
import subprocess
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from controller_bench import Bench, quick
from controller_cases import built, quick_plan
from controller_micropython import BUILD, NODE, in_micropython, needs_micropython
from controller_rig import SOURCES, TESTS, Error, Hook, In, On, State, needs_cc, rig

from optimizer.emit.forms import FORMS
from optimizer.emit.several import Several

HOOKS = Hook.BATH | Hook.COVERED
OUTPUTS = {"inlet": On.INLET, "element": On.ELEMENT, "wash_pump": On.WASH_PUMP, "drain_pump": On.DRAIN_PUMP}


def through_a_run(copies: object) -> list[tuple[int, int, int, int, int]]:
    """The quick programme with a bath that warms, then a stop; what the rig says of each step."""
    bench = Bench(copies)  # type: ignore[arg-type]
    told = []
    for step in range(1200):
        add = int(In.START if step == 0 else In.STOP if step == 1000 else 0)
        answer = bench.step(100, add=add, bath_dc=step // 20 - 12)
        told.append((bench.clock_ms, *(int(answer[name]) for name in ("on", "state", "round", "error"))))
    return told


@needs_cc
def test_a_line_a_second_and_at_each_change(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "log.csv"
    monkeypatch.setenv("WASH_LOG", str(file))
    with rig(quick(), [HOOKS]) as copies:
        told = through_a_run(copies)
    rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))
    times = [float(row["time_s"]) for row in rows]
    assert times[0] == 0.0
    assert all(0.0 < later - sooner <= 1.001 for sooner, later in pairwise(times))
    by_ms = {round(1000 * float(row["time_s"])): row for row in rows}
    start_ms = told[0][0] - 100 - 69_000  # powered up, and logged since, 70 steps of a second before
    was = None
    for ms, on, state, number, error in told:
        row = by_ms.get(ms - start_ms)
        now = (on, state, number, error)
        if now != was:
            assert row is not None, (ms, "a change without a line")
        if row is not None:
            runs = State.COOL <= state <= State.STAND
            assert {name: int(row[name]) for name in OUTPUTS} == {
                name: int(bool(on & bit)) for name, bit in OUTPUTS.items()
            }
            assert (int(row["state"]), int(row["round"]), int(row["error"])) == (
                state,
                number + 1 if runs else 0,
                error,
            )
            assert (row["bath_c"] != "") == runs
        was = now
    assert Error.STOPPED in {int(row["error"]) for row in rows}
    baths = {row["bath_c"] for row in rows}
    assert {"-0.5", "0.0", "3.7"} <= baths, "tenths, and a minus before a bath below none"


@needs_cc
def test_python_writes_the_same_to_the_letter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "log.csv"
    monkeypatch.setenv("WASH_LOG", str(file))
    with rig(built(quick_plan()), [HOOKS]) as copies:
        through_a_run(copies)
    timing: dict[str, object] = {}
    text = FORMS["micropython"].write_several(Several.of_plans({"quick": quick_plan()}))
    exec(text.replace("from micropython import const", "const = int"), timing)
    names: dict[str, object] = {}
    exec((SOURCES / "wash_controller.py").read_text(encoding="utf-8"), names)
    lines = _in_python(names, type("timing", (), timing))
    assert lines == file.read_text(encoding="utf-8").splitlines()


UNDER_MICROPYTHON = """
import wash_controller as w
import wash_timing

class OneCopy(w.Hooks):
    no_lid_switch = True
    now_ms = 0
    dc = 0

    def clock_ms(self):
        return self.now_ms

    def outputs(self, on):
        pass

    def bath(self):
        return self.dc if self.flags & IN_BATH else None

    def covered(self):
        return bool(self.flags & IN_COVERED)

hooks = OneCopy()
wash = log = None
for now_ms, flags, dc in STEPS:
    hooks.now_ms, hooks.flags, hooks.dc = now_ms, flags, dc
    if wash is None:
        wash = w.Wash(hooks, w.programmes(wash_timing)[0])
        log = w.Log(wash, 1000)
        print(log.HEAD)
    if flags & IN_START:
        wash.start()
    if flags & IN_STOP:
        wash.stop()
    wash.step()
    line = log.line()
    if line:
        print(line)
"""


@needs_cc
@needs_micropython
def test_a_real_micropython_writes_the_same_to_the_letter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its format strings are not those of CPython."""
    file = tmp_path / "log.csv"
    monkeypatch.setenv("WASH_LOG", str(file))

    class Told:
        """Keeps what each step of the one in C is told."""

        def __init__(self, copies: Any) -> None:
            self.copies = copies
            self.steps: list[tuple[int, int, int]] = []

        def step(self, clock_ms: int, flags: int, bath_dc: int) -> Any:
            self.steps.append((int(clock_ms), int(flags), int(bath_dc)))
            return self.copies.step(clock_ms, flags, bath_dc)

    with rig(built(quick_plan()), [HOOKS]) as copies:
        told = Told(copies)
        through_a_run(told)
    command = in_micropython({"quick": quick_plan()})
    assert isinstance(command, tuple)
    script = tmp_path / "script.py"
    flags = {f"IN_{one.name}": int(one) for one in (In.BATH, In.COVERED, In.START, In.STOP)}
    head = "".join(f"{name} = {value}\n" for name, value in flags.items())
    script.write_text(f"{head}STEPS = {told.steps}\n{UNDER_MICROPYTHON}", encoding="utf-8")
    words = [str(NODE), str(TESTS / "run_main.mjs"), str(BUILD), command[3], str(script)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-500:]
    assert done.stdout.splitlines() == file.read_text(encoding="utf-8").splitlines()


def _in_python(names: dict, timing: type) -> list[str]:  # type: ignore[type-arg]
    """The same steps in the controller in Python."""

    class OneCopy(names["Hooks"]):  # type: ignore[misc,name-defined]
        no_lid_switch = True
        now_ms, on, flags, bath_dc = 0, 0, 0, 0

        def clock_ms(self) -> int:
            return self.now_ms

        def outputs(self, on: int) -> None:
            self.on = on

    hooks = OneCopy()
    hooks.bath = lambda: hooks.bath_dc if hooks.flags & In.BATH else None
    hooks.covered = lambda: bool(hooks.flags & In.COVERED)
    lines: list[str] = []

    class Copies:
        wash = log = None

        def step(self, clock_ms: int, flags: int, bath_dc: int) -> list[dict[str, int]]:
            hooks.now_ms, hooks.flags, hooks.bath_dc = clock_ms, flags, bath_dc
            if self.wash is None:
                self.wash = names["Wash"](hooks, names["programmes"](timing)[0])
                self.log = names["Log"](self.wash, 1000)
                lines.append(self.log.HEAD)
            if flags & In.START:
                self.wash.start()
            if flags & In.STOP:
                self.wash.stop()
            self.wash.step()
            line = self.log.line()  # type: ignore[attr-defined]
            if line:
                lines.append(line)
            wash = self.wash
            return [{"on": hooks.on, "state": wash.state, "round": wash.round, "error": wash.error}]

    through_a_run(Copies())
    return lines
