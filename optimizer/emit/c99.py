"""The constants as a C99 header, which old and new compilers of C and C++ take as well.

A reader takes numbers from its macros. Every other line must stand as it is written here, because an
expression, a branch or an unknown line could make the compiled programme another than the one that was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from optimizer.emit.assertions import ASSERT_MACROS, SEVERAL_ASSERT_MACROS, Limit, in_c, in_programme
from optimizer.emit.meanings import CONSTANTS_FORMAT, FACTS_HEAD, TOP_OF_PROGRAMME, of_programme, of_round
from optimizer.emit.one_form import Form, Statement, UnreadableError, ranges_beside, whole
from optimizer.emit.several import Several
from optimizer.emit.sheet import Note, Sheet
from optimizer.profile.messages import written
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, UINT16_MAX

FILE_NAME, BENCH_FILE_NAME = "wash_timing.h", "wash_timing_rehearsal.h"
"""The header of a programme and of a bench run: two names, so that neither is taken for the other."""

INCLUDE = "#include <stdint.h>"
WRITE_BOTH = "write both anew: scullion constants PLAN --with-controller DIR"
OLD_CONTROLLER = (
    "/* A controller of another version has such numbers of its own, or looks for others */\n"
    "#if defined(SCULLION_WASH_CONTROLLER_H) && "
    f"(!defined(WASH_CONTROLLER_FORMAT) || WASH_CONTROLLER_FORMAT != {CONSTANTS_FORMAT})\n"
    f'#error "this header and wash_controller are of two versions of scullion; {WRITE_BOTH}"\n'
    "#endif"
)
"""Stops the compiler where the controller beside a header is not of its version."""

ASSERTIONS_HEAD = (
    "/* Edited by hand? What breaks one of these must not run. Passing them proves nothing: they hold\n"
    "   what keeps the machine safe, not what gets the ware clean. Prove it again with scullion check. */"
)
MEMBERS = ("name", "row", *(name for name in TOP_OF_PROGRAMME))
"""Members of a programme in C: its name, its rounds, and its numbers as a whole."""
_TYPE_OF = {
    "name": "const char *",
    "row": "const wash_round_t *",
    **dict.fromkeys(("rounds", "bench_run", "restart_after_cut"), "uint8_t "),
    "total_max_s": "uint32_t ",
}
_ROUND_TYPE = "\n".join(
    (
        "/* The same numbers as a table, for a controller that steps through it */",
        "typedef struct {",
        "    uint8_t kind;",
        *(f"    uint16_t {name};" for name in ROUND_NUMBERS),
        "} wash_round_t;",
    )
)

COMMENT = re.compile(r'"[^"\n]*"|//[^\n]*|/\*.*?(?:\*/|\Z)', re.DOTALL)
ASSERTION = re.compile(r'WASH_ASSERT\([\w*+<>=| (),]+, "[^"\\]*"\);', re.ASCII)
NUMBERED = re.compile(r"^[ \t]*#[ \t]*define[ \t]+WASH_(?:P1_)?(?:FORMAT|START_DRAIN_S)\b", re.MULTILINE)
MOVES_LINES = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]|\?\?|\\")
"""What ends or joins lines in some compilers and not in others: none of it is ever written."""


def _write(sheet: Sheet) -> str:
    guard = f"SCULLION_WASH_TIMING{'_REHEARSAL' if sheet.bench_run else ''}_H"
    parts = [
        "\n".join(["/*", *(f" * {line}".rstrip() for line in sheet.opening), " */"]),
        f"#ifndef {guard}\n#define {guard}\n\n{INCLUDE}",
        OLD_CONTROLLER,
        _kinds(),
        "/* Hash of the profiles behind the numbers */\n"
        f'#define {in_c("input_sha256")} "{sheet.input_sha256}"',
        "/* The programme as a whole */\n" + _defines(sheet.top),
    ]
    parts += [f"/* {heading} */\n{_defines(notes)}" for heading, notes in sheet.rounds()]
    parts += [
        f"/* {FACTS_HEAD} */\n" + _defines(sheet.facts),
        ASSERT_MACROS,
        _assertions(sheet.assertions),
        _array(sheet.notes["rounds"].value),
        f"#endif /* {guard} */",
    ]
    return "\n\n".join(parts) + "\n"


def _write_several(several: Several) -> str:
    guard = "SCULLION_WASH_TIMING_H"
    parts = [
        "\n".join(["/*", *(f" * {line}".rstrip() for line in several.opening), " */"]),
        f"#ifndef {guard}\n#define {guard}\n\n{INCLUDE}",
        OLD_CONTROLLER,
        _kinds(),
        "/* What all programmes share */\n" + _defines(several.shared),
        f"/* {FACTS_HEAD} */\n" + _defines(several.facts),
    ]
    for one in several.programmes:
        of = f"Programme {one.number} of {len(several.programmes)}"
        texts = "\n".join(f'#define {in_c(name)} "{text}"' for name, text in one.texts.items())
        parts.append(f"/* {of}: name, hash of the profiles behind it, the programme as a whole */\n{texts}\n"
                     + _defines(one.top))  # fmt: skip
        parts += [f"/* {of}. {heading} */\n{_defines(notes)}" for heading, notes in one.rounds()]
    parts.append(SEVERAL_ASSERT_MACROS)
    for one, relations in several.assertions:
        lines = [in_programme(relation.in_c(), one.number) for relation in relations]
        parts.append("\n".join([f"/* Limits of programme {one.number} */", *lines] if one.number > 1
                               else [ASSERTIONS_HEAD, *lines]))  # fmt: skip
    parts += [_programme_arrays(several), f"#endif /* {guard} */"]
    return "\n\n".join(parts) + "\n"


def _programme_arrays(several: Several) -> str:
    members = "\n".join(f"    {_TYPE_OF.get(name, 'uint16_t ')}{name};" for name in MEMBERS)
    arrays, rows = [], []
    for one in several.programmes:
        lines = "\n".join(_array_row(number, one.number) for number in range(1, len(one.kinds) + 1))
        count = in_c(of_programme(one.number, "rounds"))
        arrays.append(f"static const wash_round_t wash_rounds_p{one.number}[{count}] = {{\n{lines}\n}};")
        names = [in_c(of_programme(one.number, name)) for name in MEMBERS[2:]]
        first = [in_c(of_programme(one.number, "name")), f"wash_rounds_p{one.number}"]
        rows.append("    { " + ",\n      ".join([*first, *names]) + " },")
    return (
        f"{_ROUND_TYPE}\n\n"
        "/* A programme, for a controller that takes it by pointer */\n"
        f"struct wash_programme {{\n{members}\n}};\n\n"
        + "\n\n".join(arrays)
        + "\n\nstatic const struct wash_programme wash_programmes[WASH_PROGRAMMES] = {\n"
        + "\n".join(rows)
        + "\n};\n\n/* One of them; number counts from 0 */\n"
        "static inline const struct wash_programme *wash_programme_at(uint8_t number)\n"
        "{\n    return &wash_programmes[number];\n}"
    )


def _kinds() -> str:
    kinds = ", ".join(f"{_kind(kind)} = {index}" for index, kind in enumerate(KINDS))
    return f"/* Kind of a round */\nenum {{ {kinds} }};"


def _kind(kind: str) -> str:
    return f"WASH_KIND_{kind.upper()}"


def _defines(notes: Sequence[Note]) -> str:
    rows = [(in_c(note.name), _literal(note.name, note.value), note.comment) for note in notes]
    name_width = max(len(name) for name, _, _ in rows)
    value_width = max(len(value) for _, value, _ in rows)
    return "\n".join(f"#define {n:<{name_width}} {v:>{value_width}} /* {text} */" for n, v, text in rows)


def _literal(name: str, value: int) -> str:
    if name.endswith("_kind"):
        return _kind(KINDS[value])
    return f"{value}{'UL' if value > UINT16_MAX else 'U'}"


def _assertions(relations: Sequence[Limit]) -> str:
    return "\n".join([ASSERTIONS_HEAD, *(relation.in_c() for relation in relations)])


def _array(rounds: int) -> str:
    rows = "\n".join(_array_row(number) for number in range(1, rounds + 1))
    return (
        f"{_ROUND_TYPE}\n\n"
        f"static const wash_round_t wash_rounds[WASH_ROUNDS] = {{\n{rows}\n}};\n\n"
        "/* A row of it; number counts from 0 */\n"
        "static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }"
    )


def _array_row(number: int, programme: int = 0) -> str:
    names = [of_round(number, name) for name in ("kind", *ROUND_NUMBERS)]
    names = [in_c(of_programme(programme, name) if programme else name) for name in names]
    return "    { " + ",\n      ".join(names) + " },"


def _statements(text: str) -> Iterator[Statement]:
    """Lines without comments and assertions: whatever an assertion says, it changes no number."""
    lines = text.replace("\r\n", "\n").split("\n")
    rule = "no line may hold a backslash, two question marks or a control character"
    if not NUMBERED.search(text):
        rule = "defines no WASH_FORMAT and no WASH_START_DRAIN_S: a controller, or another file, no constants"
        raise UnreadableError(("", rule, ""))
    odd = [(n, line) for n, line in enumerate(lines, start=1) if MOVES_LINES.search(line)]
    if odd:
        raise UnreadableError(*((f"line {n}", rule, written(line.strip())) for n, line in odd))
    bare = COMMENT.sub(_blank, "\n".join(lines))
    for number, line in enumerate(bare.split("\n"), start=1):
        words = " ".join(re.split(r"[ \t]+", line)).strip(" ")
        if words and not ASSERTION.fullmatch(words):
            yield Statement(f"line {number}", words)


def _blank(found: re.Match[str]) -> str:
    """Keep line ends, strings and a comment that is not closed, which the reader then refuses."""
    text = found[0]
    if text.startswith('"') or (text.startswith("/*") and not text[2:].endswith("*/")):
        return text
    return " " + "\n" * text.count("\n")


def _value(name: str, literal: str) -> int | None:
    if name.endswith("_kind"):
        return next((number for number, kind in enumerate(KINDS) if _kind(kind) == literal), None)
    return whole(re.sub(r"UL?$", "", literal))


C99 = Form(
    sign=re.compile(r"^#(?:ifndef|define) (?:SCULLION_)?WASH_", re.MULTILINE),
    write=_write,
    write_several=_write_several,
    statements=_statements,
    named=re.compile(r"#define (?P<name>WASH_\w+) (?P<value>.+)", re.ASCII),
    shown=in_c,
    literal=_literal,
    value=_value,
    quote='"',
    printed=ranges_beside,
)
