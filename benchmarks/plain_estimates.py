"""What up-and-down and ladders ask for by estimates of the books, without a prior."""

from __future__ import annotations

import math

import numpy as np
from trial_learners import LN_ODDS, Learnt

PIECES = 12
START_MIN, STEP = 5.5, 1.5
"""First dose of up-and-down [min], the middle of what a goal may ask for, and its step, a ratio [1]: about
the spread of a middle curve, as Dixon and Mood (1948, *J. Am. Stat. Assoc.* 43:109) advise."""
NEWTON = 40
"""Newton's steps [1]."""


def dixon_mood(ln_doses: np.ndarray, clean: np.ndarray) -> float:
    """What up-and-down asks for by its own estimates: the upper 90 % limit of ED95, a normal curve [ln min].

    Mean and spread by the rarer of the two responses (Dixon and Mood 1948; the factors of the standard
    errors, 1 and 1.3 for a step of about the spread, from memory). Infinite before both have come.
    """
    half = clean > 0.5 * PIECES
    if half.all() or not half.any():
        return math.inf
    rarer = half if 2 * half.sum() <= len(half) else ~half
    step = math.log(STEP)
    levels = np.rint((ln_doses[rarer] - math.log(START_MIN)) / step)
    above, number = levels - levels.min(), int(rarer.sum())
    a, b = float(above.sum()), float((above**2).sum())
    mean = math.log(START_MIN) + step * (levels.min() + a / number + (-0.5 if rarer is half else 0.5))
    ratio = (number * b - a**2) / number**2
    spread = 1.62 * step * (ratio + 0.029) if ratio > 0.3 else 0.53 * step
    error = math.hypot(spread, 1.645 * 1.3 * spread) / math.sqrt(number)
    return float(mean + 1.645 * spread + 1.2816 * error)


def by_own_estimates(found: Learnt) -> np.ndarray:
    """What learners that go up and down ask for by Dixon and Mood over what they need, learners × washes."""
    rows = zip(found.ln_dose, found.clean, found.truth.x, strict=True)
    washes = range(1, found.ln_dose.shape[1] + 1)
    return np.array([[dixon_mood(d[:n], k[:n]) - x for n in washes] for d, k, x in rows])


def by_textbook_fit(found: Learnt) -> np.ndarray:
    """What a fit without a prior asks for over what is needed, learners × washes.

    The logistic curve of largest likelihood (Newton's steps), and the upper 90 % limit of ED95 by the delta
    method (Finney 1971, *Probit Analysis*, ch. 4). Infinite where there is no such curve, or one that falls.
    """
    return np.array([_textbook(found, washes) for washes in range(1, found.ln_dose.shape[1] + 1)]).T


def _textbook(found: Learnt, washes: int) -> np.ndarray:
    dose, clean = found.ln_dose[:, :washes], found.clean[:, :washes]
    first = dose.mean(axis=1, keepdims=True)
    columns = np.stack([np.ones_like(dose), dose - first], axis=2)
    of = np.zeros((len(dose), 2))
    with np.errstate(all="ignore"):
        for _ in range(NEWTON):
            p = 1.0 / (1.0 + np.exp(-np.clip(np.einsum("lwc,lc->lw", columns, of), -30.0, 30.0)))
            weight = PIECES * p * (1.0 - p)
            precision = np.einsum("lw,lwc,lwd->lcd", weight, columns, columns) + 1e-9 * np.eye(2)
            score = np.einsum("lw,lwc->lc", clean - PIECES * p, columns)
            step = np.linalg.solve(precision, score[..., None])[..., 0]
            of = np.clip(of + np.clip(step, -2.0, 2.0), -60.0, 60.0)
        a, b = of.T
        x = (LN_ODDS - a) / b
        slopes = np.stack([-1.0 / b, -x / b], axis=1)
        variance = np.einsum("lc,lcd,ld->l", slopes, np.linalg.inv(precision), slopes)
        limit = x + first[:, 0] + 1.2816 * np.sqrt(variance)
    known = (np.abs(step).max(axis=1) < 1e-6) & (b > 0.0) & np.isfinite(limit)
    return np.where(known, limit, math.inf) - found.truth.x
