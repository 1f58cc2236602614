"""A wider search, where what the models choose cannot be trimmed: more structures, more starts, evolution.

The models count with straight lines and a few levels, and trimming goes downhill from where they point: a
goal that only just can be met may lie behind a hill. So every structure one step away is tried, then points
all over the numbers of those that come nearest, then an evolution of whole seconds in which the requirement
that is shortest counts most. All of it is counted, none of it timed. That nothing is found is no proof.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.physics import Array
from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import neighbours
from optimizer.planner.structure import Programme, Structure
from optimizer.planner.trim import Trimmed, nearest_point, trim
from optimizer.planner.trim_space import FEASIBLE, Space

STRUCTURES = 8
"""Most structures that are brought as near as they come [1]."""

FAR = 0.1
"""Shortfall of a requirement, a share of its limit, from which on a structure is given up [1]."""

SPREAD, BEST_OF_SPREAD = 96, 2
"""Points all over the numbers of a structure, and how many of the nearest are trimmed [1]."""

FINALISTS = 2
"""Structures that are searched further than their neighbourhood [1]."""

POPULATION, GENERATIONS = 40, 40
"""Size of the evolution [1]."""

ROOT = 3.0
"""Numbers are spread by this root: most phases are far shorter than the longest they may be."""

ALL_COUNT = 0.01
"""What the sum of all shortfalls counts beside the largest one [1]."""


@dataclass(frozen=True)
class _Near:
    """A structure with the numbers that fall least short, and its shortest requirement [1]."""

    space: Space
    programme: Programme
    short: float


def wider_search(assessor: Assessor, starts: Sequence[Programme]) -> Trimmed | None:
    """Find a programme that holds, near those that the models chose; None where none was found."""
    near: list[_Near] = []
    for structure, settings in _structures(assessor, starts):
        space = Space(assessor, structure)
        if space.short_when_full():
            continue
        point = Programme(structure, nearest_point(space, settings))
        near.append(_Near(space, point, _short(space, space.pack(point.settings)[None])[0]))
        if near[-1].short < -FEASIBLE and (found := trim(space, point.settings)) is not None:
            return found
    near.sort(key=lambda one: one.short)
    for one in near[:FINALISTS]:
        if one.short < FAR and (found := _from_afar(one) or _evolved(one)) is not None:
            return found
    return None


def _structures(assessor: Assessor, starts: Sequence[Programme]) -> Iterator[Programme]:
    """The starts, then what is one step away from any of them, each structure once."""
    seen: set[Structure] = set()
    steps = (neighbour for start in starts for neighbour in neighbours(start, assessor))
    for programme in (*starts, *steps):
        if len(seen) == STRUCTURES:
            return
        if programme.structure not in seen:
            seen.add(programme.structure)
            yield programme


def _short(space: Space, values: Array) -> Array:
    """By how much the shortest requirement of each candidate falls short, and a little of all of them [1]."""
    margins, _ = space.run(values)
    return np.asarray(-margins.min(axis=1) - ALL_COUNT * np.minimum(margins, 0.0).sum(axis=1))


def _from_afar(near: _Near) -> Trimmed | None:
    """Trim from the best of points all over the numbers of a structure."""
    space, random = near.space, np.random.default_rng(0)
    shares = random.uniform(size=(SPREAD, len(space.low))) ** ROOT
    points = space.low + (space.high - space.low) * shares
    for pick in np.argsort(_short(space, points), kind="stable")[:BEST_OF_SPREAD]:
        found = trim(space, space.settings(points[pick][None]), patient=False)
        if found is not None:
            return found
    return None


def _evolved(near: _Near) -> Trimmed | None:
    """Differential evolution of whole seconds, from all over and from the nearest point."""
    from scipy.optimize import differential_evolution

    space, random = near.space, np.random.default_rng(1)
    low, high = space.whole_ends
    at = space.pack(near.programme.settings) / space.unit
    share = np.clip((at - low) / np.maximum(high - low, 1e-9), 0.0, 1.0) ** (1.0 / ROOT)
    start = random.uniform(size=(POPULATION, len(low)))
    around = np.clip(share + random.normal(scale=0.03, size=start.shape), 0.0, 1.0)
    start[POPULATION // 2 :] = around[POPULATION // 2 :]
    start[0] = share

    def values(shares: Array) -> Array:
        return np.asarray(np.rint(low + (high - low) * shares.T**ROOT) * space.unit)

    def short(shares: Array) -> Array:
        return _short(space, values(shares))

    # The stubs know neither a vectorized function nor bounds in a plain list.
    evolve: Any = differential_evolution
    result = evolve(
        short,
        [(0.0, 1.0)] * len(low),
        init=start,
        maxiter=GENERATIONS,
        tol=0.0,
        rng=random,
        polish=False,
        updating="deferred",
        vectorized=True,
        callback=lambda intermediate_result: bool(intermediate_result.fun <= -FEASIBLE),
    )
    best = values(result.x[:, None])
    found = trim(space, space.settings(best))
    if found is None and space.holds(best[0]):
        found = Trimmed(space.programme(best), float(space.run(best)[1][0]))
    return found
