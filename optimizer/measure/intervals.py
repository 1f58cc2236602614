"""From readings to a number with its two ends.

What differs from run to run (a flow, what a drain leaves, a voltage) gets a tolerance interval: 95 % of all
runs lie in it, with 95 % confidence (ISO 16269-6). What is one number (a mass, a resistance) gets the 95 %
interval of its mean. In both, what the instruments may be off is combined with the scatter of the readings as
the GUM (JCGM 100) does: what is anew in every reading is seen in their scatter (type A), what all readings
share is not (type B).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

SHARE, CONFIDENCE = 0.95, 0.95
"""Share of all runs in a tolerance interval, and how sure of that one may be [1]."""

COVERAGE = 2.0
"""Expanded over standard uncertainty where nothing is estimated from few readings [1] (GUM 6.3.3)."""

FEW = 6
"""Below so many readings one more narrows a tolerance interval much: 4.4 sigma with 6, 9.9 with 3 [1]."""

OF_RUNS, OF_MEAN, ONE_READING, FEW_READINGS = "95 % of runs", "95 % interval", "one reading", "few readings"
"""How an interval came about: tolerance interval; interval of the mean; instrument error and a stated spread,
for one reading, and for a few."""

LEAST_GRUBBS, GRUBBS_RISK = 5, 0.01
"""Readings from which on an outlier is looked for [1], and how seldom a sound set has one called so [1]
(ISO 5725-2, its 1 % level)."""


MIXED = 5.0
"""Readings of one thing of which the largest is so many times the least are asked about [1]: our choice."""


@dataclass(frozen=True)
class Errors:
    """What one reading of a quantity may be off, in its unit.

    Attributes
    ----------
    common : float
        Half-width of what all readings share, as likely anywhere in it (scales that read 5 g too much).
    each : float
        Standard uncertainty that is anew in each reading (the hand on a stopwatch, the last digit).
    """

    common: float
    each: float


@dataclass(frozen=True)
class Interval:
    """A number with its ends.

    Attributes
    ----------
    nominal, low, high : float
        In the unit of the readings; low ≤ nominal ≤ high.
    method : str
        How they came about.
    remarks : tuple of str
        What stands against them.
    """

    nominal: float
    low: float
    high: float
    method: str
    remarks: tuple[str, ...] = ()


def step_error(step: float) -> float:
    """Standard uncertainty of a reading from its last digit: ``step / sqrt(12)`` (GUM F.2.2.1).

    Examples
    --------
    >>> f"{step_error(0.1):.4f}"
    '0.0289'
    """
    return step / math.sqrt(12.0)


def last_digit(readings: Sequence[float], step: float = 0.0) -> float:
    """Last digit to which readings were written down, no finer than the instrument's step.

    Two readings of 0.6 may have been 0.58 and 0.64: what was rounded away is no agreement. Of one reading
    nothing is to agree.

    Examples
    --------
    >>> last_digit([0.6, 0.6]), last_digit([0.58, 0.6]), last_digit([231.0, 230.0], 0.1)
    (0.1, 0.01, 1.0)
    """
    if len(readings) == 1:
        return step
    decimals = max(len(repr(float(one)).partition(".")[2].rstrip("0")) for one in readings)
    return max(step, 10.0**-decimals)


@lru_cache(maxsize=256)
def tolerance_factor(
    readings: float, share: float = SHARE, confidence: float = CONFIDENCE, free: int | None = None
) -> float:
    """Factor of a two-sided tolerance interval ``mean ± k s`` of a normal distribution, both unknown.

    `free` are the degrees of freedom of s, one less than the readings where left out; for a curve through
    the readings `readings` is the variance of one of them over that of the curve.

    Exact: the k for which ``P(chi2 > (n - 1) r(z)^2 / k^2)``, integrated over the scatter z of the mean, is
    the confidence, where ``r(z)`` is the half-width about a mean that is z off that holds the share
    (ISO 16269-6, annex; D. B. Owen).

    Examples
    --------
    >>> f"{tolerance_factor(10):.2f}"
    '3.39'
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc, ndtr

    free = round(readings) - 1 if free is None else free
    nodes, weights = np.polynomial.legendre.leggauss(64)
    far = 8.0 / math.sqrt(readings)
    off, weights = far * (nodes + 1.0) / 2.0, weights * far / 2.0
    density = 2.0 * weights * math.sqrt(readings / (2.0 * math.pi)) * np.exp(-readings * off**2 / 2.0)
    low, high = np.zeros_like(off), off + 8.0
    for _ in range(60):
        half = (low + high) / 2.0
        short = ndtr(off + half) - ndtr(off - half) < share
        low, high = np.where(short, half, low), np.where(short, high, half)

    def over(factor: float) -> float:
        return float(density @ chdtrc(free, free * (high / factor) ** 2)) - confidence

    return float(brentq(over, 1.0, 1e4, xtol=1e-9))


def run_to_run(readings: Sequence[float], errors: Errors, stated: float) -> Interval:
    """Tolerance interval of what differs from run to run.

    Two to five readings tell little of their own scatter (36 times it for two), so that no more than the
    stated spread is counted about their mean, as for one reading, unless they scatter more than it allows.

    Parameters
    ----------
    readings : sequence of float
        One or more.
    errors : Errors
        What one reading may be off.
    stated : float
        Half-width of the spread over the runs to count with where readings are few.
    """
    if len(readings) == 1:
        return _single(readings[0], errors, stated)
    many = len(readings)
    nominal, scatter, remarks = _mean_and_scatter(readings, errors)
    factor = tolerance_factor(many)
    half = math.hypot(factor * scatter, errors.common)
    method = OF_RUNS
    if many < FEW:
        # The mean of few is off as well, by what the spread itself makes.
        by_spread = errors.common + COVERAGE * errors.each + stated * (1.0 + 1.0 / math.sqrt(many))
        allowed = float(np.std(readings, ddof=1)) <= stated / COVERAGE * math.sqrt(
            1.0 + 2.0 * math.sqrt(2.0 / (many - 1))
        )
        if allowed and by_spread < half:
            method = FEW_READINGS
            remark = (
                f"{many} readings: a spread of ± {stated:.3g} is stated, with their mean and the instruments "
                f"± {by_spread:.3g}; they alone would give ± {half:.3g}"
            )
            half = by_spread
        else:
            remark = f"{many} readings: the ends are {factor:.1f} times their scatter away"
        remarks += (f"{remark}; {FEW} would do with {tolerance_factor(FEW):.1f} times their scatter",)
    return Interval(nominal, nominal - half, nominal + half, method, remarks)


def one_number(readings: Sequence[float], errors: Errors, stated: float = 0.0) -> Interval:
    """95 % interval of what is one number, read one or more times (GUM 4.2, 5.1).

    The mean of n readings gets Student's t with n - 1 degrees of freedom (JCGM 101:2008, 6.4.9, from memory);
    its interval and that of what the instruments share are added as squares. Degrees of freedom by
    Welch-Satterthwaite (GUM G.4.1) hold less than they say where few readings scatter by more than the
    instruments allow: 88 to 93 % with two or three. `stated` is the half-width of a spread to add where there
    is one reading only.
    """
    if len(readings) == 1:
        return _single(readings[0], errors, stated)
    nominal, scatter, remarks = _mean_and_scatter(readings, errors)
    # The last digit, counted where the readings agree better than it can tell, is known and not estimated.
    free = math.inf if scatter <= errors.each else len(readings) - 1
    from_scatter = coverage_factor(free) * scatter / math.sqrt(len(readings))
    half = math.hypot(from_scatter, COVERAGE * errors.common / math.sqrt(3.0))
    return Interval(nominal, nominal - half, nominal + half, OF_MEAN, remarks)


def coverage_factor(free: float) -> float:
    """Student's t for 95 %, two-sided, with so many degrees of freedom (GUM G.3).

    Examples
    --------
    >>> f"{coverage_factor(5):.2f} {coverage_factor(math.inf):.2f}"
    '2.57 2.00'
    """
    from scipy.special import stdtrit

    return COVERAGE if free > 1e6 else max(COVERAGE, float(stdtrit(free, 0.975)))


def _single(reading: float, errors: Errors, stated: float) -> Interval:
    half = errors.common + COVERAGE * errors.each + stated
    remarks = ["one reading: its scatter is not known"]
    if stated:
        whole = f"with the instruments ± {half:.3g}"
        remarks = [f"one reading: a spread of ± {stated:.3g} is stated, not measured; {whole}"]
    return Interval(reading, reading - half, reading + half, ONE_READING, tuple(remarks))


def _mean_and_scatter(readings: Sequence[float], errors: Errors) -> tuple[float, float, tuple[str, ...]]:
    """Mean, scatter of one reading (no less than the instruments' own), and an outlier named."""
    values = np.array(readings, dtype=float)
    mean, scatter = float(values.mean()), float(values.std(ddof=1))
    remarks: tuple[str, ...] = ()
    at = int(np.abs(values - mean).argmax())
    # The last digit alone can part a reading from others that are equal.
    far = (
        max(grubbs_limit(len(readings)) * scatter, 6.0 * errors.each)
        if len(readings) >= LEAST_GRUBBS
        else math.inf
    )
    least, most = float(values.min()), float(values.max())
    if abs(values[at] - mean) > far:
        remarks = (f"reading {at + 1} ({values[at]:.4g}) is far from the others: was it written down right",)
    elif len(readings) >= 3 and least > 0.0 and most > MIXED * least:
        remarks = (f"readings from {least:.3g} to {most:.3g}: are all of them in one unit",)
    return mean, max(scatter, errors.each), remarks


def grubbs_limit(readings: int) -> float:
    """Distance from the mean, in standard deviations, from which a reading is an outlier (Grubbs, two-sided).

    Examples
    --------
    >>> f"{grubbs_limit(10):.3f}"
    '2.482'
    """
    from scipy.special import stdtrit

    t2 = float(stdtrit(readings - 2, 1.0 - GRUBBS_RISK / (2.0 * readings))) ** 2
    return (readings - 1) / math.sqrt(readings) * math.sqrt(t2 / (readings - 2 + t2))


def clipped(found: Interval, least: float, most: float, unit: str) -> Interval:
    """Clip the ends to what can be, and say so; the nominal value is left alone if it lies between."""
    low, high = max(found.low, least), min(found.high, most)
    space_unit = "" if unit == "1" else f" {unit}"
    remarks = list(found.remarks)
    if low > found.low:
        remarks.append(
            f"the low end is clipped at {least:g}{space_unit}, it came to {found.low:.3g}{space_unit}"
        )
    if high < found.high:
        came = f"it came to {found.high:.3g}{space_unit}"
        remarks.append(f"the high end is clipped at {most:g}{space_unit}, {came}")
    return replace(found, low=low, high=high, remarks=tuple(remarks))
