"""What every form lays out: the numbers with unit, range and meaning, and the words around them.

A form declares how it is written, how its comments are stripped and how a name and its value stand in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from optimizer.emit.assertions import Limit
from optimizer.emit.bench_run import bench_limits
from optimizer.emit.limits import limits
from optimizer.emit.meanings import (
    FACTS,
    FLAGS,
    MEANING,
    MEANING_OF_FACT,
    MEANING_OF_ROUND,
    OF_ROUND,
    TOP,
    names,
    of_round,
    unit_of,
)
from optimizer.emit.opening import cautions_of, opening
from optimizer.emit.shared_limits import UINT32_MAX, ConstantLimits, is_watchdog
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.constants import KINDS, Round
from optimizer.programme.plan import Plan

WHOLE = re.compile(r"0|[1-9][0-9]{0,9}", re.ASCII)
"""A whole number as all languages read it: no sign, no zero in front, none that wraps in 64 bits."""


@dataclass(frozen=True)
class Note:
    """A number, how far it may be edited while the others stay, what it does and which limit it stands on."""

    name: str
    value: int
    low: int
    high: int
    meaning: str
    aside: str = ""

    @property
    def unit(self) -> str:
        """Unit of the number."""
        return unit_of(self.name)

    @property
    def follows(self) -> bool:
        """Whether it follows from other numbers and is changed with them only."""
        return is_watchdog(self.name)

    @property
    def comment(self) -> str:
        """Unit, meaning, value and range in one line."""
        unit = "" if self.unit == "1" else f"[{self.unit}] "
        if self.follows:
            return f"{unit}{self.meaning}; {self.value}, follows from the phases"
        only = f"{self.value} and nothing else"
        allowed = only if self.low == self.high else f"{self.value}, allowed {self.low} to {self.high}"
        return "; ".join(filter(None, (f"{unit}{self.meaning}", allowed, self.aside)))


@dataclass(frozen=True)
class Sheet:
    """All that a form writes; of numbers that were read, only the numbers."""

    notes: Mapping[str, Note]
    input_sha256: str
    opening: tuple[str, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    assertions: tuple[Limit, ...] = ()

    @classmethod
    def of_plan(cls, plan: Plan) -> Sheet:
        """Lay out the constants of a proven plan, or of a bench run that was checked."""
        found = bench_limits(plan) if plan.constants.bench_run else limits(plan)
        wanted = [*names(len(plan.constants.rounds)), *FACTS]
        return cls(
            notes={name: _note(name, plan, found) for name in wanted},
            input_sha256=plan.constants.input_sha256,
            opening=tuple(opening(plan)),
            titles={kind: getattr(plan.inputs, kind).title for kind in PROFILE_KINDS},
            cautions=cautions_of(plan),
            assertions=found.relations,
        )

    @classmethod
    def of_numbers(cls, values: Mapping[str, int], input_sha256: str) -> Sheet:
        """Lay out numbers that were read, without a word around them."""
        return cls(
            {name: Note(name, value, value, value, "") for name, value in values.items()}, input_sha256
        )

    @property
    def bench_run(self) -> bool:
        """Whether these are the numbers of a bench run."""
        return bool(self.notes["bench_run"].value)

    @property
    def top(self) -> list[Note]:
        """Numbers of the programme as a whole."""
        return [self.notes[name] for name in TOP]

    @property
    def facts(self) -> list[Note]:
        """Numbers of machine and circuit."""
        return [self.notes[name] for name in FACTS]

    def rounds(self) -> Iterator[tuple[str, list[Note]]]:
        """Give each round's heading and its numbers."""
        count = self.notes["rounds"].value
        for number in range(1, count + 1):
            notes = [self.notes[of_round(number, name)] for name in OF_ROUND]
            yield f"Round {number} of {count}: {KINDS[notes[0].value]}", notes


def _note(name: str, plan: Plan, found: ConstantLimits) -> Note:
    value, (low, high) = found.values[name], found.range_of(name)
    if not name.startswith("round_"):
        return Note(name, value, low, high, MEANING_OF_FACT.get(name) or MEANING[name])
    _, place, inner = name.split("_", 2)
    row = plan.constants.rounds[int(place) - 1]
    kind = f", {row.kind}" if inner == "kind" else ""
    aside = "" if plan.constants.bench_run else _aside(name, inner, row, plan, found)
    return Note(name, value, low, high, MEANING_OF_ROUND[inner] + kind, aside)


def _aside(name: str, inner: str, row: Round, plan: Plan, found: ConstantLimits) -> str:
    """Which limit stands behind a number of a round of a programme."""
    machine, constants = plan.inputs.machine, plan.constants
    if inner == "fill_s":
        holds = f"the tank holds {machine.tank.capacity_l:g} l"
        if constants.fill_control == "level":
            return f"at most, {holds}"
        low, high = found.widest_range_of(name)
        return f"{low} to {high} with drain and element in proportion, {holds}"
    if inner in ("heat_s", "spray_element_s", "setpoint_dc") and getattr(row, inner):
        at_most = "at most, " if constants.control == "thermostat" and inner != "setpoint_dc" else ""
        return f"{at_most}ceiling {_ceiling(row, plan)}"
    return ""


def _ceiling(row: Round, plan: Plan) -> str:
    tank_c, prerinse_c = plan.inputs.machine.tank.limit_c, plan.inputs.goal.prerinse.limit_c
    if row.kind == "prerinse" and prerinse_c < tank_c:
        return f"{prerinse_c:g} C (prerinse)"
    return f"{tank_c:g} C (tank)"


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

    `sign` tells the form by its text. `statements` strips the comments and gives what is left, one statement
    a line, row or key; it raises `UnreadableError`. `named` finds `name` and `value` in a statement. `shown`
    writes a name, `literal` a value by name, and `value` reads it, None where it is none. `quote` stands
    around the hash. `facts`: the numbers of machine and circuit are in it too. `ordered`: statements mean
    something else in another order. `printed` finds the range that a text prints beside a number.
    """

    sign: re.Pattern[str]
    write: Callable[[Sheet], str]
    statements: Callable[[str], Iterator[Statement]]
    named: re.Pattern[str]
    shown: Callable[[str], str]
    literal: Callable[[str, int], str]
    value: Callable[[str, str], int | None]
    quote: str
    facts: bool = False
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
    return 1 if name in FLAGS else len(KINDS) - 1 if name.endswith("_kind") else UINT32_MAX
