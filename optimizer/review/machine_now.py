"""Which machine ran: its quantities by the bath of a run, with the profile's intervals as a prior.

A quantity is let go of its prior where the run asks for it most; that is done again until no other one asks
for it, so that one that drifted does not make others look as if they had. What explains a run as well in its
place is named beside it: a run cannot say more than it holds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.programme.plan import Plan
from optimizer.review.delivered import Delivered
from optimizer.review.machine_fit import SIGMAS, SIGNED, Fit
from optimizer.review.run_log import RunLog

Array = NDArray[np.float64]

ASKS, ASKS_AGAIN = 4.5, 9.0
"""Gain in twice the logarithm of the posterior at which a quantity is let go, and a further one [1].

Chi-square, 1 in 30 and 1 in 370."""

AS_WELL = 6.63
"""By less than this one explanation is no better than another [1]: chi-square, 1 in 100."""

SURE = 0.975
"""Probability from which a quantity is said to be outside its interval [1]."""

ALIKE = 0.3
"""Share of the largest gain from which a quantity is tried, by the slopes [1]: these bend."""

FAVOURED = 3
"""Quantities that are tried from a start far outside their intervals [1]."""

MOST_FREE = 3
"""Quantities that are let go at the most [1]."""

MISFIT_K = 1.0
"""Readings that scatter by more about the nearest machine are not of a drifted one [K]: our choice."""

DRAWS, SEED = 64, 1
"""Machines that are drawn from the posterior [1]."""

SEEN_SHARE = 0.9
"""A quantity is seen by a run that leaves at most this share of its interval's width [1]."""

WIDTHS = 2.0
"""A drift that a run should show, over the width of the interval [1]."""

POWER = 1.645
"""Standard deviations beyond a limit at which 19 of 20 runs are beyond it [1]."""


@dataclass(frozen=True)
class Finding:
    """A quantity after a run.

    Attributes
    ----------
    word : str
        Which one, a key of `DRIFTING`.
    low, nominal, high : float
        Its interval in the profile, in its unit.
    value, value_low, value_high : float
        What the run says: most likely value and 95 % interval, by the run alone where it was let go.
    outside : float
        Probability that it lies outside its interval [1].
    free : bool
        Whether it was let go of its interval.
    seen : bool
        Whether the run says anything of it.
    shows_from : float or None
        The least drift that 19 of 20 such runs show, whatever they lay it to; None where it is not known.
    mistaken_for : tuple of str
        Quantities that such a run may lay a drift of twice the interval's width to as well.
    """

    word: str
    low: float
    nominal: float
    high: float
    value: float
    value_low: float
    value_high: float
    outside: float
    free: bool
    seen: bool
    shows_from: float | None = None
    mistaken_for: tuple[str, ...] = ()

    @property
    def shows_drift(self) -> bool:
        """Whether 19 of 20 such runs show that it drifted by twice the width of its interval."""
        return self.shows_from is None or self.shows_from <= WIDTHS * (self.high - self.low)

    @property
    def verdict(self) -> str:
        """``inside``, ``at its edge``, ``outside`` or ``not seen``."""
        if self.outside >= SURE:
            return "outside"
        if not self.seen:
            return "not seen"
        return "at its edge" if self.outside > 0.5 or self.free else "inside"


@dataclass(frozen=True)
class MachineNow:
    """The machine of a run.

    Attributes
    ----------
    findings : tuple of Finding
        One a quantity that may drift and has a tolerance.
    scatter_k : float
        Of the log's bath about that of the machine found [K].
    table : dict of str to float
        The machine found, by the names of the tolerances.
    draws : dict of str to ndarray, shape (`DRAWS`,)
        Machines that the run allows, drawn from the posterior.
    instead : dict of str to tuple of str
        By a quantity that was let go: others that explain the run as well in its place.
    """

    findings: tuple[Finding, ...]
    scatter_k: float
    table: dict[str, float]
    draws: dict[str, Array]
    instead: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def causes(self) -> list[tuple[str, ...]]:
        """What left its profile; each as one cause, with the others that this run cannot part from it."""
        return [(one.word, *self.instead.get(one.word, ())) for one in self.outside]

    @property
    def explained(self) -> bool:
        """Whether few quantities outside their intervals, or none, explain the bath."""
        return len(self.outside) <= MOST_FREE and self.scatter_k <= MISFIT_K

    @property
    def outside(self) -> list[Finding]:
        """Quantities outside their intervals."""
        return [one for one in self.findings if one.verdict == "outside"]


def machine_now(plan: Plan, log: RunLog, done: Delivered) -> MachineNow:
    """Fit the machine to a run whose bath was logged, or its ware."""
    fit = Fit(plan, log, done)
    x, slopes = fit.solved(np.zeros(fit.count), ())
    limits = _limits(fit, fit.covariance(slopes, ()))
    x, slopes, free = _let_go(fit, x, slopes)
    return _told(fit, x, slopes, free, _instead(fit, x, free), limits)


def _let_go(fit: Fit, x: Array, slopes: Array) -> tuple[Array, Array, list[int]]:
    """Let those quantities go of their priors that the run asks for."""
    free, limit = list[int](), ASKS
    while len(free) < MOST_FREE:
        asks = fit.asks(x, slopes, free)
        if asks.max() < limit:
            break
        tried = _tried(fit, x, asks, free)
        costs = {which: fit.cost(again, [*free, which]) for which, (again, _) in tried.items()}
        best = min(costs, key=lambda which: costs[which])
        if fit.cost(x, free) - costs[best] < limit:
            break
        free.append(best)
        x, slopes = tried[best]
        limit = ASKS_AGAIN
    for which in [*free][:-1]:
        # What one quantity explains as well as two, one does.
        fewer = [one for one in free if one != which]
        again, again_slopes = fit.solved(x, fewer)
        if fit.cost(again, fewer) - fit.cost(x, free) < AS_WELL:
            free, x, slopes = fewer, again, again_slopes
    return x, slopes, free


def _tried(fit: Fit, x: Array, asks: Array, free: Sequence[int]) -> dict[int, tuple[Array, Array]]:
    """Fits with one more quantity let go: those that the slopes ask for, or that a far start favours."""
    wanted = np.flatnonzero(asks > ALIKE * asks.max()).tolist()
    found = {which: fit.solved(x, [*free, which]) for which in wanted}
    if free:
        return found
    starts = fit.far_starts(free)
    favoured = sorted(starts, key=lambda which: starts[which][1])[:FAVOURED]
    for which in favoured:
        again = fit.solved(starts[which][0], [which])
        if which not in found or fit.cost(again[0], [which]) < fit.cost(found[which][0], [which]):
            found[which] = again
    return found


def _instead(fit: Fit, x: Array, free: Sequence[int]) -> dict[int, list[int]]:
    """Which quantities explain a run as well as one that was let go, let go in its place."""
    found: dict[int, list[int]] = {}
    if not free:
        return found
    best = fit.cost(x, free)
    for which in free:
        others = [one for one in free if one != which]
        held, held_slopes = fit.solved(np.where(np.arange(fit.count) == which, 0.0, x), others)
        asks = fit.asks(held, held_slopes, others)
        for other in np.flatnonzero(asks > ALIKE * asks[which]).tolist():
            if other in free:
                continue
            instead, _ = fit.solved(held, [*others, other])
            if fit.cost(instead, [*others, other]) - best < AS_WELL:
                found.setdefault(which, []).append(other)
    return found


def _limits(fit: Fit, covariance: Array) -> dict[int, tuple[float, tuple[str, ...]]]:
    r"""What such a run can show of each quantity: the least drift, and what it may be mistaken for.

    Notes
    -----
    With the covariance C of the posterior, all in standard deviations of the priors, a drift d of quantity j
    moves what the fit finds by :math:`(I - C) e_j d`. Letting j go gains :math:`g_j = d^2 (1 - C_{jj})`,
    letting k go instead :math:`g_k = d^2 C_{jk}^2 / (1 - C_{kk})`; the square root of a gain, or of the
    difference of two, is a separation in standard deviations, which scatters by one (Fisher's information).
    """
    told = np.maximum(1.0 - np.diag(covariance), 1e-12)
    drift = WIDTHS * 2.0 * SIGMAS
    # A gain of D between two explanations scatters by 2 sqrt(D).
    parted = POWER + np.sqrt(POWER**2 + AS_WELL)
    found = {}
    for place, word in enumerate(fit.words):
        if word is None:
            continue
        least = (np.sqrt(ASKS) + POWER) / np.sqrt(told[place])
        apart = drift * np.sqrt(np.maximum(told[place] - covariance[place] ** 2 / told, 0.0))
        # What gains next to nothing is not taken for it: the run may show nothing at all, which is told.
        like = covariance[place] ** 2 / told > ALIKE * told[place]
        alike = [
            str(other)
            for other, near, away in zip(fit.words, like, apart, strict=True)
            if other not in (None, word) and near and away < parted
        ]
        found[place] = float(least * fit.sd[place]), tuple(alike)
    return found


def _told(
    fit: Fit,
    x: Array,
    slopes: Array,
    free: Sequence[int],
    instead: Mapping[int, Sequence[int]],
    limits: Mapping[int, tuple[float, tuple[str, ...]]],
) -> MachineNow:
    """Put the result into words of quantities."""
    covariance = fit.covariance(slopes, free)
    sds = np.sqrt(np.diag(covariance))
    findings = []
    for place, word in enumerate(fit.words):
        if word is None:
            continue
        least = -np.inf if fit.names[place] in SIGNED else 0.0
        value, sd = fit.middle[place] + fit.sd[place] * x[place], fit.sd[place] * sds[place]
        findings.append(
            Finding(
                word=word,
                low=float(fit.low[place]),
                nominal=float(fit.nominal[place]),
                high=float(fit.high[place]),
                value=float(max(value, least)),
                value_low=float(max(value - SIGMAS * sd, least)),
                value_high=float(value + SIGMAS * sd),
                outside=_outside(value, sd, fit.low[place], fit.high[place]),
                free=place in free,
                seen=bool(sds[place] < SEEN_SHARE) or place in free,
                shows_from=limits[place][0],
                mistaken_for=limits[place][1],
            )
        )
    table = {name: float(one[0]) for name, one in fit.tables(x[None]).items()}
    drawn = (
        x + np.random.default_rng(SEED).standard_normal((DRAWS, fit.count)) @ np.linalg.cholesky(covariance).T
    )
    joint = {
        str(fit.words[which]): tuple(str(fit.words[other]) for other in others)
        for which, others in instead.items()
    }
    return MachineNow(tuple(findings), fit.scatter_k, table, fit.tables(drawn), joint)


def _outside(value: float, sd: float, low: float, high: float) -> float:
    """Probability that a normal quantity lies outside an interval [1]."""
    from math import erf, sqrt

    def below(end: float) -> float:
        return 0.5 * (1.0 + erf((end - value) / (sd * sqrt(2.0))))

    return float(np.clip(1.0 - (below(high) - below(low)), 0.0, 1.0))
