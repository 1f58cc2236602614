"""The emitters: byte for byte, and read back by compilers and parsers that are not of this project."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import emit_cases
import pytest
from check_cases import MACHINE
from exploring import TIMES, cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import WASH, plan_case, thermostat_plan

from optimizer.check.dosing_moment import when_dosed
from optimizer.check.faults.guard_words import MORE_GUARDS
from optimizer.check.phases import phases
from optimizer.check.table_rows import bath_most_c
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.emit.meanings import FLAGS
from optimizer.emit.opening import (
    AFTER_CUT,
    IN_RANGE,
    NO_RANGES,
    NUMBERS_ALONE,
    drain_words,
    guards_of,
    named_low,
)
from optimizer.emit.read import read_constants
from optimizer.emit.read_several import facts_in
from optimizer.emit.several import Several
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import cautions
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, Round
from optimizer.programme.plan import Plan

GOLDEN = Path(__file__).parent / "golden"
ENDINGS = {"c": "h", "json": "json", "csv": "csv", "micropython": "py.txt", "iec": "st"}
COMPILERS = {
    "c99": ["cc", "-std=c99", "-x", "c"],
    "c++11": ["c++", "-std=c++11", "-x", "c++"],
}
STANDARDS = ["c99", "c11", "c17", "c++98", "c++11", "c++17"]
STRICT = ["-Wall", "-Wextra", "-Werror", "-pedantic"]
HARDEST = ("thermostat", "steam", "topped", "bench")
"""Plans whose headers have the most to compile, by every standard; the others at every run by C99 and C++11
(`test_compiled_table_holds_the_constants`), and by every one among the long tests."""
PLANS = {name: plan for name, plan in emit_cases.PLANS.items() if name != "bench of steam"}
PRINT_TABLE = """
#include <stdio.h>
#include "wash_timing.h"
int main(void) {
    unsigned number;
    printf("%u %u %u %u\\n", WASH_START_DRAIN_S, WASH_GAP_S, WASH_AFTER_SOAK_S, WASH_STAND_S);
    for (number = 0U; number < WASH_ROUNDS; number++) {
        const wash_round_t *row = wash_round((uint8_t)number);
        printf("%d %d %d %d %d %d %d %d %d %d %d %d\\n", row->kind, row->fill_s, row->heat_s, row->spray_s,
               row->spray_element_s, row->setpoint_dc, row->soak_s, row->rest_s,
               row->top_up_s, row->mix_s, row->drain_s, row->detergent_dg);
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


@pytest.mark.parametrize("name", ["timed", "thermostat", "bench"])
@pytest.mark.parametrize("form", ENDINGS)
def test_golden_files(name: str, form: str) -> None:
    golden = GOLDEN / f"{name}.{ENDINGS[form]}"
    assert FORMS[form].text(fixed(PLANS[name]())) == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("form", ["c", "micropython", "iec"])
def test_what_the_controller_does_names_every_phase_of_a_round_in_its_order(form: str) -> None:
    """Against the phases that the check steps through, not against the words themselves."""
    plan = PLANS["topped"]()
    text = " ".join(FORMS[form].text(plan).replace(" * ", " ").split())
    (sentence,) = re.findall(r"2\. A round is ([^.]*), in this order", text)
    stepped = [phase.name for phase in phases(plan.constants) if phase.name not in ("gap", "soak", "stand")]
    named = [name.replace("-", "_") for name in sentence.split(", ")]
    assert set(stepped) == set(named)
    for number in range(len(plan.constants.rounds)):
        of_round = [phase.name for phase in phases(plan.constants) if phase.round == number]
        order = [named.index(name) for name in of_round if name in named]
        assert order == sorted(order)
    for words in (
        "top-up: inlet open once more for _TOP_UP_S, by time, whatever a level switch says",
        "mix: wash pump on for _MIX_S",
        "leave out neither",
    ):
        assert words in text


@pytest.mark.parametrize("form", FORMS)
def test_every_form_says_what_the_drains_hang_on(form: str) -> None:
    """By the names of the numbers, which stand in the same file."""
    text = " ".join(FORMS[form].text(PLANS["topped"]()).replace(" * ", " ").split())
    low = form in ("csv", "json")
    for words in (
        "never before the element was off for WASH_ELEMENT_REST_S",
        "if it reads more than WASH_DRAIN_STOP_DC all the same, stop, and keep the water in",
        "once it reads WASH_DRAIN_MAX_DC or less, or everything has been off for WASH_DRAIN_WAIT_S",
        "unless WASH_FILL_IS_COLD is 1",
        "stood still for WASH_SENSOR_MOVES_S with the element on, or was lost, gives no leave: then wait",
        "Take these numbers from this file, by their names, and keep no copy of them",
    ):
        named = named_low(words) if low else words
        assert named in text
        names = re.findall(r"drain_\w+_[sdc]+|\w+_moves_s|element_rest_s|\w+_is_cold", named)
        assert all(f'"{name}": ' in text or f"{name}," in text for name in names if low)
    assert not (low and "WASH_D" in text)


@pytest.mark.parametrize("several", [False, True])
def test_a_form_says_only_of_ranges_that_it_has_that_they_keep_the_machine_safe(several: bool) -> None:
    plan = PLANS["topped"]()
    for form in FORMS:
        one = FORMS[form].write_several(Several.of_plans({"a": plan, "b": plan})) if several else (
            FORMS[form].text(plan)
        )  # fmt: skip
        assert (IN_RANGE in one, NO_RANGES in one) == (form == "csv", form == "json")


@pytest.mark.parametrize("form", FORMS)
def test_a_file_of_several_programmes_has_the_longest_wait(form: str) -> None:
    """Once for all of them, in whatever order they are given."""
    hot = PLANS["topped"]()
    rows = tuple(replace(row, heat_s=0, spray_element_s=0, setpoint_dc=0) for row in hot.constants.rounds)
    cold = replace(hot, constants=replace(hot.constants, rounds=rows))
    waits_s = [facts_in(FORMS[form].text(plan), "x")["drain_wait_s"] for plan in (hot, cold)]
    assert waits_s[0] > waits_s[1] == 0
    for plans in ({"hot": hot, "cold": cold}, {"cold": cold, "hot": hot}):
        text = FORMS[form].write_several(Several.of_plans(plans))
        assert facts_in(text, "x")["drain_wait_s"] == waits_s[0]


@pytest.mark.parametrize("form", ["csv", "json"])
def test_a_bench_run_says_nothing_of_hot_drains_where_a_form_has_no_steps(form: str) -> None:
    """It heats nothing; the numbers stand in its file all the same, as a controller takes them."""
    text = FORMS[form].text(PLANS["bench"]())
    assert "Every drain" not in text
    assert facts_in(text, "x")["drain_wait_s"] == 0


@pytest.mark.parametrize("form", FORMS)
def test_detergent_goes_in_as_the_spray_begins_in_every_form(form: str) -> None:
    """In a bath that is heated with the pump off powder cakes (common practice, no source)."""
    text = " ".join(FORMS[form].text(plan_case()).replace(" * ", " ").split())
    assert "goes in as the spray begins, not before" in text
    assert "when you hear the pump, through a capped funnel above splash height; the lid stays shut" in text
    assert "fill ends" not in text
    if form not in ("csv", "json"):
        assert "goes in AS THE SPRAY BEGINS, from a dispenser, never with the fill" in text


@pytest.mark.parametrize("form", ["c", "micropython", "iec", "csv"])
def test_a_top_up_is_by_time_beside_its_number_too(form: str) -> None:
    assert "by time whatever a level switch says" in FORMS[form].text(PLANS["topped"]())


@pytest.mark.parametrize("form", ["csv", "json"])
def test_a_form_without_steps_says_how_a_drain_is_cooled_where_one_is(form: str) -> None:
    words = "Between rest and drain, top-up: inlet open once more for top_up_s, by time"
    assert words in FORMS[form].text(PLANS["topped"]())
    assert words not in FORMS[form].text(plan_case())


@needs_compilers
@pytest.mark.parametrize(
    ("name", "standard"),
    [
        pytest.param(name, standard, marks=[] if name in HARDEST else [pytest.mark.slow])
        for name in PLANS
        for standard in STANDARDS
    ],
)
def test_header_compiles_alone(name: str, standard: str, tmp_path: Path) -> None:
    command, language = ("c++", "c++") if "++" in standard else ("cc", "c")
    source = tmp_path / "main.src"
    source.write_text(FORMS["c"].text(PLANS[name]()), encoding="utf-8")
    options = [f"-std={standard}", "-x", language, *STRICT, "-fsyntax-only"]
    done = subprocess.run([command, *options, source], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(shutil.which("avr-gcc") is None, reason="no compiler here whose int has 16 bits")
@pytest.mark.parametrize(
    ("name", "standard"),
    [
        pytest.param(
            name, standard, marks=[] if (name in HARDEST) == (standard == "c99") else [pytest.mark.slow]
        )
        for name in PLANS
        for standard in ("c99", "c11")
    ],
)
def test_header_compiles_where_int_has_16_bits(name: str, standard: str, tmp_path: Path) -> None:
    (tmp_path / "wash_timing.h").write_text(FORMS["c"].text(PLANS[name]()), encoding="utf-8")
    command = ["avr-gcc", "-mmcu=atmega328p", f"-std={standard}", "-x", "c", *STRICT, "-fsyntax-only"]
    done = subprocess.run(
        [*command, "wash_timing.h"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@needs_compilers
def test_header_compiles_twice_in_one_file_and_inside_extern_c(tmp_path: Path) -> None:
    (tmp_path / "wash_timing.h").write_text(FORMS["c"].text(plan_case()), encoding="utf-8")
    include = '#include "wash_timing.h"\n'
    assert compiled("c99", tmp_path, include * 2, "-c").returncode == 0
    assert compiled("c++11", tmp_path, 'extern "C" {\n' + include + "}\n", "-c").returncode == 0


@needs_compilers
@pytest.mark.parametrize("compiler", COMPILERS)
@pytest.mark.parametrize("name", PLANS)
def test_compiled_table_holds_the_constants(name: str, compiler: str, tmp_path: Path) -> None:
    plan = PLANS[name]()
    (tmp_path / "wash_timing.h").write_text(FORMS["c"].text(plan), encoding="utf-8")
    done = compiled(compiler, tmp_path, PRINT_TABLE)
    assert done.returncode == 0, done.stderr
    printed = subprocess.run([tmp_path / "main.out"], capture_output=True, text=True, check=True).stdout
    constants = plan.constants
    expected = [[constants.start_drain_s, constants.gap_s, constants.after_soak_s, constants.stand_s]]
    for row in constants.rounds:
        expected.append([KINDS.index(row.kind), *(getattr(row, name) for name in ROUND_NUMBERS)])
    assert [[int(word) for word in line.split()] for line in printed.splitlines()] == expected


def test_level_switch_lifts_the_limits_of_a_timed_fill() -> None:
    header = FORMS["c"].text(thermostat_plan())
    assert "may run over" not in header
    assert re.search(r"#define WASH_FILL_BY_LEVEL +1U ", header)
    assert "at most, the tank holds 28 l" in header


def test_every_macro_has_a_unit_and_a_comment() -> None:
    numbers = re.findall(
        r"^#define (WASH_\w+) +(\w+) /\* (.*) \*/$", FORMS["c"].text(thermostat_plan()), re.M
    )
    assert len(numbers) == 17 + 4 * 13 + 10
    unitless = [f"WASH_{name}" for name in ("FORMAT", "ROUNDS", *(flag.upper() for flag in FLAGS))]
    for name, value, comment in numbers:
        unit = {"S": "s", "DC": "0.1 C", "DK": "0.1 K", "DG": "0.1 g", "MA": "mA"}.get(name.rsplit("_")[-1])
        assert name in unitless or name.endswith("_KIND") or comment.startswith(f"[{unit}] ")
        nominal = (
            KINDS.index(value.removeprefix("WASH_KIND_").lower()) if "KIND" in value else value.strip("UL")
        )
        assert re.search(
            rf"; {nominal}(, allowed \d+ to \d+| and nothing else|, follows from the phases)(;|$)", comment
        ), comment


def test_prerinse_ceiling_is_the_lower_of_the_two() -> None:
    warm = Round("prerinse", 90, 300, 180, 0, 0, 20, 60, 0)
    header = FORMS["c"].text(plan_case(warm, WASH))
    assert "ceiling 40 C (prerinse)" in header
    assert "ceiling 67 C (tank, 75 C, less 8 K for a cut-out)" in header
    assert "ceiling 75 C" not in header


@pytest.mark.parametrize(
    ("tank_c", "words"),
    [
        # 200 m up water boils at 99.33 °C (IAPWS-IF97 and the standard atmosphere of ISO 2533).
        (104.0, "ceiling 99.33 C (boil)"),
        (99.0, "ceiling 91 C (tank, 99 C, less 8 K for a cut-out)"),
    ],
)
def test_a_ceiling_is_what_the_certificate_lets_the_bath_be(tank_c: float, words: str) -> None:
    """`tank.bath_c` of a check, for a timed element: 8 K under the tank's limit, or the boil."""
    tank = {**MACHINE["tank"], "limit_c": tank_c, "material": "stainless"}
    room = {**MACHINE["room"], "height_m": 200.0}
    machine = Machine.model_validate({**MACHINE, "tank": tank, "room": room})
    plan = plan_case(machine=machine)
    assert words in FORMS["c"].text(plan)
    assert f"ceiling {bath_most_c(plan.constants, machine):.4g} C" in words


@needs_compilers
@pytest.mark.parametrize(
    "title", ["evil */ #error", "a /* b", "line \\", "tri ??/", "bidi \u202e x", "Küche", "new\nline"]
)
def test_no_title_can_break_the_header(title: str, tmp_path: Path) -> None:
    plan = plan_case()
    goal = plan.inputs.goal.model_copy(update={"title": title})
    header = FORMS["c"].text(replace(plan, inputs=replace(plan.inputs, goal=goal)))
    for compiler in COMPILERS:
        done = compiled(compiler, tmp_path, header, "-c")
        assert done.returncode == 0, done.stderr


TITLES = [
    *("a */ b", "a *) b", 'a """ b', "a ' b", "a \\", "=1+1", "+1", "-1", "@x", "a\tb", "new\nline", "a;b,c"),
    *("\x1b[31m", "\x9b31m", "\x7f", "\u202e", "\u2028", "\ufeff", "Küche", "\ud800"),
]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("make", [plan_case, lambda: bench_run(plan_case())])
def test_a_title_is_only_a_title_in_every_form(make: Callable[[], Plan], form: str) -> None:
    plan = make()
    usual = FORMS[form].text(plan)
    for title in TITLES:
        goal = plan.inputs.goal.model_copy(update={"title": title})
        text = FORMS[form].text(replace(plan, inputs=replace(plan.inputs, goal=goal)))
        assert all(sign == "\n" or sign.isprintable() for sign in text)
        assert text.count("\n") == usual.count("\n")
        assert read_constants(text, "x") == plan.constants
        if form == "csv":
            cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
            assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)


@pytest.mark.parametrize("form", FORMS)
def test_forms_carry_hash_and_cautions_and_no_place_of_the_maker(form: str) -> None:
    plan = plan_case()
    text = FORMS[form].text(plan)
    assert plan.constants.input_sha256 in text
    words = " ".join(text.replace("*", " ").split())
    assert all(" ".join(caution.split()) in words for caution in cautions(plan.inputs))
    assert str(Path.cwd()) not in text
    assert text.endswith("\n")
    assert text == FORMS[form].text(plan_case())


@pytest.mark.parametrize("form", FORMS)
def test_every_form_says_how_cool_tank_and_ware_are_after_a_cut(form: str) -> None:
    """Of a form without an opening as well, for whoever takes its numbers alone."""
    words = " ".join(FORMS[form].text(thermostat_plan()).replace(" *", " ").split())
    assert words.count("do not start before tank and ware are as cool as the room, by a thermometer") == 1


def test_json_constants_are_integers_with_units() -> None:
    plan = thermostat_plan()
    read = json.loads(FORMS["json"].text(plan))
    assert read["format"] == 5
    for row, stored in zip(plan.constants.rounds, read["rounds"], strict=True):
        assert all(type(stored[name]) is int for name in ROUND_NUMBERS)
        assert stored.pop("element_max_s") == row.heat_s + row.spray_element_s
        assert stored == asdict(row)
    assert (read["gap_s"], read["hysteresis_dk"], read["control"]) == (2, 10, "thermostat")
    assert (read["fill_max_s"], read["drain_min_s"], read["bench_run"]) == (96, 30, False)
    assert read["cautions"] == [
        *cautions(plan.inputs, dosing=when_dosed(plan)),
        *drain_words([plan]),
        named_low(AFTER_CUT).format(cool="as cool as the room", found=""),
        NUMBERS_ALONE,
        NO_RANGES,
        *(f"Guard, not optional: {guard}." for guard in guards_of(plan)),
        f"{MORE_GUARDS}: scullion check FILE --machine M --goal G --circuit C --faults.",
    ]
    assert any("one marked 70 C" in caution for caution in read["cautions"])


NUMBERS = st.tuples(*[st.integers(1, 30000)] * len(ROUND_NUMBERS))
"""Of a round: days of it take seconds to lay out."""


@cases(5)
@given(st.lists(NUMBERS, min_size=1, max_size=11 if TIMES else 4))
def test_any_numbers_stand_in_the_macros(tmp_path: Path, numbers: list[tuple[int, ...]]) -> None:
    rows = [Round("wash", **dict(zip(ROUND_NUMBERS, row, strict=True))) for row in numbers]
    plan = plan_case(*rows, after_soak_s=60)
    macros = dict(
        line.split()[1:3]
        for line in FORMS["c"].text(plan).splitlines()
        if line.startswith("#define WASH_ROUND_") and "_KIND" not in line and "(" not in line.split()[1]
    )
    wanted = {
        f"WASH_ROUND_{number}_{name.upper()}": f"{getattr(row, name)}U"
        for number, row in enumerate(plan.constants.rounds, start=1)
        for name in (*ROUND_NUMBERS, "element_max_s")
    }
    assert macros.items() >= wanted.items()
    assert len(macros) == len(wanted)
