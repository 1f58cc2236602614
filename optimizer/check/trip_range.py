"""Between which temperatures the cut-outs of an element have to trip: one on its sheath, one in the bath.

A feeler in an emptied bath reads air, and an open bath never passes the boil: only the element's own sheath
shows that the water is gone, so that one sits there always. One in the bath stands for the tank: it has to
let the hottest sound bath pass and to trip before the tank suffers. Where these two are close together none
that can be bought does both, and where a programme boils there is none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from optimizer.check.integrate import Simulation
from optimizer.check.meters import HeatMeter
from optimizer.check.second_run import LastState, hottest_again
from optimizer.check.worst_cases import fault_cases
from optimizer.physics.water import boiling_c
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SPARE_K = 3.0
"""A cut-out in the bath trips so far above the hottest sound bath at least [K], for a feeler that reads high;
*no source*, our choice."""

UNDER_BOIL_K = 3.0
"""It trips so far under the boil at least, or it may never trip [K]; *no source*, our choice."""

SHEATH_OVER_BOIL_K = 20.0
"""A sheath under boiling water is hotter than it by some 5 to 15 K (boiling curve, from memory), and by more
with scale on it: it trips above this [K]; *no source*, our choice."""

SHEATH_MOST_C = 150.0
"""A sheath trips here at the latest [°C]: polypropylene melts at about 160 °C (from memory)."""

POLYETHYLENE_C = {"HDPE": (100, 125), "LDPE": (95, 105)}
"""Between which temperatures a sheath trips by a tank of polyethylene [°C]: below what melts it. It never
comes near the boil in a sound run, as such a tank stands 75 °C at most; *no source*, our choice."""

MELTS_C = {"HDPE": 130, "LDPE": 110}
"""Where a tank of polyethylene melts [°C] (from memory)."""

STILL_W_PER_CM2_K = 0.07
"""What still water takes from a sheath that is hotter, by each kelvin [W/(cm² K)]: half of what a horizontal
tube of 8 mm gives by Nu = 0.53 Ra^(1/4) (natural convection, handbooks), for scale and feeler."""

BUYABLE_K = 10
"""A narrower range is met by no cut-out that can be bought [K]: common ones hold ± 5 K or worse (from
memory)."""


@dataclass(frozen=True)
class TripRange:
    """A cut-out that trips between two temperatures, its tolerance included.

    Attributes
    ----------
    low_c, high_c : int
        It must not trip below the one, and must have tripped at the other [°C].
    """

    low_c: int
    high_c: int

    @property
    def highest_mark_c(self) -> int:
        """The highest marked temperature that trips in time; whole fives where one lies in the range [°C].

        Examples
        --------
        >>> TripRange(68, 85).highest_mark_c, TripRange(73, 84).highest_mark_c
        (80, 79)
        """
        most_c = self.high_c - BUYABLE_K // 2
        five_c = most_c - most_c % 5
        return five_c if five_c - BUYABLE_K // 2 >= self.low_c else most_c

    @property
    def can_be_bought(self) -> bool:
        """Whether a common cut-out stays within it."""
        return self.high_c - self.low_c >= BUYABLE_K


@dataclass(frozen=True)
class CutOuts:
    """What the cut-outs of an element have to do under a programme.

    Attributes
    ----------
    sheath : TripRange
        Of the one on the element's sheath, which every element needs.
    bath : TripRange or None
        Of the one in the bath, whether or not it can be bought: its ends may have changed places. None where
        the programme boils.
    tank_stands_boil : bool
        Whether the tank stands what an open bath may reach, so that the one in the bath may be missing.
    """

    sheath: TripRange
    bath: TripRange | None
    tank_stands_boil: bool

    @property
    def sheath_w_per_cm2(self) -> float | None:
        """Surface load with which a sheath stays under its trip in the hottest bath, or None [W/cm²]."""
        if self.bath is None:
            return None
        return max(self.sheath.low_c - self.bath.low_c + SPARE_K, 0.0) * STILL_W_PER_CM2_K


@lru_cache(maxsize=16)
def cut_outs(constants: Constants, machine: Machine, guaranteed_c: float | None = None) -> CutOuts | None:
    """Work out what the cut-outs of an element have to do under a programme; None without an element.

    ``guaranteed_c`` is the hottest bath that its certificate guarantees; without one, the hottest of a few
    runs stands for it.
    """
    if machine.element is None:
        return None
    boils_c, limit_c = boiling_c(machine.room.height_m), machine.tank.limit_c
    usual_c = (math.ceil(boils_c + SHEATH_OVER_BOIL_K), math.floor(SHEATH_MOST_C))
    sheath = TripRange(*POLYETHYLENE_C.get(machine.tank.material, usual_c))
    if any(row.kind == "steam" for row in constants.rounds):
        return CutOuts(sheath, None, limit_c >= boils_c)
    hottest_c = hottest_bath_c(constants, machine) if guaranteed_c is None else guaranteed_c
    low_c = math.ceil(hottest_c + SPARE_K)
    high_c = math.floor(min(limit_c, boils_c - UNDER_BOIL_K))
    return CutOuts(sheath, TripRange(low_c, high_c), limit_c >= boils_c)


def hottest_bath_c(constants: Constants, machine: Machine) -> float:
    """Hottest water of two sound runs, the second on a warm machine, at a few ends of the tolerances [°C]."""
    cases = fault_cases(machine)
    heat, last = HeatMeter(constants, cases), LastState()
    for stretch in Simulation(constants, cases, machine.tank.vent_m2).run():
        heat.add(stretch)
        last.add(stretch)
    again_c = hottest_again(constants, machine, cases, last.state)["tank.bath_c"]
    return float(max(heat.hottest_c.max(), again_c.max()))
