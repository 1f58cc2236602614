"""Broken and edited files of constants: never a traceback, and what passes the check is safe.

Safe is judged here by litres, seconds and a one-node bath of a few lines, which share nothing with the check.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from calling import call
from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme
from exploring import cases
from hypothesis import event, given
from hypothesis import strategies as st
from plan_cases import plan_case, steam_plan
from safe_by_hand import assert_safe

from optimizer.check.bench_check import check_bench
from optimizer.check.certify import check
from optimizer.emit.assertions import in_c
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS, form_of
from optimizer.emit.meanings import names, numbers
from optimizer.emit.read import read_constants
from optimizer.errors import InputError, InputIssue
from optimizer.programme.constants import ROUND_NUMBERS, Constants
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import inputs_sha256, plan_to_json
from optimizer.report.errors import issue_report

# Few tolerances, so that a check is quick; a tank that the programme nearly reaches the limits of.
RIG: dict[str, Any] = {
    "inlet.flow_l_per_min": {"nominal": 6.0, "tolerance_pct": 5.0},
    "tank.residual_l": {"nominal": 0.6, "low": 0.5, "high": 0.8},
    "tank.limit_c": 62.0,
    "tank.capacity_l": 14.0,
}
AIM = goal(
    {"limits.duration_min": 170.0, "dose": goal().model_dump()["dose"][1:3], "rinse.residue_max": 0.02}
)
FEED = circuit()
TIMED = programme(
    a_round("prerinse", drain_s=60),
    a_round("wash", fill_s=95, heat_s=1500, spray_s=2400, spray_element_s=1400, drain_s=60, rest_s=20,
            detergent_dg=309),
    a_round("rinse", drain_s=60),
    a_round("rinse", spray_s=300, drain_s=60),
    start_drain_s=70,
    stand_s=600,
    input_sha256="0" * 64,
)  # fmt: skip
HELD = programme(
    a_round("prerinse", fill_s=117),
    a_round("wash", fill_s=117, heat_s=2600, spray_s=2000, spray_element_s=2000, setpoint_dc=600, rest_s=30,
            detergent_dg=321),
    a_round("rinse", fill_s=117),
    a_round("rinse", fill_s=117),
    start_drain_s=100,
    control="thermostat",
    fill_control="level",
    hysteresis_dk=10,
    bath_max_dc=610,
    input_sha256="0" * 64,
)  # fmt: skip


def plan_for(table: Constants, changes: dict[str, Any]) -> Plan:
    plan = plan_case(machine=machine(changes, tolerances=False))
    inputs = replace(plan.inputs, goal=AIM, circuit=FEED)
    return Plan(inputs, replace(table, input_sha256=inputs_sha256(inputs)), plan.costs, plan.solve)


PLANS = {
    "timed": plan_for(TIMED, RIG | {"tank.limit_c": 70.0}),  # a timed element keeps 8 K from it
    "held": plan_for(HELD, {**THERMOSTAT, **RIG, "tank.capacity_l": 20.0}),
}
SETS = {**PLANS, "steam": steam_plan(), "bench": bench_run(plan_case())}


@cache
def text_of(name: str, form: str) -> str:
    return FORMS[form].text(SETS[name])


def passes(table: Constants, plan: Plan) -> bool:
    """Whether the check takes it; what does not fit the machine it refuses."""
    inputs = plan.inputs
    with contextlib.suppress(InputError):
        if table.bench_run:
            return all(row.passed for row in check_bench(table, inputs.machine))
        return check(table, inputs.machine, inputs.goal, inputs.circuit, draws=0).passed
    return False


def reads_or_refuses(text: str) -> Constants | None:
    """A text is a sound table or has faults that can be shown, never anything else."""
    refused: tuple[InputIssue, ...] = ()
    try:
        table = read_constants(text, "file")
    except InputError as error:
        refused = error.issues
    else:
        event("reads")
        assert table.issues("x") == []
        return table
    assert refused
    assert all(issue.rule and issue.fix for issue in refused)
    assert all(char == "\n" or char.isprintable() for char in issue_report(refused))
    return None


def judge(text: str, plan: Plan) -> bool | None:
    """None for what is refused unread; else whether it passed, and then it is safe."""
    table = reads_or_refuses(text)
    if table is None:
        return None
    passed = passes(table, plan)
    event("passes the check" if passed else "fails the check")
    if passed and table.bench_run:
        assert sum(row.heat_s + row.spray_element_s for row in table.rounds) == 0
        assert 1.0 + sum(row.fill_s for row in table.rounds) * 6.6 / 60.0 <= 28.0
    elif passed:
        assert_safe(table, plan)
    return passed


ANY_SET = st.sampled_from([(name, form) for name in SETS for form in FORMS])
ANY_PLAN = st.sampled_from(list(PLANS))


@pytest.mark.parametrize("name", PLANS)
def test_the_plans_that_are_edited_pass_and_are_safe(name: str) -> None:
    assert passes(PLANS[name].constants, PLANS[name])
    assert_safe(PLANS[name].constants, PLANS[name])


@cases(120)
@given(ANY_SET, st.integers(0, 10**6))
def test_any_bit_flipped(chosen: tuple[str, str], bit: int) -> None:
    data = bytearray(text_of(*chosen).encode())
    data[bit // 8 % len(data)] ^= 1 << bit % 8
    text = data.decode("utf-8", errors="replace")
    table = reads_or_refuses(text)
    if table is not None and table != SETS[chosen[0]].constants:
        judge(text, SETS[chosen[0]])


@cases(60)
@given(ANY_SET, st.floats(0.0, 1.0, exclude_max=True))
def test_any_truncation(chosen: tuple[str, str], share: float) -> None:
    text = text_of(*chosen).rstrip("\n")
    cut = text[: int(share * len(text))]
    table = reads_or_refuses(cut)
    # Only cautions may be missing from what is still read, and only where they stand last.
    assert table is None or (chosen[1] == "csv" and table == SETS[chosen[0]].constants)


@cases(150)
@given(
    ANY_SET, st.integers(0, 10**6), st.integers(0, 10**6), st.sampled_from(["swap", "double", "drop", "move"])
)
def test_any_lines_swapped_doubled_dropped_or_moved(
    chosen: tuple[str, str], one: int, other: int, what: str
) -> None:
    lines = text_of(*chosen).split("\n")
    one, other = one % len(lines), other % len(lines)
    if what == "swap":
        lines[one], lines[other] = lines[other], lines[one]
    elif what == "double":
        lines.insert(other, lines[one])
    elif what == "drop":
        del lines[one]
    else:
        lines.insert(other, lines.pop(one))
    text = "\n".join(lines)
    table = reads_or_refuses(text)
    if table is not None and table != SETS[chosen[0]].constants:
        # Elsewhere every line names its round; in JSON two rounds may have changed their numbers.
        assert chosen[1] == "json"
        judge(text, SETS[chosen[0]])


PRINTS = "\n".join(
    f'    printf("%lu\\n", 0UL + {in_c(name)});' for name in names(len(TIMED.rounds)) if "_kind" not in name
)
PROGRAM = f'#include <stdio.h>\n#include "wash_timing.h"\nint main(void) {{\n{PRINTS}\n    return 0;\n}}\n'


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
@cases(30)
@given(st.integers(0, 10**6), st.integers(0, 10**6), st.sampled_from(["\n", " ", "", "/*", "*/", "//", '"']))
def test_a_compiler_finds_the_numbers_that_are_read(
    tmp_path_factory: pytest.TempPathFactory, one: int, other: int, between: str
) -> None:
    """Lines moved and joined: where the reader takes a header, the compiler takes it alike, or not at all."""
    lines = text_of("timed", "c").splitlines()
    line = lines.pop(one % len(lines))
    place = other % len(lines)
    lines[place] = f"{lines[place]}{between}{line}"
    text = "\n".join(lines) + "\n"
    table = reads_or_refuses(text)
    if table is None:
        return
    folder = tmp_path_factory.mktemp("compiled")
    (folder / "wash_timing.h").write_text(text, encoding="utf-8")
    (folder / "main.c").write_text(PROGRAM, encoding="utf-8")
    made = subprocess.run(["cc", "main.c", "-o", "main"], cwd=folder, capture_output=True, check=False)
    event(f"compiles: {made.returncode == 0}")
    if made.returncode == 0:
        printed = subprocess.run([folder / "main"], capture_output=True, text=True, check=True).stdout.split()
        expected = [value for name, value in numbers(table).items() if "_kind" not in name]
        assert [int(word) for word in printed] == expected


NUMBER = st.integers(0, 99) | st.integers(0, 70_000) | st.sampled_from([65535, 65536, 2**32, 10**30])
DIGITS = "0123456789"


@cases(120)
@given(
    ANY_SET, st.integers(0, 10**6), NUMBER | st.sampled_from(["", "-1", "1.5", "0x10", "1e3", "٣", "True"])
)
def test_any_number_in_the_text_replaced(chosen: tuple[str, str], place: int, value: int | str) -> None:
    text = text_of(*chosen)
    starts = [i for i, sign in enumerate(text) if sign in DIGITS and text[i - 1] not in DIGITS]
    start = starts[place % len(starts)]
    end = next(i for i in range(start, len(text)) if text[i] not in DIGITS)
    new = text[:start] + str(value) + text[end:]
    table = reads_or_refuses(new)
    if table is not None and table != SETS[chosen[0]].constants:
        judge(new, SETS[chosen[0]])


@st.composite
def edited_tables(draw: st.DrawFn) -> tuple[str, Constants]:
    """A plan's table with up to three numbers changed, near or far; its watchdogs go along."""
    name = draw(ANY_PLAN)
    table = PLANS[name].constants
    for _ in range(draw(st.integers(1, 3))):
        change = st.integers(-40, 40) | st.integers(-700, 700)
        if draw(st.integers(0, 3)) == 0:
            top = draw(st.sampled_from(["start_drain_s", "gap_s", "stand_s", "bath_max_dc", "hysteresis_dk"]))
            table = replace(table, **{top: max(getattr(table, top) + draw(change), 0)})
            continue
        number, key = draw(st.integers(0, 3)), draw(st.sampled_from(ROUND_NUMBERS))
        rows = list(table.rounds)
        rows[number] = replace(rows[number], **{key: max(getattr(rows[number], key) + draw(change), 0)})
        table = replace(table, rounds=tuple(rows))
    return name, table


@cases(5)
@given(edited_tables(), st.sampled_from(list(FORMS)))
def test_edited_constants_that_pass_are_safe(edited: tuple[str, Constants], form: str) -> None:
    name, table = edited
    plan = PLANS[name]
    if table.issues("x"):
        return
    assert read_constants(FORMS[form].text(replace(plan, constants=table)), "x") == table
    judge(FORMS[form].text(replace(plan, constants=table)), plan)


@cases(5)
@given(edited_tables())
def test_edited_plans_give_no_constants_unless_they_pass(
    tmp_path_factory: pytest.TempPathFactory, edited: tuple[str, Constants]
) -> None:
    name, table = edited
    plan = PLANS[name]
    folder = tmp_path_factory.mktemp("fuzz")
    path, out = folder / "plan.json", folder / "wash_timing.h"
    content = json.loads(plan_to_json(plan))
    content["constants"] = json.loads(json.dumps(table, default=vars))
    path.write_text(json.dumps(content), encoding="utf-8")
    code = call("constants", path, "--format", "c", "--out", out)
    event(f"exit code {code}")
    assert code in (0, 3, 5)
    assert out.exists() == (code == 0)
    if code == 0:
        assert_safe(read_constants(out.read_text(encoding="utf-8"), "x"), plan)


@cases(60)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_on_the_command_line(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any"
    path.write_bytes(data)
    words = ["check", str(path), "--machine", "cold-shed", "--goal", "glasses"]
    assert call(*words) == 3


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("form", FORMS)
def test_line_ends_do_not_matter(form: str, end: str, tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(text_of("timed", form).replace("\n", end).encode())
    assert form_of(path.read_text(encoding="utf-8")) == form
    assert read_constants(path.read_bytes().decode(), "x") == SETS["timed"].constants
