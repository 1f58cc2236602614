"""Which wash teaches most about the dose that cleans the wished share, and whether it is worth the work."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.trial.dose_response import Array, Posterior

THINNED = (2, 2)
"""Of the points of a posterior's grid every so many are taken [1]: what a wash teaches needs no finer
ones."""

OWN_NODES = 5
"""Gauss-Hermite nodes for the error of the dose to come [1]."""


@dataclass(frozen=True)
class Outcomes:
    """How a wash may come out, and what would then be known.

    Attributes
    ----------
    probability : ndarray, shape (pieces + 1,)
        Probability of each number of clean pieces [1].
    asked_ln : ndarray, shape (pieces + 1,)
        Logarithm of the minutes that would be asked for after it [ln min].
    """

    probability: Array
    asked_ln: Array

    @property
    def asked_min(self) -> float:
        """Minutes that are to be expected, a mean of logarithms [min]."""
        return math.exp(float(self.probability @ self.asked_ln))

    def clean_between(self, credibility: float) -> tuple[int, int]:
        """Give the fewest and the most clean pieces that are to be expected with a probability [1]."""
        up_to = np.cumsum(self.probability)
        tail = 0.5 * (1.0 - credibility)
        fewest, most = np.searchsorted(up_to, [tail + 1e-12, 1.0 - tail - 1e-12])
        return int(fewest), min(int(most), len(up_to) - 1)


def _thinned(found: Posterior) -> Posterior:
    """Take fewer points, each with the weight of those left out beside it."""
    size_x, size_b = found.weight.shape
    step_x, step_b = THINNED
    x, ln_b = found.grid.x[:size_x:step_x], found.grid.ln_b[:size_b:step_b]
    smooth = found.weight
    for axis, step in ((0, step_x), (1, step_b)):
        if step > 1:
            padded = np.pad(smooth, [(1, 1) if at == axis else (0, 0) for at in (0, 1)])
            near = [np.take(padded, range(at, at + smooth.shape[axis]), axis=axis) for at in (0, 1, 2)]
            smooth = 0.25 * near[0] + 0.5 * near[1] + 0.25 * near[2]
    weight = smooth[::step_x, ::step_b]
    return Posterior(replace(found.grid, x=x, ln_b=ln_b), weight / weight.sum())


def outcome_shares(found: Posterior, ln_doses: Array, pieces: int, own_sd: float = 0.0) -> Array:
    """Probability of each number of clean pieces: doses × (pieces + 1) × X × B [1]."""
    at, weights = np.zeros(1), np.ones(1)
    if own_sd > 0.0:
        at, weights = np.polynomial.hermite_e.hermegauss(OWN_NODES)
        weights = weights / weights.sum()
    odds = found.grid.odds(np.asarray(ln_doses)[:, None] + own_sd * at)[:, :, None]
    ln_clean = -np.logaddexp(0.0, -odds)
    counts = np.arange(pieces + 1.0)
    ln_ways = np.array(
        [math.lgamma(pieces + 1) - math.lgamma(k + 1) - math.lgamma(pieces - k + 1) for k in counts]
    )
    dirty = pieces - counts
    ln_p = (
        ln_ways[:, None, None] + counts[:, None, None] * ln_clean + dirty[:, None, None] * (ln_clean - odds)
    )
    return np.asarray(np.einsum("n,dnkxb->dkxb", weights, np.exp(ln_p)))


def information(found: Posterior, ln_doses: Array, pieces: int, own_sd: float = 0.0) -> Array:
    """Expected information about the wished dose, one value a dose [nat].

    The mutual information of the number of clean pieces and the wished dose, the steepness integrated out:
    ``H(k) - E[H(k | x)]`` (Lindley 1956, *Ann. Math. Statist.* 27:986).
    """
    thin = _thinned(found)
    gained = []
    for one in np.asarray(ln_doses):
        shares = outcome_shares(thin, np.array([one]), pieces, own_sd)[0]
        joint = (shares * thin.weight).sum(axis=2)
        of_x = thin.weight.sum(axis=1)
        gained.append(float(_entropy(joint.sum(axis=1)) - (_entropy_of(joint, of_x))))
    return np.array(gained)


def _entropy(p: Array) -> float:
    return float(-(p * np.log(np.maximum(p, 1e-300))).sum())


def _entropy_of(joint: Array, of_x: Array) -> float:
    """Mean entropy of the counts once the wished dose is known."""
    given = joint / np.maximum(of_x, 1e-300)
    return float(-(joint * np.log(np.maximum(given, 1e-300))).sum())


def outcomes(
    found: Posterior, ln_dose: float, pieces: int, credibility: float, own_sd: float = 0.0
) -> Outcomes:
    """Work out what each outcome of a wash would leave to ask for."""
    shares = outcome_shares(found, np.array([ln_dose]), pieces, own_sd)[0] * found.weight
    probability = shares.sum(axis=(1, 2))
    asked = [
        replace(found, weight=one / total)
        for one, total in zip(shares, probability, strict=True)
        if total > 0
    ]
    quantiles = iter(one.quantile(credibility) for one in asked)
    ln_asked = np.array([next(quantiles) if total > 0 else 0.0 for total in probability])
    return Outcomes(probability / probability.sum(), ln_asked)
