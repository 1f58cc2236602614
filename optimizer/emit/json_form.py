"""The constants as JSON, for a controller or a script that reads it; every number has its unit in its key."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from optimizer.emit.meanings import FLAGS, MEANT_FOR, TOP, parted
from optimizer.emit.one_form import Form, Statement, UnreadableError, whole
from optimizer.emit.opening import IN_RANGE, NO_RANGES, printable
from optimizer.emit.several import Programme, Several
from optimizer.emit.sheet import Sheet
from optimizer.errors import quoted
from optimizer.profile.messages import key_path, written
from optimizer.programme.constants import KINDS

WORDS: dict[str, tuple[str, tuple[object, ...]]] = {
    "bench_run": ("bench_run", (False, True)),
    "fill_by_level": ("fill_control", ("timed", "level")),
    "has_thermostat": ("control", ("timed", "thermostat")),
    "restart_after_cut": ("restart_after_cut", (False, True)),
    "fill_is_cold": ("fill_is_cold", (False, True)),
}
"""Flags that are words here: key, and what 0 and 1 are called."""
PROSE = ("cautions", MEANT_FOR, "titles")
OWN_TITLES = frozenset(("goal", "tariff"))
"""Profiles that each of several programmes has for itself."""


def _write(sheet: Sheet) -> str:
    content: dict[str, Any] = {
        "input_sha256": sheet.input_sha256,
        "cautions": _cautions(sheet.cautions),
        MEANT_FOR: sheet.meant_for,
        "titles": {kind: printable(title) for kind, title in sheet.titles.items()},
        "rounds": [{_key(n.name): _plain(n.name, n.value) for n in notes} for _, notes in sheet.rounds()],
    }
    content |= {
        _key(n.name): _plain(n.name, n.value) for n in (*sheet.top, *sheet.facts) if n.name != "rounds"
    }
    return _text(content)


def _write_several(several: Several) -> str:
    content: dict[str, Any] = {
        "cautions": _cautions(several.cautions),
        "titles": {kind: printable(title) for kind, title in several.titles.items()},
        "programmes": [_programme(one) for one in several.programmes],
    }
    notes = (*several.shared, *several.facts)
    return _text(content | {_key(n.name): _plain(n.name, n.value) for n in notes if n.name != "programmes"})


def _cautions(said: Iterable[str]) -> list[str]:
    return [NO_RANGES if one == IN_RANGE else one for one in said]


def _programme(one: Programme) -> dict[str, Any]:
    content: dict[str, Any] = {parted(name)[1]: text for name, text in one.texts.items()}
    content[MEANT_FOR] = one.sheet.meant_for
    content["titles"] = {
        kind: printable(one.sheet.titles[kind]) for kind in OWN_TITLES & one.sheet.titles.keys()
    }
    content["rounds"] = [{_key(n.name): _plain(n.name, n.value) for n in notes} for _, notes in one.rounds()]
    content |= {_key(n.name): _plain(n.name, n.value) for n in one.top if parted(n.name)[1] != "rounds"}
    return content


def _text(content: dict[str, Any]) -> str:
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _key(name: str) -> str:
    """Key of a number within its table."""
    name = parted(name)[1]
    return WORDS[name][0] if name in WORDS else re.sub(r"^round_\d+_", "", name)


def _plain(name: str, value: int) -> object:
    name = parted(name)[1]
    return KINDS[value] if name.endswith("_kind") else WORDS[name][1][value] if name in FLAGS else value


def _shown(name: str) -> str:
    """Key path of a number, from the top."""
    programme, inner = parted(name)
    within: tuple[str | int, ...] = ("programmes", programme - 1) if programme else ()
    if found := re.match(r"round_(\d+)_", inner):
        within = (*within, "rounds", int(found[1]) - 1)
    return key_path((*within, _key(inner)))


def holds_constants(text: str) -> bool:
    """Whether JSON is a file of constants, whatever is wrong with it: a plan holds these keys further in."""
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        return False
    if not isinstance(content, dict):
        return False
    return content.keys() >= {"rounds", "bath_max_dc"} or content.keys() >= {"programmes", "pump_ma"}


def _statements(text: str) -> Iterator[Statement]:
    """One statement a key, and one for the number of rounds; cautions and titles are only words."""
    twice: list[str] = []
    try:
        content = json.loads(text, object_pairs_hook=lambda pairs: _table(pairs, twice))
    except json.JSONDecodeError as error:
        what = error.msg.removesuffix(" starting at")
        raise UnreadableError((f"line {error.lineno}", f"is not JSON: {what}", "")) from error
    except RecursionError as error:
        raise UnreadableError(("", "is nested too deeply for constants", "")) from error
    except ValueError as error:  # a whole number longer than the interpreter converts
        raise UnreadableError(("", "holds a number with too many digits", "")) from error
    if twice:
        raise UnreadableError(*((key, "stands more than once in one table", "") for key in twice))
    if not isinstance(content, dict):
        raise UnreadableError(("", "must be a table", ""))
    if not content.keys() & {_key(name) for name in (*TOP, "programmes")}:  # another file may hold secrets
        raise UnreadableError(("", "holds none of the numbers of a programme", ""))
    programmes = content.pop("programmes", None)
    if programmes is not None and not isinstance(programmes, list):
        raise UnreadableError(("programmes", "must be a list of programmes", written(programmes)))
    yield from _with_rounds(content, ())
    if programmes is not None:
        yield Statement("", f"programmes = {len(programmes)}")
    for number, one in enumerate(programmes or ()):
        yield from _with_rounds(one if isinstance(one, dict) else {"": one}, ("programmes", number))


def _with_rounds(table: dict[str, Any], within: tuple[str | int, ...]) -> Iterator[Statement]:
    place = (*within, "rounds")
    rounds = table.get("rounds")
    if rounds is not None and not isinstance(rounds, list):
        raise UnreadableError((key_path(place), "must be a list of rounds", written(rounds)))
    own = {key: value for key, value in table.items() if key not in (*PROSE, "rounds")}
    yield from _keys(own, within)
    if rounds is not None:
        yield Statement("", f"{key_path(place)} = {len(rounds)}")
    for number, row in enumerate(rounds or ()):
        yield from _keys(row if isinstance(row, dict) else {"": row}, (*place, number))


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
    name = parted(name)[1]
    choices = KINDS if name.endswith("_kind") else WORDS[name][1] if name in FLAGS else None
    if choices is None:
        return whole(literal)
    return next((number for number, choice in enumerate(choices) if _word(choice) == literal), None)


JSON = Form(
    sign=re.compile(r"\A\s*[\[{]"),
    write=_write,
    write_several=_write_several,
    statements=_statements,
    named=re.compile(r"(?P<name>.+?) = (?P<value>.*)", re.DOTALL),
    shown=_shown,
    literal=lambda name, value: _word(_plain(name, value)),
    value=_value,
    quote='"',
    ordered=False,
)
