"""The constants as a MicroPython module, which CPython imports as well; it is read without being run."""

from __future__ import annotations

import ast
import re
import warnings
from collections.abc import Iterator, Sequence

from optimizer.emit.assertions import in_c
from optimizer.emit.meanings import FACTS_HEAD, TOP_OF_PROGRAMME, of_programme, of_round
from optimizer.emit.one_form import Form, Statement, UnreadableError, ranges_beside, whole
from optimizer.emit.several import Several
from optimizer.emit.sheet import Note, Sheet
from optimizer.programme.constants import ROUND_NUMBERS

IMPORT = """\
try:
    from micropython import const
except ImportError:

    def const(number):
        return number
"""
ROW = ("kind", *ROUND_NUMBERS)
OLD_CONTROLLER = """\
# What an older wash_controller.py, which has such numbers of its own, looks for
class Older:
    def __iter__(self):
        raise ValueError(
            "wash_timing and wash_controller are of two versions of scullion; write both anew: "
            "scullion constants PLAN --format micropython --with-controller DIR"
        )


WASH_TABLES = Older()
"""


def _write(sheet: Sheet) -> str:
    parts = [
        '"""' + "\n".join(sheet.opening) + '\n"""\n',
        IMPORT,
        f'# Hash of the profiles behind the numbers\n{in_c("input_sha256")} = "{sheet.input_sha256}"\n',
        f"# The programme as a whole\n{_lines(sheet.top)}",
        f"# {FACTS_HEAD}\n{_lines(sheet.facts)}",
    ]
    parts += [f"# {heading}\n{_lines(notes)}" for heading, notes in sheet.rounds()]
    return "\n".join([*parts, _table(sheet.notes["rounds"].value)])


def _write_several(several: Several) -> str:
    parts = [
        '"""' + "\n".join(several.opening) + '\n"""\n',
        IMPORT,
        f"# What all programmes share\n{_lines(several.shared)}",
        f"# {FACTS_HEAD}\n{_lines(several.facts)}",
    ]
    for one in several.programmes:
        of = f"Programme {one.number} of {len(several.programmes)}"
        texts = "".join(f'{in_c(name)} = "{text}"\n' for name, text in one.texts.items())
        parts.append(f"# {of}: name, hash of the profiles behind it, the programme as a whole\n{texts}"
                     + _lines(one.top))  # fmt: skip
        parts += [f"# {of}. {heading}\n{_lines(notes)}" for heading, notes in one.rounds()]
    return "\n".join([*parts, _tables(several)])


def _tables(several: Several) -> str:
    text = f"# The same numbers as tables, one a programme; a row is {', '.join(ROW)}\n"
    for one in several.programmes:
        rounds = [of_round(number, "") for number in range(1, len(one.kinds) + 1)]
        rows = [[in_c(of_programme(one.number, f"{place}{name}")) for name in ROW] for place in rounds]
        text += f"WASH_P{one.number}_ROWS = (\n{_rows(rows)})\n"
    own = [
        [f"WASH_P{one.number}_NAME", f"WASH_P{one.number}_ROWS"]
        + [in_c(of_programme(one.number, name)) for name in TOP_OF_PROGRAMME]
        for one in several.programmes
    ]
    members = f"name, rows, {', '.join(TOP_OF_PROGRAMME)}"
    table = f"# A programme is {members}\nWASH_PROGRAMMES_BY_NUMBER = (\n{_rows(own)})\n"
    return f"{text}\n{table}\n\n{OLD_CONTROLLER}"


def _rows(rows: list[list[str]]) -> str:
    return "".join("    (\n" + "".join(f"        {name},\n" for name in row) + "    ),\n" for row in rows)


def _lines(notes: Sequence[Note]) -> str:
    return "".join(f"{in_c(note.name)} = const({note.value})  # {note.comment}\n" for note in notes)


def _table(rounds: int) -> str:
    rows = [[in_c(of_round(number, name)) for name in ROW] for number in range(1, rounds + 1)]
    return f"# The same numbers as a table: {', '.join(ROW)}\nWASH_TABLE = (\n{_rows(rows)})\n"


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
    write_several=_write_several,
    statements=_statements,
    named=re.compile(r"(?P<name>WASH_\w+) = (?:const\()?(?P<value>[^()]*)\)?", re.ASCII),
    shown=in_c,
    literal=lambda _, value: str(value),
    value=lambda _, literal: whole(literal),
    quote="'",
    printed=ranges_beside,
)
