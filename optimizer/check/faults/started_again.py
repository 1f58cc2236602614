"""A run that is started again: where it stands as it ends early, and what its sprays then do to its ware."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.check.equations import State, spray_ends
from optimizer.check.faults.harm_meter import HarmKind
from optimizer.check.faults.past import STEP_NOISE_K
from optimizer.check.faults.rig import Numbers, Observation, Rig
from optimizer.check.meters import HeatMeter
from optimizer.check.worst_cases import Array, Cases, repeated

GLASS_BREAKS = "any glass or porcelain in the load may break"
FAT_SETS = "fat that is left on it sets"


def cut_states(rig: Rig, sound: Observation, cuts: Numbers) -> tuple[Cases, State]:
    """Give the cases of a run cut at the ends of phases, those of the first first, and how each stands."""
    count = rig.cases.count
    case = np.tile(np.arange(count), len(cuts))
    return _standing(rig, sound, repeated(rig.cases, len(cuts)), np.repeat(cuts, count), case)


def states_at(rig: Rig, sound: Observation, cuts: Numbers) -> tuple[Cases, State]:
    """Give the same of cases that are each cut at the end of a phase of its own."""
    return _standing(rig, sound, rig.cases, cuts, np.arange(rig.cases.count))


def _standing(
    rig: Rig, sound: Observation, cases: Cases, cuts: Numbers, case: Numbers
) -> tuple[Cases, State]:
    """Stand cases as the numbered cases of the sound run stood at the ends of phases."""
    ends = sound.meter.ends
    start = State(*(np.array([getattr(end, name) for end in ends])[cuts, case]
                    for name in ("bath_c", "ware_c", "water_kg", "film_kg")))  # fmt: skip
    # Once it was sprayed on, the ware is wet, however dry it was at the start.
    wet = (np.cumsum([phase.outputs.wash_pump for phase in rig.asked]) > 0)[cuts]
    cases = replace(cases, start_share=np.where(wet, 1.0, cases.start_share))
    # Cut in a spray, the film stays on the ware.
    ended, new = spray_ends(start, cases.film_kg, cases.ware_j_per_k), wet & (start.film_kg == 0.0)
    ware_c = np.where(new, ended.ware_c, start.ware_c)
    return cases, replace(start, ware_c=ware_c, film_kg=np.where(new, ended.film_kg, start.film_kg))


def steps_met(rig: Rig, heats: Sequence[HeatMeter], pick: Numbers | slice) -> tuple[list[HarmKind], str]:
    """Find what sprays after a cut do to ware too hot or too cold for them, and say it, of the worst run."""
    ware, limits = rig.machine.ware, rig.goal.limits
    steps: list[tuple[HarmKind, list[Array], float | None, str]] = [
        ("breaks", [one.drop_k for one in heats], limits.ware_drop_k,
         "ware {:.1f} K or more hotter than the bath"),
        ("breaks_cold", [one.rise_k for one in heats], limits.ware_rise_k,
         "a bath {:.1f} K or more hotter than the ware"),
    ]  # fmt: skip
    kinds, met = [], []
    for kind, over_k, most_k, words in steps:
        step_k = max(float(one[pick].max()) for one in over_k)
        if most_k is not None and step_k > most_k + STEP_NOISE_K:
            kinds.append(kind)
            met.append(f"{words.format(step_k)}, above {most_k:g} K")
    what = GLASS_BREAKS if ware.glass_kg.high > 0.0 else "it may crack"
    if limits.ware_rise_k is None:
        # Where steps up are free, those down may be limited for what the cold does to fat, and not to glass.
        what = f"{FAT_SETS}; {what}"
    return kinds, f"A spray meets {', and '.join(met)}: {what}." if met else ""
