"""Pieces that no dose cleans: whether the washes show a share of such pieces."""

from __future__ import annotations

import numpy as np

from optimizer.trial.dose_response import Tried, share_of, whole_grid

SHARES = np.array([0.01, 0.02, 0.03, 0.05, 0.08, 0.12, 0.18, 0.25, 0.35, 0.5])
"""Shares of pieces that are looked at [1]."""

RISE = 1.353
"""The logarithm of the likelihood rises by so much by chance in one case of twenty [1]: half of the quantile
of chi-square with one degree of freedom at 10 %, 2.706, as a share cannot lie under 0 (Self and Liang 1987,
*J. Am. Stat. Assoc.* 82:605)."""

GRID = (81, 31)
"""Points of the curve that are looked at with each share [1]."""


def never_clean(tried: Tried) -> float:
    """Find the share of pieces that seem to come clean at no dose [1]; 0 where the washes show none.

    The logistic curve reaches up to 1 less that share, in place of 1; a likelihood ratio tells which. Errors
    of the doses are left out.
    """
    if not 0.0 < tried.clean.sum() < tried.pieces.sum():
        return 0.0
    grid = whole_grid(0.5, GRID)
    p = share_of(grid.odds(tried.ln_dose))
    clean, dirty = (one[:, None, None] for one in (tried.clean, tried.pieces - tried.clean))
    best = []
    for most in (1.0, *(1.0 - SHARES)):
        seen = most * p
        ln_each = clean * np.log(np.maximum(seen, 1e-300)) + dirty * np.log(np.maximum(1.0 - seen, 1e-300))
        best.append(float(ln_each.sum(axis=0).max()))
    at = int(np.argmax(best))
    return float(SHARES[at - 1]) if best[at] - best[0] > RISE else 0.0
