"""What the last drain leaves: a ratio of concentrations, detergent by the litre, and a share of the soil.

A drain leaves liquor as strong as the bath was, and the next fill thins it. So the concentration in the last
film over that in the last wash is the product, over the rinses, of what came with a round over its whole
bath. Of the soil that was in the last wash there stays less: that wash's own drain takes most of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.check.worst_cases import WEIGHED_KG_PER_L, Array
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants

G_PER_L_IN_MG = 1000.0
TENTHS_PER_G = 10.0


@dataclass(frozen=True)
class Rinsing:
    """The water of the rounds, each list with one entry a round and one value a case in it.

    Attributes
    ----------
    came, kept : list of ndarray
        What came with a round, and what its drain left, over its bath as the drain begins [1].
    full_kg : list of ndarray
        That bath [kg].
    """

    constants: Constants
    came: list[Array]
    kept: list[Array]
    full_kg: list[Array]

    @classmethod
    def of(cls, constants: Constants, full_kg: list[Array], left_kg: list[Array]) -> Rinsing:
        """Take what a simulation weighed; what a machine held before the first round is not looked at."""
        before_kg = [np.zeros_like(left_kg[0]), *left_kg[:-1]] if left_kg else []
        came = [_over(left, full) for left, full in zip(before_kg, full_kg, strict=True)]
        kept = [_over(left, full) for left, full in zip(left_kg, full_kg, strict=True)]
        return cls(constants, came, kept, full_kg)

    @property
    def _last_wash(self) -> int:
        """The round that has to be rinsed off: the last wash or, without one, prerinse; or with detergent."""
        rows = enumerate(self.constants.rounds)
        return max(
            (n for n, row in rows if row.kind not in ("rinse", "steam") or row.detergent_dg), default=0
        )

    @property
    def _end(self) -> int:
        """Rounds that are looked at [1]: a pool of steam rinses nothing."""
        return sum(row.kind != "steam" for row in self.constants.rounds)

    @property
    def concentration(self) -> Array:
        """Concentration in the last film over that in the last wash [1]."""
        rinses = slice(self._last_wash + 1, self._end)
        return np.asarray(np.prod([np.ones_like(self.kept[0]), *self.came[rinses]], axis=0))

    @property
    def soil(self) -> Array:
        """Share of the soil in the last wash that is still in the machine [1]."""
        counted = slice(self._last_wash, self._end)
        return np.asarray(np.prod([np.ones_like(self.kept[0]), *self.kept[counted]], axis=0))

    @property
    def film_mg_per_l(self) -> Array:
        """Detergent in the last film, of all rounds that it went into [mg/l]."""
        g_per_l = np.zeros_like(self.kept[0])
        for row, came, full_kg in zip(
            self.constants.rounds[: self._end], self.came, self.full_kg, strict=False
        ):
            dosed_g = row.detergent_dg / TENTHS_PER_G
            g_per_l = g_per_l * came + _over(np.full_like(full_kg, dosed_g * WEIGHED_KG_PER_L), full_kg)
        return g_per_l * G_PER_L_IN_MG

    def told(self, goal: Goal) -> dict[str, tuple[str, str, float | None, Array]]:
        """By key: words, unit, the goal's limit or None, and the values; the three are not the same."""
        rinse = goal.rinse
        return {
            "rinse.residue": (
                "concentration in the last film over that in the last wash",
                "1",
                rinse.residue_max,
                self.concentration,
            ),
            "rinse.soil": (
                "share of the last wash's soil that stays, sump and film together",
                "1",
                rinse.soil_max,
                self.soil,
            ),
            "rinse.film_mg_per_l": (
                "detergent in the last film",
                "mg/l",
                rinse.film_mg_per_l,
                self.film_mg_per_l,
            ),
        }


def _over(part: Array, whole: Array) -> Array:
    """A part over the whole; 1 where there is none."""
    return np.asarray(np.divide(part, whole, out=np.ones_like(part), where=whole > 0.0))
