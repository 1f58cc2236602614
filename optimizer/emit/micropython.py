"""The constants as a MicroPython module, which CPython imports as well."""

from __future__ import annotations

import ast
import warnings
from itertools import zip_longest

from optimizer.emit.notes import limits_of, notes
from optimizer.emit.numbers import OF_ROUND, TOP, of_round
from optimizer.emit.opening import opening
from optimizer.emit.reading import Reader
from optimizer.emit.relations import in_c
from optimizer.programme.constants import ROUND_NUMBERS
from optimizer.programme.plan import Plan

HASH_NAME = in_c("input_sha256")
IMPORT = """\
try:
    from micropython import const
except ImportError:

    def const(number):
        return number
"""
ROW = ("kind", *ROUND_NUMBERS)


def to_micropython(plan: Plan) -> str:
    """Write the constants of a plan as a MicroPython module.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    str
        The text of ``wash_timing.py``.
    """
    noted, rounds = notes(plan, limits_of(plan)), plan.constants.rounds

    def lines(names: list[str]) -> str:
        return "\n".join(f"{in_c(n)} = const({noted[n].value})  # {noted[n].comment}" for n in names)

    parts = [
        '"""' + "\n".join(opening(plan)) + '\n"""\n',
        IMPORT,
        f'# Hash of the profiles behind the numbers\n{HASH_NAME} = "{plan.constants.input_sha256}"\n',
        f"# The programme as a whole\n{lines(list(TOP))}\n",
    ]
    for number, row in enumerate(rounds, start=1):
        head = f"# Round {number} of {len(rounds)}: {row.kind}\n"
        parts.append(head + lines([of_round(number, name) for name in OF_ROUND]) + "\n")
    return "\n".join([*parts, _table(len(rounds))])


def _table(rounds: int) -> str:
    rows = [[in_c(of_round(number, name)) for name in ROW] for number in range(1, rounds + 1)]
    text = "".join("    (\n" + "".join(f"        {name},\n" for name in row) + "    ),\n" for row in rows)
    return f"# The same numbers as a table: {', '.join(ROW)}\nWASH_TABLE = (\n{text})\n"


def read_micropython(text: str, subject: str) -> Reader:
    """Read constants from a MicroPython module, without running it.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Reader
        The numbers, and what is wrong with them. A statement that scullion does not write is refused.
    """
    reader = Reader(subject, in_c)
    others = [statement for statement in _statements(reader, text) if not _taken(reader, statement)]
    if reader.rounds:
        _hold_against_frame(reader, others)
    return reader


def _hold_against_frame(reader: Reader, others: list[ast.stmt]) -> None:
    """Refuse the first statement that is neither a number nor what stands around them."""
    for found, expected in zip_longest(others, ast.parse(IMPORT + _table(reader.rounds)).body):
        if found is None:
            reader.issue("end", f"is missing: {ast.unparse(expected).split()[0]}")
        elif expected is None or not _same(found, expected):
            reader.issue(f"line {found.lineno}", "is not a statement that scullion writes here")
            return


def _statements(reader: Reader, text: str) -> list[ast.stmt]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            body = ast.parse(text).body
    except SyntaxError as error:
        reader.issue(f"line {error.lineno or 1}", f"is not Python: {error.msg}")
    except (ValueError, RecursionError, MemoryError):
        reader.issue("", "is not Python, or nested too deeply")
    else:
        return body[1:] if body and _is_docstring(body[0]) else body
    return []


def _is_docstring(statement: ast.stmt) -> bool:
    return (
        isinstance(statement, ast.Expr)
        and isinstance(statement.value, ast.Constant)
        and isinstance(statement.value.value, str)
    )


def _taken(reader: Reader, statement: ast.stmt) -> bool:
    """Take a number or the hash, if that is what a statement gives."""
    match statement:
        case ast.Assign(
            targets=[ast.Name(id=name)],
            value=ast.Call(func=ast.Name(id="const"), args=[ast.Constant(value=int(value))], keywords=[]),
        ) if name.startswith(in_c("")) and not isinstance(value, bool):
            reader.take(name.removeprefix(in_c("")).lower(), value, f"line {statement.lineno}")
        case ast.Assign(targets=[ast.Name(id=name)], value=ast.Constant(value=str(value))) if (
            name == HASH_NAME
        ):
            reader.take_sha256(value, f"line {statement.lineno}")
        case _:
            return False
    return True


def _same(one: ast.stmt, other: ast.stmt) -> bool:
    try:
        return ast.dump(one) == ast.dump(other)
    except RecursionError:
        return False
