"""Profiles as nested dicts, changed by dotted paths."""

from __future__ import annotations

from typing import Any


def changed(base: Any, changes: dict[str, Any]) -> Any:
    """Copy nested dicts and lists with some values replaced, given by dotted paths; None takes a key out."""
    copy = _copied(base)
    for path, value in changes.items():
        *folders, last = path.split(".")
        place = copy
        for folder in folders:
            place = place[int(folder) if isinstance(place, list) else folder]
        if value is None:
            place.pop(last)
        elif isinstance(place, list):
            place[int(last)] = value
        else:
            place[last] = value
    return copy


def _copied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copied(part) for key, part in value.items()}
    return [_copied(part) for part in value] if isinstance(value, list) else value
