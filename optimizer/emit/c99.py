"""The constants as a C99 header, which old and new compilers of C and C++ take as well.

A reader takes numbers from its macros. Every other line must stand as it is written here, because an
expression, a branch or an unknown line could make the compiled programme another than the one that was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from optimizer.emit.assertions import ASSERT_MACROS, Relation, in_c
from optimizer.emit.meanings import of_round
from optimizer.emit.sheet import Form, Note, Sheet, Statement, UnreadableError, whole
from optimizer.profile.messages import written
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, UINT16_MAX

FILE_NAME, BENCH_FILE_NAME = "wash_timing.h", "wash_timing_rehearsal.h"
"""The header of a programme and of a bench run: two names, so that neither is taken for the other."""

INCLUDE = "#include <stdint.h>"

COMMENT = re.compile(r'"[^"\n]*"|//[^\n]*|/\*.*?(?:\*/|\Z)', re.DOTALL)
ASSERTION = re.compile(r'WASH_ASSERT\([\w*+<>= ()]+, "[^"\\]*"\);', re.ASCII)
MOVES_LINES = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]|\?\?|\\")
"""What ends or joins lines in some compilers and not in others: none of it is ever written."""


def _write(sheet: Sheet) -> str:
    guard = f"SCULLION_WASH_TIMING{'_REHEARSAL' if sheet.bench_run else ''}_H"
    parts = [
        "\n".join(["/*", *(f" * {line}".rstrip() for line in sheet.opening), " */"]),
        f"#ifndef {guard}\n#define {guard}\n\n{INCLUDE}",
        _kinds(),
        "/* Hash of the profiles behind the numbers */\n"
        f'#define {in_c("input_sha256")} "{sheet.input_sha256}"',
        "/* The programme as a whole */\n" + _defines(sheet.top),
    ]
    parts += [f"/* {heading} */\n{_defines(notes)}" for heading, notes in sheet.rounds()]
    parts += [
        "/* Facts about machine and circuit, for the limits below */\n" + _defines(sheet.facts),
        ASSERT_MACROS,
        _assertions(sheet.assertions),
        _array(sheet.notes["rounds"].value),
        f"#endif /* {guard} */",
    ]
    return "\n\n".join(parts) + "\n"


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


def _assertions(relations: Sequence[Relation]) -> str:
    head = (
        "/* Edited by hand? What breaks one of these must not run. Passing them proves nothing: they hold\n"
        "   what keeps the machine safe, not what gets the ware clean. Prove it again with scullion check. */"
    )
    return "\n".join([head, *(relation.in_c() for relation in relations)])


def _array(rounds: int) -> str:
    members = "\n".join(f"    uint16_t {name};" for name in ROUND_NUMBERS)
    rows = "\n".join(_array_row(number) for number in range(1, rounds + 1))
    return (
        "/* The same numbers as a table, for a controller that steps through it */\n"
        f"typedef struct {{\n    uint8_t kind;\n{members}\n}} wash_round_t;\n\n"
        f"static const wash_round_t wash_rounds[WASH_ROUNDS] = {{\n{rows}\n}};\n\n"
        "/* A row of it; number counts from 0 */\n"
        "static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }"
    )


def _array_row(number: int) -> str:
    names = [in_c(of_round(number, name)) for name in ("kind", *ROUND_NUMBERS)]
    return "    { " + ",\n      ".join(names) + " },"


def _statements(text: str) -> Iterator[Statement]:
    """Lines without comments and assertions: whatever an assertion says, it changes no number."""
    lines = text.replace("\r\n", "\n").split("\n")
    rule = "no line may hold a backslash, two question marks or a control character"
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
    statements=_statements,
    named=re.compile(r"#define (?P<name>WASH_\w+) (?P<value>.+)", re.ASCII),
    shown=in_c,
    literal=_literal,
    value=_value,
    quote='"',
    facts=True,
)
