"""A run with little or no ware: what is proven is proven for the ware of the machine's profile.

Ware takes up heat. Without it a bath that is heated by time alone ends hotter, and steam boils a pool off
sooner. That half loads are run is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from optimizer.check.faults.harm_meter import MEASURED
from optimizer.check.faults.harms_met import harms_met
from optimizer.check.faults.hot_drains import by_what_passes
from optimizer.check.faults.outcome import FaultRow, Harm, make_row
from optimizer.check.faults.past import past_alone, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.started_again import steps_met

LITTLE_SHARE = 0.01
"""Heat capacity of the ware that goes in over that of the profile [1]; of none nothing could be said."""

KEY = "ware.little"
FULL_LOADS = "full loads only, or a plan for the ware that goes in (ware of the machine's profile)"


def little_ware(rig: Rig, sound: Observation) -> FaultRow:
    """Give one row: the whole programme, with next to no ware; ``sound`` is the run with all of it."""

    def course(other: Rig) -> Observation:
        return _light(other).observe(other.asked)

    rig, sound, (run,) = searched(rig, sound, [course], partial(past_alone, rig))
    light = _light(rig)
    met = run.meter.extremes()
    usual = by_what_passes(rig.machine, rig.protection.against(KEY), [run.meter])
    guards = {kind: (FULL_LOADS, *(named if kind in MEASURED else ())) for kind, named in usual.items()}
    found, sentences = harms_met(light, [run], "start")
    harms = [harm if harm.kind in MEASURED else _at_its_round(light, harm) for harm in found]
    words = (
        f"The numbers are for the ware of the profile. With next to none the bath reaches {met.bath_c:.0f} "
        f"°C, with all of it {sound.meter.extremes().bath_c:.0f} °C here."
    )
    pool = _pool(rig, run, sound)
    said = " ".join([words, *pool, *sentences])
    return make_row((KEY, "run with little or no ware"), said, harms, met, guards)


def _light(rig: Rig) -> Rig:
    return replace(rig, cases=replace(rig.cases, ware_j_per_k=LITTLE_SHARE * rig.cases.ware_j_per_k))


def _pool(rig: Rig, run: Observation, sound: Observation) -> list[str]:
    """Say what is left of a pool of steam, which boils off sooner; nothing without one."""
    element, left_l = rig.machine.element, run.meter.pool_l
    if element is None or not np.isfinite(left_l):
        return []
    cover = f"{element.cover_l:g} l that cover the element"
    than = f"more than the {cover}" if left_l >= element.cover_l else f"LESS than the {cover}"
    return [
        f"The pool of steam boils off sooner: {left_l:.2f} l are left (with all of the ware "
        f"{sound.meter.pool_l:.2f}), {than}."
    ]


def _at_its_round(light: Rig, harm: Harm) -> Harm:
    """Give a step of the ware the first round in which it is met, and when the spray of that begins."""
    for number in range(len(light.constants.rounds)):
        phases = [phase for phase in light.asked if phase.round <= number]
        run = light.observe(phases)
        if harm.kind in steps_met(light, [run.heat], slice(None))[0]:
            of_round = [at for at, phase in enumerate(phases) if phase.round == number]
            sprays = next(at for at in of_round if phases[at].outputs.wash_pump)
            return replace(harm, after_s=float(run.meter.begins_s[sprays].min()), round=number)
    return harm
