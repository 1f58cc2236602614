"""How bad a programme is at points of the tolerances, by the planner's own simulation.

Which of them are the worst, another part searches: it hands in a `Finder`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from optimizer.physics import Array
from optimizer.planner.corners import WorstPoint, corners_beside
from optimizer.planner.margins import Assessor
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Mode, Programme
from optimizer.programme.constants import KINDS

Badness = Callable[[Mapping[str, Array]], Array]
"""From measured quantities, one value a point by the check's names, to points × requirements: the higher, the
worse."""

Finder = Callable[[Sequence[str], Badness], Sequence[WorstPoint]]
"""Finds the worst point for each of the requirements."""


def worst_corners(assessor: Assessor, programme: Programme, find: Finder) -> Sequence[WorstPoint]:
    """Find the worst points of the tolerances for a programme of one candidate."""
    inputs, structure = assessor.inputs, programme.structure
    heated = [i for i, mode in enumerate(structure.modes) if mode not in (Mode.UNHEATED, Mode.STEAM)]
    prerinses = [i for i, kind in enumerate(structure.kinds) if KINDS[kind] == "prerinse"]
    peaks = {"tank.bath_c": heated, "prerinse.bath_c": prerinses}
    drains = range(len(structure.modes)) if assessor.may_drain_hot else ()
    dries = inputs.goal.drying.method != "none"
    targets = assessor.simulator.targets
    keys = [*targets.keys, *(key for key, rounds in peaks.items() if rounds), "limits.duration_min"]
    keys += ["drying.ware_heat"] if dries else []
    washes = [i for i, kind in enumerate(structure.kinds) if KINDS[kind] == "wash"]
    warm = inputs.goal.spray_least_c > 0.0 and bool(washes)
    keys += ["detergent.bath_c"] if warm else []
    drained = inputs.goal.drain_least_c > 0.0 and bool(washes)
    keys += ["detergent.drain_c"] if drained else []
    first_wash = washes[:1] if inputs.goal.limits.first_wash_most_c > 0.0 else []
    keys += ["first_wash.bath_c"] if first_wash else []
    rinses = [i for i, kind in enumerate(structure.kinds) if KINDS[kind] == "rinse"]
    first = rinses[:1] if inputs.goal.rinse.first_least_c > 0.0 else []
    keys += ["first_rinse.bath_c"] if first else []
    keys += ["drain.bath_c"] if drains else []
    steps = list(assessor.step_limits_k)
    keys += steps

    def badness(table: Mapping[str, Array]) -> Array:
        count = len(table["room_c"])
        simulator = Simulator(inputs.machine, inputs.goal, corners_beside(inputs.machine, table))
        runs = simulator.run(programme)
        columns = [*(-runs.dose_s[0, :count] / targets.target_s).T]
        columns += [runs.peak_c[0, :count, rounds].max(axis=0) for rounds in peaks.values() if rounds]
        columns.append(runs.round_s[0, :count].sum(axis=-1))
        if dries:
            columns.append((table["room_c"] - runs.ware_end_c[0, :count]) * table["ware_kj_per_k"])
        if warm:
            columns.append(-runs.spray_end_c[0, :count, washes].min(axis=0))
        if drained:
            columns.append(-runs.before_drain_c[0, :count, washes].min(axis=0))
        if first_wash:
            columns.append(runs.begin_c[0, :count, first_wash[0]])
        if first:
            columns.append(-runs.spray_end_c[0, :count, first[0]])
        if drains:
            columns.append(runs.drained_c[0, :count].max(axis=-1))
        over_k = runs.over_k[0, :count]
        columns += [(over_k if key == "ware.drop_k" else -over_k).max(axis=-1) for key in steps]
        return np.stack(columns, axis=1)

    return find(keys, badness)
