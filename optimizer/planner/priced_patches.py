"""The patches of one kind of round that starts no warmer than one step of the ladder, at given prices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array
from optimizer.planner.patch_rounds import Figures, PatchRounds
from optimizer.planner.patches import NAMES, Patch

NARROW = {"setpoint_c": 0.2}
"""Intervals that are not split any more, 2 s but for these [°C]."""
SECOND = 0.3
"""A second number is split where it makes as much as this of the first one's promise [1]."""

END_SHARE = 0.5
"""What the bath at the end of a spray counts for in a split, a share of what the costs differ by [1]."""

KEPT = ("cost", "minutes", "dose_s", "decades", "end_c")

AT_ONCE = 256
"""Patches whose pairs of vertices are looked at at once [1]."""

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Ladder:
    """Steps of the temperature handed on: what a round hands on is taken for the step above it.

    Attributes
    ----------
    cold_c, nominal_c : ndarray
        Upper end of each step in the two corners, rising [°C].
    """

    cold_c: Array
    nominal_c: Array

    def step(self, cold_c: Array, nominal_c: Array) -> Ints:
        """Lowest step that holds both."""
        found = np.maximum(np.searchsorted(self.cold_c, cold_c), np.searchsorted(self.nominal_c, nominal_c))
        return np.asarray(np.minimum(found, len(self.cold_c) - 1))


@dataclass(frozen=True)
class Prices:
    """What is paid for what a round gives: a whole target, a minute less, a decade of thinning [currency].

    ``topping`` is what a top-up may bring beside, ``added`` what goes with the round whatever it is like.
    ``others`` are other prices that may be the right ones: the least of what each says is a bound.
    """

    doses: Array
    minute: float
    decade: float
    topping: float = 0.0
    added: float = 0.0
    others: tuple[Prices, ...] = ()

    def each(self) -> tuple[Prices, ...]:
        """These prices and the others."""
        return self, *self.others


class Family:
    """All patches of one kind and step that may hold a round of a programme that is worth looking at.

    ``end_c`` is what the bath has to have as the spray ends, at the least [°C].
    """

    def __init__(
        self,
        rounds: PatchRounds,
        ladder: Ladder,
        target_s: Array,
        possible: Callable[[Patch, Figures], bool],
        end_c: float = -np.inf,
    ) -> None:
        self._rounds, self._ladder = rounds, ladder
        self._target_s, self._possible, self._end_c = target_s, possible, end_c
        self.patches: list[Patch] = []
        self.true: list[Figures] = []
        self.best: list[Figures] = []
        self._alive: list[bool] = []
        self._groups: list[dict[str, Any]] | None = None

    def __len__(self) -> int:
        return sum(self._alive)

    def add(self, patches: Sequence[Patch]) -> None:
        """Work out patches, and keep those in which there may be a round."""
        for patch, (true, best) in zip(
            patches, self._rounds.of(patches, ends=bool(np.isfinite(self._end_c))), strict=True
        ):
            if self._possible(patch, best):
                self.patches.append(patch)
                self.true.append(true)
                self.best.append(best)
                self._alive.append(True)
        self._groups = None

    def _stacked(self) -> list[dict[str, Any]]:
        if self._groups is None:
            members: dict[int, list[int]] = {}
            for index, figures in enumerate(self.true):
                if self._alive[index]:
                    members.setdefault(len(figures.cost), []).append(index)
            self._groups = [self._stack(some) for some in members.values()]
        return self._groups

    def _stack(self, some: list[int]) -> dict[str, Any]:
        out: dict[str, Any] = {"index": np.array(some)}
        for side, source in (("true", self.true), ("best", self.best)):
            for name in KEPT:
                out[f"{side}_{name}"] = np.stack([getattr(source[i], name) for i in some])
            out[f"{side}_dose_s"] = out[f"{side}_dose_s"] / self._target_s
            cold_c, nominal_c = (
                np.stack([getattr(source[i], name) for i in some]) for name in ("handed_c", "nominal_c")
            )
            if side == "best":
                cold_c, nominal_c = cold_c.max(axis=1), nominal_c.max(axis=1)
            out[f"{side}_step"] = self._ladder.step(cold_c, nominal_c)
        return out

    def bounds(self, prices: Prices) -> tuple[Ints, Ints, Array]:
        """Each patch, the step that it hands on at the most, and the least that a round in it costs."""
        found = [self._bounds(one) for one in prices.each()]
        index, step, value = found[0]
        for _, _, other in found[1:]:
            value = np.minimum(value, other)
        return index, step, value

    def _bounds(self, prices: Prices) -> tuple[Ints, Ints, Array]:
        parts = []
        for group in self._stacked():
            low, dose, end_c = self._net(group, "best", prices), group["best_dose_s"], group["best_end_c"]
            if not len(prices.doses):
                bound = least_mixture(low, end_c, self._end_c)
                parts.append((group["index"], group["best_step"], bound - prices.topping + prices.added))
                continue
            most, fewest = dose.max(axis=1), dose.min(axis=1)
            # A target that every vertex reaches counts once; one that some reach counts either way.
            reached, crossed = fewest >= 1.0, (fewest < 1.0) & (most > 1.0)
            plain = np.where(reached[:, None], 1.0, dose) @ prices.doses
            capped = np.where((reached | crossed)[:, None], 1.0, dose) @ prices.doses
            bound = np.maximum(
                least_mixture(low - plain, end_c, self._end_c),
                least_mixture(low - capped, end_c, self._end_c),
            )
            parts.append((group["index"], group["best_step"], bound - prices.topping + prices.added))
        return self._joined(parts)

    def known(self, prices: Prices) -> tuple[Ints, Ints, Array, Ints]:
        """Each true vertex: its patch, the step that it hands on, what it costs, and its number.

        One that ends too cold is no round of a programme, and costs without end.
        """
        parts = []
        for group in self._stacked():
            nets = [self._net(group, "true", one) + one.added for one in prices.each()]
            net = np.minimum.reduce(nets)
            if len(prices.doses):
                net = net - np.minimum(group["true_dose_s"], 1.0) @ prices.doses
            net = np.where(group["true_end_c"] >= self._end_c, net, np.inf)
            count = net.shape[1]
            vertex = np.broadcast_to(np.arange(count), net.shape)
            index = np.repeat(group["index"], count)
            parts.append((index, group["true_step"].ravel(), net.ravel(), vertex.ravel()))
        if not parts:
            none = np.zeros(0, dtype=int)
            return none, none, np.zeros(0), none
        return tuple(np.concatenate([part[n] for part in parts]) for n in range(4))  # type: ignore[return-value]

    @staticmethod
    def _joined(parts: list[tuple[Ints, Ints, Array]]) -> tuple[Ints, Ints, Array]:
        if not parts:
            return np.zeros(0, dtype=int), np.zeros(0, dtype=int), np.zeros(0)
        index, step, value = (np.concatenate([part[n] for part in parts]) for n in range(3))
        return index, step, value

    def _net(self, group: dict[str, Any], side: str, prices: Prices) -> Array:
        """Cost of every vertex at the prices, its doses left out."""
        net = group[f"{side}_cost"] + prices.minute * group[f"{side}_minutes"]
        return np.asarray(net - prices.decade * group[f"{side}_decades"])

    def split(self, chosen: Sequence[int], prices: Prices) -> bool:
        """Halve patches along the two numbers that make them promise most."""
        new: list[Patch] = []
        for index in chosen:
            numbers = self._widest(index, prices)
            if not numbers:
                continue
            self._alive[index] = False
            parts = [self.patches[index]]
            for number in numbers:
                parts = [half for part in parts for half in part.split(number, _cut(part, number))]
            new += parts
        if new:
            self.add(new)
        return bool(new)

    def _widest(self, index: int, prices: Prices) -> list[int]:
        patch, true = self.patches[index], self.true[index]
        free = patch.free
        shape = (2,) * len(free)
        share = np.minimum(true.dose_s / self._target_s, 1.5)
        money = max(one.decade for one in prices.each()) * true.decades
        if len(prices.doses):
            money = money + share @ prices.doses
        if true.end_c.min() < self._end_c:
            # What ends too cold is left out by a mixture, the closer the less the ends differ.
            warm_k = max(float(np.ptp(true.end_c)), 1e-6)
            money = money + END_SHARE * float(np.ptp(true.cost)) * true.end_c / warm_k
        steps = self._ladder.step(true.handed_c, true.nominal_c)
        scores: dict[int, float] = {}
        for axis, number in enumerate(free):
            ends = np.moveaxis(money.reshape(shape), axis, 0)
            score = float(np.abs(ends[1] - ends[0]).max())
            warm = np.moveaxis(steps.reshape(shape), axis, 0)
            score += 0.01 * float(np.abs(warm[1] - warm[0]).max()) * float(true.cost.min())
            if patch.high[number] - patch.low[number] > NARROW.get(NAMES[number], 2.0):
                scores[number] = score
        order = sorted(scores, key=lambda number: -scores[number])
        return [number for number in order[:2] if scores[number] >= SECOND * scores[order[0]]]

    def drop(self, gone: Sequence[int]) -> None:
        """Leave patches out."""
        for index in gone:
            self._alive[index] = False
        if len(gone):
            self._groups = None


def least_mixture(values: Array, end_c: Array, least_c: float) -> Array:
    """Least value of a mixture of a patch's vertices whose end is ``least_c`` or more; patches × vertices.

    A round of the patch has the vertices in shares, with which its value is no less and its end no more than
    theirs together. With two sums to hold (the shares are 1, the end is warm enough) two vertices do.
    """
    warm = end_c >= least_c
    found = np.asarray(np.where(warm, values, np.inf).min(axis=1))
    mixed = np.flatnonzero(warm.any(axis=1) & ~warm.all(axis=1))
    for start in range(0, len(mixed), AT_ONCE):
        some = mixed[start : start + AT_ONCE]
        value, end, above = values[some], end_c[some], warm[some]
        pairs = ~above[:, :, None] & above[:, None, :]
        rise_c = np.where(pairs, end[:, None, :] - end[:, :, None], 1.0)
        share = np.where(pairs, (least_c - end[:, :, None]) / rise_c, 1.0)
        between = (1.0 - share) * value[:, :, None] + share * value[:, None, :]
        least = np.where(pairs, between, np.inf).min(axis=(1, 2))
        found[some] = np.minimum(found[some], least)
    return found


def _cut(patch: Patch, number: int) -> float:
    low, high = patch.low[number], patch.high[number]
    if NAMES[number] in ("after_s", "alone_s", "together_s", "soak_s") and high > 4.0 * max(low, 60.0):
        return float(np.sqrt(max(low, 60.0) * high))
    return 0.5 * (low + high)
