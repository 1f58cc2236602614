"""Pieces clean against the dose: a logistic curve of the logarithm of the dose, and what washes say about it.

The share of pieces that come out clean at a dose d is ``1 / (1 + exp(-(b (ln d - x) + logit q)))``: x is the
logarithm of the dose at which the wished share q is clean, b the steepness. What washes say is a posterior
over a grid of x and ln b (Bayes; binomial counts). The dose of a wash may itself be uncertain: by an error
that all washes of a machine share, and by one that each wash has for itself; both are integrated out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEAST_MIN, MOST_MIN = 0.05, 600.0
"""Doses between which the wished one is taken to lie [min]: those that a goal profile takes; all of them
are as likely before the first wash, by their logarithm. *No source*, our choice."""

STEEPNESS, STEEPNESS_SPREAD = 3.0, 0.8
"""Middle of the steepness before the first wash, and the standard deviation of its logarithm [1]: ED95 is 2.7
times ED50, 1.3 to 39 times with 90 %. *No source*, our choice: insecticides lie between 1.3 and 15
(`tests/test_trial_published.py`), and pieces of a kitchen differ more than insects of a batch."""

STEEPNESS_ENDS = (0.15, 100.0)
"""Ends of the grid of the steepness [1], four standard deviations from its middle."""

X_POINTS, B_POINTS = 161, 41
"""Points of the grid [1]."""

ZOOMS, KEPT_LN, ROOM = 8, 15.0, 2
"""Most times that the grid is laid anew around what is likely; points that are less likely by this
logarithm are left out; cells of room around the others [1]."""

SMALLER = 0.8
"""A grid that would shrink by less than this share stays [1]."""

COMMON_NODES, OWN_NODES = 7, 5
"""Gauss-Hermite nodes for the error that washes of a machine share, and for that of each wash [1]."""


@dataclass(frozen=True)
class Tried:
    """Washes with one soil, one value a wash.

    Attributes
    ----------
    ln_dose : ndarray, shape (washes,)
        Natural logarithm of the dose [ln min].
    pieces, clean : ndarray, shape (washes,)
        Pieces that were washed, and how many of them came out clean [1].
    common_sd, own_sd : ndarray, shape (washes,)
        Standard deviations of the logarithm of the dose [1]: what all washes of its machine share, and what
        each wash has for itself.
    machine : tuple of str
        The machine of each wash.
    """

    ln_dose: Array
    pieces: Array
    clean: Array
    common_sd: Array
    own_sd: Array
    machine: tuple[str, ...]

    @classmethod
    def exact(cls, dose_min: Array, pieces: Array, clean: Array) -> Tried:
        """Make washes whose doses are known exactly [min]."""
        nothing = np.zeros(len(dose_min))
        pieces, clean = (np.asarray(one, dtype=float) for one in (pieces, clean))
        return cls(np.log(dose_min), pieces, clean, nothing, nothing, ("",) * len(nothing))

    def __len__(self) -> int:
        return len(self.ln_dose)


def logit(share: float) -> float:
    """Give the logarithm of the odds of a share between 0 and 1."""
    return math.log(share / (1.0 - share))


def share_of(odds: Array) -> Array:
    """Give the share of which these are the logarithms of the odds."""
    return np.asarray(np.exp(-np.logaddexp(0.0, -odds)))


@dataclass(frozen=True)
class Grid:
    """Points of the curve's two numbers, with the share that the first of them is for.

    Attributes
    ----------
    share : float
        Wished share of clean pieces [1].
    x : ndarray, shape (X,)
        Logarithm of the dose at which it is clean [ln min].
    ln_b : ndarray, shape (B,)
        Logarithm of the steepness [1].
    """

    share: float
    x: Array
    ln_b: Array

    def odds(self, ln_dose: Array) -> Array:
        """Logarithm of the odds of a clean piece at doses [1]: doses' shape × X × B."""
        b = np.exp(self.ln_b)
        return b * (np.asarray(ln_dose)[..., None, None] - self.x[:, None]) + logit(self.share)


def whole_grid(share: float, points: tuple[int, int] = (X_POINTS, B_POINTS)) -> Grid:
    """Lay the grid over all that is possible."""
    x = np.linspace(math.log(LEAST_MIN), math.log(MOST_MIN), points[0])
    least, most = map(math.log, STEEPNESS_ENDS)
    return Grid(share, x, np.linspace(least, most, points[1]))


def ln_likelihood(tried: Tried, grid: Grid) -> Array:
    """Logarithm of the likelihood at every point of a grid, but for a constant: X × B."""
    total = np.zeros((len(grid.x), len(grid.ln_b)))
    exact = (tried.common_sd == 0.0) & (tried.own_sd == 0.0)
    for place in np.flatnonzero(exact):
        total += _ln_counts(tried, int(place), _ln_both(grid.odds(tried.ln_dose[place])))
    for machine in dict.fromkeys(np.array(tried.machine)[~exact].tolist()):
        mine = [at for at, one in enumerate(tried.machine) if one == machine and not exact[at]]
        total += _ln_of_machine(tried, mine, grid)
    return total


def _ln_both(odds: Array) -> tuple[Array, Array]:
    """Logarithms of the probabilities of a clean piece and of a dirty one."""
    ln_clean = -np.logaddexp(0.0, -odds)
    return ln_clean, ln_clean - odds


def _ln_counts(tried: Tried, place: int, both: tuple[Array, Array]) -> Array:
    dirty = tried.pieces[place] - tried.clean[place]
    return np.asarray(tried.clean[place] * both[0] + dirty * both[1])


def _nodes(count: int) -> tuple[Array, Array]:
    """Nodes and logarithms of weights that integrate over a standard normal."""
    at, weight = np.polynomial.hermite_e.hermegauss(count)
    return at, np.log(weight / weight.sum())


def _ln_of_machine(tried: Tried, places: list[int], grid: Grid) -> Array:
    """Integrate the errors of the doses of one machine's washes out."""
    common, ln_common = _nodes(COMMON_NODES)
    own, ln_own = _nodes(OWN_NODES)
    total: Array = np.broadcast_to(ln_common[:, None, None], (COMMON_NODES, len(grid.x), len(grid.ln_b)))
    before, both = None, _ln_both(np.zeros(0))
    counted, each = (math.nan, math.nan), np.zeros(0)
    # Washes by one plan come after each other, and of these those that came out alike: worked out once.
    for spread, count, at in sorted(
        (
            (tried.ln_dose[at], tried.common_sd[at], tried.own_sd[at]),
            (tried.pieces[at], tried.clean[at]),
            at,
        )
        for at in places
    ):
        base, shared, alone = spread
        if spread != before:
            off = shared * common if alone == 0.0 else shared * common[:, None] + alone * own
            before, both, counted = spread, _ln_both(grid.odds(base + off)), (math.nan, math.nan)
        if count != counted:
            counted, each = count, _ln_counts(tried, at, both)
            if alone > 0.0:
                each = np.logaddexp.reduce(each + ln_own[:, None, None], axis=1)
        total = total + each
    return np.asarray(np.logaddexp.reduce(total, axis=0))


def ln_prior(grid: Grid) -> Array:
    """Logarithm of the prior, but for a constant: X × B."""
    off = (grid.ln_b - math.log(STEEPNESS)) / STEEPNESS_SPREAD
    return np.broadcast_to(-0.5 * off**2, (len(grid.x), len(grid.ln_b)))


@dataclass(frozen=True)
class Posterior:
    """What is known of the curve after some washes.

    Attributes
    ----------
    grid : Grid
        Its points.
    weight : ndarray, shape (X, B)
        Probability of each point [1]; they add up to 1.
    """

    grid: Grid
    weight: Array

    def quantile(self, probability: float, share: float | None = None, least: float = -math.inf) -> float:
        """Logarithm of the dose that cleans a share, at a probability [ln min].

        Parameters
        ----------
        probability : float
            Probability that the dose is no larger [1].
        share : float, optional
            Share of clean pieces; the wished one if left out [1].
        least : float
            What the wished dose is taken to be at the least [ln min]; not for another share.
        """
        if share is None or share == self.grid.share:
            return self._quantile_of_x(probability, least)
        shift = (logit(share) - logit(self.grid.share)) / np.exp(self.grid.ln_b)
        values = (self.grid.x[:, None] + shift).ravel()
        order = np.argsort(values, kind="stable")
        weight = self.weight.ravel()[order]
        return float(np.interp(probability, np.cumsum(weight) - 0.5 * weight, values[order]))

    def _quantile_of_x(self, probability: float, least: float) -> float:
        """Of the grid's own axis, each of whose points stands for the cell around it."""
        x = self.grid.x
        edges = np.concatenate([x[:1], 0.5 * (x[1:] + x[:-1]), x[-1:]])
        up_to = np.concatenate([[0.0], np.cumsum(self.weight.sum(axis=1))])
        below = float(np.interp(least, edges, up_to / up_to[-1]))
        return float(np.interp(below + probability * (1.0 - below), up_to / up_to[-1], edges))

    def clean_share(self, ln_dose: Array) -> Array:
        """Probability that a piece comes out clean at doses [1], over all that is not known."""
        p = share_of(self.grid.odds(ln_dose))
        return np.asarray((p * self.weight).sum(axis=(-2, -1)))


def posterior(tried: Tried, share: float, scatter: float = 1.0, whole: Array | None = None) -> Posterior:
    """Weigh every curve by the prior and by the washes.

    Parameters
    ----------
    tried : Tried
        The washes; none is allowed.
    share : float
        Wished share of clean pieces, between 0 and 1 [1].
    scatter : float
        By how much the counts scatter more than chance allows, as a ratio of variances [1]: the logarithm of
        the likelihood is divided by it.
    whole : ndarray, optional
        Logarithm of the likelihood over `whole_grid`, where it is known already.
    """
    grid = whole_grid(share)
    ln_likely = ln_likelihood(tried, grid) if whole is None else whole
    for _ in range(ZOOMS):
        ln_weight = ln_likely / scatter + ln_prior(grid)
        likely = ln_weight > ln_weight.max() - KEPT_LN
        closer = Grid(share, _around(grid.x, likely.any(axis=1)), _around(grid.ln_b, likely.any(axis=0)))
        if _span(closer.x) > SMALLER * _span(grid.x) and _span(closer.ln_b) > SMALLER * _span(grid.ln_b):
            break
        grid, ln_likely = closer, ln_likelihood(tried, closer)
    ln_weight = ln_likely / scatter + ln_prior(grid)
    weight = np.exp(ln_weight - ln_weight.max())
    return Posterior(grid, weight / weight.sum())


def _around(axis: Array, likely: NDArray[np.bool_]) -> Array:
    places = np.flatnonzero(likely)
    first, last = max(places[0] - ROOM, 0), min(places[-1] + ROOM, len(axis) - 1)
    return np.linspace(axis[first], axis[last], len(axis))


def _span(axis: Array) -> float:
    return float(axis[-1] - axis[0])


FINE_POINTS, FINE_ZOOMS, FINE_ROOM = 31, 16, 4
"""Points of the grid on which the largest likelihood is looked for, how often it is laid closer, and cells
on each side of the best that are kept [1]."""


@dataclass(frozen=True)
class Curve:
    """One curve: the steepness, and the dose at which the wished share is clean.

    Attributes
    ----------
    share : float
        The wished share [1].
    x : float
        Logarithm of its dose [ln min].
    b : float
        Steepness [1].
    """

    share: float
    x: float
    b: float

    def dose_min(self, share: float) -> float:
        """Dose that cleans a share [min]."""
        return math.exp(self.x + (logit(share) - logit(self.share)) / self.b)

    def clean_share(self, ln_dose: Array) -> Array:
        """Share that is clean at doses [1]."""
        return share_of(self.b * (ln_dose - self.x) + logit(self.share))


def separated(tried: Tried) -> bool:
    """Whether a step fits as well as any curve: no wash with a clean piece had less than one with a dirty
    piece."""
    with_clean, with_dirty = tried.ln_dose[tried.clean > 0], tried.ln_dose[tried.clean < tried.pieces]
    return not len(with_clean) or not len(with_dirty) or bool(with_clean.min() >= with_dirty.max())


def most_likely(tried: Tried, share: float) -> Curve | None:
    """Find the curve of largest likelihood, the prior left out; None where there is none inside the grid."""
    if separated(tried):
        return None
    grid = whole_grid(share, (FINE_POINTS * 4 + 1, FINE_POINTS * 2 + 1))
    ends = (grid.x[[0, -1]], grid.ln_b[[0, -1]])
    for _ in range(FINE_ZOOMS):
        at = np.unravel_index(int(ln_likelihood(tried, grid).argmax()), (len(grid.x), len(grid.ln_b)))
        best = float(grid.x[at[0]]), float(grid.ln_b[at[1]])
        axes = []
        for axis, value, (low, high) in zip((grid.x, grid.ln_b), best, ends, strict=True):
            half = FINE_ROOM * (axis[1] - axis[0])
            axes.append(np.linspace(max(value - half, low), min(value + half, high), FINE_POINTS))
        grid = Grid(share, *axes)
    for value, (low, high) in zip(best, ends, strict=True):
        if min(value - low, high - value) < 1e-6:
            return None
    return Curve(share, best[0], math.exp(best[1]))
