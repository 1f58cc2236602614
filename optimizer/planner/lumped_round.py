"""A lumped round: one round in one corner, bath, tank and ware at one temperature while the pump runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.thermal import drained_c, heating_time_s, mixed_c, temperature_after_c
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K, Corners
from optimizer.planner.round_options import Line


@dataclass(frozen=True)
class LumpedRound:
    """One corner with a level.

    Attributes
    ----------
    element_w, pump_heat_w : float
        Heat of the element and of the wash pump [W].
    inlet_c, room_c : float
        Temperature of what the inlet lets in, in the mean, and of the room [°C].
    water_j_per_k, kept_j_per_k, ware_j_per_k : float
        Heat capacity of the water let in, of tank and sump, of the ware with the film on it [J/K].
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
    def of(cls, corners: Corners, index: int, fill_s: float) -> LumpedRound:
        """Take one corner."""
        level_l = corners.level_l[index]
        flow = corners.inlet_l_per_s[index]
        filled_l = fill_s * flow if np.isnan(level_l) else level_l - corners.sump_l[index]
        kg_per_l = corners.inlet_kg_per_s[index] / flow
        return cls(
            element_w=float(corners.element_w[index]),
            pump_heat_w=float(corners.pump_heat_w[index]),
            inlet_c=float(corners.fed_c(np.maximum(filled_l, 1e-6))[index]),
            room_c=float(corners.room_c[index]),
            water_j_per_k=float(filled_l * kg_per_l) * WATER_J_PER_KG_K,
            kept_j_per_k=float(corners.tank_j_per_k[index] + corners.sump_j_per_k[index]),
            ware_j_per_k=float(corners.ware_j_per_k[index] + corners.film_j_per_k[index]),
            drain_w_per_k=float(corners.drain_l_per_s[index]) * WATER_J_PER_KG_K,
            loss_still_w_per_k=float(corners.loss_still_w_per_k[index]),
            loss_spraying_w_per_k=float(corners.loss_spraying_w_per_k[index]),
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

    def bath_start_c(self, handed_on_c: Array) -> Array:
        """Bath after the fill, the ware left out [°C]."""
        return mixed_c(handed_on_c, self.kept_j_per_k, self.inlet_c, self.water_j_per_k)

    def start_c(self, handed_on_c: Array) -> Array:
        """Bath and ware once the spray has mixed them, unheated [°C]."""
        return mixed_c(self.bath_start_c(handed_on_c), self.bath_j_per_k, handed_on_c, self.ware_j_per_k)

    def while_spraying_s(self, handed_on_c: Array, peak_c: float) -> Array:
        """Element time of heating while spraying; inf where the peak is never reached [s]."""
        power_w = self.element_w + self.pump_heat_w
        loss = self.loss_spraying_w_per_k
        return heating_time_s(self.start_c(handed_on_c), peak_c, self.all_j_per_k, power_w, loss, self.room_c)

    def alone_s(self, handed_on_c: Array, peak_c: float) -> Array:
        """Element time of heating the bath alone, so that bath and ware mix to the peak; else inf [s]."""
        bath_c = self.bath_peak_c(handed_on_c, peak_c)
        start_c, loss = self.bath_start_c(handed_on_c), self.loss_still_w_per_k
        return heating_time_s(start_c, bath_c, self.bath_j_per_k, self.element_w, loss, self.room_c)

    def bath_peak_c(self, handed_on_c: Array, peak_c: float) -> Array:
        """Bath before the spray that mixes bath and ware to the peak [°C].

        ``T_bath = T_peak + C_ware / C_bath · (T_peak − T_ware)``.
        """
        return np.asarray(peak_c + self.ware_j_per_k / self.bath_j_per_k * (peak_c - handed_on_c))

    def heated_c(self, handed_on_c: float, element_s: float, *, alone: bool) -> float:
        """Bath at its hottest after a time of heating, alone or while spraying [°C]."""
        from_c = np.array(handed_on_c)
        if alone:
            start_c, loss = self.bath_start_c(from_c), self.loss_still_w_per_k
            capacity, power_w = self.bath_j_per_k, self.element_w
        else:
            start_c, loss = self.start_c(from_c), self.loss_spraying_w_per_k
            capacity, power_w = self.all_j_per_k, self.element_w + self.pump_heat_w
        return float(temperature_after_c(start_c, element_s, capacity, power_w, loss, self.room_c))

    def coasting_c(self, start_c: float, time_s: Array) -> Array:
        """Temperature while spraying with the element off [°C]."""
        loss = self.loss_spraying_w_per_k
        return temperature_after_c(start_c, time_s, self.all_j_per_k, self.pump_heat_w, loss, self.room_c)

    def soaking_c(self, start_c: float, time_s: Array) -> Array:
        """Temperature while everything is off [°C]."""
        return temperature_after_c(
            start_c, time_s, self.all_j_per_k, 0.0, self.loss_still_w_per_k, self.room_c
        )

    def handed_on_c(self) -> Line:
        """Temperature of tank, sump and ware after the drain, of the one at the end of the spray.

        Ware and film keep their temperature while tank and sump, ``C_kept``, cool to a share s of it above
        the room: ``T' − T_room = (C_ware + s · C_kept) / (C_ware + C_kept) · (T − T_room)``.
        """
        kept = self.kept_j_per_k
        loss = self.loss_still_w_per_k
        stays = float(drained_c(1.0, self.water_j_per_k, kept, self.drain_w_per_k, loss, 0.0))
        share = (self.ware_j_per_k + kept * stays) / (self.ware_j_per_k + kept)
        return Line(self.room_c * (1.0 - share), share)
