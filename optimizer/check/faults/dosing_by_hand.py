"""Detergent that is forgotten, or put in twice: what happens where somebody doses by hand.

The two are common practice, no source. Where a programme has no detergent there is nothing to forget.
"""

from __future__ import annotations

from dataclasses import replace

from optimizer.check.detergent_rows import strongest_g_per_l
from optimizer.check.faults.outcome import SPOILED, FaultRow, make_row, wash_sentence
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.phases import phases
from optimizer.programme.constants import Constants

FORGOTTEN = ("detergent.forgotten", "detergent is forgotten")
DOUBLED = ("detergent.doubled", "detergent is put in twice")
AS_ASKED = "Without it the doses are as asked all the same."


def detergent_faults(rig: Rig, sound: Observation) -> list[FaultRow]:
    """Give two rows, none where no round has detergent; ``sound`` is the run without a fault."""
    if rig.goal.detergent is None or not any(row.detergent_dg for row in rig.constants.rounds):
        return []
    usual, met = {row.key for row in sound.missed}, sound.meter.extremes()
    without, twice = (_dosed(rig.constants, times) for times in (0, 2))
    bare, strong = (
        [row for row in _observe(rig, constants).missed if row.key not in usual]
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
    ]


def _dosed(constants: Constants, times: int) -> Constants:
    rounds = tuple(replace(row, detergent_dg=times * row.detergent_dg) for row in constants.rounds)
    return replace(constants, rounds=rounds)


def _observe(rig: Rig, constants: Constants) -> Observation:
    return replace(rig, constants=constants).observe(phases(constants))
