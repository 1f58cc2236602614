"""One round in one corner as a single lump: bath, tank and ware at one temperature while the pump runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.thermal import drained_c, heating_time_s, mixed_c, temperature_after_c
from optimizer.planner.corners import WATER_J_PER_KG_K, Cases
from optimizer.planner.options import Line

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LumpedRound:
    """A corner with a level.

    Attributes
    ----------
    element_w, pump_heat_w : float
        Heat of the element and of the wash pump [W].
    inlet_c, room_c : float
        Inlet water and room temperature [°C].
    water_j_per_k, kept_j_per_k, ware_j_per_k : float
        Heat capacity of the water let in, of tank and carry-over, of the ware [J/K].
    drain_w_per_k : float
        Mass flow of the drain times specific heat [W/K].
    loss_still_w_per_k, loss_spraying_w_per_k : float
        Heat losses [W/K].
    filled_l : float
        Water let in [l].
    """

    element_w: float
    pump_heat_w: float
    inlet_c: float
    room_c: float
    water_j_per_k: float
    kept_j_per_k: float
    ware_j_per_k: float
    drain_w_per_k: float
    loss_still_w_per_k: float
    loss_spraying_w_per_k: float
    filled_l: float

    @classmethod
    def of(cls, cases: Cases, index: int, fill_s: float) -> LumpedRound:
        """Take one corner.

        Parameters
        ----------
        cases : Cases
            All corners.
        index : int
            Which one [1].
        fill_s : float
            Inlet open; not used with a level switch [s].

        Returns
        -------
        LumpedRound
            The corner with its level.
        """
        level_l = cases.level_l[index]
        flow = cases.inlet_l_per_s[index]
        filled_l = fill_s * flow if np.isnan(level_l) else level_l - cases.sump_l[index]
        kg_per_l = cases.inlet_kg_per_s[index] / flow
        return cls(
            element_w=float(cases.element_w[index]),
            pump_heat_w=float(cases.pump_heat_w[index]),
            inlet_c=float(cases.inlet_c[index]),
            room_c=float(cases.room_c[index]),
            water_j_per_k=float(filled_l * kg_per_l) * WATER_J_PER_KG_K,
            kept_j_per_k=float(cases.tank_j_per_k[index] + cases.left_l[index] * WATER_J_PER_KG_K),
            ware_j_per_k=float(cases.ware_j_per_k[index]),
            drain_w_per_k=float(cases.drain_l_per_s[index]) * WATER_J_PER_KG_K,
            loss_still_w_per_k=float(cases.loss_still_w_per_k[index]),
            loss_spraying_w_per_k=float(cases.loss_spraying_w_per_k[index]),
            filled_l=float(filled_l),
        )

    @property
    def bath_j_per_k(self) -> float:
        """Heat capacity of bath and tank [J/K]."""
        return self.kept_j_per_k + self.water_j_per_k

    @property
    def all_j_per_k(self) -> float:
        """Heat capacity of bath, tank and ware [J/K]."""
        return self.bath_j_per_k + self.ware_j_per_k

    def bath_start_c(self, carry_c: Array) -> Array:
        """Bath after the fill, the ware left out.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].

        Returns
        -------
        ndarray
            Temperature [°C].
        """
        return mixed_c(carry_c, self.kept_j_per_k, self.inlet_c, self.water_j_per_k)

    def start_c(self, carry_c: Array) -> Array:
        """Bath and ware once the spray has mixed them, unheated.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].

        Returns
        -------
        ndarray
            Temperature [°C].
        """
        return mixed_c(self.bath_start_c(carry_c), self.bath_j_per_k, carry_c, self.ware_j_per_k)

    def while_spraying_s(self, carry_c: Array, peak_c: float) -> Array:
        """Element time of heating while spraying.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].
        peak_c : float
            Ware temperature to reach [°C].

        Returns
        -------
        ndarray
            Time; inf where it is never reached [s].
        """
        power_w = self.element_w + self.pump_heat_w
        loss = self.loss_spraying_w_per_k
        return heating_time_s(self.start_c(carry_c), peak_c, self.all_j_per_k, power_w, loss, self.room_c)

    def alone_s(self, carry_c: Array, peak_c: float) -> Array:
        """Element time of heating the bath alone, so hot that the ware gets to a temperature by mixing.

        Parameters
        ----------
        carry_c : ndarray
            Temperature carried in [°C].
        peak_c : float
            Ware temperature to reach once the spray has started [°C].

        Returns
        -------
        ndarray
            Time; inf where it is never reached [s].
        """
        bath_c = self.bath_peak_c(carry_c, peak_c)
        start_c, loss = self.bath_start_c(carry_c), self.loss_still_w_per_k
        return heating_time_s(start_c, bath_c, self.bath_j_per_k, self.element_w, loss, self.room_c)

    def bath_peak_c(self, carry_c: Array, peak_c: float) -> Array:
        """Bath before the spray that brings bath and ware to a common temperature.

        Parameters
        ----------
        carry_c : ndarray
            Temperature of the ware [°C].
        peak_c : float
            Common temperature after mixing [°C].

        Returns
        -------
        ndarray
            Temperature [°C].
        """
        return np.asarray(peak_c + self.ware_j_per_k / self.bath_j_per_k * (peak_c - carry_c))

    def heated_c(self, carry_c: float, element_s: float, *, alone: bool) -> tuple[float, float]:
        """Bath at its hottest, and bath and ware once mixed, after a time of heating.

        Parameters
        ----------
        carry_c : float
            Temperature carried in [°C].
        element_s : float
            Element on [s].
        alone : bool
            Heated alone, or while spraying.

        Returns
        -------
        tuple of float
            Hottest bath, common temperature [°C].
        """
        carry = np.array(carry_c)
        if not alone:
            power_w, loss = self.element_w + self.pump_heat_w, self.loss_spraying_w_per_k
            end_c = temperature_after_c(
                self.start_c(carry), element_s, self.all_j_per_k, power_w, loss, self.room_c
            )
            return float(end_c), float(end_c)
        start_c, loss = self.bath_start_c(carry), self.loss_still_w_per_k
        bath_c = temperature_after_c(start_c, element_s, self.bath_j_per_k, self.element_w, loss, self.room_c)
        return float(bath_c), float(mixed_c(bath_c, self.bath_j_per_k, carry, self.ware_j_per_k))

    def coasting_c(self, start_c: float, time_s: Array) -> Array:
        """Temperature while spraying with the element off.

        Parameters
        ----------
        start_c : float
            Temperature at the start [°C].
        time_s : ndarray
            Time [s].

        Returns
        -------
        ndarray
            Temperature [°C].
        """
        loss = self.loss_spraying_w_per_k
        return temperature_after_c(start_c, time_s, self.all_j_per_k, self.pump_heat_w, loss, self.room_c)

    def keep_c(self) -> Line:
        """What a drain leaves of a temperature, tank, carry-over and ware taken together.

        Returns
        -------
        Line
            Carry [°C], of the temperature at the end of the spray.
        """
        kept = self.kept_j_per_k
        loss = self.loss_still_w_per_k
        stays = float(drained_c(1.0, self.water_j_per_k, kept, self.drain_w_per_k, loss, 0.0))
        share = (self.ware_j_per_k + kept * stays) / (self.ware_j_per_k + kept)
        return Line(self.room_c * (1.0 - share), share)
