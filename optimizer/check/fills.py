"""Shortest and longest fill: the shortest covers element and suction, the longest does not run over.

Litres and seconds only, in the worst corner of the tolerances. The simulation is the proof; these are the
limits within which a fill may be edited by hand at all.
"""

from __future__ import annotations

import math

from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.units import S_PER_MIN


def least_fill_s(machine: Machine, row: Round, *, first: bool) -> int:
    """Shortest fill that covers element and pump suction [s]; 0 where the carry-over alone is enough.

    Notes
    -----
    ``t = (V_needed - V_residual) / q``, rounded up to whole seconds: slowest inlet q [l/s], least water in
    the sump V_residual [l], none before the first round, because the machine may have dried out. V_needed
    [l] is the larger of what primes the pump, plus the hold-up of its spray, and what covers the element,
    plus the hold-up if it is on during the spray. The film on the ware covers nothing. Evaporation is left
    out: what boils or steams away is for the simulation to count. No source: a balance of volumes.
    """
    held_up_l = machine.wash_pump.holdup_l.high
    needed_l = 0.0
    if row.spray_s:
        needed_l = machine.wash_pump.prime_l + held_up_l
    if row.heated and machine.element is not None:
        needed_l = max(needed_l, machine.element.cover_l + held_up_l * bool(row.spray_element_s))
    there_l = 0.0 if first else machine.tank.residual_l.low
    return math.ceil(max(needed_l - there_l, 0.0) / machine.inlet.flow_l_per_min.low * S_PER_MIN)


def most_fill_s(machine: Machine) -> int:
    """Longest fill that cannot run over [s]; 0 where the carry-over fills the tank already.

    Notes
    -----
    ``t = (V_tank rho_hot / rho_cold - V_carry) / q``, rounded down to whole seconds: fastest inlet q [l/s],
    most carry-over V_carry [l], densities rho [kg/l] of the coldest inlet water and of water as hot as the
    tank stands, because water that warms takes more room (IAPWS-IF97: 2.5 % from 10 to 75 °C).
    """
    hot_c = min(machine.tank.limit_c, BOILING_C)
    swells = float(density_kg_per_l(machine.inlet.water_c.low) / density_kg_per_l(hot_c))
    free_l = machine.tank.capacity_l / swells - carry_over_l(machine)
    return math.floor(max(free_l, 0.0) / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def carry_over_l(machine: Machine) -> float:
    """Most water that a complete drain leaves in the sump and on the ware."""
    return machine.tank.residual_l.high + machine.ware.film_l.high


def all_fills_l(constants: Constants, machine: Machine) -> float:
    """Most water that all fills of a programme let in together; a level switch is not counted on."""
    return sum(row.fill_s for row in constants.rounds) / S_PER_MIN * machine.inlet.flow_l_per_min.high
