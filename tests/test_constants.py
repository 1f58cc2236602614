"""The emitters: byte for byte, and read back by compilers and parsers that know nothing of this project."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan_cases import WASH, cold_plan, plan_case, thermostat_plan

from optimizer.constants.forms import FORMS
from optimizer.programme.cautions import CAUTIONS
from optimizer.programme.plan import Plan
from optimizer.programme.table import KINDS, ROUND_NUMBERS, Round

GOLDEN = Path(__file__).parent / "golden"
COMPILERS = {
    "c99": ["cc", "-std=c99", "-x", "c"],
    "c++11": ["c++", "-std=c++11", "-x", "c++"],
}
STRICT = ["-Wall", "-Wextra", "-Werror", "-pedantic"]
PLANS = {"timed": plan_case, "thermostat": thermostat_plan, "cold": cold_plan}
PRINT_TABLE = """
#include <stdio.h>
#include "wash_timing.h"
int main(void) {
    unsigned number;
    printf("%u %u %u\\n", WASH_START_DRAIN_S, WASH_GAP_S, WASH_STAND_S);
    for (number = 0U; number < WASH_ROUNDS; number++) {
        const wash_round_t *row = wash_round((uint8_t)number);
        printf("%d %d %d %d %d %d %d %d %d\\n", row->kind, row->fill_s, row->heat_s, row->spray_s,
               row->spray_element_s, row->setpoint_dc, row->rest_s, row->drain_s, row->detergent_dg);
    }
    return 0;
}
"""


def fixed(plan: Plan) -> Plan:
    """Put a fixed hash in, so that a new key in a profile model leaves the golden files alone."""
    return replace(plan, constants=replace(plan.constants, input_sha256="0123456789abcdef" * 4))


needs_compilers = pytest.mark.skipif(
    not all(shutil.which(command) for command, *_ in COMPILERS.values()), reason="no C or C++ compiler here"
)


def compiled(compiler: str, folder: Path, source: str, *options: str) -> subprocess.CompletedProcess[str]:
    (folder / "main.src").write_text(source, encoding="utf-8")
    command = [*COMPILERS[compiler], *STRICT, *options, "main.src", "-o", "main.out"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("name", ["timed", "thermostat"])
@pytest.mark.parametrize(("form", "ending"), [("c", "h"), ("json", "json")])
def test_golden_files(name: str, form: str, ending: str) -> None:
    assert FORMS[form](fixed(PLANS[name]())) == (GOLDEN / f"{name}.{ending}").read_text(encoding="utf-8")


@needs_compilers
@pytest.mark.parametrize("compiler", COMPILERS)
@pytest.mark.parametrize("name", PLANS)
def test_header_compiles_alone(name: str, compiler: str, tmp_path: Path) -> None:
    done = compiled(compiler, tmp_path, FORMS["c"](PLANS[name]()), "-c")
    assert done.returncode == 0, done.stderr


@needs_compilers
def test_header_compiles_twice_in_one_file_and_inside_extern_c(tmp_path: Path) -> None:
    (tmp_path / "wash_timing.h").write_text(FORMS["c"](plan_case()), encoding="utf-8")
    include = '#include "wash_timing.h"\n'
    assert compiled("c99", tmp_path, include * 2, "-c").returncode == 0
    assert compiled("c++11", tmp_path, 'extern "C" {\n' + include + "}\n", "-c").returncode == 0


@needs_compilers
@pytest.mark.parametrize("compiler", COMPILERS)
@pytest.mark.parametrize("name", PLANS)
def test_compiled_table_holds_the_constants(name: str, compiler: str, tmp_path: Path) -> None:
    plan = PLANS[name]()
    (tmp_path / "wash_timing.h").write_text(FORMS["c"](plan), encoding="utf-8")
    done = compiled(compiler, tmp_path, PRINT_TABLE)
    assert done.returncode == 0, done.stderr
    printed = subprocess.run([tmp_path / "main.out"], capture_output=True, text=True, check=True).stdout
    constants = plan.constants
    expected = [[constants.start_drain_s, constants.gap_s, constants.stand_s]]
    for row in constants.rounds:
        expected.append([KINDS.index(row.kind), *(getattr(row, name) for name in ROUND_NUMBERS)])
    assert [[int(word) for word in line.split()] for line in printed.splitlines()] == expected


@needs_compilers
@pytest.mark.parametrize(
    ("macro", "value", "message"),
    [
        ("WASH_GAP_S", 0, "two motors would start together"),
        ("WASH_ROUND_1_FILL_S", 248, "the tank may run over after 247 s"),  # (28 - 0.8) l at 6.6 l/min
        ("WASH_ROUND_2_FILL_S", 80, "under 81 s the element is not covered"),  # (7.5 - 0.8) l at 5 l/min
        ("WASH_ROUND_1_HEAT_S", 1, "element on for longer than was proven"),
        ("WASH_ROUND_2_HEAT_S", 1501, "element on for longer than was proven"),
        ("WASH_ROUND_2_SPRAY_S", 479, "element on after the spray"),
    ],
)
def test_constant_past_a_limit_does_not_compile(macro: str, value: int, message: str, tmp_path: Path) -> None:
    lines = FORMS["c"](plan_case()).splitlines()
    place = next(i for i, line in enumerate(lines) if line.startswith(f"#define {macro} "))
    lines[place] = f"#define {macro} {value}U"
    done = compiled("c99", tmp_path, "\n".join(lines) + "\n", "-c")
    assert done.returncode != 0
    assert message in done.stderr


@needs_compilers
def test_rest_too_short_for_the_element_does_not_compile(tmp_path: Path) -> None:
    hot_to_the_end = plan_case(replace(WASH, spray_element_s=WASH.spray_s, rest_s=15))
    done = compiled("c99", tmp_path, FORMS["c"](hot_to_the_end), "-c")
    assert "hot when the water leaves" in done.stderr
    enough = plan_case(replace(WASH, spray_element_s=WASH.spray_s, rest_s=20))
    assert compiled("c99", tmp_path, FORMS["c"](enough), "-c").returncode == 0


def test_level_switch_lifts_the_limits_of_a_timed_fill() -> None:
    header = FORMS["c"](thermostat_plan())
    assert "may run over" not in header
    assert "#define WASH_FILL_BY_LEVEL      1 " in header
    assert "at most, the tank holds 28 l" in header


def test_every_macro_has_a_unit_and_a_comment() -> None:
    numbers = [
        line for line in FORMS["c"](thermostat_plan()).splitlines() if line.startswith("#define WASH_")
    ]
    assert len(numbers) == 7 + 4 * 9
    unitless = ("WASH_ROUNDS", "WASH_FILL_BY_LEVEL", "WASH_HAS_THERMOSTAT")
    for line in numbers:
        name = line.split()[1]
        assert name in unitless or name.endswith(("_S", "_DC", "_DK", "_DG", "_KIND"))
        assert line.endswith("*/")


def test_prerinse_ceiling_is_the_lower_of_the_two() -> None:
    warm = Round("prerinse", 90, 300, 180, 0, 0, 20, 60, 0)
    header = FORMS["c"](plan_case(warm, WASH))
    assert "ceiling 40 C (prerinse)" in header
    assert "ceiling 75 C (tank)" in header


@needs_compilers
@pytest.mark.parametrize(
    "title", ["evil */ #error", "a /* b", "line \\", "tri ??/", "bidi \u202e x", "Küche", "new\nline"]
)
def test_no_title_can_break_the_header(title: str, tmp_path: Path) -> None:
    plan = plan_case()
    goal = plan.inputs.goal.model_copy(update={"title": title})
    header = FORMS["c"](replace(plan, inputs=replace(plan.inputs, goal=goal)))
    for compiler in COMPILERS:
        done = compiled(compiler, tmp_path, header, "-c")
        assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("form", FORMS)
def test_forms_carry_hash_and_cautions_and_no_place_of_the_maker(form: str) -> None:
    plan = plan_case()
    text = FORMS[form](plan)
    assert plan.constants.input_sha256 in text
    words = text.replace("*", " ").split()
    for caution in CAUTIONS:
        assert " ".join(caution.split()) in " ".join(words)
    assert str(Path.cwd()) not in text
    assert text.endswith("\n")
    assert text == FORMS[form](plan_case())


def test_json_constants_are_integers_with_units() -> None:
    plan = thermostat_plan()
    read = json.loads(FORMS["json"](plan))
    assert read["format"] == 1
    for row, stored in zip(plan.constants.rounds, read["rounds"], strict=True):
        assert stored == asdict(row)
        assert all(type(stored[name]) is int for name in ROUND_NUMBERS)
    assert (read["gap_s"], read["hysteresis_dk"], read["control"]) == (2, 10, "thermostat")
    assert len(read["cautions"]) == len(CAUTIONS)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(*[st.integers(1, 65535)] * len(ROUND_NUMBERS)), min_size=1, max_size=11))
def test_any_numbers_stand_in_the_macros(tmp_path: Path, numbers: list[tuple[int, ...]]) -> None:
    plan = plan_case(*(Round("wash", *row) for row in numbers))
    macros = dict(
        line.split()[1:3]
        for line in FORMS["c"](plan).splitlines()
        if line.startswith("#define WASH_ROUND_") and "_KIND" not in line
    )
    wanted = {
        f"WASH_ROUND_{number}_{name.upper()}": f"{getattr(row, name)}U"
        for number, row in enumerate(plan.constants.rounds, start=1)
        for name in ROUND_NUMBERS
    }
    assert macros == wanted
