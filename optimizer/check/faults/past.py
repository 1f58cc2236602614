"""How far each case of a run is past the limits from which a row of faults tells them; 0 or less: within."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

import numpy as np

from optimizer.check.aim import Asked, Moot, Values, aimed, nothing_moot, untold
from optimizer.check.certificate import Row
from optimizer.check.drawn_cases import Spread
from optimizer.check.faults.harm_meter import MEASURED, NOISE
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.spray_meter import SHORT_SHARE, most_over
from optimizer.check.meters import HeatMeter
from optimizer.check.worst_cases import Array

STEP_NOISE_K = 0.1
"""A step between ware and bath that is past its limit by less counts as within it [K]."""

SAME = 1e-3
"""Values closer than this are the same [K, l or shares of a limit]."""

Course = Callable[[Rig], Observation]
"""Something that is run from a rig, at its cases: they may come several times over, set after set."""

Past = Callable[[Observation], dict[str, Array]]
"""From a run to how far each of its cases is past what is told."""


def past_harm(one: Observation) -> dict[str, Array]:
    """By kind of harm that a meter sees [K, l]."""
    return {kind: one.meter.tallies[kind].excess - NOISE for kind in MEASURED}


def past_hot_drain(one: Observation) -> dict[str, Array]:
    """Of the harms that a meter sees, the drain of water that is too hot for its pipe, alone [K]."""
    return {"hot_drain": past_harm(one)["hot_drain"]}


def past_steps(rig: Rig, one: Observation, usual: HeatMeter | None = None) -> dict[str, Array]:
    """By step between ware and bath, of those that the goal limits [K].

    Where the ``usual`` ones of a run are larger than the goal lets them be, what is told is more than those.
    """
    limits = rig.goal.limits
    found = {}
    for name, most_k in (("drop_k", limits.ware_drop_k), ("rise_k", limits.ware_rise_k)):
        if most_k is not None:
            least_k = most_k if usual is None else max(most_k, float(getattr(usual, name).max()))
            found[name] = getattr(one.heat, name) - least_k - STEP_NOISE_K
    return found


def past_wash(one: Observation, usual: Collection[str]) -> dict[str, Array]:
    """By requirement of the wash, in shares of its limit; those that are missed as usual are left out [1]."""
    found = {}
    for judged in one.judged:
        if not isinstance(judged, Row) and judged.key not in usual:
            limit = -judged.limit if judged.sense == "at least" else judged.limit
            found[judged.key] = (judged.badness - limit) / (abs(limit) or 1.0) - SHORT_SHARE
    return found


def past_alone(rig: Rig, one: Observation) -> dict[str, Array]:
    """What is told of a run beside its ware's cleanliness: harms, a look that lets pass, steps."""
    return past_harm(one) | {"passes": one.meter.passes_k} | past_steps(rig, one)


def past_of_fault(one: Observation, sound: Observation) -> dict[str, Array]:
    """All that a row of a broken part tells: harms; doses, hygiene and the rest of the wash; detergent."""
    wash = past_wash(one, {row.key for row in sound.missed})
    found = past_harm(one) | {
        "passes": one.meter.passes_k,
        "over": one.over - most_over(sound.detergent_over),
    }
    for group in ("dose.", "hygiene.", ""):
        keys = [key for key in wash if key.startswith(group)]
        if keys:
            found[group or "wash"] = np.max([wash.pop(key) for key in keys], axis=0)
    return found


def searched(
    rig: Rig, sound: Observation, courses: Sequence[Course], past: Past, moot: Moot = nothing_moot
) -> tuple[Rig, Observation, list[Observation]]:
    """Run the courses, and once more with the points at which a search finds what else is to be told.

    Gives the rig that was run, the run without a fault, and those of the courses.
    """
    runs = [course(rig) for course in courses]
    if rig.spread is None:
        return rig, sound, runs
    box, points = rig.spread.box, rig.spread.points

    def values(one: Observation, count: int) -> Values:
        return {key: each.reshape(-1, count).max(axis=0) for key, each in past(one).items()}

    def run(asked: Asked) -> list[Values]:
        return [values(courses[at](rig.at(Spread.of(box, some))), len(some)) for at, some in asked]

    usual = values(sound, len(points))
    seen = {
        at: {key: each for key, each in values(one, len(points)).items() if _worse(each, usual.get(key))}
        for at, one in enumerate(runs)
    }
    found = aimed(box, points, seen, untold(seen, moot), run)
    if not len(found):
        return rig, sound, runs
    wider = rig.at(rig.spread.wider(found))
    return wider, wider.observe(wider.asked), [course(wider) for course in courses]


def _worse(values: Array, usual: Array | None) -> bool:
    """Whether a fault makes anything worse: what a run without it does is the certificate's to say."""
    if usual is None:
        return True
    with np.errstate(invalid="ignore"):
        return bool(values.max() > usual.max() + SAME)
