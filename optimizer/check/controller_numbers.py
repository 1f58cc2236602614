"""What a controller has to know of machine and programmes beside their tables: for its drains and its sensor.

Every file of constants carries these numbers, so that no controller has a copy that may be another machine's.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from optimizer.check.drain_wait import drain_read_most_dc, drain_stop_dc, drain_wait_s
from optimizer.check.sensor_meter import MOVES_S, moves_least_s
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import SCALDING_C
from optimizer.programme.constants import Constants


class ControllerNumbers(NamedTuple):
    """The numbers of a machine and its programmes; a controller has them once, whatever it runs."""

    drain_wait_s: int
    """By then the hottest bath of any programme, that of a sensor that has stuck too, is cool enough for the
    drain pipe [s]; 0: it always is."""
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
    least_s = max(moves_least_s(one, machine) for one in tables)
    found_s = max(MOVES_S, least_s)
    cold = machine.inlet.water_c.high < min(SCALDING_C, machine.drain_pump.drain_limit_c)
    return ControllerNumbers(
        drain_wait_s=max(drain_wait_s(one, machine, found_s) for one in tables),
        drain_max_dc=drain_read_most_dc(machine),
        drain_stop_dc=drain_stop_dc(machine),
        fill_is_cold=int(cold),
        sensor_moves_s=found_s,
        moves_least_s=least_s,
    )
