"""The constants as IEC 61131-3 text: one constant a line, which every compiler of the standard takes.

Times may be written in any units that the standard allows and that make whole seconds (``T#24m42s``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from optimizer.emit.assertions import in_c
from optimizer.emit.meanings import (
    FACTS,
    FACTS_HEAD,
    FLAGS,
    SHARED,
    TOP_OF_PROGRAMME,
    of_programme,
    of_round,
    parted,
)
from optimizer.emit.one_form import Form, Statement, ranges_beside, whole
from optimizer.emit.several import NAME_MOST, Several
from optimizer.emit.sheet import Note, Sheet
from optimizer.programme.constants import ROUND_NUMBERS

ROW = ("kind", *ROUND_NUMBERS)
TAKEN = tuple(name for name in FACTS if not name.endswith("_ma"))
"""Facts that the function block takes: no currents."""
BEGIN, END = "VAR_GLOBAL CONSTANT", "END_VAR"
BOOLS = ("FALSE", "TRUE")
COMMENT = re.compile(r"'[^'\n]*'|\(\*.*?(?:\*\)|\Z)", re.DOTALL)
TOKEN = re.compile(r"'[^'\n]*'|[\w#]+|:=|[^ \t\r]", re.ASCII)
TIME = re.compile(r"(?:T|TIME)#(?=\d)(?:(\d+)D_?)?(?:(\d+)H_?)?(?:(\d+)M_?)?(?:(\d+)S)?", re.A | re.I)
UNITS_S = (86_400, 3600, 60, 1)
"""Days, hours, minutes, seconds [s]."""


def _write(sheet: Sheet) -> str:
    lines = ["(*", *(f"   {line}".rstrip() for line in sheet.opening), "*)", BEGIN]
    lines.append(f"    {in_c('input_sha256')} : STRING[64] := '{sheet.input_sha256}';")
    parts = [("The programme as a whole", sheet.top), (FACTS_HEAD, sheet.facts), *sheet.rounds()]
    for heading, notes in parts:
        lines += ["", f"    (* {heading} *)", *map(_line, notes)]
    return "\n".join([*lines, END]) + "\n"


def _write_several(several: Several) -> str:
    lines = ["(*", *(f"   {line}".rstrip() for line in several.opening), "*)", BEGIN]
    once = (("What all programmes share", several.shared), (FACTS_HEAD, several.facts))
    for heading, shared in once:
        lines += [f"    (* {heading} *)", *map(_line, shared), ""]
    for one in several.programmes:
        of = f"Programme {one.number} of {len(several.programmes)}"
        lines.append(f"    (* {of}: name, hash of the profiles behind it, the programme as a whole *)")
        lines += [
            f"    {in_c(name)} : STRING[{_length(name)}] := '{text}';" for name, text in one.texts.items()
        ]
        lines += map(_line, one.top)
        for heading, notes in one.rounds():
            lines += ["", f"    (* {of}. {heading} *)", *map(_line, notes)]
        lines.append("")
    return "\n".join([*lines[:-1], END]) + "\n"


def tables(several: Several) -> str:
    """Put the constants of several programmes into the structures that the function block takes."""
    programmes = []
    for one in several.programmes:
        rows = [
            [f"{name.upper()} := {in_c(of_programme(one.number, of_round(number, name)))}" for name in ROW]
            for number in range(1, len(one.kinds) + 1)
        ]
        members = ["NAME", *(name.upper() for name in TOP_OF_PROGRAMME if name != "lid_open_after_s")]
        own = [f"{name} := WASH_P{one.number}_{name}" for name in members]
        shared = [f"{name.upper()} := {in_c(name)}" for name in ("format", *SHARED, *TAKEN)]
        array = ",\n           ".join(f"({', '.join(row)})" for row in rows)
        lines = ",\n         ".join([*own, *shared, f"ROW := [{array}]"])
        programmes.append(f"        ({lines})")
    head = (
        "(* The constants of wash_timing.st as tables for WASH_PROGRAMME: edit them there, not here.\n"
        "   A compiler that does not know a name in here has files of two versions of scullion: write all\n"
        "   three anew, scullion constants PLAN --format iec --with-controller DIR. *)"
    )
    declared = f"WASH_TABLES : ARRAY[1..{len(several.programmes)}] OF WASH_TABLE := ["
    return "\n".join([head, "VAR_GLOBAL", f"    {declared}", ",\n".join(programmes), "    ];", "END_VAR", ""])


def _length(name: str) -> int:
    return 64 if name.endswith("_sha256") else NAME_MOST


def _line(note: Note) -> str:
    kind = "TIME" if note.name.endswith("_s") else "BOOL" if parted(note.name)[1] in FLAGS else "UINT"
    literal = _literal(note.name, note.value)
    return f"    {in_c(note.name)} : {kind} := {literal}; (* {note.comment} *)"


def _literal(name: str, value: int) -> str:
    return f"T#{value}s" if name.endswith("_s") else BOOLS[value] if parted(name)[1] in FLAGS else str(value)


def _statements(text: str) -> Iterator[Statement]:
    for number, line in enumerate(COMMENT.sub(_blank, text).split("\n"), start=1):
        if tokens := TOKEN.findall(line):
            yield Statement(f"line {number}", " ".join(tokens))


def _blank(found: re.Match[str]) -> str:
    """Keep line ends, strings, and a comment that is not closed or holds another, which is then refused."""
    text = found[0]
    if text.startswith("'") or "(*" in text[2:] or not text[2:].endswith("*)"):
        return text
    return " " + "\n" * text.count("\n")


def _value(name: str, literal: str) -> int | None:
    if parted(name)[1] in FLAGS:
        return BOOLS.index(literal) if literal in BOOLS else None
    return _seconds(literal) if name.endswith("_s") else whole(literal)


def _seconds(literal: str) -> int | None:
    """Read a duration; only its first unit may be more than the next larger one holds."""
    found = TIME.fullmatch(literal)
    if found is None or literal.endswith("_"):
        return None
    parts = [(digits, unit_s) for digits, unit_s in zip(found.groups(), UNITS_S, strict=True) if digits]
    first, *others = parts
    most = {3600: 23, 60: 59, 1: 59}
    if whole(first[0]) is None or any(len(n) > 2 or int(n) > most[unit_s] for n, unit_s in others):
        return None
    return sum(int(digits) * unit_s for digits, unit_s in parts)


IEC = Form(
    sign=re.compile(r"^VAR_GLOBAL", re.MULTILINE),
    write=_write,
    write_several=_write_several,
    statements=_statements,
    named=re.compile(r"(?P<name>WASH_\w+) : [^:;]* := (?P<value>[^:;]+) ;", re.ASCII),
    shown=in_c,
    literal=_literal,
    value=_value,
    quote="'",
    printed=ranges_beside,
)
