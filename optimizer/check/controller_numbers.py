"""What a controller has to know of machine and programmes beside their tables: for its drains and its sensor.

Every file of constants carries these numbers, so that no controller has a copy that may be another machine's.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from optimizer.check.drain_wait import drain_read_most_dc, drain_stop_dc, drain_wait_s
from optimizer.check.sensor_meter import longest_still_s
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import SCALDING_C
from optimizer.programme.constants import Constants

MOVES_K, MOVES_S, STILL_FACTOR = 1.0, 600, 1.25
"""A sensor counts as dead if its reading has not changed by so much [K] in so long [s], or in this multiple
of the longest time for which a sound one stands still at any point [1]: readings are coarse, and late."""


class ControllerNumbers(NamedTuple):
    """The numbers of a machine and its programmes; a controller has them once, whatever it runs."""

    drain_wait_s: int
    """By then the hottest bath of any programme is cool enough for the drain pipe [s]; 0: it always is."""
    drain_max_dc: int
    """A bath that reads no more may be drained out of its turn [0.1 °C]."""
    drain_stop_dc: int
    """A bath that reads more is too hot for its drain in turn [0.1 °C]."""
    fill_is_cold: int
    """1 where what comes out of the inlet scalds nobody and no drain pipe."""
    sensor_moves_s: int
    """Element on: in this time the reading of the bath must move [s]."""
    moves_least_s: int
    """A shorter one would stop a sound run [s]."""


def controller_numbers(machine: Machine, programmes: Iterable[Constants]) -> ControllerNumbers:
    """Work out the numbers of a machine; of several programmes the one that asks for most counts."""
    tables = list(programmes)
    still_s = max(longest_still_s(one, machine, MOVES_K) for one in tables) if machine.element else 0.0
    least_s = max(1, math.ceil(still_s * STILL_FACTOR))
    cold = machine.inlet.water_c.high < min(SCALDING_C, machine.drain_pump.drain_limit_c)
    return ControllerNumbers(
        drain_wait_s=max(drain_wait_s(one, machine) for one in tables),
        drain_max_dc=drain_read_most_dc(machine),
        drain_stop_dc=drain_stop_dc(machine),
        fill_is_cold=int(cold),
        sensor_moves_s=max(MOVES_S, least_s),
        moves_least_s=least_s,
    )
