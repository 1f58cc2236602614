"""What a spray without water is worth: nothing. Doses, hygiene and rinses that count only where water comes.

The meters of a sound run know when the pump is on, not whether it draws water: a plan never lets it run dry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.faults.harm_meter import Tally
from optimizer.check.integrate import Stretch
from optimizer.check.meters import DoseMeter
from optimizer.check.residue import Rinsing
from optimizer.check.worst_cases import Array, Bools, Cases
from optimizer.profile.goal import Goal, Rinse
from optimizer.programme.constants import Constants

RINSED_SHARE = 0.5
"""A rinse counts where water is sprayed for this share of its spray or more [1]; *no source*, our choice."""

WORSE_TIMES = 2.0
"""What a programme leaves too much by itself is a fault's doing from this many times on [1]; our choice."""

SHORT_SHARE = 1e-3
"""A requirement of the wash that is missed by a smaller share counts as met [1]."""


class SprayMeter(DoseMeter):
    """Doses and hygiene; a second in which the wash pump runs dry counts for none.

    ``dry`` is what a meter that stands before this one counts of a wash pump that runs dry.
    """

    wet_s: Array
    """How long water is sprayed in each round, one row a round, one column a case [s]."""

    def __init__(self, goal: Goal, constants: Constants, cases: Cases, dry: Tally) -> None:
        super().__init__(goal, constants, cases)
        self._dry, self._dry_before_s = dry, dry.total_s.copy()
        self._wet_share = np.ones(cases.count)
        self.wet_s = np.zeros((len(constants.rounds), cases.count))

    def add(self, stretch: Stretch) -> None:
        """Count a stretch, by the share of its time for which the pump draws water."""
        lasted_s = stretch.samples.lasted_s
        if stretch.phase.outputs.wash_pump:
            dry_s = self._dry.total_s - self._dry_before_s
            part = np.divide(dry_s, lasted_s, out=np.zeros_like(dry_s), where=lasted_s > 0.0)
            self._wet_share = 1.0 - np.minimum(part, 1.0)
            if stretch.phase.name == "spray":
                self.wet_s[stretch.phase.round] += self._wet_share * lasted_s
        self._dry_before_s = self._dry.total_s.copy()
        doses_s = {name: value.copy() for name, value in self.doses_s.items()}
        hygiene_s = self.hygiene_s.copy()
        super().add(stretch)
        # What rests after a spray is as wet as that was.
        for name, before_s in doses_s.items():
            self.doses_s[name] = before_s + self._wet_share * (self.doses_s[name] - before_s)
        self.hygiene_s = hygiene_s + self._wet_share * (self.hygiene_s - hygiene_s)


@dataclass(frozen=True)
class Film:
    """What hangs on the ware as it comes out: the bath of the last round that was sprayed on it.

    Attributes
    ----------
    last : Mapping
        Cases by the last round in which water was sprayed [1], from 0; those without any are left out.
    rinsing : Rinsing
        The water of the rounds, as the machine delivered them.
    """

    last: Mapping[int, Bools]
    rinsing: Rinsing

    @classmethod
    def of(cls, constants: Constants, wet_s: Array, rinsing: Rinsing) -> Film:
        """Take what was sprayed; ``wet_s`` as in `SprayMeter`.

        A rinse that is sprayed for less than ``RINSED_SHARE`` of its time rinses nothing; any wash wets.
        """
        last = np.full(wet_s.shape[1], -1)
        for number, row in enumerate(constants.rounds):
            least_s = RINSED_SHARE * row.spray_s if not row.detergent_dg else 0.0
            last = np.where((wet_s[number] > 0.0) & (wet_s[number] >= least_s), number, last)
        return cls({int(number): last == number for number in np.unique(last[last >= 0])}, rinsing)

    def over(self, asked: Rinse) -> float:
        """Detergent on the ware over the most that the goal lets it, of the worst case [1]; 0 without any."""
        return float(self.each_over(asked).max())

    def each_over(self, asked: Rinse) -> Array:
        """The same of each case [1]."""
        found = np.zeros(self.rinsing.kept[0].shape)
        for number, cases in self.last.items():
            found[cases] = self._over(number, asked)[cases]
        return found

    def _over(self, last: int, asked: Rinse) -> Array:
        constants = self.rinsing.constants
        rounds = constants.rounds[: last + 1]
        if not any(row.detergent_dg for row in rounds):
            return np.zeros_like(self.rinsing.kept[0])
        until = replace(self.rinsing, constants=replace(constants, rounds=rounds))
        over = until.concentration / asked.residue_max
        if asked.film_mg_per_l is not None:
            over = np.maximum(over, until.film_mg_per_l / asked.film_mg_per_l)
        return np.asarray(over)


def leaves_more(over: float, sound_over: float) -> bool:
    """Whether a fault leaves too much detergent, by `Film.over` of its run and of the run without it."""
    return over > most_over(sound_over)


def most_over(sound_over: float) -> float:
    """Most detergent that is not a fault's doing, as `Film.over` has it."""
    by_itself = sound_over > 1.0 + SHORT_SHARE
    return WORSE_TIMES * sound_over if by_itself else 1.0 + SHORT_SHARE
