"""Timed fills between two floods: what covers element and suction, and what the tank holds.

Litres and seconds only, in the worst corner of the tolerances. The simulation is the proof; these are the
ends between which a fill may be edited at all.
"""

from __future__ import annotations

import math

from optimizer.physics.water import density_kg_per_l
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Round
from optimizer.units import S_PER_MIN

BOILING_C = 100.0


def least_fill_s(machine: Machine, row: Round, *, first: bool) -> int:
    """Shortest fill that covers element and pump suction: slowest inlet, least carry-over, most hold-up.

    Parameters
    ----------
    machine : Machine
        The machine.
    row : Round
        The round.
    first : bool
        Whether it is the first: the machine may then have dried out.

    Returns
    -------
    int
        Fill [s]; 0 where the carry-over alone is enough.

    Notes
    -----
    Evaporation is left out: what boils or steams away is for the simulation to count.
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
    """Longest fill that cannot run over: fastest inlet on most carry-over, then as hot as the tank stands.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    int
        Fill [s]; 0 where the carry-over fills the tank already.
    """
    hot_c = min(machine.tank.limit_c, BOILING_C)
    swells = float(density_kg_per_l(machine.inlet.water_c.low) / density_kg_per_l(hot_c))
    free_l = machine.tank.capacity_l / swells - carry_over_l(machine)
    return math.floor(max(free_l, 0.0) / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def carry_over_l(machine: Machine) -> float:
    """Most water a complete drain leaves in sump and on the ware.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    float
        Water [l].
    """
    return machine.tank.residual_l.high + machine.ware.film_l.high
