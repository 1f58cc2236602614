"""Where the heat of a run goes: into the drain, through the walls, into ware and tank, off as steam.

Water counts from the temperature of the inlet, ware and tank from that of the room, so that a machine at
rest and the water that comes in hold none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.check.integrate import Stretch
from optimizer.check.meters import Meter
from optimizer.check.worst_cases import Array, Cases
from optimizer.physics.water import BOILING_C, latent_heat_kj_per_kg, specific_heat_kj_per_kg_k
from optimizer.units import J_PER_KJ, J_PER_KWH


@dataclass(frozen=True)
class HeatMap:
    """Heat of one run, from its start to the end of its last drain [kWh].

    Attributes
    ----------
    element_kwh, pump_kwh, pipe_kwh : float
        What comes in: by the element, by the wash pump, and with water that stood in the warm room.
    drained_kwh : float
        What the drains take.
    walls_kwh : float
        What leaves through walls and lid, evaporation in it, as it was measured.
    evaporated_kwh : float
        What of that is the heat of the water that evaporates.
    ware_and_tank_kwh : float
        What ware, tank and the water left in the machine hold at the end.
    steam_kwh : float
        What a boiling pool gives off as steam, and does not leave on the ware.
    """

    element_kwh: float
    pump_kwh: float
    pipe_kwh: float
    drained_kwh: float
    walls_kwh: float
    evaporated_kwh: float
    ware_and_tank_kwh: float
    steam_kwh: float

    @property
    def came_kwh(self) -> float:
        """All that comes in [kWh]."""
        return self.element_kwh + self.pump_kwh + self.pipe_kwh

    @property
    def went_kwh(self) -> float:
        """All that leaves, or is there at the end [kWh]."""
        return self.drained_kwh + self.walls_kwh + self.ware_and_tank_kwh + self.steam_kwh


def enthalpy_j_per_kg(water_c: Array, from_c: Array) -> Array:
    """Heat of water above another temperature: ``h = c((T + T_0) / 2) (T - T_0)`` [J/kg]."""
    liquid_c = np.minimum(water_c, BOILING_C)
    middle_c = 0.5 * (liquid_c + from_c)
    return np.asarray(J_PER_KJ * specific_heat_kj_per_kg_k(middle_c) * (liquid_c - from_c))


class HeatFlows(Meter):
    """Adds the heat of the first case up."""

    def __init__(self, cases: Cases) -> None:
        self._cases = cases
        self._sums = dict.fromkeys(
            ("element", "pump", "pipe", "drained", "walls", "evaporated", "held", "steam"), 0.0
        )
        left_kg = float((cases.start_share * cases.carry_over_kg)[0])
        self._sums["pipe"] = left_kg * self._above_inlet_j_per_kg(cases.room_c)

    def _above_inlet_j_per_kg(self, water_c: Array) -> float:
        return float(enthalpy_j_per_kg(water_c[:1], self._cases.inlet_c[:1])[0])

    def add(self, stretch: Stretch) -> None:
        """Add a stretch."""
        cases, phase, samples = self._cases, stretch.phase, stretch.samples
        lasted_s, sprays = float(samples.lasted_s[0]), phase.outputs.wash_pump
        time_s, bath_c, water_kg = samples.time_s[0], samples.bath_c[0], samples.water_kg[0]
        self._sums["element"] += float(cases.element_w[0]) * lasted_s * bool(stretch.element[0])
        self._sums["pump"] += float(cases.pump_heat_w[0]) * lasted_s * sprays
        loss_w_per_k = cases.loss_spraying_w_per_k[0] if sprays else cases.loss_still_w_per_k[0]
        over_k = bath_c - cases.room_c[0]
        self._sums["walls"] += float(loss_w_per_k * np.trapezoid(over_k, time_s))
        lost_kg = water_kg[:-1] - water_kg[1:]
        middle_c = 0.5 * (bath_c[:-1] + bath_c[1:])
        if phase.outputs.drain_pump:
            heat_j_per_kg = enthalpy_j_per_kg(middle_c, cases.inlet_c[:1])
            self._sums["drained"] += float((heat_j_per_kg * lost_kg).sum())
        elif phase.outputs.inlet:
            self._filled(stretch, lasted_s, float(lost_kg.sum()))
        else:
            gone_j = float(
                (lost_kg * J_PER_KJ * latent_heat_kj_per_kg(np.minimum(middle_c, BOILING_C))).sum()
            )
            boils = phase.steam and stretch.last
            self._sums["steam" if boils else "evaporated"] += gone_j
            if boils:
                # It takes along what warmed it to the boil.
                liquid_j_per_kg = enthalpy_j_per_kg(middle_c, cases.inlet_c[:1])
                self._sums["steam"] += float((liquid_j_per_kg * lost_kg).sum())
                self._sums["steam"] -= self._wet_ware_j_per_k(stretch) * float(np.ptp(samples.ware_c[0]))
        self._sums["held"] = self._held_j(stretch)

    def _filled(self, stretch: Stretch, lasted_s: float, lost_kg: float) -> None:
        """Count what stood in the pipe, as warm as the room."""
        cases = self._cases
        if not stretch.last:
            pipe_c = cases.room_c
            if stretch.phase.name == "top_up":
                pipe_c = np.maximum(cases.room_c, cases.inlet_c)
            self._sums["pipe"] += -lost_kg * self._above_inlet_j_per_kg(pipe_c)

    def _wet_ware_j_per_k(self, stretch: Stretch) -> float:
        film_j_per_k = J_PER_KJ * specific_heat_kj_per_kg_k(40.0) * stretch.samples.film_kg[0]
        return float(self._cases.ware_j_per_k[0] + film_j_per_k)

    def _held_j(self, stretch: Stretch) -> float:
        """Heat in tank, ware, bath and film at the end of a stretch [J]."""
        cases, end = self._cases, stretch.samples.end
        room_c, film_kg = float(cases.room_c[0]), float(end.film_kg[0])
        tank_j = float(cases.tank_j_per_k[0]) * (float(end.bath_c[0]) - room_c)
        ware_j = float(cases.ware_j_per_k[0]) * (float(end.ware_c[0]) - room_c)
        bath_j = (float(end.water_kg[0]) - film_kg) * self._above_inlet_j_per_kg(end.bath_c)
        return tank_j + ware_j + bath_j + film_kg * self._above_inlet_j_per_kg(end.ware_c)

    def map(self) -> HeatMap:
        """Give what was added up."""
        kwh = {name: total_j / J_PER_KWH for name, total_j in self._sums.items()}
        return HeatMap(
            element_kwh=kwh["element"],
            pump_kwh=kwh["pump"],
            pipe_kwh=kwh["pipe"],
            drained_kwh=kwh["drained"],
            walls_kwh=kwh["walls"],
            evaporated_kwh=kwh["evaporated"],
            ware_and_tank_kwh=kwh["held"],
            steam_kwh=kwh["steam"],
        )
