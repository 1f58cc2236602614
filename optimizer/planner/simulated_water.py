"""Phases of a simulated round that move water: its fill, a cold top-up, its drain, and what evaporates."""

from __future__ import annotations

import numpy as np

from optimizer.physics import Array, Real
from optimizer.physics.evaporation import Air, evaporation_kg_per_s_m2
from optimizer.physics.thermal import Flow, drained_c, filled_c, temperature_after_c
from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K, Corners
from optimizer.planner.simulated_bath import Bath
from optimizer.profile.machine import Machine
from optimizer.units import S_PER_MIN

DRY_AIR = Air(humidity=0.0)
"""Air that takes up the most water [-]."""

DRAIN_EXTRA_S = 1.0
"""Draining beyond the time that the slowest drain and the longest lag need [s]: water is hottest, and needs
longest, at a point of the tolerances that need not be a corner."""


class WaterPhases:
    """Water of one machine in its corners; every phase moves the bath on."""

    def __init__(self, machine: Machine, corners: Corners) -> None:
        self._machine, self._corners = machine, corners
        self._drain_slow_l_per_s = machine.drain_pump.flow_l_per_min.low / S_PER_MIN
        self._drain_lag_s = machine.drain_pump.drain_lag_s.high
        self._film_j_per_k = corners.film_j_per_k
        self._kept_j_per_k = corners.tank_j_per_k + corners.sump_j_per_k

    def drain_s(self, litres: Real) -> Real:
        """Drain time that the slowest drain needs, with the longest lag [s]."""
        return litres / self._drain_slow_l_per_s + self._drain_lag_s + DRAIN_EXTRA_S

    def fill(self, fill_s: Array, start_c: tuple[Array, Array], *, first: bool) -> tuple[Bath, Array, Array]:
        """Let water in on the carry-over, with bath and ware as they are [°C].

        Gives the bath, how long the inlet is open [s], and the litres let in [l].
        """
        corners = self._corners
        carry_over_share = corners.wet_start if first else 1.0
        kept_j_per_k = corners.tank_j_per_k + corners.sump_j_per_k * carry_over_share
        film_j_per_k = self._film_j_per_k * carry_over_share
        open_s, filled_l = self._let_in(fill_s, corners.sump_l * carry_over_share)
        inflow = Flow(corners.inlet_kg_per_s * WATER_J_PER_KG_K, corners.fed_c(np.maximum(filled_l, 1e-6)))
        bath_c, ware_c = start_c
        bath_c = filled_c(bath_c, open_s, kept_j_per_k, inflow, corners.loss_still_w_per_k, corners.room_c)
        water_j_per_k = corners.inlet_kg_per_s * open_s * WATER_J_PER_KG_K
        bath = Bath(
            corners=corners,
            wet_film_j_per_k=self._film_j_per_k,
            water_j_per_k=water_j_per_k,
            j_per_k=kept_j_per_k + water_j_per_k,
            film_j_per_k=film_j_per_k,
            bath_c=bath_c,
            ware_c=ware_c,
        )
        return bath, open_s, filled_l

    def _let_in(self, fill_s: Array, sump_l: Array) -> tuple[Array, Array]:
        """Time the inlet is open [s] and litres let in [l]."""
        flow = self._corners.inlet_l_per_s
        if self._machine.inlet.control == "level":
            filled_l = np.broadcast_to(self._corners.level_l - sump_l, (len(fill_s), len(flow)))
            return filled_l / flow, filled_l
        return np.broadcast_to(fill_s, (len(fill_s), len(flow))), fill_s * flow

    def top_up(self, bath: Bath, top_s: Array, mix_s: Array, drain_s: Array) -> tuple[Array, Array, Array]:
        """Let cold water in, and stir it in by the pump.

        Gives the hottest water then [°C], the litres [l], and ware less bath as the stirring begins [K].

        What stands in the pipe of a hot feed may still be hot. Not stirred, the hottest water is above the
        mean by a share of what the mean has fallen.
        """
        corners, before_c = self._corners, bath.bath_c
        litres = np.broadcast_to(top_s * corners.inlet_l_per_s, bath.bath_c.shape)
        fed_c = np.maximum(corners.fed_c(np.maximum(litres, 1e-6)), corners.inlet_c)
        inflow = Flow(corners.inlet_kg_per_s * WATER_J_PER_KG_K, fed_c)
        bath.bath_c = filled_c(
            before_c, top_s, bath.j_per_k, inflow, corners.loss_still_w_per_k, corners.room_c
        )
        let_in_j_per_k = corners.inlet_kg_per_s * top_s * WATER_J_PER_KG_K
        bath.j_per_k = bath.j_per_k + let_in_j_per_k
        bath.water_j_per_k = bath.water_j_per_k + let_in_j_per_k
        # What boiled or was heated with the pump off leaves ware that is hotter than the bath after a top-up.
        warmed_c = self.warmed_c(bath, drain_s)
        hottest_c = warmed_c + self._machine.inlet.unmixed_share * np.maximum(before_c - warmed_c, 0.0)
        over_k = np.where(mix_s > 0.0, bath.ware_c - bath.bath_c, 0.0)
        if mix_s.any():
            bath.spray_begins()
            run = bath.course(corners.pump_heat_w, spraying=True)
            bath.bath_c, bath.ware_c = run.at(np.broadcast_to(mix_s, bath.bath_c.shape))
            bath.spray_ends()
            hottest_c = bath.bath_c
        return np.asarray(hottest_c), np.asarray(litres), np.asarray(over_k)

    def drain(self, bath: Bath, drain_s: Array) -> None:
        """Drain: what stays cools with the tank."""
        corners = self._corners
        kept, loss, room_c = self._kept_j_per_k, corners.loss_still_w_per_k, corners.room_c
        kg_per_l = density_kg_per_l(np.minimum(bath.bath_c, BOILING_C))
        flow_w_per_k = corners.drain_l_per_s * kg_per_l * WATER_J_PER_KG_K
        cooled_c = drained_c(bath.bath_c, bath.water_j_per_k, kept, flow_w_per_k, loss, room_c)
        idle_s = np.maximum(drain_s - bath.water_j_per_k / flow_w_per_k, 0.0)
        bath.bath_c = temperature_after_c(cooled_c, idle_s, kept, 0.0, loss, room_c)

    def warmed_c(self, bath: Bath, drain_s: Array) -> Array:
        """Bath at the end of a drain, warmed by hotter ware all the while; call it before the drain [°C].

        With ware and room held as they are, ``T_bath`` nears ``(G T_ware + UA T_room) / (G + UA)``, the more
        quickly the less water is left: ``∫ dt / C`` over a heat capacity that falls evenly, then stays.
        """
        corners, kept = self._corners, self._kept_j_per_k
        pull_w_per_k = corners.exchange_still_w_per_k + corners.loss_still_w_per_k
        goal_c = corners.exchange_still_w_per_k * bath.ware_c + corners.loss_still_w_per_k * corners.room_c
        per_l = density_kg_per_l(np.minimum(bath.bath_c, BOILING_C))
        pumped_s = bath.water_j_per_k / (corners.drain_l_per_s * per_l * WATER_J_PER_KG_K)
        idle_s = np.maximum(drain_s - pumped_s, 0.0)
        full = kept + bath.water_j_per_k
        s_k_per_j = pumped_s * np.log(full / kept) / bath.water_j_per_k + idle_s / kept
        share = 1.0 - np.exp(-pull_w_per_k * s_k_per_j)
        return np.asarray(bath.bath_c + share * np.maximum(goal_c / pull_w_per_k - bath.bath_c, 0.0))

    def evaporated_l(self, peak_c: Array, time_s: Array) -> Array:
        """The most that evaporates from a bath no hotter than its peak [l]."""
        flux = evaporation_kg_per_s_m2(np.minimum(peak_c, BOILING_C), DRY_AIR)
        return np.asarray(flux * self._machine.tank.vent_m2 * time_s)
