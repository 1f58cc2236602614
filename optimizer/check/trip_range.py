"""Between which temperatures the cut-out of an element has to trip, and what its feeler has to touch.

One that feels the bath has to let the hottest sound bath pass and to trip before the tank suffers. An open
bath never passes the boil: where a programme boils, or a sound bath comes too near either, only the element's
own sheath shows that the water is gone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from optimizer.check.integrate import Simulation
from optimizer.check.meters import HeatMeter
from optimizer.check.second_run import LastState, hottest_again
from optimizer.check.worst_cases import fault_cases
from optimizer.physics.water import boiling_c
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

Place = Literal["bath", "sheath"]

SPARE_K = 3.0
"""A cut-out in the bath trips so far above the hottest sound bath at least [K]: what few cases may miss, and
a feeler that reads high; *no source*, our choice."""

UNDER_BOIL_K = 3.0
"""It trips so far under the boil at least, or it may never trip [K]; *no source*, our choice."""

SHEATH_OVER_BOIL_K = 20.0
"""A sheath under boiling water is hotter than it by some 5 to 15 K (boiling curve, from memory), and by more
with scale on it: it trips above this [K]; *no source*, our choice."""

SHEATH_MOST_C = 150.0
"""A sheath trips here at the latest [°C]: polypropylene melts at about 160 °C (from memory)."""


@dataclass(frozen=True)
class TripRange:
    """What to buy: a cut-out that trips between two temperatures, its tolerance included.

    Attributes
    ----------
    low_c, high_c : int
        It must not trip below the one, and must have tripped at the other [°C].
    place : str
        What it feels: the ``bath``, or the element's ``sheath``.
    """

    low_c: int
    high_c: int
    place: Place


@lru_cache(maxsize=16)
def trip_range(constants: Constants, machine: Machine) -> TripRange | None:
    """Work out what the cut-out of an element has to do under a programme; None without an element."""
    if machine.element is None:
        return None
    boils_c = boiling_c(machine.room.height_m)
    low_c = math.ceil(hottest_bath_c(constants, machine) + SPARE_K)
    high_c = math.floor(min(machine.tank.limit_c, boils_c - UNDER_BOIL_K))
    if any(row.kind == "steam" for row in constants.rounds) or low_c > high_c:
        return TripRange(math.ceil(boils_c + SHEATH_OVER_BOIL_K), math.floor(SHEATH_MOST_C), "sheath")
    return TripRange(low_c, high_c, "bath")


def hottest_bath_c(constants: Constants, machine: Machine) -> float:
    """Hottest water of two sound runs, the second on a warm machine, at a few ends of the tolerances [°C]."""
    cases = fault_cases(machine)
    heat, last = HeatMeter(constants, cases), LastState()
    for stretch in Simulation(constants, cases, machine.tank.vent_m2).run():
        heat.add(stretch)
        last.add(stretch)
    again_c = hottest_again(constants, machine, cases, last.state)["tank.bath_c"]
    return float(max(heat.hottest_c.max(), again_c.max()))
