"""Validation errors of a profile, put into the trade's words: key path, rule, value found, fix."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from typing import Any, Literal, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from optimizer.errors import InputIssue, quoted
from optimizer.profile.did_you_mean import choice_meant
from optimizer.profile.measured import (
    MEASURED_EXAMPLE,
    MEASURED_FORMS,
    Measured,
    ProfileModel,
    Quantity,
    TextForm,
)

Loc = tuple[str | int, ...]
Model = type[ProfileModel]

BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
COMPARE = "compare with a shipped profile"
MOST_KEYS = 4
"""A table found with more keys than a measured number has is not shown [1]."""
LONGEST_FOUND = 60
"""A value found is shown up to this many characters [1]."""


def issues_of(error: ValidationError, model: Model, subject: str) -> list[InputIssue]:
    """Translate every error of a validation.

    Parameters
    ----------
    error : ValidationError
        What the model raised.
    model : type
        The model.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    list of InputIssue
        One an error; a key that is missing because it is misspelt is reported as misspelt only.
    """
    errors = error.errors(include_url=False)
    meant = {
        (*at["loc"][:-1], _near_key(model, at["loc"])) for at in errors if at["type"] == "extra_forbidden"
    }
    return [
        InputIssue(subject, key_path(at["loc"]), *_explain(at, model))
        for at in errors
        if at["type"] != "missing" or at["loc"] not in meant
    ]


def key_path(loc: Sequence[str | int]) -> str:
    """Write where a value stands, as a dotted key path; list positions are counted from 1.

    Parameters
    ----------
    loc : sequence of str or int
        Keys and list positions, positions counted from 0.

    Returns
    -------
    str
        The key path.

    Examples
    --------
    >>> key_path(("dose", 1, "z_k"))
    'dose[2].z_k'
    """
    path = ""
    for step in loc:
        if isinstance(step, int):
            path += f"[{step + 1}]"
        else:
            bare = step if BARE_KEY.fullmatch(step) else quoted(step)
            path += f".{bare}" if path else bare
    return path if len(path) <= 2 * LONGEST_FOUND else path[: 2 * LONGEST_FOUND] + "…"


def written(value: object) -> str:
    """Write a value as it stands in a profile, on one line and not too long.

    Parameters
    ----------
    value : object
        The value.

    Returns
    -------
    str
        The value; empty for None, and what it is where it is a table.
    """
    text = _written(value)
    return text if len(text) <= LONGEST_FOUND else text[: LONGEST_FOUND - 1] + "…"


def _written(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return str(value).lower()
        case int():
            # The interpreter refuses to write out whole numbers of thousands of digits.
            return str(value) if value.bit_length() < 10_000 else hex(value)
        case str():
            return quoted(value)
        case float():
            return str(value).removesuffix(".0")
        case Mapping() if value and (_measured(value) or (len(value) <= MOST_KEYS and _plain(value))):
            return "{ " + ", ".join(f"{key} = {_inner(item)}" for key, item in value.items()) + " }"
        case Mapping():
            return "a table"
        case list():
            return "[" + ", ".join(map(_inner, value[:8])) + (", …]" if len(value) > 8 else "]")
        case _:
            return str(value)


def _measured(table: Mapping[Any, object]) -> bool:
    return set(table) <= {*Measured.model_fields, "tolerance_pct"}


def _plain(table: Mapping[Any, object]) -> bool:
    """Whether all keys are bare, and no value is a table or a list."""
    return all(BARE_KEY.fullmatch(str(key)) for key in table) and not any(
        isinstance(inner, Mapping | list) for inner in table.values()
    )


def _inner(value: object) -> str:
    """Write a value inside another; what is nested deeper is left out."""
    return "…" if isinstance(value, Mapping | list) else _written(value)


def _explain(error: ErrorDetails, model: Model) -> tuple[str, str, str]:
    """Rule, value found and fix of one error."""
    loc, found, given = error["loc"], written(error["input"]), error.get("ctx", {})
    field = _field_at(model, loc)
    note = _note(field) or _note(_field_at(model, loc[:-1]))
    example = f"for example {note.example}" if note else COMPARE
    match error["type"]:
        case "profile":
            fix = given["fix"]
            if fix == MEASURED_EXAMPLE.format(10.0) and isinstance(note, Quantity):
                fix = MEASURED_EXAMPLE.format(note.typical)
            return given["rule"], found, fix
        case "missing":
            return "is missing", "", _to_add(field, loc)
        case "extra_forbidden":
            return "is not a key of this table", found, _known_key(model, loc)
        case "literal_error":
            choices = _choices(field)
            near = choice_meant(str(error["input"]), choices)
            # In a long list the one that was meant is easily overlooked, and the first is a guess at random.
            fix = f'"{near}"' if near else f"one of {', '.join(choices)}"
            return f"must be {_either(choices)}", found, f'"{choices[0]}"' if len(choices) == 1 else fix
        case "finite_number":
            return f"must be a finite number{_ends(note)}", found, example
        case "float_type":
            return f"must be a number{_ends(note)}", found, example
        case "int_type":
            return f"must be a whole number{_ends(note)}", found, example
        case "string_type":
            return "must be text in quotes", found, example
        case "date_type":
            return "must be a date", found, "2026-02-14, without quotes"
        case "bool_type":
            return "must be true or false", found, "true, or false, without quotes"
        case "too_short":
            return "must hold one reading at least", found, "leave the table out where nothing was measured"
        case "dict_type":
            return "must be a table", found, COMPARE
        case "list_type":
            return "must be a list", found, _to_add(field, loc)
        case "model_type":
            return "must be a table", found, _to_add(field, loc)
        case _:
            return error["msg"], found, COMPARE


def _ends(note: Quantity | TextForm | None) -> str:
    """Say between which ends a number is believable; nothing where no range is known."""
    if not isinstance(note, Quantity):
        return ""
    unit = "" if note.unit == "1" else f" {note.unit}"
    return f" between {note.least:g} and {note.most:g}{unit}"


def _to_add(field: FieldInfo | None, loc: Loc) -> str:
    """Say what to add where a key or a table is missing or has another shape."""
    key, note, table = str(loc[-1]), _note(field), _table_of(field)
    if note:
        return f"{key} = {note.example}"
    if field is None:
        return f"a table with {key} in it"
    if table is Measured or key in Measured.model_fields:
        return f"write {MEASURED_FORMS}"
    if table:
        required = [name for name, inner in table.model_fields.items() if inner.is_required()]
        brackets = "[[{}]]" if _is_list(field) else "[{}]"
        steps = [step for step in loc if isinstance(step, str)]
        return f"add {brackets.format('.'.join(steps))} with {', '.join(required)}"
    if choices := _choices(field):
        return f'{key} = ["{choices[0]}"]' if _is_list(field) else f"{key} = {_either(choices)}"
    return f"{key} = true, or {key} = false" if field.annotation is bool else f'{key} = "…"'


def _known_key(model: Model, loc: Loc) -> str:
    """Say which key was meant, or in which table the key stands, or which keys there are."""
    if near := _near_key(model, loc):
        return f"did you mean {near}?"
    homes = sorted(f"[{path}]" for path, table in _tables(model) if str(loc[-1]) in table.model_fields)
    if homes:
        return f"it belongs into {' or '.join(homes)}"
    parent = _model_at(model, loc[:-1]) or model
    if parent is Measured:
        return f"leave it out; write {MEASURED_FORMS}"
    return f"leave it out; the keys here are {', '.join(parent.model_fields)}"


def unit_of(model: Model, loc: Loc) -> str:
    """Name the unit of a number of a profile.

    Parameters
    ----------
    model : type
        The model of the profile.
    loc : tuple of str or int
        Keys and list positions down to the number.

    Returns
    -------
    str
        Its unit; empty for a pure number, and for what is no number.
    """
    quantity = quantity_of(model, loc)
    return quantity.unit if quantity is not None and quantity.unit != "1" else ""


def quantity_of(model: Model, loc: Loc) -> Quantity | None:
    """Find the unit of a number of a profile, and the range in which it is believable.

    Parameters
    ----------
    model : type
        The model of the profile.
    loc : tuple of str or int
        Keys and list positions down to the number.

    Returns
    -------
    Quantity or None
        Both; None where no such number is there.
    """
    note = _note(_field_at(model, loc))
    return note if isinstance(note, Quantity) else None


def takes_ends(model: Model, loc: Loc) -> bool:
    """Say whether a number of a profile is written with a low and a high end.

    Parameters
    ----------
    model : type
        The model of the profile.
    loc : tuple of str or int
        Keys and list positions down to the number.

    Returns
    -------
    bool
        Whether it takes them.
    """
    return _table_of(_field_at(model, loc)) is Measured


def _near_key(model: Model, loc: Loc) -> str:
    parent = _model_at(model, loc[:-1]) or model
    return next(iter(get_close_matches(str(loc[-1]), parent.model_fields, 1, cutoff=0.7)), "")


def _tables(model: Model, path: str = "") -> Iterator[tuple[str, Model]]:
    for name, field in model.model_fields.items():
        table = _table_of(field)
        if table and table is not Measured:
            inner = f"{path}.{name}" if path else name
            yield inner, table
            yield from _tables(table, inner)


def _model_at(model: Model, loc: Loc) -> Model | None:
    table: Model | None = model
    for step in loc:
        if isinstance(step, str):
            field = table.model_fields.get(step) if table else None
            table = _table_of(field)
    return table


def _field_at(model: Model, loc: Loc) -> FieldInfo | None:
    keys = [step for step in loc if isinstance(step, str)]
    table = _model_at(model, tuple(keys[:-1]))
    return table.model_fields.get(keys[-1]) if table and keys else None


def _parts(annotation: Any) -> Iterator[Any]:
    """Walk an annotation: itself, then what it is made of."""
    yield annotation
    if get_origin(annotation) is not Literal:
        for part in get_args(annotation):
            yield from _parts(part)


def _table_of(field: FieldInfo | None) -> Model | None:
    parts = _parts(field.annotation) if field else iter(())
    return next((part for part in parts if isinstance(part, type) and issubclass(part, ProfileModel)), None)


def _note(field: FieldInfo | None) -> Quantity | TextForm | None:
    parts = [*field.metadata, *_parts(field.annotation)] if field else []
    return next((part for part in parts if isinstance(part, Quantity | TextForm)), None)


def _choices(field: FieldInfo | None) -> list[str]:
    parts = _parts(field.annotation) if field else iter(())
    return next((list(get_args(part)) for part in parts if get_origin(part) is Literal), [])


def _is_list(field: FieldInfo) -> bool:
    return any(get_origin(part) is list for part in _parts(field.annotation))


def _either(choices: Sequence[str]) -> str:
    return " or ".join(f'"{choice}"' for choice in choices)
