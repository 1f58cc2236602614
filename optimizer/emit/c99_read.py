"""Read a header back: numbers from its macros, and every other line as scullion writes it.

Comments are not read. An expression, a hexadecimal number, a macro defined twice and a line that is not known
are refused, because a reader that is wrong about one of them proves another programme than the one that runs.
"""

from __future__ import annotations

import re
from itertools import zip_longest

from optimizer.emit.c99 import frame, kind_in_c
from optimizer.emit.facts import FACTS
from optimizer.emit.reading import Reader
from optimizer.emit.relations import in_c
from optimizer.profile.messages import written
from optimizer.programme.constants import KINDS

HASH_NAME = in_c("input_sha256")
COMMENT = re.compile(r'"[^"\n]*"|//[^\n]*|/\*.*?(?:\*/|\Z)', re.DOTALL)
DEFINE = re.compile(r"#define (WASH_\w+) (.+)", re.ASCII)
SUFFIX = re.compile(r"UL?$", re.ASCII)
ASSERTION = re.compile(r'WASH_ASSERT\([\w*+<>= ()]+, "[^"\\]*"\);', re.ASCII)
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]|\?\?|\\")
"""What moves or joins lines in some compilers and not in others: none of it is ever written."""
KIND_OF = {kind_in_c(kind): index for index, kind in enumerate(KINDS)}


def read_c99(text: str, subject: str) -> Reader:
    """Read constants from a C header.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Reader
        The numbers, and what is wrong with them.
    """
    reader = Reader(subject, in_c, extra=FACTS)
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if CONTROL.search(line):
            rule = "no line may hold a backslash, two question marks or a control character"
            reader.issue(f"line {number}", rule, written(line.strip()))
    if reader.issues:
        return reader
    others = []
    depth = 0
    for number, words in _lines(text):
        depth += words.startswith("#if") - words.startswith("#endif")
        if depth != 1 or not _taken(reader, words, f"line {number}"):
            others.append((number, words))
    if reader.rounds:
        _hold_against_frame(reader, others)
    return reader


def _hold_against_frame(reader: Reader, others: list[tuple[int, str]]) -> None:
    """Refuse the first line that is neither a number nor what stands around them."""
    known = [words for part in frame(reader.rounds) for _, words in _lines(part)]
    for found, expected in zip_longest(others, known):
        if found is None:
            reader.issue("end", f"is missing: {expected}")
        elif found[1] != expected:
            reader.issue(f"line {found[0]}", "is not a line that scullion writes here", written(found[1]))
            return


def _lines(text: str) -> list[tuple[int, str]]:
    """Number the lines that hold more than blanks once the comments are out, blanks made one."""
    bare = COMMENT.sub(_blank, text)
    rows = (
        (number, " ".join(re.split(r"[ \t]+", line)).strip())
        for number, line in enumerate(bare.split("\n"), 1)
    )
    return [(number, words) for number, words in rows if words]


def _blank(found: re.Match[str]) -> str:
    """Take a comment out and keep its line ends; one that is not closed stays, for the reader to refuse."""
    text = found[0]
    if text.startswith('"') or (text.startswith("/*") and not text[2:].endswith("*/")):
        return text
    return " " + "\n" * text.count("\n")


def _taken(reader: Reader, words: str, place: str) -> bool:
    """Take a number, the hash or an assertion, if that is what a line gives."""
    if ASSERTION.fullmatch(words):
        return True
    define = DEFINE.fullmatch(words)
    if define is None:
        return False
    shown, value = define.groups()
    name = shown.removeprefix(in_c("")).lower()
    if shown == HASH_NAME:
        reader.take_sha256(value[1:-1] if value[0] == value[-1] == '"' else "", place)
    elif name.endswith("_kind"):
        if value in KIND_OF:
            reader.take(name, KIND_OF[value], place)
        else:
            reader.refuse(name, place, f"must be one of {', '.join(KIND_OF)}", written(value))
    else:
        reader.take_text(name, SUFFIX.sub("", value), place)
    return True
