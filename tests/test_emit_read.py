"""Every form is read back: by this project, and by compilers and parsers from outside."""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from check_cases import THERMOSTAT, circuit, five_rounds, five_rounds_by_thermostat, goal, machine
from emit_cases import PLANS, in_every_form, plan_of, tables
from exploring import cases
from hypothesis import given
from kept_checks import no_bounds
from plan_cases import plan_case

from optimizer.check.certify import check
from optimizer.check.controller_numbers import controller_numbers
from optimizer.emit.assertions import in_c
from optimizer.emit.forms import FORMS, form_of
from optimizer.emit.iec import IEC
from optimizer.emit.meanings import FLAGS, names, numbers, of_round
from optimizer.emit.read import read_constants
from optimizer.emit.shared_limits import facts, is_watchdog
from optimizer.errors import InputError
from optimizer.programme.constants import ROUND_NUMBERS, Constants


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", PLANS)
def test_what_is_written_comes_back(name: str, form: str) -> None:
    plan = PLANS[name]()
    text = FORMS[form].text(plan)
    assert form_of(text) == form
    assert read_constants(text, "x") == plan.constants
    assert read_constants(text.replace("\n", "\r\n"), "x") == plan.constants


@cases(5)
@given(tables())
def test_any_table_comes_back_in_every_form(table: Constants) -> None:
    assert table.issues("x") == []
    plan = plan_of(table)
    for form, text in in_every_form(plan).items():
        assert read_constants(text, "x") == table, form


@pytest.mark.parametrize(
    ("table", "changes"), [(five_rounds(), {}), (five_rounds_by_thermostat(), THERMOSTAT)]
)
def test_certificate_of_a_file_is_that_of_the_plan(table: Constants, changes: dict[str, Any]) -> None:
    rig = machine(changes, tolerances=False)
    plan = replace(plan_case(machine=rig), constants=replace(table, input_sha256="0" * 64))
    (again,) = {read_constants(text, form) for form, text in in_every_form(plan).items()}
    with no_bounds():
        rows = [check(given, rig, goal(), circuit(), draws=4).rows for given in (plan.constants, again)]
    assert rows[0] == rows[1]


PRINT_NUMBERS = """
#include <stdio.h>
#include "wash_timing.h"
int main(void) {{
    {prints}
    return 0;
}}
"""


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
@pytest.mark.parametrize("name", PLANS)
def test_a_compiler_reads_the_same_numbers(name: str, tmp_path: Path) -> None:
    plan = PLANS[name]()
    wanted = names(len(plan.constants.rounds))
    prints = "\n    ".join(f'printf("%lu\\n", 0UL + {in_c(number)});' for number in wanted)
    (tmp_path / "wash_timing.h").write_text(FORMS["c"].text(plan), encoding="utf-8")
    (tmp_path / "main.c").write_text(PRINT_NUMBERS.format(prints=prints), encoding="utf-8")
    subprocess.run(["cc", "-std=c99", "main.c", "-o", "main"], cwd=tmp_path, check=True)
    printed = subprocess.run([tmp_path / "main"], capture_output=True, text=True, check=True).stdout.split()
    found = read_constants(FORMS["c"].text(plan), "x")
    assert dict(zip(wanted, map(int, printed), strict=True)) == numbers(found)


@pytest.mark.parametrize("name", PLANS)
def test_python_imports_the_module(name: str, tmp_path: Path) -> None:
    plan = PLANS[name]()
    path = tmp_path / "wash_timing.py"
    path.write_text(FORMS["micropython"].text(plan), encoding="utf-8")
    assert "micropython" not in sys.modules
    spec = importlib.util.spec_from_file_location("wash_timing", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    expected = numbers(plan.constants)
    assert {name: getattr(module, in_c(name)) for name in expected} == expected
    assert plan.constants.input_sha256 == module.WASH_INPUT_SHA256
    rows = [(expected[of_round(n, "kind")], *(getattr(row, key) for key in ROUND_NUMBERS))
            for n, row in enumerate(plan.constants.rounds, start=1)]  # fmt: skip
    assert list(module.WASH_TABLE) == rows
    assert "Mains voltage" in module.__doc__


@pytest.mark.parametrize("name", PLANS)
def test_a_spreadsheet_reads_the_rows(name: str) -> None:
    plan = PLANS[name]()
    rows = list(csv.DictReader(io.StringIO(FORMS["csv"].text(plan))))
    assert list(rows[0]) == ["name", "unit", "value", "low", "high", "comment"]
    values = {
        row["name"]: int(row["value"]) for row in rows if row["value"] and row["name"] != "input_sha256"
    }
    machine, circuit = plan.inputs.machine, plan.inputs.circuit
    known = controller_numbers(machine, [plan.constants])
    assert values == numbers(plan.constants) | facts(machine, circuit, known)
    found = {row["name"]: row for row in rows if row["low"]}
    assert values.keys() - found.keys() == {name for name in values if is_watchdog(name)}
    assert all(int(row["low"]) <= int(row["value"]) <= int(row["high"]) for row in found.values())
    assert all(row["comment"] for row in rows)
    # Nothing in a cell may start a formula.
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row.values())


def saved(text: str, delimiter: str, quoting: int, *, shuffled: bool = False) -> str:
    """A file as a spreadsheet saves it: other delimiters, quotes where it likes, rows in another order."""
    head, *rows = csv.reader(io.StringIO(text))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator="\r\n")  # type: ignore[arg-type]
    writer.writerows([head, *(sorted(rows) if shuffled else rows)])
    return out.getvalue()


@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_what_a_spreadsheet_saved_is_read(delimiter: str, quoting: int) -> None:
    for name, plan in PLANS.items():
        text = saved(FORMS["csv"].text(plan()), delimiter, quoting)
        assert form_of(text) == "csv"
        assert read_constants(text, name) == plan().constants
    text = saved(FORMS["csv"].text(plan_case()), delimiter, quoting, shuffled=True)
    assert read_constants(text, "x") == plan_case().constants


def test_keys_of_json_may_stand_in_any_order() -> None:
    content = json.loads(FORMS["json"].text(plan_case()))
    content["rounds"] = [dict(reversed(row.items())) for row in content["rounds"]]
    assert read_constants(json.dumps(dict(reversed(content.items()))), "x") == plan_case().constants


@pytest.mark.parametrize("form", ["c", "iec", "micropython"])
def test_a_number_may_not_be_moved_where_the_order_counts(form: str) -> None:
    text = FORMS[form].text(plan_case())
    lines = text.splitlines(keepends=True)
    (at,) = [n for n, line in enumerate(lines) if re.match(r"(#define| +|)\s*WASH_STAND_S\b.*1200", line)]
    lines.insert(at + 4, lines.pop(at))
    with pytest.raises(InputError, match="is not what scullion writes here"):
        read_constants("".join(lines), "x")


@pytest.mark.parametrize(
    ("literal", "seconds"),
    [
        ("T#1482s", 1482), ("T#24m42s", 1482), ("t#24m42s", 1482), ("TIME#24m_42s", 1482), ("T#24M42S", 1482),
        ("t#1h2m", 3720), ("T#1h02m03s", 3723), ("time#1d", 86_400), ("T#0s", 0), ("T#1d1s", 86_401),
        ("T#90m", 5400), ("T#0h5m", 300),
    ],
)  # fmt: skip
def test_durations_in_any_units_of_the_standard(literal: str, seconds: int) -> None:
    """IEC 61131-3, table of duration literals: units d, h, m, s in this order, either case, underscores
    between them, the first of them as large as it likes (from memory)."""
    assert IEC.value("gap_s", literal) == seconds


def test_a_table_with_other_durations_is_the_same() -> None:
    plan = plan_case()
    text = FORMS["iec"].text(plan)
    assert text.count(":= T#1200s;") == 2
    assert text.count(":= T#60s;") == 1
    other = text.replace(":= T#1200s;", ":= t#20m;").replace(":= T#60s;", ":= TIME#1m_0s;")
    assert read_constants(other, "x") == plan.constants


@pytest.mark.parametrize("name", ["timed", "bench of steam"])
def test_a_parser_of_the_standard_reads_the_constants(name: str) -> None:
    """blark, a parser of IEC 61131-3 programs, knows the grammar and nothing of this project."""
    from blark.parse import parse_source_code

    plan = PLANS[name]()
    (block,) = parse_source_code(FORMS["iec"].text(plan)).transform().items
    assert str(block.attrs) == "CONSTANT"
    found = {str(item.spec.variables[0]): str(item.init.value) for item in block.items}
    assert found.pop("WASH_INPUT_SHA256") == f"'{plan.constants.input_sha256}'"
    flags = {in_c(flag) for flag in FLAGS}
    known = controller_numbers(plan.inputs.machine, [plan.constants])
    of_machine = facts(plan.inputs.machine, plan.inputs.circuit, known)
    for number, value in (numbers(plan.constants) | of_machine).items():
        shown = in_c(number)
        literal = (
            ("FALSE", "TRUE")[value]
            if shown in flags
            else f"TIME#{value}S"
            if number.endswith("_s")
            else str(value)
        )
        assert found.pop(shown) == literal
    assert found == {}


@pytest.mark.parametrize(
    ("form", "sign"), [("csv", "round_1_fill_s,"), ("c", "#define WASH_ROUND_1_FILL_S ")]
)
@pytest.mark.parametrize("times", [1, 40])
def test_a_number_given_twice_gets_a_fix(form: str, sign: str, times: int) -> None:
    text = FORMS[form].text(plan_case())
    (line,) = [line for line in text.splitlines(keepends=True) if line.startswith(sign)]
    with pytest.raises(InputError) as caught:
        read_constants(text.replace(line, line * (1 + times)), "x")
    issues = caught.value.issues
    assert all("stands here a second time" in issue.rule for issue in issues[:times])
    assert [issue.fix for issue in issues] == ["write the file again with scullion constants"] * len(issues)
