"""When a bath that no round has cooled may be drained: by what a sensor reads, or after how long a wait.

A run that is stopped, held by its lid or cut off leaves a bath as hot as it was. The reference controller
drains it only then.
"""

from __future__ import annotations

import math

from optimizer.check.trip_range import hottest_bath_c
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SPARE_K = 2.0
"""The hottest bath counts as so much hotter than it was found, as it is found at a few ends of the tolerances
[K]; *no source*, our choice."""

UNKNOWN_ERROR_K = 5.0
"""Error of a sensor that someone fitted to a timed machine, whose profile states none [K]; *no source*, our
choice."""

WAIT_MOST_S = 1_000_000
"""A wait is no longer than this [s]: where it would be, the room is nearly as hot as what the pipe stands."""


def drain_read_most_c(machine: Machine) -> float:
    """Hottest reading with which the drain pipe stands the bath, sensor error and layers included [°C].

    Infinite where the pipe stands the boil.
    """
    if machine.drain_pump.stands_the_boil:
        return math.inf
    element, error_k = machine.element, UNKNOWN_ERROR_K
    if element is not None and element.control == "thermostat":
        # Where it sits it may be colder than the mean, which is what a drain takes.
        error_k = element.sensor_error_k + max(-element.sensor_over_mean_k.low, 0.0)
    return machine.drain_pump.drain_limit_c - error_k


def drain_wait_s(constants: Constants, machine: Machine) -> int:
    """Time in which the hottest bath of a programme cools to what the drain pipe stands, everything off [s].

    The fullest tank with the heaviest load, the least heat lost, the hottest room; nothing evaporates::

        t = C / UA · ln((T_hottest − T_room) / (T_pipe − T_room))

    0 where no bath of the programme is ever too hot for the pipe. Newton's law of cooling (any handbook).
    """
    pipe_c, room_c = machine.drain_pump.drain_limit_c, machine.room.air_c.high
    if machine.drain_pump.stands_the_boil:
        return 0
    hottest_c = hottest_bath_c(constants, machine) + SPARE_K
    if hottest_c <= pipe_c:
        return 0
    if room_c >= pipe_c:
        return WAIT_MOST_S
    water_kj_per_k = machine.tank.capacity_l * float(specific_heat_kj_per_kg_k(hottest_c))
    solid_kj_per_k = machine.tank.heat_capacity_kj_per_k.high + machine.ware.heat_capacity_kj_per_k.high
    time_constant_s = 1000.0 * (water_kj_per_k + solid_kj_per_k) / machine.tank.loss_still_w_per_k.low
    wait_s = time_constant_s * math.log((hottest_c - room_c) / (pipe_c - room_c))
    return min(math.ceil(wait_s), WAIT_MOST_S)
