"""What a batch of boxes is asked for, and how much of a run that takes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from optimizer.check.bound_doses import DOSE
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants, first_rinse, first_wash


@dataclass(frozen=True)
class Asked:
    """What is bounded now, and what else that is known by then; ``by_reading`` if by what sensors read."""

    now: Collection[str]
    also: Collection[str] = ()
    by_reading: bool = False

    def without(self, prefix: str) -> Asked:
        """The same by the names without a prefix."""
        now, also = (
            tuple(dict.fromkeys(key.removeprefix(prefix) for key in keys)) for keys in (self.now, self.also)
        )
        return Asked(now, also, self.by_reading)


@dataclass(frozen=True)
class Part:
    """What is run: up to which round, which doses are counted, and whether ``more`` than these is asked."""

    last: int
    doses: frozenset[str]
    more: bool = True


def known_after(constants: Constants, goal: Goal, key: str) -> int:
    """Number of the round after which a value does not change; how many rounds there are for most."""
    rows, never = constants.rounds, len(constants.rounds)
    if key.startswith(DOSE):
        kinds = next(dose.kinds for dose in goal.dose if DOSE + dose.name == key)
        return max((number for number, row in enumerate(rows) if row.kind in kinds), default=never)
    if key in ("first_rinse.bath_c", "first_wash.bath_c"):
        number = first_rinse(constants) if key.startswith("first_rinse") else first_wash(constants)
        return never if number is None else number
    return never
