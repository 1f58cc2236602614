"""Boxes that fill the whole tolerances, how they are halved, and what a halving gained."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.check.bound_rows import Values
from optimizer.check.worst_cases import QUANTITIES, Array

TELLING = 0.02
"""In every second pass a quantity is tried again only where its halving gained this share of the best [1]."""


@dataclass(frozen=True)
class Leaves:
    """Boxes that fill the whole one: their ends, how often each was halved in each quantity, their bounds."""

    ends: Array
    halved: Array
    good: Values

    def bound(self, key: str, sign: float) -> float:
        """The bound of the worst box; the sign is 1 where more is better, else -1."""
        return sign * float(self.good[key].min())

    def split(self, picked: Mapping[int, Array], run: Callable[[Array], Values]) -> Leaves:
        """Split some boxes, each so often in each quantity."""
        parts = np.concatenate([split_box(self.ends[leaf], times) for leaf, times in picked.items()])
        new = run(parts)
        stay = np.array([leaf not in picked for leaf in range(len(self.ends))])
        counts = [2 ** int(times.sum()) for times in picked.values()]
        parents = np.repeat(list(picked), counts)
        more = np.repeat(np.array(list(picked.values())), counts, axis=0)
        # A part's bound may come out worse than that of the whole, which holds for it as well.
        good = {
            key: np.concatenate([old[stay], np.maximum(new.get(key, -np.inf), old[parents])])
            for key, old in self.good.items()
        }
        return Leaves(
            np.concatenate([self.ends[stay], parts]),
            np.concatenate([self.halved[stay], self.halved[parents] + more]),
            good,
        )


def tried_of(box: Array, moving: Iterable[int]) -> Array:
    """A box, then its halves in each quantity alone."""
    return np.concatenate([box[None], *(halves_of(box, number) for number in moving)])


def halves_of(box: Array, number: int) -> Array:
    """The lower and the upper half of a box in one quantity."""
    low, high = box.copy(), box.copy()
    low[number, 1] = high[number, 0] = 0.5 * (box[number, 0] + box[number, 1])
    return np.stack([low, high])


def split_box(box: Array, times: Array) -> Array:
    """All parts of a box that is halved some times in each quantity."""
    parts = box[None]
    for number, often in enumerate(times):
        for _ in range(int(often)):
            parts = np.concatenate([halves_of(part, number) for part in parts])
    return parts


def telling_of(gains: Iterable[Array], moving: list[int]) -> list[int]:
    """Quantities of which a halving gained much for any of some requirements."""
    return [place for place in moving if any(gain[place] >= TELLING * gain.max() for gain in gains)]


def gains_of(good: Array, moving: list[int]) -> Array:
    """By how much a bound gets better as each quantity alone is halved, from the boxes of `tried`."""
    gains = np.zeros(len(QUANTITIES))
    for place, number in enumerate(moving):
        halves = good[1 + 2 * place : 3 + 2 * place]
        if np.isfinite(good[0]) and np.isfinite(halves).all():
            gains[number] = max(float(halves.min() - good[0]), 0.0)
    return gains
