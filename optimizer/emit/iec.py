"""The constants as IEC 61131-3 text: one constant a line, which every compiler of the standard takes."""

from __future__ import annotations

import re

from optimizer.emit.notes import Note, limits_of, notes
from optimizer.emit.numbers import FLAGS, OF_ROUND, TOP, of_round
from optimizer.emit.opening import opening
from optimizer.emit.reading import Reader
from optimizer.emit.relations import in_c
from optimizer.profile.messages import written
from optimizer.programme.plan import Plan

BEGIN, END = "VAR_GLOBAL CONSTANT", "END_VAR"
HASH_NAME, HASH_TYPE = in_c("input_sha256"), "STRING[64]"
BOOLS = ("FALSE", "TRUE")

COMMENT = re.compile(r"'[^'\n]*'|\(\*.*?(?:\*\)|\Z)", re.DOTALL)
TIME = re.compile(r"T#(\d+)s", re.ASCII)
LINE = re.compile(r"(WASH_\w+) : ([A-Z]+(?:\[64\])?) := (\S+);", re.ASCII)


def to_iec(plan: Plan) -> str:
    """Write the constants of a plan as IEC 61131-3 global constants.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    str
        A ``VAR_GLOBAL CONSTANT`` block: TIME for seconds, UINT for tenths and counts, BOOL for flags.
    """
    noted, rounds = notes(plan, limits_of(plan)), plan.constants.rounds
    lines = [*_opening(plan), BEGIN, f"    {HASH_NAME} : {HASH_TYPE} := '{plan.constants.input_sha256}';"]
    lines += ["", "    (* The programme as a whole *)", *(_line(noted[name]) for name in TOP)]
    for number, row in enumerate(rounds, start=1):
        lines += ["", f"    (* Round {number} of {len(rounds)}: {row.kind} *)"]
        lines += [_line(noted[of_round(number, name)]) for name in OF_ROUND]
    return "\n".join([*lines, END]) + "\n"


def _opening(plan: Plan) -> list[str]:
    return ["(*", *(f"   {line}".rstrip() for line in opening(plan)), "*)"]


def _line(note: Note) -> str:
    literal = _literal(note.name, note.value)
    return f"    {in_c(note.name)} : {_type(note.name)} := {literal}; (* {note.comment} *)"


def _type(name: str) -> str:
    return "TIME" if name.endswith("_s") else "BOOL" if name in FLAGS else "UINT"


def _literal(name: str, value: int) -> str:
    return f"T#{value}s" if name.endswith("_s") else BOOLS[value] if name in FLAGS else str(value)


def read_iec(text: str, subject: str) -> Reader:
    """Read constants from IEC 61131-3 text.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Reader
        The numbers, and what is wrong with them. A line that scullion does not write is refused.
    """
    reader = Reader(subject, in_c)
    inside = ended = False
    for number, line in enumerate(COMMENT.sub(_blank, text).split("\n"), start=1):
        words, place = " ".join(line.split(" ")).strip(" \t\r"), f"line {number}"
        if words == BEGIN and not inside:
            inside = True
        elif words == END and inside and not ended:
            ended = True
        elif words and not (inside and not ended and _taken(reader, words, place)):
            reader.issue(place, "is not a line that scullion writes here", written(words))
    if not ended:
        reader.issue("end", f"{BEGIN} and {END} must stand around the constants")
    return reader


def _blank(found: re.Match[str]) -> str:
    """Take a comment out, keep its line ends; one that is not closed or holds another stays, for refusal."""
    text = found[0]
    if text.startswith("'") or "(*" in text[2:] or not text[2:].endswith("*)"):
        return text
    return " " + "\n" * text.count("\n")


def _taken(reader: Reader, words: str, place: str) -> bool:
    found = LINE.fullmatch(words)
    if found is None:
        return False
    shown, kind, literal = found.groups()
    name = shown.removeprefix(in_c("")).lower()
    if shown == HASH_NAME:
        quotes = len(literal) > 1 and literal[0] == literal[-1] == "'"
        reader.take_sha256(literal[1:-1] if quotes and kind == HASH_TYPE else "", place)
        return True
    digits = _digits(kind, literal)
    if shown != in_c(name) or kind != _type(name):
        reader.refuse(name, place, f"is written {in_c(name)} and of type {_type(name)}", kind)
    elif digits is None:
        example = _literal(name, 1)
        reader.refuse(name, place, f"must be written like {example}", written(literal))
    else:
        reader.take_text(name, digits, place)
    return True


def _digits(kind: str, literal: str) -> str | None:
    """Find the whole number in a literal; None where it is not written as scullion writes it."""
    if kind == "BOOL":
        return str(BOOLS.index(literal)) if literal in BOOLS else None
    if kind == "TIME":
        time = TIME.fullmatch(literal)
        return time[1] if time else None
    return literal
