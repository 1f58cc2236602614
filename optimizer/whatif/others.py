"""Programmes that were not chosen, compared with the plan: other rounds, other levels, other heat."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from optimizer.check.certificate import Row
from optimizer.check.certify import LeftOut, check
from optimizer.lessons import BACKOFF_STEP, Reserve, kept_after
from optimizer.plan_and_prove import Proven
from optimizer.planner.alternatives import Alternative, Alternatives, Held, What
from optimizer.planner.convert_constants import constants_of, programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.solver import SolverName
from optimizer.planner.structure import ROUNDS_MOST
from optimizer.programme.constants import KINDS, Kind
from optimizer.whatif.upgrades import NOISE

ASKED_KINDS: tuple[Kind, ...] = ("prerinse", "wash", "rinse")
"""Kinds of which one may have one fewer or one more."""

TRIES = 3
"""Times that a programme which falls short of the check is trimmed and checked at the most [1]."""

NAMED_FROM = 0.01
"""Share of its limit by which a requirement must fall short to be named; the worst always is [1]."""


@dataclass(frozen=True)
class Shortfall:
    """A requirement that a programme falls short of.

    Attributes
    ----------
    row : Row
        What the check finds; it may pass where the planner, with its backoff, does not.
    share : float
        By how much it falls short, of the limit: the check's share, or the planner's where the check
        passes [1].
    """

    row: Row
    share: float


@dataclass(frozen=True)
class OtherProgramme:
    """A programme that was not chosen.

    Attributes
    ----------
    found : Alternative
        The programme; its cheapest numbers, or those with which least falls short.
    more : float
        What it costs a run more than the plan [currency]; 0 within the noise, negative where it is cheaper.
        Means nothing where it does not hold.
    short : tuple of Shortfall
        What it falls short of, the worst first; empty where it passes the check. One that the planner finds
        sound and the check does not is not proven.
    """

    found: Alternative
    more: float
    short: tuple[Shortfall, ...]


@dataclass(frozen=True)
class RoundsTried:
    """One round of a kind fewer or more.

    Attributes
    ----------
    kind : str
        The kind.
    now, then : int
        How many the plan has, and how many are asked about [1].
    other : OtherProgramme or None
        The best programme with so many; None where they are not allowed, or none could be tried.
    least, most : int
        How many the goal asks for at least, and how many are ever tried [1].
    """

    kind: Kind
    now: int
    then: int
    other: OtherProgramme | None
    least: int
    most: int


@dataclass(frozen=True)
class StepTried:
    """Level or heat of equal rounds a step lower or higher, all else trimmed anew.

    Attributes
    ----------
    rounds : tuple of int
        Indices of the rounds [1].
    what : str
        ``level`` or ``heat``.
    sign : int
        -1 for less, 1 for more [1].
    other : OtherProgramme
        The programme held to it.
    """

    rounds: tuple[int, ...]
    what: What
    sign: Literal[-1, 1]
    other: OtherProgramme


class OtherProgrammes:
    """The programmes beside a plan, each trimmed by the planner and run through the check."""

    def __init__(
        self, proven: Proven, solver: SolverName, rounds_most: Mapping[str, int] = ROUNDS_MOST
    ) -> None:
        self._plan = plan = proven.plan
        programme = programme_of(plan.constants, plan.inputs.machine)
        self._structure = programme.structure
        self._assessor = Assessor(plan.inputs, proven.kept, rounds_most=rounds_most)
        self._others = Alternatives(self._assessor, programme, solver)
        self._cost = self.chosen.cost

    @property
    def chosen(self) -> Alternative:
        """The plan's own programme, as the planner judges it."""
        return self._others.chosen

    @property
    def nominal(self) -> int:
        """Number of the nominal corner [1]."""
        return self._assessor.simulator.corners.nominal

    def rounds(self) -> Iterator[RoundsTried]:
        """Try one round fewer and one more of each kind."""
        for name in ASKED_KINDS:
            kind = KINDS.index(name)
            now, least = self.chosen.rounds(kind), self._others.least(kind)
            for then in (now - 1, now + 1):
                if then >= 0:
                    found = self._others.with_rounds(kind, then)
                    most = self._assessor.rounds_most[name]
                    yield RoundsTried(name, now, then, self._other(found), least, most)

    def moved(self, rounds: tuple[int, ...]) -> Iterator[StepTried]:
        """Try level and heat of a group of equal rounds a step lower and higher."""
        whats: tuple[What, ...] = ("level", "heat")
        signs: tuple[Literal[-1, 1], ...] = (-1, 1)
        for what in whats:
            for sign in signs:
                other = self._other(self._others.moved(Held(rounds, what, sign)))
                if other is not None:
                    yield StepTried(rounds, what, sign, other)

    def next_best(self) -> OtherProgramme | None:
        """Find the cheapest programme of other rounds."""
        return self._other(self._others.next_best())

    def equal_rounds(self) -> Iterator[tuple[int, ...]]:
        """Rounds in a row of one kind and heat mode."""
        alike = list(zip(self._structure.kinds, self._structure.modes, strict=True))
        for _, places in groupby(range(len(alike)), key=alike.__getitem__):
            yield tuple(places)

    def _other(self, found: Alternative | None) -> OtherProgramme | None:
        if found is None:
            return None
        found, rows = self._proven(found)
        cost = self._cost
        more = found.cost - cost
        return OtherProgramme(
            found, more if abs(more) > NOISE * abs(cost) else 0.0, tuple(_short(rows, found))
        )

    def _proven(self, found: Alternative) -> tuple[Alternative, Sequence[Row]]:
        """Check a programme; where it falls short, count with its worst points, and trim it again.

        That is how a plan comes to its reserve. What holds no longer with it stays as it was.
        """
        inputs, kept, again = self._plan.inputs, self._assessor.kept, found
        for number in range(TRIES):
            constants = constants_of(inputs, self._assessor.simulator, again.programme, again.runs)
            # Of one that falls short in the planner, a point that shows it is enough.
            leave_out: LeftOut = "closeness" if again.holds else "bounds"
            certificate = check(
                constants, inputs.machine, inputs.goal, inputs.circuit, draws=0, leave_out=leave_out
            )
            rows = certificate.rows
            if not again.holds or all(row.passed for row in rows) or number == TRIES - 1:
                break
            step = BACKOFF_STEP * 2.0**number
            kept = kept_after(inputs, constants, certificate, kept, Reserve(step, step))
            trimmed = self._others.again(again, kept)
            if trimmed is None:
                break
            again = trimmed
        return again, rows


def _short(rows: Iterable[Row], found: Alternative) -> list[Shortfall]:
    """What falls short by more than rounding to whole seconds does, the worst first; at least the worst."""
    short = [
        Shortfall(row, found.short[row.key] if row.passed else -row.margin_share)
        for row in rows
        if not row.passed or row.key in found.short
    ]
    short.sort(key=lambda one: one.share, reverse=True)
    return [one for number, one in enumerate(short) if number == 0 or one.share > NAMED_FROM]
