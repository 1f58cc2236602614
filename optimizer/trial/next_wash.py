"""Which wash teaches most about the dose that cleans the wished share, and whether it is worth the work."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.trial.dose_response import Array, Posterior, share_of

NEGLIGIBLE = 1e-6
"""Rows and columns of a posterior's grid with less weight than this are left out [1]."""

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


def _likely(found: Posterior) -> Posterior:
    """Leave out rows and columns that are next to impossible."""
    rows = np.flatnonzero(found.weight.sum(axis=1) > NEGLIGIBLE)
    columns = np.flatnonzero(found.weight.sum(axis=0) > NEGLIGIBLE)
    inside = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    weight = found.weight[inside]
    grid = replace(found.grid, x=found.grid.x[inside[0]], ln_b=found.grid.ln_b[inside[1]])
    return Posterior(grid, weight / weight.sum())


def outcome_shares(found: Posterior, ln_dose: float, pieces: int, own_sd: float = 0.0) -> Array:
    """Probability of each number of clean pieces at a dose: (pieces + 1) × X × B [1]."""
    at, weights = np.zeros(1), np.ones(1)
    if own_sd > 0.0:
        at, weights = np.polynomial.hermite_e.hermegauss(OWN_NODES)
        weights = weights / weights.sum()
    ways = np.array([float(math.comb(pieces, clean)) for clean in range(pieces + 1)])
    total = np.zeros((pieces + 1, *found.weight.shape))
    for node, weight in zip(at, weights, strict=True):
        odds = found.grid.odds(np.array(ln_dose + own_sd * node))
        total += weight * _powers(share_of(odds), pieces) * _powers(share_of(-odds), pieces)[::-1]
    return np.asarray(ways[:, None, None] * total)


def _powers(share: Array, most: int) -> Array:
    """Powers from 0 to the most: multiplied up, which is several times as fast as exponentials."""
    found = np.ones((most + 1, *share.shape))
    np.cumprod(np.broadcast_to(share, (most, *share.shape)), axis=0, out=found[1:])
    return found


def information(found: Posterior, ln_doses: Array, pieces: int, own_sd: float = 0.0) -> Array:
    """Expected information about the wished dose, one value a dose [nat].

    The mutual information of the number of clean pieces and the wished dose, the steepness integrated out:
    ``H(k) - E[H(k | x)]`` (Lindley 1956, *Ann. Math. Statist.* 27:986).
    """
    likely = _likely(found)
    of_x = likely.weight.sum(axis=1)
    gained = []
    for one in np.asarray(ln_doses):
        joint = np.einsum("kxb,xb->kx", outcome_shares(likely, float(one), pieces, own_sd), likely.weight)
        gained.append(_entropy(joint.sum(axis=1)) - _entropy_of(joint, of_x))
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
    shares = outcome_shares(found, ln_dose, pieces, own_sd) * found.weight
    probability = shares.sum(axis=(1, 2))
    asked = [
        replace(found, weight=one / total)
        for one, total in zip(shares, probability, strict=True)
        if total > 0
    ]
    quantiles = iter(one.quantile(credibility) for one in asked)
    ln_asked = np.array([next(quantiles) if total > 0 else 0.0 for total in probability])
    return Outcomes(probability / probability.sum(), ln_asked)
