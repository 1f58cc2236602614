"""Where a key stands in the file of a bench book: what is wrong is told with its line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.errors import InputIssue

HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\"-]+)\s*\]\]?")
ASSIGNED = re.compile(r"\s*([A-Za-z0-9_.\"-]+)\s*=")
INDEX = re.compile(r"\[(\d+)\]")


def with_lines(issues: Sequence[InputIssue], text: str, subject: str) -> list[InputIssue]:
    """Say of each issue of a book's key in which line of its file it stands, where that can be found."""
    places = list(_places(text))
    return [_with_line(one, places, text) if one.subject == subject and one.key else one for one in issues]


def _with_line(issue: InputIssue, places: Sequence[tuple[str, int]], text: str) -> InputIssue:
    path = issue.key
    # Of what stands around a key the innermost that has a line of its own.
    around = [
        (len(place), -line) for place, line in places if f"{path}.".startswith((f"{place}.", f"{place}["))
    ]
    if not around:
        return issue
    length, line = max(around)
    line = _element_line(text, -line, path[length:])
    return replace(issue, rule=f"{issue.rule} (line {line})")


def _places(text: str) -> Iterator[tuple[str, int]]:
    """Path of each table and key that begins a line, and that line; tables of a list are counted."""
    table, many = "", dict[str, int]()
    for number, line in enumerate(text.split("\n"), start=1):
        if found := HEADER.match(line):
            table = found[2].replace('"', "")
            if found[1] == "[[":
                many[table] = many.get(table, 0) + 1
                table = f"{table}[{many[table]}]"
            yield table, number
        elif found := ASSIGNED.match(line):
            key = found[1].replace('"', "")
            yield f"{table}.{key}" if table else key, number


def _element_line(text: str, line: int, rest: str) -> int:
    """Line of the nth table of a list that begins in a line; that line where there is none."""
    index = INDEX.match(rest)
    if index is None:
        return line
    lines = text.split("\n")
    opened = 0
    for number, content in enumerate(lines[line - 1 :], start=line):
        opened += content.split("#")[0].count("{")
        if opened >= int(index[1]):
            return number
        if number > line and HEADER.match(content):
            break
    return line
