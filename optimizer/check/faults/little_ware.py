"""A run with little or no ware: what is proven is proven for the ware of the machine's profile.

Ware takes up heat. Without it a bath that is heated by time alone ends hotter, and steam boils a pool off
sooner; and where it kept a bath warm after its heating, a bath without it ends colder. That half loads are
run is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from optimizer.check.certificate import Row
from optimizer.check.faults.harm_meter import MEASURED
from optimizer.check.faults.harms_met import harms_met
from optimizer.check.faults.hot_drains import by_what_passes
from optimizer.check.faults.outcome import SPOILED, UNHYGIENIC, FaultRow, Harm, make_row, wash_sentence
from optimizer.check.faults.past import past_alone, past_wash, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.started_again import steps_met
from optimizer.check.worst_cases import Array

LITTLE_SHARE = 0.01
"""Heat capacity of the ware that goes in over that of the profile [1]; of none nothing could be said."""

SHARES = (LITTLE_SHARE, 0.3, 0.6)
"""Shares of the ware that are run [1]; *no source*, our choice."""

KEY = "ware.little"
FULL_LOADS = "full loads only, or a plan for the ware that goes in (ware of the machine's profile)"


def little_ware(rig: Rig, sound: Observation) -> FaultRow:
    """Give one row: the whole programme, with next to no ware; ``sound`` is the run with all of it."""

    def course(share: float, other: Rig) -> Observation:
        return _light(other, share).observe(other.asked)

    as_usual = _usual(sound)

    def past(one: Observation) -> dict[str, Array]:
        return past_alone(rig, one) | past_wash(one, as_usual)

    rig, sound, runs = searched(rig, sound, [partial(course, share) for share in SHARES], past)
    light, run = _light(rig), runs[0]
    met = run.meter.extremes()
    usual = by_what_passes(rig.machine, rig.protection.against(KEY), [one.meter for one in runs])
    guards = {kind: (FULL_LOADS, *(named if kind in MEASURED else ())) for kind, named in usual.items()}
    found, sentences = harms_met(light, runs, "start")
    harms = [harm if harm.kind in MEASURED else _at_its_round(light, harm) for harm in found]
    words = (
        f"The numbers are for the ware of the profile. With next to none the bath reaches {met.bath_c:.0f} "
        f"°C, with all of it {sound.meter.extremes().bath_c:.0f} °C here."
    )
    pool = _pool(rig, run, sound)
    if missed := _missed(runs, _usual(sound)):
        harms.append(SPOILED)
        sentences.append(wash_sentence(missed))
        if any(row.key.startswith("hygiene.") for row in missed):
            sentences.append(UNHYGIENIC[rig.goal.hygiene.method])
    said = " ".join([words, *pool, *sentences])
    return make_row((KEY, "run with little or no ware"), said, harms, met, guards)


def _usual(sound: Observation) -> set[str]:
    """Name what is not this fault's doing; how ware dries neither: less of it carries less film, not told."""
    drying = {judged.key for judged in sound.judged if judged.key.startswith("drying.")}
    return drying | {row.key for row in sound.missed}


def _missed(runs: Sequence[Observation], usual: Collection[str]) -> list[Row]:
    """What any share of the ware makes the wash miss, each as in the worst of them."""
    found: dict[str, Row] = {}
    for row in (row for run in runs for row in run.missed if row.key not in usual):
        found[row.key] = min(found.get(row.key, row), row, key=lambda each: each.margin)
    return list(found.values())


def _light(rig: Rig, share: float = LITTLE_SHARE) -> Rig:
    return replace(rig, cases=replace(rig.cases, ware_j_per_k=share * rig.cases.ware_j_per_k))


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
