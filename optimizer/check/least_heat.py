"""The least heat that a goal asks for, whatever the programme: a floor to hold a run against."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.check.heat_flows import enthalpy_j_per_kg
from optimizer.check.lethality import HYGIENE
from optimizer.check.worst_cases import WEIGHED_KG_PER_L
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.profile.goal import DRYING_C, Dose, Goal
from optimizer.profile.machine import Machine
from optimizer.units import J_PER_KJ, J_PER_KWH, S_PER_MIN


@dataclass(frozen=True)
class LeastHeat:
    """Heat that a goal asks for at the nominal point, losses left out.

    Attributes
    ----------
    wash_c, rinse_c : float
        Least temperature that the ware has to reach once for the doses, and for hygiene or drying [°C];
        the inlet's where none is asked.
    bath_l : float
        Least water that the wash pump runs with [l].
    kwh : float
        To bring such a bath to each of the two, and ware and tank to the higher one [kWh].
    """

    wash_c: float
    rinse_c: float
    bath_l: float
    kwh: float


def least_heat(machine: Machine, goal: Goal) -> LeastHeat:
    """Work out the least heat.

    A dose that has all of the longest run for itself needs its ware at
    ``T = T_ref + z log10(minutes / (longest minutes · strength of the spray))`` at some moment, or at its
    floor. Hygiene and drying need a temperature in a rinse, which is another bath. Each bath holds at least
    what covers the suction, what is under way and the film.
    """
    inlet_c, room_c = machine.inlet.water_c.nominal, machine.room.air_c.nominal
    pump, ware = machine.wash_pump, machine.ware
    bath_l = pump.prime_l + pump.holdup_l.nominal + ware.film_l.nominal
    longest_min = goal.limits.duration_min
    washes_c = [_dose_c(dose, longest_min * pump.mechanics_factor.nominal) for dose in goal.dose]
    wash_c = max([inlet_c, *washes_c])
    rinse_c = max(inlet_c, _hygiene_c(goal, longest_min * S_PER_MIN), _drying_c(machine, goal, room_c))
    water_j = sum(_bath_j(bath_l * WEIGHED_KG_PER_L, to_c, inlet_c) for to_c in (wash_c, rinse_c))
    solid_j_per_k = J_PER_KJ * (
        ware.heat_capacity_kj_per_k.nominal + machine.tank.heat_capacity_kj_per_k.nominal
    )
    solid_j = solid_j_per_k * max(max(wash_c, rinse_c) - room_c, 0.0)
    return LeastHeat(wash_c, rinse_c, bath_l, (water_j + solid_j) / J_PER_KWH)


def _dose_c(dose: Dose, longest_min: float) -> float:
    """Least temperature at which all of the time earns the dose; below its floor nothing does [°C]."""
    needed_c = dose.reference_c + dose.z_k * math.log10(dose.minutes.nominal / longest_min)
    return max(needed_c, dose.floor_c)


def _hygiene_c(goal: Goal, longest_s: float) -> float:
    hygiene = goal.hygiene
    if hygiene.method == "none" or hygiene.target_s is None:
        return -math.inf
    rate = HYGIENE[hygiene.method]
    return max(rate.floor_c, (math.log(hygiene.target_s / longest_s) - rate.ln_at_0c) / rate.per_k)


def _drying_c(machine: Machine, goal: Goal, room_c: float) -> float:
    """Ware that holds the heat asked for to dry its film; steam brings it in another way."""
    if goal.drying.method != "hot_rinse":
        return -math.inf
    film_j = machine.ware.film_l.nominal * WEIGHED_KG_PER_L * latent_heat_kj_per_kg(DRYING_C) * J_PER_KJ
    asked_j = goal.drying.heat_factor * film_j
    return float(room_c + asked_j / (J_PER_KJ * machine.ware.heat_capacity_kj_per_k.nominal))


def _bath_j(water_kg: float, to_c: float, from_c: float) -> float:
    return water_kg * max(float(enthalpy_j_per_kg(np.array([to_c]), np.array([from_c]))[0]), 0.0)
