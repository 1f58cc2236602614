"""What some runs of a programme do that needs no sentence of its own: harms that a meter sees, and steps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.check.faults.harm_meter import MEASURED, scalding_c
from optimizer.check.faults.outcome import Harm, harm_sentence
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.started_again import steps_met


def harms_met(rig: Rig, runs: Sequence[Observation], counted_from: str) -> tuple[list[Harm], list[str]]:
    """Give each kind of harm that any of the runs met, where it comes soonest, and the sentences that say it.

    Times count from what ``counted_from`` says, at which every run begins.
    """
    kinds = [row.kind for row in rig.constants.rounds]
    harms: list[Harm] = []
    sentences: list[str] = []
    for kind in MEASURED:
        found = []
        for one in runs:
            tally = one.meter.tallies[kind]
            case = int(tally.first_s.argmin())
            found.append(
                (float(tally.first_s[case]), int(tally.round[case]), float(tally.total_s.max()), one)
            )
        first_s, number, total_s, one = min(found, key=lambda each: each[0])
        if np.isfinite(first_s):
            most_c = max(scalding_c(kind, each.meter.tallies[kind]) for each in runs)
            harm = Harm(kind, first_s, number, total_s, most_c)
            harms.append(harm)
            too_hot = one.meter.too_hot(harm.round, one.meter.extremes())
            sentences.append(harm_sentence(harm, counted_from, kinds, too_hot))
    kinds_met, stepped = steps_met(rig, [one.heat for one in runs], slice(None))
    harms += [Harm(kind, 0.0, -1, 0.0) for kind in kinds_met]
    return harms, [*sentences, *([stepped] if stepped else [])]
