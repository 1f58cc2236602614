"""Many runs of one machine: how each quantity goes from run to run, and when the plan breaks so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.programme.plan import Plan
from optimizer.review.consequences import broken
from optimizer.review.machine_fit import SIGMAS
from optimizer.review.machine_now import Finding
from optimizer.review.reviewed import Reviewed

Array = NDArray[np.float64]

WEIGHT = 0.3
"""Weight of the newest value in the average [1]: between 0.2 and 0.3 as a rule (Hunter)."""

SIGMA_LIMITS = 3.0
"""Standard deviations of the average from its target to a limit [1]."""

LEAST_RUNS, LEARNS_AT_LEAST, LEARNS_AT_MOST = 6, 3, 10
"""Runs from which there are limits; and of those the ones that they are learnt from [1]: our choice."""

LOOK_AHEAD = 100
"""Runs that a trend is followed for [1]: our choice."""

SURE_SLOPE = 3.0
"""Standard errors that a slope must be from none to be followed [1]: our choice."""


@dataclass(frozen=True)
class Ewma:
    """An exponentially weighted moving average chart.

    Attributes
    ----------
    average : ndarray, shape (values,)
        The average after each value.
    low, high : float
        Its limits.
    """

    average: Array
    low: float
    high: float

    @property
    def first_out(self) -> int | None:
        """The first value at which the average is outside its limits; None where there is none."""
        outside = np.flatnonzero((self.average < self.low) | (self.average > self.high))
        return int(outside[0]) if len(outside) else None


def ewma(
    values: Sequence[float] | Array,
    target: float,
    deviation: float,
    weight: float = WEIGHT,
    limits: float = SIGMA_LIMITS,
) -> Ewma:
    r"""Average values exponentially, and give the limits of that average.

    .. math:: z_t = \lambda y_t + (1 - \lambda) z_{t-1}, \quad
              z_0 \pm k s \sqrt{\lambda / (2 - \lambda)}

    Parameters
    ----------
    values : sequence of float
        In the order of time.
    target, deviation : float
        Mean and standard deviation of earlier values.
    weight : float
        λ, above 0 and up to 1 [1].
    limits : float
        k [1].

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.

    Examples
    --------
    >>> chart = ewma([52.0, 47.0], 50.0, 2.0539)
    >>> chart.average.round(2).tolist(), round(chart.high, 2)
    ([50.6, 49.52], 52.59)
    """
    average, at = [], target
    for value in values:
        at = weight * float(value) + (1.0 - weight) * at
        average.append(at)
    away = limits * deviation * float(np.sqrt(weight / (2.0 - weight)))
    return Ewma(np.array(average), target - away, target + away)


@dataclass(frozen=True)
class Trend:
    """A quantity over many runs.

    Attributes
    ----------
    word : str
        Which one, a key of `DRIFTING`.
    findings : tuple of Finding
        What each run says.
    learnt_from : int
        Runs that the limits are learnt from; 0 where there are too few for limits.
    chart : Ewma or None
        The average of the runs after these, from their mean on.
    first_out : int or None
        The first run out of control, from 0.
    slope : float
        By how much it goes on from run to run, where that is sure; else 0.
    breaks_in : int or None
        Runs until a requirement breaks if it goes on; None where none does within `LOOK_AHEAD`.
    breaks : str
        That requirement.
    """

    word: str
    findings: tuple[Finding, ...]
    learnt_from: int
    chart: Ewma | None
    first_out: int | None
    slope: float
    breaks_in: int | None = None
    breaks: str = ""

    @property
    def values(self) -> Array:
        """What each run says, most likely."""
        return np.array([one.value for one in self.findings])


def trends(plan: Plan, runs: Sequence[Reviewed], report: Callable[[str], None]) -> list[Trend]:
    """Follow each quantity over runs in the order of time; runs without a bath are passed over."""
    told = [run.now.findings for run in runs if run.now is not None]
    if not told:
        return []
    found = [_trend(of_word) for of_word in zip(*told, strict=True)]
    ahead = []
    for one in found:
        if one.slope and any(finding.seen for finding in one.findings):
            report(f"following {one.word}")
            ahead.append(_followed(plan, one))
        else:
            ahead.append(one)
    return ahead


def _trend(findings: Sequence[Finding]) -> Trend:
    values = np.array([one.value for one in findings])
    slope = _slope(values, _of_one(findings))
    word = findings[0].word
    if len(values) < LEAST_RUNS:
        return Trend(word, tuple(findings), 0, None, None, slope)
    learns = min(max(len(values) // 3, LEARNS_AT_LEAST), LEARNS_AT_MOST)
    early = values[:learns]
    target, deviation, limits = float(early.mean()), *_scatter(findings[:learns])
    chart = ewma(values[learns:], target, deviation, limits=limits)
    # Runs that drifted while limits were learnt make them wide; what the profile holds goes no further.
    beyond = SIGMA_LIMITS * _of_one(findings) * float(np.sqrt(WEIGHT / (2.0 - WEIGHT)))
    low, high = findings[0].low - beyond, findings[0].high + beyond
    chart = replace(chart, low=max(chart.low, low), high=min(chart.high, high))
    out = chart.first_out
    return Trend(word, tuple(findings), learns, chart, None if out is None else learns + out, slope)


def _scatter(findings: Sequence[Finding]) -> tuple[float, float]:
    """Standard deviation from run to run, and how many of it make a limit.

    That of a few runs is itself uncertain: the limit is Student's then. What one run leaves open of the
    quantity is known beforehand, and no chart is narrower than by that.
    """
    from scipy.stats import norm, t

    values = np.array([one.value for one in findings])
    scatter = float(values.std(ddof=1)) * float(np.sqrt(1.0 + 1.0 / len(values)))
    of_one = _of_one(findings)
    wide = float(t.ppf(norm.cdf(SIGMA_LIMITS), len(values) - 1)) * scatter
    narrow = SIGMA_LIMITS * of_one
    return (scatter, wide / scatter) if wide > narrow else (of_one, SIGMA_LIMITS)


def _of_one(findings: Sequence[Finding]) -> float:
    """What one run leaves open, a standard deviation."""
    return float(np.mean([(one.value_high - one.value) / SIGMAS for one in findings]))


def _slope(values: Array, of_one: float) -> float:
    """By how much values rise from one to the next; 0 where it may be chance or is less than a run shows."""
    if len(values) < LEAST_RUNS:
        return 0.0
    at = np.arange(len(values)) - (len(values) - 1) / 2.0
    slope = float(at @ values / (at @ at))
    left = values - values.mean() - slope * at
    error = float(np.sqrt((left @ left) / (len(values) - 2) / (at @ at)))
    shows = abs(slope) * (len(values) - 1) > SIGMAS * of_one
    return slope if shows and abs(slope) > SURE_SLOPE * error else 0.0


def _followed(plan: Plan, trend: Trend) -> Trend:
    """Find the first run at which the check does not pass, if the quantity goes on as it went."""
    last = trend.findings[-1]
    half = last.value_high - last.value

    def fails(runs: int) -> str:
        value = float(trend.values.mean()) + trend.slope * ((len(trend.values) - 1) / 2.0 + runs)
        value = max(value, 1e-3 * abs(last.nominal))
        there = replace(last, value=value, value_low=value - half, value_high=value + half)
        rows = broken(plan, [there])
        if rows is None:
            return "a profile's limits"
        return rows[0].key if rows else ""

    if not (key := fails(LOOK_AHEAD)):
        return trend
    whole, broke = 0, LOOK_AHEAD
    if now := fails(0):
        return replace(trend, breaks_in=0, breaks=now)
    while broke - whole > 1:
        middle = (whole + broke) // 2
        if found := fails(middle):
            broke, key = middle, found
        else:
            whole = middle
    return replace(trend, breaks_in=broke, breaks=key)
