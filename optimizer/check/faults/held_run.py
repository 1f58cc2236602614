"""Open the lid at each point of a programme, shut it and start again, as the reference controller does it.

It drains and repeats the round in which the lid was opened. What it then drains was not cooled, and what it
sprays with meets ware as warm as it was: both are worst where lid and start come at once.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import numpy as np

from optimizer.check.dosing_moment import dosed_sprays
from optimizer.check.drain_wait import drain_wait_s
from optimizer.check.faults.cool_start import HeldStart, cool_start, held_start, repeats
from optimizer.check.faults.cut_search import cooled
from optimizer.check.faults.guard_words import AS_THE_ROOM, COOL_BEFORE, PIPE, cool_ware
from optimizer.check.faults.harms_met import harms_met
from optimizer.check.faults.outcome import SPOILED, FaultRow, Harm, lasting, make_row, unfinished_words
from optimizer.check.faults.past import Course, past_alone, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.started_again import cut_states

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
WARM_AGAIN = (
    "Left to cool to what the drain pipe stands ({:g} °C) it repeats the round from there all the same, and "
    "drains water of up to {} °C in its turn in the cases run."
)
COOL_ENOUGH = (
    "To go on, let tank and ware cool to {:.0f} °C before you press start: then no drain in its turn is too "
    "hot in the cases run. If the run ends before they are so cool, do not go on with it: start anew as the "
    "guard says."
)
NO_COOL_HELPS = "However cool tank and ware are, that drain may be too hot: do not press start."
END_HELD = (
    "a held run is ended, not gone on with: long press, or pull the plug; tank and ware left to cool to {}; "
    f"then started anew, or a {PIPE}"
)
COUNTED_FROM = "lid is shut and start pressed"


def held_run(rig: Rig, sound: Observation) -> FaultRow:
    """Give one row, of the worst moment to open the lid; ``sound`` is the run without a fault."""
    rig, sound, again = searched(rig, sound, _courses(rig, sound), partial(past_alone, rig))
    met_harms, sentences = harms_met(rig, again, COUNTED_FROM)
    harms, sentences = [SPOILED, *met_harms], [_opening(rig), *sentences]
    what = ("lid.held", "lid opened in a run, shut, and start pressed")
    met = max((one.meter.extremes() for one in again), key=lambda each: each.bath_c)
    guards = rig.protection.against(what[0])
    breaks = any(harm.kind == "breaks" for harm in harms)
    enough = held_start(rig, sound, steps=breaks)
    cool_c = enough.both_c
    if enough.drains_c is None or math.isfinite(enough.drains_c):
        sentence, guard = _hot_in_turn(rig, enough)
        sentences.append(sentence)
        # Ware that has to be as cool for its own sake is told so once.
        if enough.drains_c is None or not breaks or cool_c is None:
            guards = guards | {"hot_drain": (*guards["hot_drain"], guard)}
        if not any(harm.kind == "hot_drain" for harm in harms):
            harms.append(Harm("hot_drain", np.inf, -1, 0.0))
    if breaks and enough.drains_c is None:
        # It is not gone on with.
        guards = guards | {"breaks": ()}
    elif breaks and cool_c is not None:
        guards = guards | {"breaks": (cool_ware(cool_c),)}
    return make_row(what, " ".join(sentences), harms, met, guards)


def _hot_in_turn(rig: Rig, enough: HeldStart) -> tuple[str, str]:
    """Say how cool is cool enough for a drain in its turn, or that nothing is, and what stands against it."""
    pipe_c = rig.machine.drain_pump.drain_limit_c
    told = WARM_AGAIN.format(pipe_c, math.ceil(enough.drained_c))
    if enough.drains_c is not None:
        return f"{told} {COOL_ENOUGH.format(enough.drains_c)}", COOL_BEFORE.format(enough.drains_c)
    anew_c = cool_start(rig.constants, rig.machine, rig.goal, rig.circuit).both_c
    known = anew_c is not None and math.isfinite(anew_c)
    cool = f"{anew_c:.0f} °C or less, by a thermometer" if known else AS_THE_ROOM
    return f"{told} {NO_COOL_HELPS}", END_HELD.format(cool)


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
    return replace(rig, cases=cases).observe(repeats(asked, number), cooled(start, most_c))


def _opening(rig: Rig) -> str:
    dosed = ", detergent too" * any(row.detergent_dg for row in rig.constants.rounds)
    by_hand = bool(dosed) and not all(one.by_dispenser for one in dosed_sprays(rig.constants, rig.machine))
    drain, most = lasting(rig.constants.start_drain_s), lasting(HELD_MAX_S)
    # A sound sensor gives leave to drain what is cool: what a stuck one would ask for is not told here.
    waits = WAITS if drain_wait_s(rig.constants, rig.machine, found_s=0) else ""
    ends = unfinished_words(rig.constants)
    return (
        "A controller that reads the lid switch (hook lid_shut) has every output off at once, holds the run, "
        f"and starts nothing as the lid is shut. Started again it {waits}drains for {drain} and repeats all "
        f"of that round{dosed}; {COUNT_ANEW * by_hand}held for over {most} (WASH_HELD_MAX_S) the run "
        f"ends: {ends}. Soil dries and ware cools meanwhile: after a held run NO dose is proven. A "
        "controller that does not read it goes on in its table while the switch in the supply is open: stop "
        "it and start anew."
    )
