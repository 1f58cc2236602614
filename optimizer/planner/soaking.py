"""When a wash may soak with everything off, for how long, and whether that can pay."""

from __future__ import annotations

import math

from optimizer.planner.cost import unit_prices
from optimizer.planner.simulation import Simulator
from optimizer.programme.constants import KINDS, REST_BEFORE_DRAIN_S
from optimizer.programme.plan import Inputs
from optimizer.units import J_PER_KWH, S_PER_MIN

SOAK_LEAST_S = 60.0
"""Shortest soak that is worth its pauses [s]; *no source*."""


class Soaking:
    """Soaks of one job; where ``always``, they are tried whether they pay or not."""

    def __init__(self, inputs: Inputs, simulator: Simulator, *, always: bool) -> None:
        self._inputs, self._always = inputs, always
        self._targets = simulator.targets
        self._mechanics = simulator.corners.mechanics[simulator.corners.nominal]

    @property
    def longest_s(self) -> float:
        """Longest soak of a wash [s]."""
        return self._inputs.goal.limits.soak_min * S_PER_MIN

    def rest_most_s(self, kind: int) -> float:
        """Longest rest before a drain that no spray follows [s]: soiled ware rests as long as it may soak."""
        return max(self.longest_s, REST_BEFORE_DRAIN_S) if KINDS[kind] == "wash" else math.inf

    def may(self, kind: int) -> bool:
        """Whether a kind of round may soak, and some of the rate is left to a dose while it does."""
        return KINDS[kind] == "wash" and self.share > 0.0 and self.longest_s >= SOAK_LEAST_S

    def pays(self, kind: int) -> bool:
        """Whether a soak may pay besides: less than the spray, as short as its share, that does the same.

        Heat that such a spray loses beyond what the soak does has to be paid for as well.
        """
        if not self.may(kind):
            return False
        if self._always:
            return True
        machine, prices = self._inputs.machine, unit_prices(self._inputs)
        a_min = prices.waiting_per_min + prices.tie_per_min
        a_w = prices.per_kwh * S_PER_MIN / J_PER_KWH
        soak = a_min + a_w * machine.supply.controller_w
        return soak < self.share * (soak + a_w * machine.wash_pump.power_w.nominal) + a_w * self._kept_w

    @property
    def _kept_w(self) -> float:
        """Most that a spray loses in the share of a soak that does the same, beyond what the soak loses [W].

        ``max(s UA_spraying - UA_still, 0) (T_limit - T_room)``, each at its better end; 0 without an element.
        """
        machine = self._inputs.machine
        if machine.element is None:
            return 0.0
        tank = machine.tank
        more_w_per_k = self.share * tank.loss_spraying_w_per_k.high - tank.loss_still_w_per_k.low
        return max(more_w_per_k, 0.0) * (tank.limit_c - machine.room.air_c.low)

    @property
    def share(self) -> float:
        """Largest share of the spray's rate that is left to a dose while a wash soaks [1]."""
        targets = self._targets
        counts = targets.share[KINDS.index("wash")] > 0.0
        return float((targets.soak_share * counts).max() / self._mechanics)
