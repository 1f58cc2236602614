"""The profile as a file: every number with a comment that says how it came about."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from typing import Any

from optimizer.measure.bench_tests import settled_by
from optimizer.measure.measured_profile import Part, ProfileParts, count_readings
from optimizer.profile.machine import Machine
from optimizer.profile.messages import quantity_of
from optimizer.units import short

WIDTH = 78
HEAD = """\
# Written by scullion measure from the bench book "{title}".
# The comment above each number says how it came about.
#
# Caution: mains voltage, a hot element and scalding water. Have the wiring done
# or checked by a licensed electrician; local codes come first.
"""


def profile_text(parts: ProfileParts, title: str, like: str) -> str:
    """Write a profile as TOML; the same parts give the same bytes."""
    plain = [part for part in parts.values() if "." not in part.key]
    lines = [HEAD.format(title=title), *(_assignment(part.key, part.value) for part in plain)]
    table = ""
    for key, part in parts.items():
        if "." not in key:
            continue
        name, last = key.split(".", 1)
        if name != table:
            lines += ["", f"[{name}]"]
            table = name
        lines += [_comment(_origin(part, like)), _assignment(last, part.value)]
    return "\n".join(lines) + "\n"


def _origin(part: Part, like: str) -> str:
    """How a value came about, in a sentence or two."""
    found = part.estimate
    if found is None:
        if part.source == "stated":
            return "stated in the bench book" + (f"; {part.note}" if part.note else "")
        test = settled_by(part.key)
        how = f'; the test "{test.name}" settles it' if test else ""
        return f"not measured: from {like}{how}" + (f"; {part.note}" if part.note else "")
    readings = count_readings(found.readings)
    where = found.test or "thermal logs"
    ends = f"{short(found.nominal)} ({short(found.low)} to {short(found.high)})"
    # "one reading" is a method as well.
    how = found.method if found.readings == 1 else f"{readings}, {found.method}"
    sentences = [f"{where}, {how}: {ends}{_unit(part.key)}", part.note, *found.remarks]
    return "; ".join(filter(None, sentences))


def _unit(key: str) -> str:
    quantity = quantity_of(Machine, tuple(key.split(".")))
    return "" if quantity is None or quantity.unit == "1" else f" {quantity.unit}"


def _comment(text: str) -> str:
    glued = text.replace("± ", "±\0")
    lines = textwrap.wrap(glued, WIDTH, break_long_words=False, break_on_hyphens=False)
    return "\n".join(f"# {line}" for line in lines).replace("\0", " ")


def _assignment(key: str, value: Any) -> str:
    if isinstance(value, Mapping):
        inner = ", ".join(f"{name} = {_literal(one)}" for name, one in value.items())
        return f"{key} = {{ {inner} }}"
    return f"{key} = {_literal(value)}"


def _literal(value: Any) -> str:
    """A value as TOML has it: JSON's form of a text is one of TOML's."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value).removesuffix(".0")
    return json.dumps(value, ensure_ascii=False)
