"""Several programmes in one file: written in five forms, compiled, read back; what does not go together."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import emit_cases
import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import CIRCUIT, plan_case
from several_cases import CASES, timed
from test_emit_forms import COMPILERS, ENDINGS, GOLDEN, STANDARDS, STRICT, fixed, needs_compilers

from optimizer.emit.assertions import in_c, in_programme
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS, form_of
from optimizer.emit.meanings import TOP_OF_PROGRAMME, names, numbers, of_programme, of_round, parted
from optimizer.emit.put_together import named_programmes
from optimizer.emit.read import read_constants
from optimizer.emit.read_several import named_in, read_programmes
from optimizer.emit.several import Several
from optimizer.emit.shared_limits import is_watchdog
from optimizer.errors import InputError
from optimizer.profile.circuit import Circuit
from optimizer.programme.constants import ROUND_NUMBERS, Constants
from optimizer.programme.plan import Plan


def text_of(form: str, case: str = "timed") -> str:
    return FORMS[form].write_several(Several.of_plans({n: fixed(p) for n, p in CASES[case]().items()}))


HEADER = text_of("c")


@pytest.mark.parametrize("form", ENDINGS)
def test_golden_files(form: str) -> None:
    golden = GOLDEN / f"several.{ENDINGS[form]}"
    assert text_of(form) == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("case", CASES)
def test_every_programme_comes_back_by_its_name(case: str, form: str) -> None:
    text = text_of(form, case)
    wanted = {name: fixed(plan).constants for name, plan in CASES[case]().items()}
    assert form_of(text) == form
    for each in (text, text.replace("\n", "\r\n")):
        found = read_programmes(each, "x")
        assert found == wanted
        assert list(found) == list(wanted)


def test_a_wash_by_the_name_of_the_rehearsal_is_not_read() -> None:
    """Renamed by hand: another letter case is the same name to a person."""
    text = text_of("csv")
    name = next(name for name, plan in timed().items() if not plan.constants.bench_run)
    changed = re.sub(rf"(p1_name.*)\b{name}\b", r"\1Rehearsal", text)
    assert changed != text
    with pytest.raises(InputError, match="is the name of the rehearsal, which heats nothing"):
        read_programmes(changed.replace("p4_name,,rehearsal", "p4_name,,walk"), "x")


@pytest.mark.parametrize("form", FORMS)
def test_a_file_of_one_programme_has_one_without_a_name(form: str) -> None:
    plan = plan_case()
    assert read_programmes(FORMS[form].text(plan), "x") == {"": plan.constants}
    with pytest.raises(InputError, match="several programmes where one is asked for"):
        read_constants(text_of(form), "x")


def compiled(folder: Path, header: str, main: str, compiler: str = "c99", standard: str = "") -> str:
    (folder / "wash_timing.h").write_text(header, encoding="utf-8")
    (folder / "main.src").write_text(main, encoding="utf-8")
    command = [*COMPILERS[compiler], *([f"-std={standard}"] if standard else []), *STRICT]
    done = subprocess.run(
        [*command, "main.src", "-o", "main.out"], cwd=folder, capture_output=True, text=True, check=False
    )
    return done.stderr


@pytest.mark.slow
@needs_compilers
@pytest.mark.parametrize("standard", STANDARDS)
def test_the_header_compiles_without_a_warning(standard: str, tmp_path: Path) -> None:
    main = '#include "wash_timing.h"\nint main(void) { return wash_programme_at(0)->rounds == 0; }\n'
    compiler = "c++11" if "++" in standard else "c99"
    assert compiled(tmp_path, HEADER, main, compiler, standard) == ""


@needs_compilers
@pytest.mark.parametrize("case", CASES)
def test_a_compiler_finds_every_number_in_the_tables(case: str, tmp_path: Path) -> None:
    """Against the constants themselves, not against the reader of this project."""
    lines = ['printf("%s\\n", p->name);']
    lines += [f'printf("%lu\\n", 0UL + p->{name});' for name in TOP_OF_PROGRAMME]
    rows = " ".join(f'printf("%lu\\n", 0UL + p->row[n].{name});' for name in ("kind", *ROUND_NUMBERS))
    body = "\n".join([*lines, f"for (n = 0; n < p->rounds; n++) {{ {rows} }}"])
    main = (
        '#include <stdio.h>\n#include "wash_timing.h"\nint main(void) {\nunsigned i, n;\n'
        "for (i = 0; i < WASH_PROGRAMMES; i++) {\n"
        "const struct wash_programme *p = wash_programme_at((uint8_t)i);\n"
        f"{body}\n}}\nreturn 0; }}\n"
    )
    assert compiled(tmp_path, text_of("c", case), main) == ""
    printed = subprocess.run([tmp_path / "main.out"], capture_output=True, text=True, check=True)
    expected: list[str] = []
    for name, plan in CASES[case]().items():
        values = numbers(plan.constants)
        expected += [name, *(str(values[one]) for one in TOP_OF_PROGRAMME)]
        for number in range(1, len(plan.constants.rounds) + 1):
            expected += [str(values[of_round(number, one)]) for one in ("kind", *ROUND_NUMBERS)]
    assert printed.stdout.split("\n")[:-1] == expected


def test_python_imports_the_tables(tmp_path: Path) -> None:
    path = tmp_path / "wash_timing.py"
    path.write_text(text_of("micropython"), encoding="utf-8")
    spec = importlib.util.spec_from_file_location("wash_timing", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for number, (table, (name, plan)) in enumerate(
        zip(module.WASH_PROGRAMMES_BY_NUMBER, timed().items(), strict=True), start=1
    ):
        values = numbers(plan.constants)
        assert table[0] == name
        assert table[2:] == tuple(values[one] for one in TOP_OF_PROGRAMME)
        assert [row[1:] for row in table[1]] == [
            tuple(getattr(row, one) for one in ROUND_NUMBERS) for row in plan.constants.rounds
        ]
        own = {one: getattr(module, in_c(named_in(number, one))) for one in names(len(plan.constants.rounds))}
        assert own | {"format": 5} == values


def test_facts_stand_once_and_every_number_of_every_table_is_asserted() -> None:
    assert len(re.findall(r"^#define WASH_PUMP_MA ", HEADER, re.M)) == 1
    conditions = " ".join(re.findall(r"^WASH_ASSERT\((.*), \"", HEADER, re.M))
    asserted = set(re.findall(r"WASH_\w+", conditions))
    lengths = set(re.findall(r"WASH_ROUND_LENGTH_S\((P\d+), (\d+)\)", conditions))
    for number, plan in enumerate(timed().values(), start=1):
        rounds = len(plan.constants.rounds)
        assert {(f"P{number}", str(n)) for n in range(1, rounds + 1)} <= lengths
        for name in names(rounds):
            if name not in ("format", "programmes", "round_1_rest_s") and not name.endswith("_rest_s"):
                assert in_c(named_in(number, name)) in asserted, (number, name)
    assert in_programme("WASH_ASSERT(WASH_ROUND_LENGTH_S(2) <= 9UL);", 3) == (
        "WASH_ASSERT(WASH_ROUND_LENGTH_S(P3, 2) <= 9UL);"
    )


RANGES = FORMS["c"].printed(HEADER)


def edited(name: str, value: int) -> str:
    text, count = re.subn(rf"^(#define {name} +)\w+", rf"\g<1>{value}U", HEADER, flags=re.M)
    assert count == 1
    return text


def with_watchdogs(name: str, value: int) -> str:
    """Edit a number and what follows from it, as a person has to."""
    text = edited(name, value)
    while True:
        try:
            read_programmes(text, "x")
        except InputError as error:
            follows = [one for one in error.issues if one.rule.startswith("does not follow")]
            if not follows:
                return text
            for one in follows:
                key = one.key.split(", ")[1]
                text = re.sub(rf"^(#define {key} +)\w+", rf"\g<1>{one.fix}U", text, flags=re.M)
        else:
            return text


EDITED = [
    *("WASH_P1_ROUND_2_SPRAY_S", "WASH_P2_GAP_S", "WASH_P2_ROUND_1_HEAT_S", "WASH_P3_ROUND_2_DRAIN_S"),
    *("WASH_P4_ROUND_1_FILL_S", "WASH_P3_STAND_S", "WASH_P1_ROUND_2_DETERGENT_DG", "WASH_ELEMENT_REST_S"),
]


@pytest.mark.slow
@needs_compilers
@pytest.mark.parametrize("name", EDITED)
def test_the_compiler_stops_one_step_past_the_range_of_any_programme(name: str, tmp_path: Path) -> None:
    low, high = RANGES[name]
    main = '#include "wash_timing.h"\nint main(void) { return 0; }\n'
    for value, holds in ((low, True), (high, True), (low - 1, False), (high + 1, False)):
        if value >= 0:
            said = compiled(tmp_path, with_watchdogs(name, value), main)
            assert (said == "") == holds, (value, said)
            assert holds or name in said


@pytest.mark.parametrize(
    ("edit", "at", "rule"),
    [
        (lambda t: edited("WASH_P2_GAP_S", 70000), "WASH_P2_GAP_S", "is outside the range"),
        (lambda t: edited("WASH_P2_GAP_S", 4), "WASH_P2_TOTAL_MAX_S", "does not follow"),
        (lambda t: edited("WASH_P3_ROUND_2_HEAT_S", 60), "WASH_P3_ROUND_2_HEAT_S", "is outside the range"),
        (lambda t: edited("WASH_FORMAT", 3), "WASH_FORMAT", "reads constants of format 6"),
        (lambda t: edited("WASH_PROGRAMMES", 3), "WASH_P4_NAME", "is not a name that scullion writes"),
        (lambda t: edited("WASH_PROGRAMMES", 5), "WASH_P5_NAME", "is missing"),
        (lambda t: edited("WASH_PROGRAMMES", 300), "WASH_PROGRAMMES", "1 to 255 programmes"),
        (lambda t: edited("WASH_PROGRAMMES", 0), "WASH_PROGRAMMES", "1 to 255 programmes"),
        (lambda t: edited("WASH_P2_ROUNDS", 2), "WASH_P2_ROUND_3_KIND", "there are only 2 rounds"),
        (lambda t: edited("WASH_P2_ROUNDS", 99), "WASH_P2_ROUNDS", "1 to 32 rounds"),
        (lambda t: t.replace('"eco-2"', '"everyday"'), "WASH_P2_NAME", "another programme has this name"),
        (lambda t: t.replace('"eco-2"', '"a*/b"'), "WASH_P2_NAME", "must be 1 to 16 letters"),
        (lambda t: t.replace('"eco-2"', '"' + 17 * "e" + '"'), "WASH_P2_NAME", "must be 1 to 16 letters"),
        (lambda t: t.replace("      WASH_P2_GAP_S,", "      WASH_P1_GAP_S,"), "line", "is not what scullion"),
        (lambda t: t.replace("wash_rounds_p2,", "wash_rounds_p1,"), "line", "is not what scullion writes"),
        (lambda t: re.sub("#define WASH_PUMP_MA.*", "", t), "WASH_PUMP_MA", "is missing"),
    ],
)
def test_a_header_that_is_not_as_it_was_written(edit: Callable[[str], str], at: str, rule: str) -> None:
    changed = edit(HEADER)
    assert changed != HEADER
    with pytest.raises(InputError) as caught:
        read_programmes(changed, "file")
    assert any(at in one.key and rule in one.rule for one in caught.value.issues), caught.value.issues
    assert all(one.fix for one in caught.value.issues)


@pytest.mark.parametrize("form", FORMS)
def test_a_number_outside_the_range_that_its_file_prints_is_refused(form: str) -> None:
    """JSON prints none, so there the edit is as good as any other until it is checked."""
    text = text_of(form)
    if form == "json":
        content = json.loads(text)
        content["programmes"][0]["rounds"][1]["detergent_dg"] += 5000
        assert read_programmes(json.dumps(content), "x")["everyday"].rounds[1].detergent_dg == 5288
        return
    name = FORMS[form].shown("p1_round_2_detergent_dg")
    line = next(one for one in text.splitlines() if one.strip().removeprefix("#define ").startswith(name))
    with pytest.raises(InputError, match="is outside the range that this file prints beside it"):
        read_programmes(text.replace(line, line.replace("288", "9000", 1)), "x")


def test_names_of_programmes_and_rounds_never_meet() -> None:
    wanted = {of_programme(p, of_round(r, n)) for p in (1, 11) for r in (1, 11) for n in ROUND_NUMBERS}
    assert len({in_c(name) for name in wanted}) == 4 * len(ROUND_NUMBERS)
    assert all(parted(name)[0] in (1, 11) for name in wanted)
    assert is_watchdog("p2_fill_max_s")
    assert is_watchdog("p2_round_1_element_max_s")
    assert not is_watchdog("p2_bath_max_dc")


def issues_of(plans: dict[str, Plan]) -> str:
    with pytest.raises(InputError) as caught:
        named_programmes(plans)
    assert all(one.fix for one in caught.value.issues)
    return "\n".join(map(str, caught.value.issues))


def with_title(title: str) -> Plan:
    plan = plan_case()
    goal = plan.inputs.goal.model_copy(update={"title": title})
    return replace(plan, inputs=replace(plan.inputs, goal=goal))


def test_names_are_shortened_and_may_not_meet_then() -> None:
    plan = plan_case()
    found = named_programmes({"everyday-in-the-clubhouse": plan, "eco": plan})
    assert list(found) == ["everyday-in-the-", "eco"]
    said = issues_of({"everyday-in-the-clubhouse": plan, "Everyday-in-the-shed": plan})
    assert "is the name of everyday-in-the-clubhouse too, once it is shortened to 16 letters" in said


@pytest.mark.parametrize("name", ["", "Küche", "a/b", 'a"b', "-a", " a", "a\nb", "*/", "é"])
def test_a_name_that_a_display_does_not_show_is_refused(name: str) -> None:
    assert "must be 1 to 16 letters" in issues_of({name: plan_case(), "eco": plan_case()})


@pytest.mark.parametrize(
    "title", ["a */ b", "a *) b", 'a """ b', "a ''' b", "a \\", "tri ??/", "\x1b[31m", "a\nb"]
)
def test_a_title_that_would_end_a_comment_or_a_string_is_refused(title: str) -> None:
    said = issues_of({"eco": with_title(title), "plain": plan_case()})
    assert "eco: goal.title: would end a comment or a string" in said


def test_more_programmes_than_a_byte_counts_are_refused() -> None:
    plan = plan_case()
    assert len(named_programmes({f"p{n}": plan for n in range(255)})) == 255
    assert "255 programmes at most, found 256" in issues_of({f"p{n}": plan for n in range(256)})


def test_plans_of_another_machine_or_of_one_measured_again_are_refused() -> None:
    plan = plan_case()
    tank = plan.inputs.machine.tank.model_copy(update={"capacity_l": 27.0})
    again = plan.inputs.machine.model_copy(update={"tank": tank})
    other = again.model_copy(update={"title": "Another tote"})
    said = issues_of({"eco": plan, "again": replace(plan, inputs=replace(plan.inputs, machine=again))})
    assert (
        "again: machine: is for the same machine as eco, but measured again: it differs in tank.capacity_l"
        in said
    )
    said = issues_of({"eco": plan, "other": replace(plan, inputs=replace(plan.inputs, machine=other))})
    assert "other: machine: is for another machine than eco" in said
    circuit = Circuit.model_validate(CIRCUIT | {"title": "Garage", "rating_a": 10.0})
    said = issues_of({"eco": plan, "garage": replace(plan, inputs=replace(plan.inputs, circuit=circuit))})
    assert "garage: circuit: is for another circuit than eco" in said


@pytest.mark.skipif(shutil.which("avr-gcc") is None, reason="no compiler here whose int has 16 bits")
def test_the_header_compiles_where_int_has_16_bits(tmp_path: Path) -> None:
    (tmp_path / "wash_timing.h").write_text(HEADER, encoding="utf-8")
    (tmp_path / "main.c").write_text('#include "wash_timing.h"\n', encoding="utf-8")
    command = ["avr-gcc", "-mmcu=atmega328p", "-std=c99", *STRICT, "-c", "main.c", "-o", "main.o"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
@cases(6)
@given(st.lists(emit_cases.tables(), min_size=1, max_size=4), st.sampled_from([True, False]))
def test_any_tables_come_back_in_every_form(tables: list[Constants], bench: bool) -> None:
    """Whatever their numbers: of one machine they have the same controls."""
    first = tables[0]
    alike = [one for one in tables if (one.control, one.fill_control) == (first.control, first.fill_control)]
    plans = {f"p {n}": emit_cases.plan_of(one) for n, one in enumerate(alike)}
    if bench:
        plans["rehearsal"] = bench_run(next(iter(plans.values())))
    wanted = {name: plan.constants for name, plan in plans.items()}
    for form, one in FORMS.items():
        assert read_programmes(one.write_several(Several.of_plans(plans)), "x") == wanted, form
