"""The constants as JSON, for a controller or a script that reads it; every number has its unit in its key."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from optimizer.emit.meanings import FLAGS, TOP
from optimizer.emit.opening import printable
from optimizer.emit.sheet import Form, Sheet, Statement, UnreadableError, whole
from optimizer.errors import quoted
from optimizer.profile.messages import key_path, written
from optimizer.programme.constants import KINDS

WORDS: dict[str, tuple[str, tuple[object, ...]]] = {
    "bench_run": ("bench_run", (False, True)),
    "fill_by_level": ("fill_control", ("timed", "level")),
    "has_thermostat": ("control", ("timed", "thermostat")),
    "restart_after_cut": ("restart_after_cut", (False, True)),
}
"""Flags that are words here: key, and what 0 and 1 are called."""
PROSE = ("cautions", "titles")


def _write(sheet: Sheet) -> str:
    content: dict[str, Any] = {
        "input_sha256": sheet.input_sha256,
        "cautions": sheet.cautions,
        "titles": {kind: printable(title) for kind, title in sheet.titles.items()},
        "rounds": [{_key(n.name): _plain(n.name, n.value) for n in notes} for _, notes in sheet.rounds()],
    }
    content |= {_key(name): _plain(name, sheet.notes[name].value) for name in TOP if name != "rounds"}
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _key(name: str) -> str:
    """Key of a number within its table."""
    return WORDS[name][0] if name in WORDS else re.sub(r"^round_\d+_", "", name)


def _plain(name: str, value: int) -> object:
    return KINDS[value] if name.endswith("_kind") else WORDS[name][1][value] if name in FLAGS else value


def _shown(name: str) -> str:
    """Key path of a number, from the top."""
    found = re.match(r"round_(\d+)_", name)
    return key_path(("rounds", int(found[1]) - 1, _key(name))) if found else _key(name)


def holds_constants(text: str) -> bool:
    """Whether JSON is a file of constants, whatever is wrong with it: a plan holds these keys further in."""
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(content, dict) and content.keys() >= {"rounds", "bath_max_dc"}


def _statements(text: str) -> Iterator[Statement]:
    """One statement a key, and one for the number of rounds; cautions and titles are only words."""
    twice: list[str] = []
    try:
        content = json.loads(text, object_pairs_hook=lambda pairs: _table(pairs, twice))
    except json.JSONDecodeError as error:
        raise UnreadableError((f"line {error.lineno}", f"is not JSON: {error.msg}", "")) from error
    except RecursionError as error:
        raise UnreadableError(("", "is nested too deeply for constants", "")) from error
    except ValueError as error:  # a whole number longer than the interpreter converts
        raise UnreadableError(("", "holds a number with too many digits", "")) from error
    if twice:
        raise UnreadableError(*((key, "stands more than once in one table", "") for key in twice))
    if not isinstance(content, dict):
        raise UnreadableError(("", "must be a table", ""))
    if not content.keys() & {_key(name) for name in TOP}:  # another file may hold secrets
        raise UnreadableError(("", "holds none of the numbers of a programme", ""))
    rounds = content.pop("rounds", None)
    if rounds is not None and not isinstance(rounds, list):
        raise UnreadableError(("rounds", "must be a list of rounds", written(rounds)))
    yield from _keys({key: value for key, value in content.items() if key not in PROSE}, ())
    if rounds is not None:
        yield Statement("", f"rounds = {len(rounds)}")
    for number, row in enumerate(rounds or ()):
        yield from _keys(row if isinstance(row, dict) else {"": row}, ("rounds", number))


def _table(pairs: list[tuple[str, Any]], twice: list[str]) -> dict[str, Any]:
    """Note a key that stands twice: one parser takes the first value, another the last."""
    twice += [written(key) for key, count in Counter(key for key, _ in pairs).items() if count > 1]
    return dict(pairs)


def _keys(table: dict[str, Any], within: tuple[str | int, ...]) -> Iterator[Statement]:
    for key, value in table.items():
        yield Statement("", f"{key_path((*within, key) if key else within)} = {_word(value)}")


def _word(value: object) -> str:
    if isinstance(value, str):
        return quoted(value)
    # 950.0 is a whole number to a person, and none to a controller.
    return repr(value) if isinstance(value, float) and math.isfinite(value) else written(value)


def _value(name: str, literal: str) -> int | None:
    choices = KINDS if name.endswith("_kind") else WORDS[name][1] if name in FLAGS else None
    if choices is None:
        return whole(literal)
    return next((number for number, choice in enumerate(choices) if _word(choice) == literal), None)


JSON = Form(
    sign=re.compile(r"\A\s*[\[{]"),
    write=_write,
    statements=_statements,
    named=re.compile(r"(?P<name>.+?) = (?P<value>.*)", re.DOTALL),
    shown=_shown,
    literal=lambda name, value: _word(_plain(name, value)),
    value=_value,
    quote='"',
    ordered=False,
)
