"""What every row of the table needs to know: the corners, the range of the carry, the pieces of a spray."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.requirements import Assessor
from optimizer.units import S_PER_MIN

Array = NDArray[np.float64]

SEGMENTS_S = (180.0, 300.0, 600.0, 1200.0, 2400.0)
"""Lengths of the pieces a spray is made of; one more fills the rest of the longest duration [s]."""

HOURS_S = 14_400.0
"""Longest spray to choose from where the duration is left out [s]."""


@dataclass(frozen=True)
class Frame:
    """The frame of a table.

    Attributes
    ----------
    assessor : Assessor
        Machine, goal and circuit with their corners.
    safe : bool
        Lines on the safe side; False: on the other, to find structures the safe lines miss by a hair.
    timed : bool
        Whether the longest duration is held; False: sprays and heatings of hours, whatever it says.
    """

    assessor: Assessor
    safe: bool = True
    timed: bool = True

    @property
    def thermostat(self) -> bool:
        """Whether the element is thermostat-controlled."""
        return self.assessor.thermostat

    @property
    def above(self) -> bool:
        """On which side lines lie where too much is safe."""
        return self.safe

    @property
    def below(self) -> bool:
        """On which side lines lie where too little is safe."""
        return not self.safe

    @property
    def cold(self) -> int:
        """Cold corner with the weakest heat and the most to heat [1]."""
        cases = self.assessor.simulator.cases
        weak = np.flatnonzero(cases.cold & (cases.element_w == cases.element_w.min()))
        return int(weak[-1])

    @property
    def hot(self) -> int:
        """Hot corner with the least to heat [1]."""
        return int(np.flatnonzero(self.assessor.simulator.cases.hot)[0])

    @property
    def second(self) -> int:
        """Corner of the second carry: nominal for a thermostat, hot for a timed element [1]."""
        return self.assessor.simulator.cases.nominal if self.thermostat else self.hot

    @property
    def segments_s(self) -> Array:
        """Lengths of the spray segments [s]."""
        longest_s = self.assessor.inputs.goal.limits.duration_min * S_PER_MIN
        if not self.timed:
            longest_s = max(longest_s, HOURS_S)
        return np.array([*SEGMENTS_S, max(longest_s - sum(SEGMENTS_S), 60.0)])

    @property
    def carry_c(self) -> tuple[float, float]:
        """Range of carried temperatures [°C]."""
        cases = self.assessor.simulator.cases
        low_c = min(float(cases.inlet_c.min()), float(cases.room_c.min()))
        return low_c, self.assessor.bath_limit_c
