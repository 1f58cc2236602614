"""What a batch of boxes is asked for, and how much of a run that takes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from optimizer.check.bound_doses import DOSE, HYGIENE_KEY
from optimizer.check.phases import phases
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants, first_rinse, first_wash

LEVELS, STEPS, RINSING = ("cover.", "overflow.", "steam."), ("ware.",), ("rinse.",)
"""What the keys of requirements begin with that take the most to read [1]."""

SOON_READ = DOSE, HYGIENE_KEY, "first_rinse."
"""And those that most batches are asked for, and no more: they are read by themselves [1]."""


@dataclass(frozen=True)
class Asked:
    """What is bounded now, and what else that is known by then; ``by_reading`` if by what sensors read.

    ``finely`` if a held bath is looked at in more parts: it costs twice as much.
    """

    now: Collection[str]
    also: Collection[str] = ()
    by_reading: bool = False
    finely: bool = False

    def without(self, prefix: str) -> Asked:
        """The same by the names without a prefix."""
        now, also = (
            tuple(dict.fromkeys(key.removeprefix(prefix) for key in keys)) for keys in (self.now, self.also)
        )
        return Asked(now, also, self.by_reading, self.finely)


@dataclass(frozen=True)
class Part:
    """What is read: the keys of requirements, in how many phases they are known, and whether finely."""

    keys: frozenset[str]
    phases: int
    finely: bool = False

    @property
    def more(self) -> bool:
        """Whether it is more than what is read by itself."""
        return not all(key.startswith(SOON_READ) for key in self.keys)

    def has(self, beginnings: tuple[str, ...]) -> bool:
        """Whether a requirement is among them whose key begins in one of these ways."""
        return any(key.startswith(beginnings) for key in self.keys)


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


def phases_until(constants: Constants, goal: Goal, keys: Collection[str]) -> int:
    """In how many phases from the start on every one of these values is known."""
    sequence, last = phases(constants), 0
    for key in keys:
        number = known_after(constants, goal, key)
        ends = [
            place
            for place, phase in enumerate(sequence, start=1)
            if phase.round == number and (phase.sprayed if key.startswith(DOSE) else phase.name == "spray")
        ]
        if not ends:
            return len(sequence)
        # The bath of the first wash is that before its spray.
        last = max(last, ends[0] if key.startswith("first_wash") else ends[-1])
    return last
