"""Relations between constants: one object says it in C and can tell whether it holds.

Both sides are sums, so that nothing is subtracted from an unsigned number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from optimizer.emit.numbers import of_round
from optimizer.programme.constants import UINT16_MAX

Sense = Literal["<=", ">=", "=="]
Values = Mapping[str, int]
WIDE = "more than 16 bits hold"
PHASES = ("fill_s", "heat_s", "spray_s", "rest_s", "drain_s")


@dataclass(frozen=True)
class Term:
    """A number of a sum.

    Attributes
    ----------
    name : str
        Name of a constant; empty for a bare number.
    times : int
        How many times it counts, or the bare number itself [1].
    phase : bool
        Whether it is the length of a phase that brings its pause along: nothing where it is 0.
    """

    name: str
    times: int = 1
    phase: bool = False

    @property
    def names(self) -> frozenset[str]:
        """Constants in it; the pause where a phase brings it along."""
        return frozenset({self.name, *(("gap_s",) if self.phase else ())} - {""})

    def value(self, values: Values) -> int:
        """Work the term out.

        Parameters
        ----------
        values : mapping of str to int
            Value by name of constant [unit of the name].

        Returns
        -------
        int
            Its value [unit of the name].
        """
        if not self.name:
            return self.times
        value = values[self.name]
        return self.times * (value + values["gap_s"] * self.phase if value else 0)

    def in_c(self, *, long: bool) -> str:
        """Write the term in C.

        Parameters
        ----------
        long : bool
            Whether it must be an unsigned long, so that a sum cannot run over where int has 16 bits.

        Returns
        -------
        str
            An expression of unsigned type.
        """
        if not self.name:
            return f"{self.times}{'UL' if long or self.times > UINT16_MAX else 'U'}"
        if self.phase:
            return f"WASH_PHASE_S({in_c(self.name)})"
        return f"{self.times}UL * {in_c(self.name)}" if long or self.times != 1 else in_c(self.name)


@dataclass(frozen=True)
class RoundLength:
    """The phases of a round at their longest, each with its pause.

    Attributes
    ----------
    number : int
        Which round [1], from 1.
    """

    number: int

    @property
    def phases(self) -> tuple[Term, ...]:
        """Its phases."""
        return tuple(Term(of_round(self.number, phase), phase=True) for phase in PHASES)

    @property
    def names(self) -> frozenset[str]:
        """Constants in it."""
        return frozenset[str]().union(*(phase.names for phase in self.phases))

    def value(self, values: Values) -> int:
        """Work the sum out.

        Parameters
        ----------
        values : mapping of str to int
            Value by name of constant [unit of the name].

        Returns
        -------
        int
            Its value [s].
        """
        return sum(phase.value(values) for phase in self.phases)

    def in_c(self, *, long: bool) -> str:
        """Write it in C.

        Parameters
        ----------
        long : bool
            Whether it must be an unsigned long, which it is.

        Returns
        -------
        str
            A call of a macro.
        """
        return f"WASH_ROUND_LENGTH_S({self.number})"


Side = tuple[Term | RoundLength, ...]


@dataclass(frozen=True)
class Relation:
    """What must hold between constants.

    Attributes
    ----------
    left : tuple of Term or RoundLength
        Sum on the left.
    sense : str
        ``<=``, ``>=`` or ``==``.
    right : tuple of Term or RoundLength
        Sum on the right.
    message : str
        What is wrong where it does not hold; names the constants.
    """

    left: Side
    sense: Sense
    right: Side
    message: str

    @cached_property
    def names(self) -> frozenset[str]:
        """Constants that it is about; the pause where phases bring it along."""
        return frozenset[str]().union(*(term.names for term in (*self.left, *self.right)))

    def holds(self, values: Values) -> bool:
        """Tell whether it holds.

        Parameters
        ----------
        values : mapping of str to int
            Value by name of constant [unit of the name].

        Returns
        -------
        bool
            Whether it does.
        """
        left, right = (sum(term.value(values) for term in side) for side in (self.left, self.right))
        return left <= right if self.sense == "<=" else left >= right if self.sense == ">=" else left == right

    def in_c(self) -> str:
        """Write it as an assertion.

        Returns
        -------
        str
            A line of C.
        """
        # Where int has 16 bits, comparing an unsigned with 65535 would always be true, and be warned of.
        long = any(term.names == set() and term.value({}) >= UINT16_MAX for term in (*self.left, *self.right))
        left, right = (_sum_in_c(side, long) for side in (self.left, self.right))
        return f'WASH_ASSERT({left} {self.sense} {right}, "{self.message}");'


def _sum_in_c(terms: Side, long: bool) -> str:
    return " + ".join(term.in_c(long=long or len(terms) > 1) for term in terms)


def in_c(name: str) -> str:
    """Name a constant in C and in the other languages that take its name over.

    Parameters
    ----------
    name : str
        Name in the list of numbers.

    Returns
    -------
    str
        Name of the macro.

    Examples
    --------
    >>> in_c("round_2_fill_s")
    'WASH_ROUND_2_FILL_S'
    """
    return f"WASH_{name.upper()}"


def number(value: int) -> tuple[Term, ...]:
    """Make a side of a relation from a bare number.

    Parameters
    ----------
    value : int
        The number [any].

    Returns
    -------
    tuple of Term
        The side.
    """
    return (Term("", value),)


def at_most(name: str, most: int, why: str) -> Relation:
    """Bound a constant from above.

    Parameters
    ----------
    name : str
        Its name.
    most : int
        The bound [unit of the name].
    why : str
        What goes wrong beyond it.

    Returns
    -------
    Relation
        The relation.
    """
    return Relation((Term(name),), "<=", number(most), f"{in_c(name)}: {why}")


def at_least(name: str, least: int, why: str) -> list[Relation]:
    """Bound a constant from below; no bound is needed at 0, which no unsigned number is under.

    Parameters
    ----------
    name : str
        Its name.
    least : int
        The bound [unit of the name].
    why : str
        What goes wrong beyond it.

    Returns
    -------
    list of Relation
        The relation, or none.
    """
    return [Relation((Term(name),), ">=", number(least), f"{in_c(name)}: {why}")] if least > 0 else []


def exactly(name: str, value: int, why: str) -> Relation:
    """Nail a constant down.

    Parameters
    ----------
    name : str
        Its name.
    value : int
        Its only value [unit of the name].
    why : str
        Why it has no other.

    Returns
    -------
    Relation
        The relation.
    """
    return Relation((Term(name),), "==", number(value), f"{in_c(name)}: {why}")


def span(name: str, values: Values, relations: Iterable[Relation], most: int) -> tuple[int, int]:
    """Find how far one constant may be moved while all others stay.

    Parameters
    ----------
    name : str
        The constant.
    values : mapping of str to int
        Value by name of constant [unit of the name]; all relations hold.
    relations : iterable of Relation
        The relations.
    most : int
        Largest value to look at [unit of the name].

    Returns
    -------
    tuple of int
        Least and greatest value [unit of the name]. What holds at both holds between them: every side
        grows with each of its constants.
    """
    about = [relation for relation in relations if name in relation.names]

    def holds(value: int) -> bool:
        changed = {**values, name: value}
        return all(relation.holds(changed) for relation in about)

    return _last(holds, values[name], 0), _last(holds, values[name], most)


def _last(holds: Callable[[int], bool], good: int, end: int) -> int:
    """Bisect between a good value and the end to the last good one."""
    if holds(end):
        return end
    bad = end
    while abs(bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good
