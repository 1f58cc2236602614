"""What a reader of constants refuses, form by form: each edit has its rule, at its line or key."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from importlib.resources import files

import pytest
from plan_cases import plan_case, thermostat_plan

from optimizer.emit.assertions import in_c
from optimizer.emit.forms import FORMS
from optimizer.emit.meanings import OF_ROUND, names
from optimizer.emit.read import read_constants
from optimizer.errors import InputError


def issues_of(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_constants(text, "file")
    assert all(issue.subject == "file" and issue.rule and issue.fix for issue in caught.value.issues)
    return [f"{issue.key}: {issue.rule}, {issue.found}" for issue in caught.value.issues]


Edit = Callable[[str], str]


def swap(old: str, new: str, count: int = 1) -> Edit:
    def edit(text: str) -> str:
        assert old in text
        return text.replace(old, new, count)

    return edit


def line_of(text: str, start: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), start=1) if line.strip().startswith(start))


C = FORMS["c"].text(plan_case())


def macro(name: str, value: str) -> Edit:
    """Give a macro of the header another value."""

    def edit(text: str) -> str:
        new, count = re.subn(
            rf"^(#define WASH_{name} +)\w+", lambda m: m[1] + value, text, flags=re.MULTILINE
        )
        assert count == 1
        return new

    return edit


UNKNOWN = "is not what scullion writes here"
WHOLE = "must be a whole number from 0 to 4294967295"
GAP = "#define WASH_GAP_S                2U"


@pytest.mark.parametrize(
    ("edit", "at", "rule"),
    [
        (macro("GAP_S", "0x2U"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "02U"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "(1U + 1U)"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "-2"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "2.0"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "WASH_ROUNDS"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "1" + 40 * "0"), "WASH_GAP_S", WHOLE),
        (macro("GAP_S", "70000U"), "WASH_GAP_S", "is outside the range"),
        (macro("GAP_S", "3U"), "WASH_TOTAL_MAX_S", "does not follow"),
        (swap(GAP, f"{GAP}\n{GAP}"), "WASH_GAP_S", "a second time"),
        (swap(GAP, f"// {GAP}"), "WASH_GAP_S", "is missing"),
        (swap(GAP, f"{GAP}\n#undef WASH_GAP_S"), "line", UNKNOWN),
        (swap(GAP, f"{GAP}\n#define WASH_PAUSE_S 3U"), "WASH_PAUSE_S", "is not a name"),
        (macro("ROUND_2_KIND", "1U"), "WASH_ROUND_2_KIND", "must be one of"),
        (macro("ROUNDS", "3U"), "WASH_ROUND_4", "there are only 3"),
        (macro("ROUNDS", "5U"), "WASH_ROUND_5", "is missing"),
        (macro("ROUNDS", "99U"), "WASH_ROUNDS", "1 to 32 rounds"),
        (macro("ROUNDS", "0U"), "WASH_ROUNDS", "1 to 32 rounds"),
        (swap("      WASH_ROUND_2_HEAT_S,", "      WASH_ROUND_4_HEAT_S,"), "line", UNKNOWN),
        (swap("      WASH_ROUND_2_HEAT_S,", "      9000U,"), "line", UNKNOWN),
        (swap("#ifndef SCULLION_WASH_TIMING_H", "#ifndef WASH_TIMING_H"), "line", UNKNOWN),
        (swap("#include <stdint.h>", '#include "other.h"'), "line", UNKNOWN),
        (swap("WASH_KIND_WASH = 1", "WASH_KIND_WASH = 2"), "line", UNKNOWN),
        (swap("#endif /* SCULLION_WASH_TIMING_H */", ""), "end", "is missing: #endif"),
        (swap("inlet open", "inlet \\\nopen"), "line", "no line may hold a backslash"),
        (swap("inlet open", "inlet ??/ open"), "line", "no line may hold"),
        (swap("inlet open", "inlet \x0c open"), "line", "no line may hold"),
        (swap('WASH_INPUT_SHA256 "', 'WASH_INPUT_SHA256 "x'), "WASH_INPUT_SHA256", "64 hexadecimal"),
        (swap("/* The programme as a whole */", "/* The programme"), "WASH_FORMAT", "is missing"),
        (macro("FORMAT", "1U"), "WASH_FORMAT", "reads constants of format 5"),
        (macro("ELEMENT_MA", "ohm"), "WASH_ELEMENT_MA", WHOLE),
        (swap("#define WASH_ELEMENT_MA", "//"), "WASH_ELEMENT_MA", "is missing"),
        (macro("BENCH_RUN", "7U"), "WASH_BENCH_RUN", "must be one of 0U, 1U"),
    ],
)
def test_a_header_that_is_not_as_it_was_written(edit: Edit, at: str, rule: str) -> None:
    found = issues_of(edit(C))
    assert any(at in issue.split(": ", 1)[0] and rule in issue for issue in found), found


def test_faults_of_a_header_name_line_and_macro() -> None:
    (issue,) = issues_of(macro("GAP_S", "0x2U")(C))
    number = line_of(C, "#define WASH_GAP_S")
    assert issue == f'line {number}, WASH_GAP_S: {WHOLE}, written like 10U, "0x2U"'


def test_a_number_inside_a_branch_is_not_one() -> None:
    """It would be defined for one standard of C and not for another."""
    moved = C.replace(f"{GAP}", "", 1).replace("#else\n", f"#else\n{GAP}\n", 1)
    assert any(UNKNOWN in issue for issue in issues_of(moved))


def test_comments_of_a_header_are_free() -> None:
    text = C.replace("inlet open", "Zulauf offen “für” alle", 3).replace("*/\n", "*/ // my own note\n", 20)
    text = text.replace(GAP, f"/* was: #define WASH_GAP_S 3U\n{GAP.replace('2U', '9U')} */\n  {GAP} // ok")
    assert read_constants(text, "x") == plan_case().constants
    assert read_constants("\ufeff".join(["", text]).lstrip("\ufeff"), "x") == plan_case().constants


FORM_EDITS = {
    "json": [
        (swap('"gap_s": 2', '"gap_s": 2.0'), f'gap_s: {WHOLE}, written like 10, "2.0"'),
        (swap('"gap_s": 2', '"gap_s": true'), f'gap_s: {WHOLE}, written like 10, "true"'),
        (swap('"gap_s": 2', '"gap_s": -2'), f"gap_s: {WHOLE}"),
        (swap('"gap_s": 2', '"gap_s": 2, "gap_s": 3'), "stands more than once"),
        (swap('"gap_s": 2', '"gap": 2'), "gap: is not a name"),
        (swap('"gap_s": 2', '"gap": 2'), "gap_s: is missing"),
        (swap('"control": "timed"', '"control": "luck"'), 'control: must be one of "timed", "thermostat"'),
        (swap('"kind": "wash"', '"kind": "soak"'), 'rounds[2].kind: must be one of "prerinse", "wash"'),
        (swap('"drain_s": 62', '"drain_s": 62, "colour": 1'), "rounds[2].colour: is not a name"),
        (
            swap('"drain_s": 62', '"drain_s": 20'),
            "rounds[2].drain_s: is shorter than any drain was proven (drain_min_s), 20",
        ),
        (swap('"drain_min_s": 30', '"drain_min_s": 20'), "drain_min_s: does not follow from the other"),
        (swap('"fill_max_s": 96', '"fill_max_s": 99'), "fill_max_s: does not follow"),
        (swap('"rounds": [', '"rounds": [7,'), "rounds[1]: is not a name"),
        (lambda text: text[:-3], "line "),
        (lambda _: "[]", "must be a table"),
        (lambda _: "{}", "holds none of the numbers of a programme"),
        (swap('"rounds": [', '"rounds": 4, "rows": ['), "rounds: must be a list of rounds"),
        (lambda _: '{"rounds":' * 100_000, "nested too deeply"),
        (lambda _: '{"gap_s": 1' + "0" * 5000 + "}", "too many digits"),
    ],
    "csv": [
        (swap("gap_s,s,2,", "gap_s,min,2,"), UNKNOWN),
        (swap("gap_s,s,2,", "gap_s,s,2.0,"), WHOLE),
        (swap("gap_s,s,2,", "gap_s,s,+2,"), WHOLE),
        (swap("gap_s,s,2,", "gap_s,s, 2,"), WHOLE),
        (swap("gap_s,s,2,", "gap_s,s,٢,"), WHOLE),
        (swap("gap_s,s,2,", "gap_s,s,2,1,"), "must have 6 cells"),
        (swap("gap_s,s,2,", "rounds,1,4,,,\ngap_s,s,2,"), "a second time"),
        (swap("machine,,,", "machine,s,2,"), "machine: is not a name"),
        (swap("gap_s,s,2,", '"gap_s,s,2,'), "is not CSV"),
    ],
    "micropython": [
        (swap("WASH_GAP_S = const(2)", "WASH_GAP_S = const(1 + 1)"), WHOLE),
        (swap("WASH_GAP_S = const(2)", "WASH_GAP_S = const(True)"), WHOLE),
        (swap("WASH_GAP_S = const(2)", "WASH_GAP_S = 2"), UNKNOWN),
        (swap("WASH_GAP_S = const(2)", "WASH_GAP_S = const(2); WASH_GAP_S = const(3)"), "a second time"),
        (swap("WASH_GAP_S = const(2)", "WASH_GAP_S = WASH_PAUSE_S = const(2)"), UNKNOWN),
        (swap("        WASH_ROUND_2_HEAT_S,\n", "        9000,\n"), UNKNOWN),
        (swap("        return number", "        return number + 1"), UNKNOWN),
        (swap("WASH_TABLE = (", "WASH_TABLE = ((("), "is not Python"),
        (lambda text: text.split("# The same numbers")[0], "is missing: WASH_TABLE"),
        (lambda text: text + "WASH_TABLE = ()\n", UNKNOWN),
        (lambda text: text + "\x00", "is not Python"),
        (lambda text: text + "x = " + "(" * 1000, "is not Python"),
        (lambda text: text + "x = " + "-" * 5000 + "1\n", ""),
    ],
    "iec": [
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#2000ms;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#0.5m;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#1m60s;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#5s1m;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#1m_;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#999999999d;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : TIME := T#02s;"), WHOLE),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : UINT := 2;"), "written like T#10s"),
        (swap("WASH_GAP_S : TIME := T#2s;", "WASH_GAP_S : LTIME := T#2s;"), UNKNOWN),
        (swap("WASH_ROUNDS : UINT := 4;", "WASH_ROUNDS : UINT := 16#4;"), WHOLE),
        (swap("WASH_BENCH_RUN : BOOL := FALSE;", "WASH_BENCH_RUN : BOOL := 0;"), "one of FALSE, TRUE"),
        (swap("WASH_GAP_S : TIME := T#2s;", "wash_gap_s : TIME := T#2s;"), UNKNOWN),
        (swap("(* The programme", "(* The (* programme"), UNKNOWN),
        (swap("WASH_GAP_S : TIME", "WASH_GAP_S\u00a0: TIME"), UNKNOWN),
        (swap("WASH_GAP_S : TIME", "WASH_GAP_S\v: TIME"), UNKNOWN),
        (swap("END_VAR", ""), "end: is missing: END_VAR"),
        (swap("END_VAR", "END_VAR\nVAR_GLOBAL CONSTANT\nEND_VAR"), UNKNOWN),
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("form", "edit", "rule"), [(form, *case) for form, cases in FORM_EDITS.items() for case in cases]
)
def test_a_file_that_is_not_as_it_was_written(form: str, edit: Edit, rule: str) -> None:
    found = issues_of(edit(FORMS[form].text(plan_case())))
    assert any(rule in issue for issue in found), found


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("name", "value", "allowed"), [("heat_s", 1600, 1500), ("spray_element_s", 700, 480)]
)
def test_an_element_on_for_longer_is_one_issue_whose_fix_leads_to_no_other(
    form: str, name: str, value: int, allowed: int
) -> None:
    """The watchdogs are not to follow: told to, they led to a check that failed."""
    shown = FORMS[form].shown(f"round_2_{name}")
    if form == "json":
        content = json.loads(FORMS[form].text(plan_case()))
        content["rounds"][1][name] = value
        text = json.dumps(content)
    else:
        was, now = (
            {"c": f"{n}U", "csv": f"s,{n},", "micropython": f"const({n})", "iec": f"T#{n}s;"}[form]
            for n in (allowed, value)
        )
        lines = FORMS[form].text(plan_case()).splitlines(keepends=True)
        edited = [one.replace(was, now, 1) if shown in one else one for one in lines]
        text = "".join(edited)
    with pytest.raises(InputError) as caught:
        read_constants(text, "file")
    (issue,) = caught.value.issues
    assert issue.key.endswith(shown)
    assert issue.fix.startswith(f"{allowed} is the ")


@pytest.mark.parametrize(
    ("row", "ends"),
    [("rounds,1,4", (5, 9)), ("rounds,1,4", (0, 3)), ("round_2_kind,1,1", (7, 9)), ("bench_run,1,0", (4, 5))],
)
def test_ranges_that_were_edited_too_break_nothing(row: str, ends: tuple[int, int]) -> None:
    text, count = re.subn(
        rf"^({row}),\d+,\d+,", rf"\g<1>,{ends[0]},{ends[1]},", FORMS["csv"].text(plan_case()), flags=re.M
    )
    assert count == 1
    assert any("is outside the range" in issue for issue in issues_of(text))


@pytest.mark.parametrize("number", [2, 3, 4])
def test_fixes_that_are_told_together_agree(number: int) -> None:
    """One said the range of the spray, another a length of the programme by the spray outside it."""
    low = FORMS["c"].printed(C)[f"WASH_ROUND_{number}_SPRAY_S"][0]
    edited = macro(f"ROUND_{number}_SPRAY_S", f"{low - 1}U")(C)
    with pytest.raises(InputError, match="is outside the range") as caught:
        read_constants(edited, "file")
    for issue in caught.value.issues:
        name, value = issue.key.split(", WASH_")[1], issue.fix.split(" ")[0]
        edited = macro(name, f"{value}U")(edited)
    assert read_constants(edited, "file").rounds[number - 1].spray_s == low


def test_what_should_stand_there_is_the_fix() -> None:
    text = (
        FORMS["csv"].text(plan_case()).replace("gap_s,s,2,", "gap_s,min,2,").replace("stand_s,s", "stand_s,h")
    )
    with pytest.raises(InputError) as caught:
        read_constants(text, "file")
    assert [issue.fix for issue in caught.value.issues] == ["write gap_s,s,2", "write stand_s,s,1200"]


def test_a_number_and_a_line_that_are_wrong_are_both_named() -> None:
    edited = macro("GAP_S", "2.5U")(C).replace("#include <stdint.h>", '#include "other.h"')
    wrong = [issue.split(": ", 1)[0] for issue in issues_of(edited)]
    at = {name: line_of(edited, name) for name in ("#define WASH_GAP_S", "#include")}
    assert wrong == [f"line {at['#define WASH_GAP_S']}, WASH_GAP_S", f"line {at['#include']}"]


def test_no_escape_characters_come_back() -> None:
    for form, place in (("csv", "gap_s,s,2,"), ("json", '"gap_s"'), ("iec", "WASH_GAP_S :")):
        for char in ("\x1b[31m", "\x9b31m", "\u202e"):
            text = (
                FORMS[form]
                .text(plan_case())
                .replace(place, f'"x{char}y": 1, {place}' if form == "json" else f"x{char}{place}")
            )
            assert all(word.isprintable() for issue in issues_of(text) for word in issue.split("\n")), form


def without(form: str, text: str, name: str) -> str:
    """Take a number out of a file: its line, or its key."""
    if form == "json":
        content = json.loads(text)
        _, *inner = name.split("_", 2)
        table = content["rounds"][int(inner[0]) - 1] if name.startswith("round_") else content
        words = {"fill_by_level": "fill_control", "has_thermostat": "control"}
        del table[inner[1] if name.startswith("round_") else words.get(name, name)]
        return json.dumps(content)
    shown = in_c(name)
    starts = {"c": f"#define {shown} ", "csv": f"{name},", "micropython": f"{shown} =", "iec": f"{shown} :"}
    lines = text.splitlines(keepends=True)
    left = [line for line in lines if not line.strip().startswith(starts[form])]
    assert len(left) == len(lines) - 1
    return "".join(left)


@pytest.mark.parametrize("form", FORMS)
def test_every_number_has_to_be_there(form: str) -> None:
    text = FORMS[form].text(thermostat_plan())
    for name in names(4):
        (issue, *_) = issues_of(without(form, text, name))
        assert "is missing" in issue or (form == "json" and name == "rounds"), name


@pytest.mark.parametrize("text", ["", "kind = 1", "\x00", "int main(void) { return 0; }", "name;unit;value"])
def test_what_is_none_of_the_forms(text: str) -> None:
    (issue,) = issues_of(text)
    assert "is none of the forms of constants (json, csv, c, iec, micropython)" in issue


def test_a_file_that_breaks_off_is_said_in_a_whole_sentence() -> None:
    text = FORMS["json"].text(plan_case())
    (issue,) = issues_of(text[: text.index('"fill_s') + 3])
    assert issue.endswith("is not JSON: Unterminated string, ")
    with pytest.raises(InputError) as raised:
        read_constants(text[:40], "plan.json")
    assert "scullion plan" in raised.value.issues[0].fix, "so early it may be either"


def test_a_round_is_asked_for_by_every_name() -> None:
    assert {name.removeprefix("round_4_") for name in names(4) if name.startswith("round_4_")} == set(
        OF_ROUND
    )


def test_a_controller_given_for_the_constants_is_said_to_be_one() -> None:
    text = (files("optimizer.emit.firmware") / "wash_controller.c").read_text(encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_constants(text, "wash_controller.c")
    (issue,) = caught.value.issues
    assert (issue.key, issue.rule.endswith("a controller, or another file, no constants")) == ("", True)
