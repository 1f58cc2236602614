"""Detergent that is forgotten, put in twice, or into the wrong spray, where somebody doses by hand.

The three are common practice, no source. Where a programme has no detergent there is nothing to forget.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from optimizer.check.detergent_rows import strongest_g_per_l
from optimizer.check.dosing_moment import DosedSpray, dosed_sprays
from optimizer.check.faults.guard_words import DISPENSER
from optimizer.check.faults.outcome import SPOILED, FaultRow, Harm, make_row, wash_sentence
from optimizer.check.faults.past import past_wash, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.phases import phases
from optimizer.programme.constants import Constants

FORGOTTEN = ("detergent.forgotten", "detergent is forgotten")
DOUBLED = ("detergent.doubled", "detergent is put in twice")
MISPLACED = ("detergent.misplaced", "detergent goes into the wrong spray")
AS_ASKED = "Without it the doses are as asked all the same."


def detergent_faults(rig: Rig, sound: Observation) -> list[FaultRow]:
    """Give a row a mistake, none where no round has detergent; ``sound`` is the run without a fault."""
    if rig.goal.detergent is None or not any(row.detergent_dg for row in rig.constants.rounds):
        return []
    usual, met = {row.key for row in sound.missed}, sound.meter.extremes()
    without, twice = (_dosed(rig.constants, times) for times in (0, 2))
    bare, strong = (
        [row for row in _worst(rig, sound, constants).missed if row.key not in usual]
        for constants in (without, twice)
    )
    words = f"{wash_sentence(bare)} Wash once more." if bare else AS_ASKED
    g_per_l, most_g_per_l = strongest_g_per_l(twice, rig.machine), rig.goal.detergent.most_g_per_l
    foams = g_per_l > most_g_per_l
    sentences = [f"Up to {g_per_l:.1f} g/l in a bath that bears {most_g_per_l:g}."]
    if foams:
        sentences.append("It foams, and foam starves the pump (see there).")
    if strong:
        sentences.append(f"{wash_sentence(strong)} Rinse the ware by hand before anyone uses it.")
    spoiled = [SPOILED] if foams or strong else []
    return [
        make_row(FORGOTTEN, words, [SPOILED] if bare else [], met, {"wash": ()}),
        make_row(DOUBLED, " ".join(sentences), spoiled, met, {"wash": ()}),
        *(_misplaced(rig, sound, spray) for spray in dosed_sprays(rig.constants, rig.machine)[:1]),
    ]


def _misplaced(rig: Rig, sound: Observation, spray: DosedSpray) -> FaultRow:
    """Say what comes of the detergent of a spray in one before it, and in the last one."""
    constants, usual = rig.constants, {row.key for row in sound.missed}
    sprays = [number for number, row in enumerate(constants.rounds) if row.spray_s and row.kind != "steam"]
    sentences, harms = [f"It belongs in {spray.words}."], [SPOILED]
    if sprays[0] < spray.round - 1:
        early = _observe(rig, _moved(constants, spray.round - 1, sprays[0]))
        # How warm it is where it does not belong is no matter: it is the wash that lacks it.
        missed = [
            row for row in early.missed if row.key not in usual and not row.key.startswith("detergent.")
        ]
        what = f"{wash_sentence(missed)} Wash once more." if missed else AS_ASKED
        sentences.append(
            f"In the {constants.rounds[sprays[0]].kind}, which comes first, it is drained. {what}"
        )
    last = sprays[-1]
    if constants.rounds[last].kind == "rinse":
        g_per_l = strongest_g_per_l(_moved(constants, spray.round - 1, last), rig.machine)
        places = [(phase.name, phase.round) for phase in rig.asked]
        begins, drains = (sound.meter.begins_s[places.index((name, last))] for name in ("spray", "drain"))
        harms.append(Harm("unrinsed", float((drains - begins).min()), last, 0.0))
        sentences.append(
            f"In the last rinse nothing takes it off: up to {g_per_l:.1f} g/l dry on the ware. Rinse it by "
            "hand before anyone uses it, and wash once more."
        )
    met, guards = sound.meter.extremes(), rig.protection.against(MISPLACED[0])
    return make_row(MISPLACED, " ".join(sentences), harms, met, guards | {"unrinsed": (DISPENSER,)})


def _moved(constants: Constants, source: int, target: int) -> Constants:
    """Put what belongs into one round into another."""
    rounds = list(constants.rounds)
    moved_dg = rounds[source].detergent_dg
    rounds[source] = replace(rounds[source], detergent_dg=0)
    rounds[target] = replace(rounds[target], detergent_dg=rounds[target].detergent_dg + moved_dg)
    return replace(constants, rounds=tuple(rounds))


def _dosed(constants: Constants, times: int) -> Constants:
    rounds = tuple(replace(row, detergent_dg=times * row.detergent_dg) for row in constants.rounds)
    return replace(constants, rounds=rounds)


def _worst(rig: Rig, sound: Observation, constants: Constants) -> Observation:
    """Run with other doses, at points too at which a search finds that more is missed."""
    usual = {row.key for row in sound.missed}
    courses = [partial(_observe, constants=constants)]
    return searched(rig, sound, courses, partial(past_wash, usual=usual))[2][0]


def _observe(rig: Rig, constants: Constants) -> Observation:
    return replace(rig, constants=constants).observe(phases(constants))
