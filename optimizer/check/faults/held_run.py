"""Open the lid at each point of a programme, shut it and start again, as the reference controller does it.

It drains and repeats the round in which the lid was opened. What it then drains was not cooled, and what it
sprays with meets ware as warm as it was: both are worst where lid and start come at once.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from optimizer.check.drain_wait import drain_wait_s
from optimizer.check.faults.cool_start import cool_start
from optimizer.check.faults.guard_words import cool_ware
from optimizer.check.faults.harms_met import harms_met
from optimizer.check.faults.outcome import SPOILED, FaultRow, lasting, make_row, unfinished_words
from optimizer.check.faults.past import Course, past_alone, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.started_again import cut_states, steps_met

HELD_MAX_S = 600
"""A run is held for so long at the most, as the controller comes (WASH_HELD_MAX_S) [s]; *no source*."""

WAITS = (
    "waits until the bath has cooled for its drain (WASH_DRAIN_MAX_DC, WASH_DRAIN_WAIT_S; what follows is "
    "without that wait), "
)
COUNT_ANEW = (
    "where detergent goes in by hand the count of the wash pump's starts begins anew with that round, so go "
    "by the round; "
)
COUNTED_FROM = "lid is shut and start pressed"


def held_run(rig: Rig, sound: Observation) -> FaultRow:
    """Give one row, of the worst moment to open the lid; ``sound`` is the run without a fault."""
    rounds = range(len(rig.constants.rounds))
    rig, sound, again = searched(rig, sound, _courses(rig, sound), partial(past_alone, rig))
    met_harms, sentences = harms_met(rig, again, COUNTED_FROM)
    harms, sentences = [SPOILED, *met_harms], [_opening(rig), *sentences]
    what = ("lid.held", "lid opened in a run, shut, and start pressed")
    met = max((one.meter.extremes() for one in again), key=lambda each: each.bath_c)
    guards = rig.protection.against(what[0])
    if any(harm.kind == "breaks" for harm in harms):
        start_c = cool_start(rig.constants, rig.machine, rig.goal, rig.circuit).both_c
        cooled = [_again(rig, sound, at, start_c).heat for at in rounds] if start_c is not None else []
        if cooled and "breaks" not in steps_met(rig, cooled, slice(None))[0]:
            guards = guards | {"breaks": (cool_ware(start_c),)}
    return make_row(what, " ".join(sentences), harms, met, guards)


def _courses(rig: Rig, sound: Observation) -> list[Course]:
    """Give the runs that are held in each round, from any rig: its own first run goes before."""

    def course(number: int, other: Rig) -> Observation:
        first = sound if other is rig else other.observe(other.asked)
        return _again(other, first, number)

    return [partial(course, number) for number in range(len(rig.constants.rounds))]


def _again(rig: Rig, sound: Observation, number: int, most_c: float = np.inf) -> Observation:
    """Drain, repeat a round and go on, from every point of its first run at which the lid may open.

    ``most_c``: bath and ware are first left to cool to it [°C].
    """
    asked = rig.asked
    of_round = [at for at, phase in enumerate(asked) if phase.round == number]
    cuts = [at for at in of_round if asked[at].name not in ("gap", "stand")]
    first = of_round[0]
    # The pause before its fill belongs to the round before it; opened there, the tank is empty.
    cases, start = cut_states(rig, sound, np.array([first - 1, *cuts]))
    start = replace(start, bath_c=np.minimum(start.bath_c, most_c), ware_c=np.minimum(start.ware_c, most_c))
    return replace(rig, cases=cases).observe((asked[0], asked[first - 1], *asked[first:]), start)


def _opening(rig: Rig) -> str:
    dosed = ", detergent too" * any(row.detergent_dg for row in rig.constants.rounds)
    drain, most = lasting(rig.constants.start_drain_s), lasting(HELD_MAX_S)
    # A sound sensor gives leave to drain what is cool: what a stuck one would ask for is not told here.
    waits = WAITS if drain_wait_s(rig.constants, rig.machine, found_s=0) else ""
    ends = unfinished_words(rig.constants)
    return (
        "A controller that reads the lid switch (hook lid_shut) has every output off at once, holds the run, "
        f"and starts nothing as the lid is shut. Started again it {waits}drains for {drain} and repeats all "
        f"of that round{dosed}; {COUNT_ANEW * bool(dosed)}held for over {most} (WASH_HELD_MAX_S) the run "
        f"ends: {ends}. Soil dries and ware cools meanwhile: after a held run NO dose is proven. A "
        "controller that does not read it goes on in its table while the switch in the supply is open: stop "
        "it and start anew."
    )
