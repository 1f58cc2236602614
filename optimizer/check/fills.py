"""Fills and the start drain in litres and seconds: least and most, at the worst end of every tolerance.

Balances of volumes that grow or fall with each quantity, so that an end of the tolerances is the worst of
them all. For a timed fill the simulation is the proof, and these are the limits within which it may be edited
by hand at all; a level switch that sticks and a tank that a power cut left full are judged by these alone.
"""

from __future__ import annotations

import math

from optimizer.check.equations import STILL_AIR_KW_PER_M2_KPA
from optimizer.physics.water import (
    BOILING_C,
    boiling_c,
    density_kg_per_l,
    latent_heat_kj_per_kg,
    saturation_pressure_kpa,
)
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.units import S_PER_MIN

DENSEST_C = 4.0
"""Temperature at which water is densest [°C]."""

LEVEL_SPARE = 0.001
"""Least share of a level by which a fill has to be more than it [1]: by as much, what a check guarantees of a
level may lie under the least that it finds; *no source*, our choice."""


def least_fill_s(machine: Machine, row: Round, *, first: bool) -> int:
    """Shortest fill that covers element and pump suction [s]; 0 where the carry-over alone is enough.

    Notes
    -----
    ``t = (V_needed (1 + spare) - V_residual) / q``, rounded up to whole seconds: slowest inlet q [l/s], least
    water in the sump V_residual [l], none before the first round, because the machine may have dried out.
    V_needed [l] is the larger of what primes the pump, plus the hold-up of its spray, and what covers the
    element, plus the hold-up if it is on during the spray. The film on the ware covers nothing. To spare is
    what the warmest water loses in volume as it cools to the coldest room (IAPWS-IF97), and a thousandth at
    least. Evaporation is left out: what boils or steams away is for the simulation to count. No source: a
    balance of volumes.
    """
    needed_l = _covering_l(machine, row)
    there_l = 0.0 if first else machine.tank.residual_l.low
    missing_l = max(needed_l - there_l, 0.0)
    return math.ceil(missing_l / machine.inlet.flow_l_per_min.low * S_PER_MIN)


def _covering_l(machine: Machine, row: Round) -> float:
    """Water that primes the pump and covers the element of a round, and what it loses in volume [l]."""
    held_up_l = machine.wash_pump.holdup_l.high
    needed_l = 0.0
    if row.spray_s:
        needed_l = machine.wash_pump.prime_l + held_up_l
    if row.heated and machine.element is not None:
        needed_l = max(needed_l, machine.element.cover_l + held_up_l * bool(row.spray_element_s))
    warm_c = machine.inlet.water_c.high
    cooled_c = max(min(warm_c, machine.room.air_c.low), DENSEST_C)
    shrinks = float(density_kg_per_l(cooled_c) / density_kg_per_l(warm_c)) - 1.0
    needed_l *= 1.0 + max(shrinks, LEVEL_SPARE)
    return needed_l


def least_water_l(machine: Machine, row: Round, *, first: bool) -> float:
    """Least water in the tank as the fill of a round ends, by the slowest inlet or the lowest switch [l]."""
    inlet = machine.inlet
    if inlet.level_l is not None:
        return inlet.level_l.low
    there_l = 0.0 if first else machine.tank.residual_l.low
    return there_l + row.fill_s / S_PER_MIN * inlet.flow_l_per_min.low


VAPOUR_SHARE = 0.01
"""Less vapour than this share of the water that has to be there bares nothing [1]: *no source*."""


def vapour_spare_s(machine: Machine, row: Round, *, first: bool) -> float:
    """How much longer a round can last before its vapour uncovers element or pump suction [s]; inf if never.

    Vapour of a bath as hot as the tank stands, into dry still air: 0.089 kW/(m² kPa) over the heat of
    evaporation (ASHRAE HVAC Applications, secondary source), from the least water of the fill; and the time
    in which it is a hundredth of that water, whatever the fill.
    """
    if machine.tank.vent_m2 == 0.0:
        return math.inf
    least_l, hot_c = least_water_l(machine, row, first=first), min(machine.tank.limit_c, BOILING_C)
    kg_per_s = machine.tank.vent_m2 * STILL_AIR_KW_PER_M2_KPA * float(saturation_pressure_kpa(hot_c))
    kg_per_s /= float(latent_heat_kj_per_kg(hot_c))
    needed_l, s_per_l = _covering_l(machine, row), float(density_kg_per_l(hot_c)) / kg_per_s
    left_s = (least_l - needed_l) * s_per_l - row.spray_s - row.soak_s
    return max(left_s, VAPOUR_SHARE * needed_l * s_per_l)


def most_fill_s(machine: Machine) -> int:
    """Longest fill that cannot run over [s]; 0 where the carry-over fills the tank already.

    Notes
    -----
    ``t = (V_tank rho_hot / rho_cold - V_carry) / q``, rounded down to whole seconds: fastest inlet q [l/s],
    most carry-over V_carry [l], densities rho [kg/l] of the coldest inlet water and of water as hot as the
    tank stands, because water that warms takes more room (IAPWS-IF97: 2.5 % from 10 to 75 °C).
    """
    hot_c = min(machine.tank.limit_c, boiling_c(machine.room.height_m))
    swells = float(density_kg_per_l(machine.inlet.water_c.low) / density_kg_per_l(hot_c))
    free_l = machine.tank.capacity_l / swells - carry_over_l(machine)
    return math.floor(max(free_l, 0.0) / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def most_top_up_s(machine: Machine, fill_s: int) -> int:
    """Longest top-up that cannot run over, onto a fill of so long or onto the level of a switch [s].

    Volumes as in `most_fill_s`; the film drips into a tank whose switch saw the level without it.
    """
    level_l = machine.inlet.level_l
    if level_l is None:
        return max(most_fill_s(machine) - fill_s, 0)
    hot_c = min(machine.tank.limit_c, boiling_c(machine.room.height_m))
    swells = float(density_kg_per_l(machine.inlet.water_c.low) / density_kg_per_l(hot_c))
    free_l = machine.tank.capacity_l / swells - level_l.high - machine.ware.film_l.high
    return math.floor(max(free_l, 0.0) / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def tops_up_dry_ware(constants: Constants, goal: Goal) -> Round | None:
    """Give the last round where cold water comes in under ware that is to dry by its heat; else None.

    A top-up that is stirred in cools the ware by the spray, which the heat for drying counts.
    """
    last = constants.rounds[-1]
    return last if goal.drying.method != "none" and last.top_up_s and not last.mix_s else None


def topped_up_l(machine: Machine, row: Round) -> float:
    """Most water after a top-up [l]: fastest inlet, most left over, and what boiled off run back.

    Its mean is no hotter by then than the drain pipe stands, which is a requirement of its own.
    """
    inlet, flow_l_per_s = machine.inlet, machine.inlet.flow_l_per_min.high / S_PER_MIN
    there_l = row.fill_s * flow_l_per_s + carry_over_l(machine)
    if inlet.level_l is not None:
        there_l = inlet.level_l.high + machine.ware.film_l.high
    return (there_l + row.top_up_s * flow_l_per_s) * _topped_swells(machine)


def _topped_swells(machine: Machine) -> float:
    mean_c = min(machine.drain_pump.drain_limit_c, machine.tank.limit_c, boiling_c(machine.room.height_m))
    return float(density_kg_per_l(DENSEST_C) / density_kg_per_l(mean_c))


def most_dry_top_up_s(machine: Machine, fill_s: int) -> int:
    """Longest top-up that stays under the ware, onto a fill of so long or onto a switch's level [s]."""
    flow_l_per_s = machine.inlet.flow_l_per_min.high / S_PER_MIN
    there_l = fill_s * flow_l_per_s + carry_over_l(machine)
    if machine.inlet.level_l is not None:
        there_l = machine.inlet.level_l.high + machine.ware.film_l.high
    free_l = machine.tank.ware_begins_l / _topped_swells(machine) - there_l
    return math.floor(max(free_l, 0.0) / flow_l_per_s)


STUCK_SHARE, STUCK_S = 1.05, 10.0
"""Longest fill of a level switch over what the slowest inlet needs [1], and seconds on top of it [s]: while
the switch sticks the inlet is open for so long and no longer; *no source*, our choice."""


def level_fill_least_s(machine: Machine) -> float:
    """Time that the slowest inlet needs to the highest level, into a dry machine [s]; 0 without a switch.

    ``t = V_level / q``. The film is not in it: the ware takes it out of the carry-over.
    """
    level_l = machine.inlet.level_l
    return 0.0 if level_l is None else level_l.high / machine.inlet.flow_l_per_min.low * S_PER_MIN


def level_fill_most_s(machine: Machine) -> float:
    """Longest that the inlet may be open while the level switch sticks [s]; 0 without a switch."""
    return 0.0 if machine.inlet.level_l is None else level_fill_least_s(machine) * STUCK_SHARE + STUCK_S


def start_drain_left_l(machine: Machine, start_drain_s: float) -> float:
    """Water above the carry-over that the start drain leaves of a full tank, at the slowest pump [l].

    ``V = V_tank - V_residual - q (t - t_lag)``: the power may have been cut while the tank was as full as it
    can be. The next fill comes on top of what is left.
    """
    free_l = machine.tank.capacity_l - machine.tank.residual_l.low
    pumps_s = max(start_drain_s - machine.drain_pump.drain_lag_s.high, 0.0)
    return max(free_l - pumps_s / S_PER_MIN * machine.drain_pump.flow_l_per_min.low, 0.0)


def start_drain_least_s(machine: Machine) -> int:
    """Shortest start drain that empties a full tank at the slowest pump [s]."""
    return machine.empties_s


def drain_dry_most_s(machine: Machine, row: Round | None = None) -> int:
    """Longest that the start drain, or that of a round, may last [s]: with no water in, it is dry all of it.

    Where the profile of the machine does not say it, it is 300 s, or what a full tank needs.
    """
    # What the pump stands at the start, the tank empty already, it stands in a round.
    start_s = machine.start_drain_most_s
    return start_s if row is None else max(start_s, drain_least_s(machine, row))


WARMED_K = 20.0
"""A bath that is not heated is warmer by less than this than inlet and room [K]; *no source*, our choice."""


def drain_least_s(machine: Machine, row: Round) -> int:
    """Shortest drain that takes out what a round lets in, at the slowest pump [s].

    ``t = V rho_cold / (rho_hot q) + t_lag``: the pump moves litres, and water as hot as the tank stands takes
    more room than it did when it was let in.
    """
    inlet = machine.inlet
    filled_l = row.fill_s / S_PER_MIN * inlet.flow_l_per_min.high
    if inlet.level_l is not None:
        filled_l = min(filled_l, inlet.level_l.high - machine.tank.residual_l.low)
    filled_l += row.top_up_s / S_PER_MIN * inlet.flow_l_per_min.high
    hot_c = min(machine.tank.limit_c, boiling_c(machine.room.height_m))
    if not row.heated:
        # Warmed by the room, the pump and what a hot round before it left in tank and ware.
        hot_c = min(hot_c, max(inlet.water_c.high, machine.room.air_c.high) + WARMED_K)
    swells = float(density_kg_per_l(inlet.water_c.low) / density_kg_per_l(hot_c))
    pump = machine.drain_pump
    return math.ceil(filled_l * swells / pump.flow_l_per_min.low * S_PER_MIN + pump.drain_lag_s.high)


def carry_over_l(machine: Machine) -> float:
    """Most water that a complete drain leaves in the sump and on the ware."""
    return machine.tank.residual_l.high + machine.ware.film_l.high


def all_fills_l(constants: Constants, machine: Machine) -> float:
    """Most water that all fills of a programme let in together; a level switch is not counted on."""
    return (
        sum(row.fill_s + row.top_up_s for row in constants.rounds)
        / S_PER_MIN
        * machine.inlet.flow_l_per_min.high
    )
