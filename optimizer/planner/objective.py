"""What is made least: cost, one quantity under a cap on another, or the shortfall of a requirement."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from optimizer.physics import Array
from optimizer.planner.cost import USUAL_KWH, USUAL_L, Bill, UnitPrices
from optimizer.programme.plan import Costs

Axis = Literal["cost", "minutes", "energy", "water"]
AMOUNT_NAMES: dict[Axis, str] = {
    "cost": "money",
    "minutes": "duration_min",
    "energy": "electricity_kwh",
    "water": "water_l",
}
"""What a candidate's bill, a plan's costs and a model's sums call each quantity. A cost is the bill alone,
without the value of waiting."""
AXES = tuple(AMOUNT_NAMES)

USUAL_MIN, SECOND_SHARE = 60.0, 0.001
"""A usual run [min], and what the second quantity counts beside the first, so that of equal programmes the
one that takes less of it wins [1]."""

CAP = "epsilon.cap"
"""Key of the margin to the cap."""


@dataclass(frozen=True)
class EpsilonConstraint:
    """Make one quantity least while another stays under a cap.

    Attributes
    ----------
    least, capped : str
        The two quantities, of `AXES`; a cost here is the bill alone, without the value of waiting.
    most : float
        The cap; inf for none [in unit] of its quantity.
    """

    least: Axis
    capped: Axis
    most: float = math.inf

    def weights(self, prices: UnitPrices) -> dict[Axis, float]:
        """Weights with which the two quantities are added up, per unit of each."""
        usual_run = abs(prices.per_kwh) * USUAL_KWH + prices.per_l * USUAL_L
        usual: dict[Axis, float] = {"cost": usual_run or 1.0, "minutes": USUAL_MIN, "energy": USUAL_KWH}
        usual["water"] = USUAL_L
        return {self.least: 1.0 / usual[self.least], self.capped: SECOND_SHARE / usual[self.capped]}

    def objective(self, bill: Bill, prices: UnitPrices) -> Array:
        """What is made least, in usual runs; one number a candidate [1]."""
        weights = self.weights(prices).items()
        return np.asarray(sum(weight * quantity(bill, axis) for axis, weight in weights))

    def margin(self, bill: Bill) -> Array:
        """Distance to the cap as a share of it, candidates × 1; 0 or more where it is kept [1]."""
        # A cost may be negative or 0 where electricity is paid for taking it.
        size = max(abs(self.most), 1e-6)
        return np.asarray((self.most - quantity(bill, self.capped)) / size)[:, None]


def quantity(totals: Bill | Costs, axis: Axis) -> Any:
    """Pick one quantity [currency, min, kWh or l]: an array of a bill, a number of a plan's costs."""
    return getattr(totals, AMOUNT_NAMES[axis])


@dataclass(frozen=True)
class Objective:
    """What a model is asked for.

    Attributes
    ----------
    aim : str
        ``cost``, or the key of the requirement to bring as far as it goes.
    drop : frozenset of str
        Requirements left out.
    slack : float
        Share by which every requirement may fall short, where lines and steps are not exact to the last per
        cent and trimming decides [1].
    """

    aim: str = "cost"
    drop: frozenset[str] = frozenset()
    slack: float = 0.0


LEAST_COST = Objective()
"""The least cost, with every requirement kept."""
