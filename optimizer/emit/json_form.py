"""The constants as JSON, for a controller or a script that reads it."""

from __future__ import annotations

import json
import math
from collections import Counter
from dataclasses import asdict
from typing import Any

from optimizer.emit.numbers import CONSTANTS_FORMAT, OF_ROUND, TOP, WATCHDOGS, of_round
from optimizer.emit.opening import cautions
from optimizer.emit.reading import Reader
from optimizer.profile.messages import key_path, written
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Plan

WORDS: dict[str, tuple[str, tuple[object, ...]]] = {
    "bench_run": ("bench_run", (False, True)),
    "fill_by_level": ("fill_control", ("timed", "level")),
    "has_thermostat": ("control", ("timed", "thermostat")),
}
"""Flags that are words here: key, and what 0 and 1 are called."""
TEXTS = ("cautions", "titles")
PLAIN = tuple(name for name in TOP if name not in (*WORDS, "rounds"))


def to_json(plan: Plan) -> str:
    """Write the constants of a plan as JSON.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    str
        JSON with sorted keys; every number is an integer with its unit in its key.
    """
    inputs, constants = plan.inputs, plan.constants
    titles = {p.kind: p.title for p in (inputs.machine, inputs.goal, inputs.circuit, inputs.tariff)}
    content = {"format": CONSTANTS_FORMAT, "cautions": cautions(plan), "titles": titles, **asdict(constants)}
    content |= {name: getattr(constants, name) for name in WATCHDOGS}
    content["rounds"] = [{**asdict(row), "element_max_s": row.element_max_s} for row in constants.rounds]
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def read_json(text: str, subject: str) -> Reader:
    """Read constants from JSON.

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
    reader = Reader(subject, _shown)
    try:
        content = json.loads(text, object_pairs_hook=lambda pairs: _once(reader, pairs))
    except json.JSONDecodeError as error:
        reader.issue(f"line {error.lineno}", f"is not JSON: {error.msg}")
    except RecursionError:
        reader.issue("", "is nested too deeply for constants")
    except ValueError:  # a whole number longer than the interpreter converts
        reader.issue("", "holds a number with too many digits")
    else:
        _take_top(reader, content)
    return reader


def _shown(name: str) -> str:
    """Write a name of the list as the key path that it has here."""
    if name in WORDS:
        return WORDS[name][0]
    _, *round_name = name.split("_", 2)
    return key_path(("rounds", int(round_name[0]) - 1, round_name[1])) if name.startswith("round_") else name


def _once(reader: Reader, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a table of which no key stands twice: one parser takes the first, another the last."""
    for key, count in Counter(key for key, _ in pairs).items():
        if count > 1:
            reader.issue(written(key), "stands more than once in one table")
    return dict(pairs)


def _take_top(reader: Reader, content: Any) -> None:
    if not isinstance(content, dict):
        reader.issue("", "must be a table", written(content))
        return
    for name in PLAIN:
        _take(reader, name, content, name)
    for name, (key, words) in WORDS.items():
        _take_word(reader, name, content, key, words)
    if "input_sha256" in content:
        found = content["input_sha256"]
        reader.take_sha256(found if isinstance(found, str) else "", "")
    rounds = content.get("rounds")
    if not isinstance(rounds, list):
        reader.issue("rounds", "must be a list of rounds", written(rounds))
        return
    reader.take("rounds", len(rounds), "")
    for number, row in enumerate(rounds, start=1):
        _take_round(reader, number, row)
    known = {*PLAIN, *(key for key, _ in WORDS.values()), "input_sha256", "rounds", *TEXTS}
    _refuse_others(reader, content, known, ())


def _take_round(reader: Reader, number: int, row: Any) -> None:
    if not isinstance(row, dict):
        reader.issue(key_path(("rounds", number - 1)), "must be a table", written(row))
        return
    _take_word(reader, of_round(number, "kind"), row, "kind", KINDS)
    for name in OF_ROUND[1:]:
        _take(reader, of_round(number, name), row, name)
    _refuse_others(reader, row, set(OF_ROUND), ("rounds", number - 1))


def _take(reader: Reader, name: str, table: dict[str, Any], key: str) -> None:
    if key not in table:
        return
    value = table[key]
    if isinstance(value, int) and not isinstance(value, bool):
        reader.take(name, value, "")
    else:
        # 950.0 is one to a person, and no controller's number.
        found = written(value)
        if isinstance(value, float):
            found = repr(value) if math.isfinite(value) else "no number"
        reader.refuse(name, "", "must be a whole number", found)


def _take_word(reader: Reader, name: str, table: dict[str, Any], key: str, words: tuple[object, ...]) -> None:
    if key not in table:
        return
    for index, word in enumerate(words):
        if type(table[key]) is type(word) and table[key] == word:
            reader.take(name, index, "")
            return
    wanted = " or ".join(written(word) for word in words)
    reader.refuse(name, "", f"must be {wanted}", written(table[key]))


def _refuse_others(
    reader: Reader, table: dict[str, Any], known: set[str], within: tuple[str | int, ...]
) -> None:
    for key in table:
        if key not in known:
            reader.issue(key_path((*within, key)), "is not a key of this table", written(table[key]))
