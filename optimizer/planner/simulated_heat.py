"""Phases of a simulated round that heat or clean: the element, steam, sprays, a soak and a rest.

Only doses are summed over a grid, each cell of it in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.two_nodes import TwoNodesRun
from optimizer.physics.water import steam_j_per_l
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.simulated_bath import Bath
from optimizer.planner.targets import UNDISSOLVED, DoseTargets
from optimizer.profile.machine import Element
from optimizer.programme.constants import KINDS

GRID = np.linspace(0.0, 1.0, 15) ** 2
"""Nodes of the dose sum, as shares of a phase: dense at its start, where the ware lags behind."""
CELLS = np.diff(GRID)
"""What is between them."""

BOIL_SAFETY_FACTOR = 1.1
"""Boiling time that the pool must last for, as a multiple of the time it is to boil [1]."""


@dataclass(frozen=True)
class Spray:
    """A spray at constant heat: how long [s], heat into the bath [W], and how long it sprayed before [s]."""

    time_s: Array
    power_w: Array
    before_s: Array


class HeatPhases:
    """Heat and doses of one machine in its corners; every phase moves the bath on."""

    def __init__(
        self,
        element: Element | None,
        corners: Corners,
        targets: DoseTargets,
        *,
        boils_c: float,
        dissolving_s: float,
    ) -> None:
        self._element, self._corners, self._targets = element, corners, targets
        self._boils_c, self._dissolving_s = boils_c, dissolving_s
        self._under_spray = targets.under_spray(corners.mechanics)

    def heat(self, bath: Bath, element_s: Array, off_at_c: Array) -> Array:
        """Element alone; returns how long it was on [s]."""
        run = bath.course(self._corners.element_w, spraying=False)
        on_s = run.reached_s(off_at_c, np.broadcast_to(element_s, bath.bath_c.shape))
        bath.bath_c, bath.ware_c = run.at(on_s)
        return on_s

    def steam(self, bath: Bath, element_s: Array) -> Array:
        """Boil the pool: its steam heats the ware; returns what it may lose, splashes included [l].

        ``C_ware ΔT = share · (P − UA (T_boil − T_room)) · t``, the film in C_ware.
        """
        corners, element = self._corners, self._element
        assert element is not None
        run = bath.course(corners.element_w, spraying=False)
        up_s = run.reached_s(np.array(self._boils_c), np.broadcast_to(element_s, bath.bath_c.shape))
        bath.bath_c, ware_c = run.at(up_s)
        boil_s = element_s - up_s
        net_w = np.maximum(
            corners.element_w - corners.loss_still_w_per_k * (self._boils_c - corners.room_c), 0.0
        )
        rise_k = corners.steam_share * net_w * boil_s / (corners.ware_j_per_k + bath.film_j_per_k)
        bath.ware_c = np.minimum(ware_c + rise_k, self._boils_c)
        # An upper bound: all of the power makes steam, and no condensate runs back.
        boiled_l = boil_s * corners.element_w / steam_j_per_l(self._boils_c)
        return np.asarray(element.splash_l + BOIL_SAFETY_FACTOR * boiled_l)

    def heat_spraying(
        self, bath: Bath, element_s: Array, off_at_c: Array, kind: int
    ) -> tuple[Array, Array, Array]:
        """Element from the start of the spray, then held; gives on-time [s], dose [s], hottest bath [°C].

        While held for a time t the element gives
        ``(UA (T_held − T_room) − P_pump) t + C_ware ΔT_ware + C_bath ΔT_bath``.
        """
        power_w = self._corners.element_w + self._corners.pump_heat_w
        run = bath.course(power_w, spraying=True)
        up_s = run.reached_s(off_at_c, np.broadcast_to(element_s, bath.bath_c.shape))
        dose_s = self.spray(bath, Spray(up_s, power_w, np.zeros_like(up_s)), kind)
        top_c = bath.bath_c
        hold_s = element_s - up_s
        if not (hold_s > 0.0).any():
            return up_s, dose_s, top_c
        # The bath is held half a hysteresis under the switching point, the mean of its saw-tooth.
        held_c = np.where(hold_s > 0.0, off_at_c - 0.5 * self._corners.hysteresis_k, bath.bath_c)
        pull = self._corners.exchange_spraying_w_per_k / self._corners.ware_j_per_k
        at_s = GRID[:, None, None] * hold_s
        ware_c = held_c + (bath.ware_c - held_c) * np.exp(-pull * at_s)
        held_j = (
            self._corners.loss_spraying_w_per_k * (held_c - self._corners.room_c) - self._corners.pump_heat_w
        ) * hold_s
        held_j = held_j + self._corners.ware_j_per_k * (ware_c[-1] - bath.ware_c)
        held_j = held_j + bath.j_per_k * (held_c - bath.bath_c)
        # It may end at the bottom of the saw-tooth.
        bath.bath_c = np.where(hold_s > 0.0, off_at_c - self._corners.hysteresis_k, bath.bath_c)
        bath.ware_c = ware_c[-1]
        on_s = up_s + np.clip(held_j / self._corners.element_w, 0.0, hold_s)
        cells_s = CELLS[:, None, None] * hold_s
        held_s = self._targets.sum_cells(ware_c, cells_s, kind)
        if KINDS[kind] == "wash" and bool((up_s < self._dissolving_s).any()):
            undissolved_s = np.clip(self._dissolving_s - up_s - at_s[:-1], 0.0, cells_s)
            held_s = held_s - self._targets.sum_cells(ware_c, undissolved_s, kind)
            held_s = held_s + self._targets.sum_cells(ware_c, undissolved_s, UNDISSOLVED)
        return on_s, dose_s + held_s * self._under_spray, top_c

    def spray(self, bath: Bath, spray: Spray, kind: int) -> Array:
        """Spray at constant heat, at first perhaps with undissolved detergent; gives the dose [s]."""
        dissolved = bool((spray.before_s >= self._dissolving_s).all())
        if KINDS[kind] != "wash" or dissolved:
            return self.spray_as(bath, spray.time_s, spray.power_w, kind)
        undissolved_s = np.clip(self._dissolving_s - spray.before_s, 0.0, spray.time_s)
        dose_s = self.spray_as(bath, undissolved_s, spray.power_w, UNDISSOLVED)
        return dose_s + self.spray_as(bath, spray.time_s - undissolved_s, spray.power_w, kind)

    def spray_as(self, bath: Bath, time_s: Array, power_w: Array, kind: int) -> Array:
        """Wash pump on at constant heat; moves the bath on and returns the dose [s]."""
        run = bath.course(power_w, spraying=True)
        end_s = np.broadcast_to(time_s, bath.bath_c.shape)
        if not self._targets.counts(kind):
            bath.bath_c, bath.ware_c = run.at(end_s)
            return np.zeros((*bath.bath_c.shape, len(self._targets.keys)))
        return self._dose_s(bath, run, end_s, kind) * self._under_spray

    def soak(self, bath: Bath, time_s: Array, kind: int) -> Array:
        """Everything off, the ware wet; moves the bath on and returns the dose [s]."""
        end_s = np.broadcast_to(time_s, bath.bath_c.shape)
        run = bath.course(0.0, spraying=False)
        return self._dose_s(bath, run, end_s, kind) * self._targets.soak_share

    def _dose_s(self, bath: Bath, run: TwoNodesRun, end_s: Array, kind: int) -> Array:
        """Doses of a course [s]; moves the bath on to its end."""
        ware_c = run.ware_at(GRID[:, None, None] * end_s)
        bath.bath_c, bath.ware_c = run.at(end_s)
        return self._targets.sum_cells(ware_c, CELLS[:, None, None] * end_s, kind)

    def rest(self, bath: Bath, rest_s: Array, counts_s: Array, kind: int) -> Array:
        """Rest; what the ware soaks meanwhile, and in a drain after it, is returned as a dose [s]."""
        run = bath.course(0.0, spraying=False)
        bath.bath_c, bath.ware_c = run.at(np.broadcast_to(rest_s, bath.bath_c.shape))
        return np.asarray(
            self._targets.rate(bath.ware_c, kind) * counts_s[..., None] * self._targets.soak_share
        )
