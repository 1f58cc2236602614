"""The reference controller by itself: how it compiles, and what it does step by step on a quick programme."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from controller_bench import ALL, FINE, REST_S, Bench, expected, quick
from controller_cases import QUICK, built, quick_plan
from controller_rig import NO_CALL, SOURCES, STRICT, Error, Hook, In, On, State, needs_cc, needs_cxx, rig
from plan_cases import cold_plan, plan_case, thermostat_plan

from optimizer.emit.forms import FORMS
from optimizer.programme.plan import Plan

SOURCE, HEADER = SOURCES / "wash_controller.c", SOURCES / "wash_controller.h"
CODE = re.sub(r"/\*.*?\*/|\"[^\"\n]*\"", " ", SOURCE.read_text(encoding="utf-8"), flags=re.DOTALL)
PLANS = {"timed": plan_case, "thermostat": thermostat_plan, "cold": cold_plan, "quick": quick_plan}


def compile_for(plan: Plan, folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    (folder / "wash_timing.h").write_text(FORMS["c"].text(plan), encoding="utf-8")
    words = [*command, *STRICT, "-I", str(folder), "-c", str(SOURCE), "-o", str(folder / "out.o")]
    return subprocess.run(words, capture_output=True, text=True, check=False)


@needs_cc
@pytest.mark.parametrize("name", PLANS)
def test_compiles_as_c99_without_a_warning(name: str, tmp_path: Path) -> None:
    done = compile_for(PLANS[name](), tmp_path, "cc", "-std=c99", "-O2", "-Wconversion", "-Wshadow")
    assert done.returncode == 0, done.stderr


@needs_cxx
@pytest.mark.parametrize("name", PLANS)
def test_compiles_as_cpp11_without_a_warning(name: str, tmp_path: Path) -> None:
    done = compile_for(PLANS[name](), tmp_path, "c++", "-std=c++11", "-x", "c++")
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(shutil.which("avr-gcc") is None, reason="no compiler here whose int has 16 bits")
@pytest.mark.parametrize("options", [(), ("-DWASH_STEPS_MAX_PER_S=32757UL", "-DWASH_CLOCK_TICK_MS=1000")])
@pytest.mark.parametrize("name", PLANS)
def test_compiles_where_int_has_16_bits(name: str, options: tuple[str, ...], tmp_path: Path) -> None:
    command = ("avr-gcc", "-mmcu=atmega328p", "-std=c99", "-Os", "-Wconversion", "-Wshadow", *options)
    done = compile_for(PLANS[name](), tmp_path, *command)
    assert done.returncode == 0, done.stderr
    memory = tmp_path / "memory.c"
    memory.write_text('#include "wash_controller.h"\nchar fits[sizeof(wash_t) <= 64 ? 1 : -1];\n')
    done = subprocess.run(
        ["avr-gcc", "-I", SOURCES, "-c", memory, "-o", tmp_path / "memory.o"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


@needs_cc
@pytest.mark.skipif(shutil.which("nm") is None, reason="no nm here")
def test_calls_nothing_that_could_allocate_wait_or_compute_in_floating_point(tmp_path: Path) -> None:
    """The object asks the linker for nothing but, of some compilers, memset."""
    assert (
        compile_for(
            thermostat_plan(), tmp_path, "cc", "-std=c99", "-O2", "-fno-stack-protector", "-fno-pie"
        ).returncode
        == 0
    )
    found = subprocess.run(["nm", "-u", tmp_path / "out.o"], capture_output=True, text=True, check=True)
    assert set(found.stdout.split()) - {"U", "memset", "_memset", "_GLOBAL_OFFSET_TABLE_"} == set()
    written = subprocess.run(["nm", tmp_path / "out.o"], capture_output=True, text=True, check=True).stdout
    assert not re.search(r" [bBdDC] ", written), "a variable outside wash_t"


def test_source_has_no_floating_point_and_no_recursion() -> None:
    assert not re.search(r"\b(float|double)\b|\d\.\d|\d\.|\.\d", CODE)
    bodies = re.findall(
        r"^(?:static )?[\w ]+?[ *](\w+)\([^;{]*\)\s*\{(.*?)(?:^\}| \})$", CODE, re.DOTALL | re.MULTILINE
    )
    names = [name for name, _ in bodies]
    assert {"fail", "watch", "advance", "wash_init", "wash_start", "wash_step", "wash_stop"} <= set(names)
    for place, (name, body) in enumerate(bodies):
        called = set(re.findall(r"(?<!->)\b(\w+)\(", body)) & set(names)
        assert called <= set(names[:place]), f"{name} calls itself or what comes after it"


def test_says_what_it_is() -> None:
    for path in (SOURCE, HEADER):
        top = path.read_text(encoding="utf-8")[:1200]
        assert "SPDX-License-Identifier: MIT" in top
        assert "AN EXAMPLE TO START FROM" in top
    words = " ".join(SOURCE.read_text(encoding="utf-8")[:4000].replace("*", " ").split())
    for caution in ("Mains voltage", "30 mA RCD", "float switch in series", "cut-out with manual reset",
                    "licensed electrician", "local codes", "scald", "not optional"):  # fmt: skip
        assert caution in words


def cautions_at_the_head(name: str) -> str:
    text = (SOURCE.parent / name).read_text(encoding="utf-8")[:4500]
    return " ".join(text.split("CAUTIONS")[1].replace(" * ", " ").split())


@pytest.mark.parametrize("name", ["wash_controller.c", "wash_controller.py", "wash_programme.st"])
def test_no_language_has_fewer_cautions_than_another(name: str) -> None:
    words = cautions_at_the_head(name)
    for caution in ("30 mA RCD of type A or better; in North America a class A GFCI",
                    "and that device are not optional",
                    "second cut-out for the bath", "protector or fuse in each motor", "clock that runs slow",
                    "a relay that has welded shut", "a seized pump", "an inlet valve that stays open",
                    "at the tap, that an overflow switch under the lip closes by itself: that is not",
                    "Outputs must be off",
                    "The lid switch belongs into the supply", "Never leave it running alone"):  # fmt: skip
        assert caution in words


@pytest.mark.parametrize(
    "name",
    ["wash_controller.h", "wash_controller.c", "wash_controller.py", "wash_programme.st", "wash_main.c",
     "wash_main.py"],
)  # fmt: skip
def test_a_cool_tank_is_one_whose_ware_is_cool_too(name: str) -> None:
    """Cold water is sprayed on it next; no source, our choice."""
    text = (SOURCE.parent / name).read_text(encoding="utf-8")
    words = " ".join(text.replace("\n * ", "\n ").split())
    assert "with a thermometer" in words
    assert "never by hand" in words
    assert "hand-warm" not in words
    assert re.search(r"AND (see that )?the ware in it (is )?no hotter than the file of the constants", words)
    assert "Open the lid away from your face" in words


@needs_cc
@pytest.mark.parametrize("start_ms", [0, 2**32 - 90_000, 2**32 - 100_001, 2**31 - 95_500])
def test_outputs_are_those_of_the_check_whatever_the_clock(start_ms: int) -> None:
    """A steam round included; the clock runs over 2^32 within the programme, or its sign bit turns."""
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies, start_ms)
        on = [int(bench.start()["on"]), *bench.outputs(len(expected()) - 1)]
        assert on == expected()
        assert bench.step()["state"] == State.IDLE
        assert bench.last["error"] == Error.OK


@needs_cc
def test_clock_may_run_over_in_any_second_of_a_programme() -> None:
    wanted = expected()
    for wrap_s in range(1, len(wanted), 9):
        with rig(quick(), [ALL]) as copies:
            bench = Bench(copies, 2**32 - 1000 * (wrap_s + REST_S) - 437)
            assert [int(bench.start()["on"]), *bench.outputs(len(wanted) - 1)] == wanted


@needs_cc
@pytest.mark.parametrize("hooks", [Hook(0), Hook.BATH, Hook.COVERED, Hook.OVERFLOW | Hook.FLAG, ALL])
def test_no_optional_hook_is_needed_and_none_changes_a_sound_run(hooks: Hook) -> None:
    with rig(quick(), [hooks]) as copies:
        bench = Bench(copies)
        assert [int(bench.start()["on"]), *bench.outputs(len(expected()) - 1)] == expected()


@needs_cc
def test_steps_of_any_length_shorten_no_phase_and_stretch_it_by_a_step_at_most() -> None:
    """Pause, rest and drain last; element and inlet go off with the first step past their time."""
    steps = np.random.default_rng(7).integers(1, 900, 4000)
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        spells: list[list[int]] = [[int(bench.last["on"]), 0]]
        for ms in steps:
            if bench.step(int(ms))["state"] == State.IDLE:
                break
            spells[-1][1] += int(ms)
            if bench.last["on"] != spells[-1][0]:
                spells.append([int(bench.last["on"]), 0])
    table = expected()
    wanted = [[table[0], 0]]
    for on in table:
        if on != wanted[-1][0]:
            wanted.append([on, 0])
        wanted[-1][1] += 1000
    assert [on for on, _ in spells] == [on for on, _ in wanted]
    for (on, lasted_ms), (_, asked_ms) in zip(spells[:-1], wanted[:-1], strict=True):
        # Off time may be a rest with a pause on either side: three phases, each one step late.
        assert (
            -900 <= lasted_ms - asked_ms <= 2700 if on == On.WASH_PUMP else 0 <= lasted_ms - asked_ms <= 2700
        )


@needs_cc
@pytest.mark.parametrize("late_ms", [2001, 60_000, 2**31, 2**32 - 1])
def test_late_step_or_a_clock_that_jumps_either_way_ends_in_the_safe_state(late_ms: int) -> None:
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.HEAT)
        assert bench.step(2000)["error"] == Error.OK
        assert bench.last["on"] == On.ELEMENT
        assert bench.step(late_ms)["error"] == Error.LATE
        assert (bench.last["on"], bench.last["state"]) == (0, State.SAFE_OFF)


@needs_cc
def test_start_is_refused_while_it_runs_and_taken_when_it_is_idle() -> None:
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        assert bench.last["answer"] == NO_CALL
        assert bench.start()["answer"] == 1
        bench.until(State.FILL)
        assert bench.start()["answer"] == 0
        bench.step(add=int(In.STOP))
        assert bench.start()["answer"] == 0
        bench.until(State.IDLE)
        assert bench.last["error"] == Error.STOPPED
        assert bench.start()["answer"] == 1
        assert bench.last["error"] == Error.OK
        bench.until(State.IDLE)
        assert bench.last["error"] == Error.OK


@needs_cc
@pytest.mark.parametrize("idle_ms", [10**7, 2**32 - 1])
def test_time_spent_idle_does_not_count(idle_ms: int) -> None:
    """Nobody has to step an idle controller, nor stop at the first run."""
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies)
        for _ in range(2):
            bench.step(idle_ms)
            bench.clock_ms += idle_ms
            bench.start()
            assert bench.until(State.STAND)["error"] == Error.OK
            assert bench.until(State.IDLE)["error"] == Error.OK


@needs_cc
def test_start_soon_after_power_up_waits_until_the_element_has_cooled() -> None:
    """What ran before is not known: it may be hot under water that the first drain takes away."""
    with rig(quick(), [ALL]) as copies:
        bench = Bench(copies, idle_s=0)
        assert bench.start()["state"] == State.COOL
        bench.until(State.START_DRAIN)
        rest_s = quick_plan().inputs.machine.element.rest_s  # type: ignore[union-attr]
        assert bench.clock_ms >= 1000 * max(rest_s, quick_plan().constants.gap_s)


@needs_cc
def test_missing_hooks_are_refused() -> None:
    needed = Hook.BATH | Hook.FULL
    lacking = [Hook.FULL, Hook.BATH, needed | Hook.HALF_FLAG, ALL]
    with rig(built(thermostat_plan()), [*lacking, needed]) as copies:
        first = copies.step(0, FINE)
        assert first["answer"].tolist() == [0, 0, 0, 0, 1]
        assert first["error"].tolist() == [Error.HOOKS] * 4 + [Error.OK]
        started = copies.step(1000, FINE | In.START)
        assert started["answer"].tolist() == [0, 0, 0, 0, 1]
        for second in range(2, 200):
            refused = copies.step(1000 * second, FINE | In.STOP * (second == 9))[:4]
            assert not refused["on"].any()
            assert (refused["state"] == State.IDLE).all()


def test_the_rounds_have_every_phase_and_every_kind() -> None:
    """Guard: what the quick programme leaves out is not tested here."""
    assert {row.kind for row in QUICK} == {"prerinse", "wash", "rinse", "steam"}
    assert all(
        any(getattr(row, name) for row in QUICK) for name in ("heat_s", "spray_element_s", "soak_s", "rest_s")
    )
