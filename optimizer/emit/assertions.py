"""Relations between constants: each can be written in C, and tells whether it holds for given values.

Both sides are sums, so that nothing is subtracted from an unsigned number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from operator import eq, ge, le
from typing import Literal

from optimizer.emit.meanings import TOP_OF_SEVERAL, of_round
from optimizer.programme.constants import UINT16_MAX

Operator = Literal["<=", ">=", "=="]
HOLDS: dict[Operator, Callable[[int, int], bool]] = {"<=": le, ">=": ge, "==": eq}
Values = Mapping[str, int]
WIDE = "more than 16 bits hold"
PHASES = ("fill_s", "heat_s", "spray_s", "soak_s", "rest_s", "top_up_s", "mix_s", "drain_s")


@dataclass(frozen=True)
class Term:
    """One constant of a sum, counted `times` times; a bare number, `times`, where the name is empty.

    A `phase` is the length of a phase, to which its pause is added unless it is 0; a soak has two pauses.
    """

    name: str
    times: int = 1
    phase: bool = False

    @property
    def pauses(self) -> int:
        """Pauses that go with it."""
        return self.phase * (2 if self.name.endswith("_soak_s") else 1)

    @cached_property
    def names(self) -> frozenset[str]:
        """Constants that it depends on."""
        return frozenset({self.name, *(("gap_s",) if self.phase else ())} - {""})

    def value(self, values: Values) -> int:
        """Its value [unit of the name]."""
        if not self.name:
            return self.times
        value = values[self.name]
        if self.phase and value:
            value += values["gap_s"] * self.pauses
        return self.times * value

    def in_c(self, *, long: bool) -> str:
        """Write it in C, as an unsigned long where a sum may pass 16 bits (`long`)."""
        if not self.name:
            return f"{self.times}{'UL' if long or self.times > UINT16_MAX else 'U'}"
        if self.phase:
            return f"WASH_{'SOAK' if self.pauses > 1 else 'PHASE'}_S({in_c(self.name)})"
        return f"{self.times}UL * {in_c(self.name)}" if long or self.times != 1 else in_c(self.name)


@dataclass(frozen=True)
class RoundLength:
    """The phases of a round at their longest, each with its pause."""

    number: int

    @cached_property
    def phases(self) -> tuple[Term, ...]:
        """Its phases."""
        return tuple(Term(of_round(self.number, phase), phase=True) for phase in PHASES)

    @cached_property
    def names(self) -> frozenset[str]:
        """Constants that it depends on."""
        return frozenset[str]().union(*(phase.names for phase in self.phases))

    def value(self, values: Values) -> int:
        """Sum of its phases [s]."""
        return sum(phase.value(values) for phase in self.phases)

    def in_c(self, *, long: bool) -> str:
        """Write it in C: a macro that is an unsigned long, whatever is asked for."""
        return f"WASH_ROUND_LENGTH_S({self.number})"


Side = tuple[Term | RoundLength, ...]


@dataclass(frozen=True)
class Relation:
    """What must hold between two sums of constants, and what is wrong where it does not."""

    left: Side
    operator: Operator
    right: Side
    message: str

    @cached_property
    def names(self) -> frozenset[str]:
        """Constants that it is about."""
        return frozenset[str]().union(*(term.names for term in (*self.left, *self.right)))

    def holds(self, values: Values) -> bool:
        """Whether it holds."""
        left, right = (sum(term.value(values) for term in side) for side in (self.left, self.right))
        return HOLDS[self.operator](left, right)

    def in_c(self) -> str:
        """Write it as an assertion."""
        # Where int has 16 bits, comparing an unsigned with 65535 would always be true, and be warned of.
        long = any(term.names == set() and term.value({}) >= UINT16_MAX for term in (*self.left, *self.right))
        left, right = (_sum_in_c(side, long) for side in (self.left, self.right))
        return f'WASH_ASSERT({left} {self.operator} {right}, "{self.message}");'


@dataclass(frozen=True)
class OneOf:
    """A constant that must equal one of several others, and what is wrong where it does not."""

    name: str
    others: tuple[str, ...]
    message: str

    @cached_property
    def names(self) -> frozenset[str]:
        """Constants that it is about."""
        return frozenset({self.name, *self.others})

    def holds(self, values: Values) -> bool:
        """Whether it holds."""
        return values[self.name] in [values[other] for other in self.others]

    def in_c(self) -> str:
        """Write it as an assertion."""
        any_of = " || ".join(f"{in_c(self.name)} == {in_c(other)}" for other in self.others)
        return f'WASH_ASSERT({any_of}, "{self.message}");'


Limit = Relation | OneOf


def _sum_in_c(terms: Side, long: bool) -> str:
    return " + ".join(term.in_c(long=long or len(terms) > 1) for term in terms)


def in_c(name: str) -> str:
    """Name a constant in C and in the other languages that take its name over.

    Examples
    --------
    >>> in_c("round_2_fill_s")
    'WASH_ROUND_2_FILL_S'
    """
    return f"WASH_{name.upper()}"


_ROUND_LENGTH = " + ".join(
    f"WASH_{'SOAK' if phase == 'soak_s' else 'PHASE'}_S(WASH_ROUND_##n##_{phase.upper()})" for phase in PHASES
)
ASSERT_MACROS = f"""\
/* Stops the compiler where a number was edited past a limit; a compiler without static assertions says that
   an array has a negative size, on the line that names the number */
#if defined(__cplusplus) && __cplusplus >= 201103L
#define WASH_ASSERT(holds, message) static_assert(holds, message)
#elif !defined(__cplusplus) && defined(__STDC_VERSION__) && __STDC_VERSION__ >= 201112L
#define WASH_ASSERT(holds, message) _Static_assert(holds, message)
#else
#define WASH_ASSERT(holds, message) typedef char WASH_JOIN(wash_assert_on_line_, __LINE__)[(holds) ? 1 : -1]
#endif
#define WASH_JOIN(left, right) WASH_JOIN_NOW(left, right)
#define WASH_JOIN_NOW(left, right) left##right

/* A phase at its longest with its pause, a soak with two, nothing where it is left out; all of round n */
#define WASH_PHASE_S(seconds) ((seconds) > 0U ? 1UL * (seconds) + {in_c("gap_s")} : 0UL)
#define WASH_SOAK_S(seconds) ((seconds) > 0U ? 1UL * (seconds) + 2UL * {in_c("gap_s")} : 0UL)
#define WASH_ROUND_LENGTH_S(n) ({_ROUND_LENGTH})"""
"""What an assertion in C is written with, also for a compiler that has none of its own."""

_FACT = "|".join(map(in_c, TOP_OF_SEVERAL))
_OWN = re.compile(
    rf"\bWASH_(?!ASSERT\b|PHASE_S\b|SOAK_S\b|ROUND_LENGTH_S\b|(?:{_FACT.replace('WASH_', '')})\b)"
)
_MACRO = re.compile(r"\b(WASH_(?:PHASE_S|SOAK_S|ROUND_LENGTH_S))\(")


def in_programme(assertion: str, number: int) -> str:
    """Let an assertion in C be about one programme of several.

    Examples
    --------
    >>> in_programme('WASH_ASSERT(WASH_GAP_S >= WASH_PUMP_MA, "WASH_GAP_S: short");', 2)
    'WASH_ASSERT(WASH_P2_GAP_S >= WASH_PUMP_MA, "WASH_P2_GAP_S: short");'
    """
    return _MACRO.sub(rf"\1(P{number}, ", _OWN.sub(f"WASH_P{number}_", assertion))


SEVERAL_ASSERT_MACROS = (
    ASSERT_MACROS.replace("all of round n", "all of round n; p is P1 and so on")
    .replace("WASH_PHASE_S(seconds)", "WASH_PHASE_S(p, seconds)")
    .replace("WASH_SOAK_S(seconds)", "WASH_SOAK_S(p, seconds)")
    .replace(in_c("gap_s"), "WASH_##p##_GAP_S")
    .replace("WASH_ROUND_LENGTH_S(n)", "WASH_ROUND_LENGTH_S(p, n)")
    .replace("_S(WASH_ROUND_##n##_", "_S(p, WASH_##p##_ROUND_##n##_")
)
"""The same where each programme has its own pause and rounds."""


def number(value: int) -> tuple[Term, ...]:
    """Make a side of a relation from a bare number."""
    return (Term("", value),)


def at_most(name: str, most: int, why: str) -> Relation:
    """Bound a constant from above."""
    return Relation((Term(name),), "<=", number(most), f"{in_c(name)}: {why}")


def at_least(name: str, least: int, why: str) -> list[Relation]:
    """Bound a constant from below; no bound is needed at 0, which no unsigned number is under."""
    return [Relation((Term(name),), ">=", number(least), f"{in_c(name)}: {why}")] if least > 0 else []


def exactly(name: str, value: int, why: str) -> Relation:
    """Allow a constant one value only."""
    return Relation((Term(name),), "==", number(value), f"{in_c(name)}: {why}")


def span(name: str, values: Values, relations: Iterable[Limit], most: int) -> tuple[int, int]:
    """Find the least and the greatest value of one constant, up to `most`, while all others stay.

    All relations hold at the present values. What holds at both ends holds between them, because every side
    grows with each of its constants.
    """
    about = [_of_one(name, values, relation) for relation in relations if name in relation.names]

    changed = dict(values)

    def holds(value: int) -> bool:
        changed[name] = value
        return all(one(changed) for one in about)

    return _last(holds, values[name], 0), _last(holds, values[name], most)


def _of_one(name: str, values: Values, relation: Limit) -> Callable[[Values], bool]:
    """Whether a relation holds while one constant alone changes; what the others give is summed once."""
    if not isinstance(relation, Relation):
        return relation.holds
    sides = []
    for side in (relation.left, relation.right):
        terms = [
            phase for term in side for phase in (term.phases if isinstance(term, RoundLength) else (term,))
        ]
        stays = sum(term.value(values) for term in terms if name not in term.names)
        sides.append((stays, [term for term in terms if name in term.names]))
    (left, lefts), (right, rights) = sides
    compares = HOLDS[relation.operator]

    def holds(changed: Values) -> bool:
        return compares(
            left + sum(term.value(changed) for term in lefts),
            right + sum(term.value(changed) for term in rights),
        )

    return holds


def _last(holds: Callable[[int], bool], good: int, end: int) -> int:
    """Bisect between a value that holds and the end to the last that holds."""
    if holds(end):
        return end
    bad = end
    while abs(bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good
