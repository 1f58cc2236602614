"""A relay that has welded heats on after a stop, which keeps the water in: when its tank stands that no more.

While the programme goes on, each drain takes the bath away before it is too hot, or nearly so. A stop that is
pressed, or a controller that ends a run by an error, keeps the water in, and no relay that has welded opens.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from optimizer.check.faults.catalogue import Delivery, SingleFault
from optimizer.check.faults.cool_start import cool_start
from optimizer.check.faults.guard_words import AS_THE_ROOM
from optimizer.check.faults.outcome import Harm, lasting
from optimizer.check.faults.rig import Rig
from optimizer.check.phases import Outputs, Phase

STICKS = ("element.on", "element.stays_on")
"""Faults of a relay that has welded, by their keys."""

KEPT_S = 6 * 3600
"""The water kept in is followed for so long after the stop [s]; *no source*, our choice."""

HEATS_ON = (
    "A stop does not switch off a welded relay, and the water that it keeps in goes on being heated: up to "
    "{:.0f} °C, and past the {:g} °C that the tank stands {} or sooner after the {}."
)

WELDED = (
    "Pull the plug, reset no cut-out, and leave it out until an electrician has replaced the relay (and what "
    "drives it) and tried it, all cool and the cut-outs reset, with a filament lamp in place of the element, "
    "in a run with water and without ware: dark before the controller heats, also with the float switch "
    "bridged for a moment, lit while it heats, dark as stop is pressed. Until then the element may be on "
    "whenever the plug is in. Start again only once tank and ware are {}, by a thermometer and never by "
    "hand, the lid opened away from your face: WASH_DRAIN_WAIT_S does not count what a welded relay has "
    "heated."
)


def welded_words(rig: Rig, fault: SingleFault) -> str:
    """Say what to do about a welded relay, and how cool it has to be to start again; "" of other faults."""
    if fault.key not in STICKS:
        return ""
    found_c = cool_start(rig.constants, rig.machine, rig.goal, rig.circuit).both_c
    pump = rig.machine.drain_pump
    # What no sound run gets hot enough for was not tried: a welded relay takes the bath to the boil.
    if found_c is None or not math.isfinite(found_c):
        return WELDED.format(AS_THE_ROOM)
    return WELDED.format(
        f"at {found_c if pump.stands_the_boil else min(found_c, pump.drain_limit_c):.0f} °C or less"
    )


def kept_hot(rig: Rig, fault: SingleFault, deliveries: Sequence[Delivery]) -> tuple[Harm, float, str] | None:
    """Give the harm, the hottest bath [°C] and the sentence; None of other faults, or if the tank stands it.

    A run is stopped as its relay sticks, or after each fill where it is stuck from the start.
    """
    cut_outs = rig.protection.cut_outs
    if fault.key not in STICKS or cut_outs is None or cut_outs.tank_stands_boil:
        return None
    found: list[Harm] = []
    hottest_c = 0.0
    for delivery in deliveries:
        for stop in _stops(rig.asked, delivery.onset):
            seen = rig.watch((*delivery.phases[:stop], _kept(rig.asked[stop - 1])))
            tally = seen.tallies["hot"]
            after_s = tally.first_s - seen.begins_s[delivery.onset]
            case = int(after_s.argmin())
            total_s = float(tally.total_s.max())
            found.append(Harm("hot", float(after_s[case]), int(tally.round[case]), total_s))
            hottest_c = max(hottest_c, seen.extremes().bath_c)
    harm = min(found, key=lambda each: each.after_s)
    if harm.after_s == float("inf"):
        return None
    words = HEATS_ON.format(hottest_c, rig.machine.tank.limit_c, lasting(harm.after_s), fault.counted_from)
    return harm, hottest_c, words


def _stops(asked: Sequence[Phase], onset: int) -> list[int]:
    """Name the phases that a stop takes the place of: the first at fault, or else those after a fill."""
    if onset:
        return [onset]
    return [number for number, before in enumerate(asked[:-1], start=1) if before.name == "fill"]


def _kept(before: Phase) -> Phase:
    """Keep the water in, the element on and all else off."""
    kept = replace(before, name="rest", longest_s=KEPT_S, outputs=Outputs(element=True))
    return replace(kept, end="time", cycles=False, sprayed=False, wet=True)
