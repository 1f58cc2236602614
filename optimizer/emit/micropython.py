"""The constants as a MicroPython module, which CPython imports as well; it is read without being run."""

from __future__ import annotations

import ast
import re
import warnings
from collections.abc import Iterator, Sequence

from optimizer.emit.assertions import in_c
from optimizer.emit.meanings import of_round
from optimizer.emit.sheet import Form, Note, Sheet, Statement, UnreadableError, ranges_beside, whole
from optimizer.programme.constants import ROUND_NUMBERS

IMPORT = """\
try:
    from micropython import const
except ImportError:

    def const(number):
        return number
"""
ROW = ("kind", *ROUND_NUMBERS)


def _write(sheet: Sheet) -> str:
    parts = [
        '"""' + "\n".join(sheet.opening) + '\n"""\n',
        IMPORT,
        f'# Hash of the profiles behind the numbers\n{in_c("input_sha256")} = "{sheet.input_sha256}"\n',
        f"# The programme as a whole\n{_lines(sheet.top)}",
    ]
    parts += [f"# {heading}\n{_lines(notes)}" for heading, notes in sheet.rounds()]
    return "\n".join([*parts, _table(sheet.notes["rounds"].value)])


def _lines(notes: Sequence[Note]) -> str:
    return "".join(f"{in_c(note.name)} = const({note.value})  # {note.comment}\n" for note in notes)


def _table(rounds: int) -> str:
    rows = [[in_c(of_round(number, name)) for name in ROW] for number in range(1, rounds + 1)]
    text = "".join("    (\n" + "".join(f"        {name},\n" for name in row) + "    ),\n" for row in rows)
    return f"# The same numbers as a table: {', '.join(ROW)}\nWASH_TABLE = (\n{text})\n"


def _statements(text: str) -> Iterator[Statement]:
    """Every statement but the docstring, as Python itself writes it."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            body = ast.parse(text).body
        found = [Statement(f"line {one.lineno}", ast.unparse(one)) for one in body]
    except SyntaxError as error:
        raise UnreadableError((f"line {error.lineno or 1}", f"is not Python: {error.msg}", "")) from error
    except (ValueError, RecursionError, MemoryError) as error:
        raise UnreadableError(("", "is not Python, or nested too deeply", "")) from error
    match body:
        case [ast.Expr(value=ast.Constant(value=str())), *_]:
            del found[0]
    yield from found


MICROPYTHON = Form(
    sign=re.compile(r"^ *from micropython import const", re.MULTILINE),
    write=_write,
    statements=_statements,
    named=re.compile(r"(?P<name>WASH_\w+) = (?:const\()?(?P<value>[^()]*)\)?", re.ASCII),
    shown=in_c,
    literal=lambda _, value: str(value),
    value=lambda _, literal: whole(literal),
    quote="'",
    printed=ranges_beside,
)
