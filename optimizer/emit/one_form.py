"""What a form declares: how it is written, and how names and values stand in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from optimizer.emit.meanings import FLAGS, parted
from optimizer.emit.several import Several
from optimizer.emit.shared_limits import UINT32_MAX
from optimizer.emit.sheet import Sheet
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Plan

WHOLE = re.compile(r"0|[1-9][0-9]{0,9}", re.ASCII)
"""A whole number as all languages read it: no sign, no zero in front, none that wraps in 64 bits."""


@dataclass(frozen=True)
class Statement:
    """A line, a row or a key of a file without its comments, blanks made one; and where it stands."""

    place: str
    words: str


class UnreadableError(Exception):
    """A text is not in its form at all: where, which rule is broken, and what was found, once or more."""

    def __init__(self, *issues: tuple[str, str, str]) -> None:
        self.issues = issues
        super().__init__(*issues)


Ranges = Mapping[str, tuple[int, int]]
"""By name as it is shown: least and most that a file prints beside a number [unit of the name]."""

_DIGITS = "[0-9]{1,10}"
BESIDE = re.compile(
    rf"\b(?P<name>WASH_\w+)\b.*; "
    rf"(?:{_DIGITS}, allowed (?P<low>{_DIGITS}) to (?P<high>{_DIGITS})|(?P<only>{_DIGITS}) and nothing else)"
    r"(?=[; ]|$)",
    re.ASCII,
)


def no_ranges(_: str) -> Ranges:
    """Find no ranges, in a form that prints none."""
    return {}


def ranges_beside(text: str) -> Ranges:
    """Find the ranges in the comments of a text, each on the line of its number.

    Examples
    --------
    >>> ranges_beside("#define WASH_GAP_S 2U /* [s] pause; 2, allowed 1 to 9 */")
    {'WASH_GAP_S': (1, 9)}
    """
    found = {}
    for match in filter(None, map(BESIDE.search, text.splitlines())):
        low, high = match["low"] or match["only"], match["high"] or match["only"]
        found[match["name"]] = int(low), int(high)
    return found


@dataclass(frozen=True)
class Form:
    """One way to write constants, and all that a reader of it has to know.

    `sign` tells the form by its text. `write_several` writes several programmes. `statements` strips the
    comments and gives what is left, one statement a line, row or key; it raises `UnreadableError`. `named`
    finds `name` and `value` in a statement. `shown` writes a name, `literal` a value by name, and `value`
    reads it, None where it is none. `quote` stands around the hash. `ordered`: statements mean something else
    in another order. `printed` finds the range that a text prints beside a number.
    """

    sign: re.Pattern[str]
    write: Callable[[Sheet], str]
    write_several: Callable[[Several], str]
    statements: Callable[[str], Iterator[Statement]]
    named: re.Pattern[str]
    shown: Callable[[str], str]
    literal: Callable[[str, int], str]
    value: Callable[[str, str], int | None]
    quote: str
    ordered: bool = True
    printed: Callable[[str], Ranges] = no_ranges

    def text(self, plan: Plan) -> str:
        """Write the constants of a proven plan, or of a bench run that was checked."""
        return self.write(Sheet.of_plan(plan))


def whole(text: str) -> int | None:
    """Read plain digits; None for anything else."""
    return int(text) if WHOLE.fullmatch(text) else None


def most_of(name: str) -> int:
    """Greatest value that a number of this name can have at all."""
    return 1 if parted(name)[1] in FLAGS else len(KINDS) - 1 if name.endswith("_kind") else UINT32_MAX
