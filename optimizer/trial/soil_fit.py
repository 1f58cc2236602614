"""What the washes with one soil say: the curve, the minutes to ask for, and what is not known."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from optimizer.profile.goal import Dose
from optimizer.trial.dose_of_wash import WashDose
from optimizer.trial.dose_response import (
    MOST_MIN,
    Array,
    Curve,
    Posterior,
    Tried,
    ln_likelihood,
    ln_prior,
    most_likely,
    posterior,
    whole_grid,
)
from optimizer.trial.never_clean import never_clean
from optimizer.trial.trial_book import Trial
from optimizer.trial.z_found import ZFound, find_z

Status = Literal["learnt", "at most", "not known", "contradictory"]

SHARE, CREDIBILITY = 0.95, 0.90
"""Share of the pieces that is to come out clean, and how sure that is to be, where nothing else is asked
[1]."""

INTERVAL = 0.90
"""Probability of an interval [1]: as much lies below it as above."""

OPEN_SHARE = math.exp(-1.92)
"""The washes leave an end open where the likelihood there is more than this share of the largest [1]: a
ratio that chance passes in one case of twenty (chi-square with one degree of freedom: 3.84 / 2)."""

SURE_Z = 1.645
"""Standard deviations beyond which a trend is none of chance, one-sided, in one case of twenty [1]."""

SCATTER_CHANCE = 0.01
"""Washes scatter more than chance allows where it would make such a scatter less often than this [1]."""

LEAST_VARIANCE = 0.5
"""Least variance of a count when scatter is judged [pieces²]: near all or none chi-square is no guide."""

ONE_DOSE = 0.05
"""Doses closer than this share of each other count as one [1]."""

FOOTNOTE_EXTRAPOLATED = 1.02
"""Asked minutes that are past the largest dose tried by this factor were not tried [1]."""


@dataclass(frozen=True)
class Wash:
    """One wash with the soil: its line, and the dose that it gave."""

    trial: Trial
    given: WashDose


@dataclass(frozen=True)
class Between:
    """A dose with its interval [min]: median, low and high end."""

    middle_min: float
    low_min: float
    high_min: float


@dataclass(frozen=True)
class SoilFit:
    """What is known of one soil.

    Attributes
    ----------
    dose : Dose
        The dose of the goal, with the minutes that it has now.
    washes : tuple of Wash
        The washes.
    share, credibility : float
        What is wished for [1].
    found : Posterior
        The posterior.
    status : str
        ``learnt``; ``at most``: too little came out dirty to say how little would do, or nothing is known of
        the steepness (one dose, or no trend and minutes past all doses), so that the prior bounds it; ``not
        known``: too little came out
        clean to say what is needed; ``contradictory``: more dose cleaned less.
    asked_min : float or None
        Minutes to ask for [min], a bound by the prior where the status is ``at most``; None where nothing may
        be said.
    over_min : float or None
        Where it is not known what is needed: the wished share needs more than this [min].
    curve : Curve or None
        The curve of largest likelihood; None where there is none (all clean below a dose and none above it,
        say).
    scatter : float
        By how much the washes scatter more than chance allows, a ratio of variances [1]; 1 where they do not.
    trend : float
        How surely more dose cleaned more, in standard deviations [1]; nan for one dose, all clean or none.
    z : ZFound or None
        What the washes say of z; None where their temperatures are too close for it.
    never_clean : float
        Share of pieces that seem to come clean at no dose [1]; 0 where the washes show none.
    open_below : bool
        Whether the washes leave open how little would do.
    """

    dose: Dose
    washes: tuple[Wash, ...]
    share: float
    credibility: float
    found: Posterior
    status: Status
    asked_min: float | None
    over_min: float | None
    curve: Curve | None
    scatter: float
    trend: float
    z: ZFound | None
    never_clean: float
    open_below: bool

    @cached_property
    def tried(self) -> Tried:
        """The washes as arrays."""
        return tried_of(self.washes)

    @property
    def pieces(self) -> int:
        """Pieces in all washes [1]."""
        return sum(wash.trial.pieces for wash in self.washes)

    @property
    def clean(self) -> int:
        """Pieces that came out clean [1]."""
        return sum(wash.trial.clean for wash in self.washes)

    @property
    def tried_min(self) -> tuple[float, float]:
        """Least and largest dose tried [min]."""
        doses = [wash.given.dose_min for wash in self.washes]
        return min(doses), max(doses)

    @property
    def one_dose(self) -> bool:
        """Whether all washes had about the same dose."""
        least, most = self.tried_min
        return math.log(most / least) < ONE_DOSE

    @property
    def extrapolated(self) -> bool:
        """Whether the minutes to ask for are more than was tried."""
        return self.asked_min is not None and _past(self.asked_min, self.tried)

    @property
    def trend_shown(self) -> bool:
        """Whether more dose cleaned more, beyond chance."""
        return self.trend > SURE_Z

    def between(self, share: float) -> Between | None:
        """Dose that cleans a share, with its interval; None where the washes leave it open."""
        if self.status != "learnt":
            return None
        tail = 0.5 * (1.0 - INTERVAL)
        middle, low, high = (self.found.quantile(p, share) for p in (0.5, tail, 1.0 - tail))
        return Between(math.exp(middle), math.exp(low), math.exp(high))


def tried_of(washes: tuple[Wash, ...]) -> Tried:
    """Lay washes out as arrays."""
    given = [wash.given for wash in washes]
    return Tried(
        ln_dose=np.array([math.log(one.dose_min) for one in given]),
        pieces=np.array([wash.trial.pieces for wash in washes], dtype=float),
        clean=np.array([wash.trial.clean for wash in washes], dtype=float),
        common_sd=np.array([one.common_sd for one in given]),
        own_sd=np.array([one.own_sd for one in given]),
        machine=tuple(one.machine for one in given),
    )


def fit_soil(
    dose: Dose, washes: tuple[Wash, ...], share: float = SHARE, credibility: float = CREDIBILITY
) -> SoilFit:
    """Weigh the washes with one soil; none is allowed, and then nothing is known."""
    tried = tried_of(washes)
    whole = ln_likelihood(tried, whole_grid(share))
    curve = most_likely(tried, share)
    scatter = scatter_of(tried, share, curve, whole)
    found = posterior(tried, share, scatter, whole)
    trend = trend_of(tried)
    held = _held_between(share, whole / scatter)
    status, asked_min, over_min = _judged(found, credibility, tried, trend, held)
    return SoilFit(
        dose=dose,
        washes=washes,
        share=share,
        credibility=credibility,
        found=found,
        status=status,
        asked_min=asked_min,
        over_min=over_min,
        curve=curve,
        scatter=scatter,
        trend=trend,
        z=find_z(dose, [wash.given for wash in washes], tried, share, scatter),
        never_clean=never_clean(tried),
        open_below=bool(washes) and held.open_below,
    )


def _judged(
    found: Posterior, credibility: float, tried: Tried, trend: float, held: _Held
) -> tuple[Status, float | None, float | None]:
    """Status, minutes to ask for, and what is too little where these are not known."""
    if trend < -SURE_Z:
        return "contradictory", None, None
    too_little = held.least_min if len(tried) else None
    if held.open_above:
        return "not known", None, too_little
    if not held.open_below:
        asked_min = math.exp(found.quantile(credibility))
        # Where nothing is known of the steepness, that of the prior bounds what is needed.
        one_dose = float(np.ptp(tried.ln_dose)) < ONE_DOSE
        by_prior = one_dose or (not trend > SURE_Z and _past(asked_min, tried))
        return "at most" if by_prior else "learnt", asked_min, None
    # Nothing speaks against far less; so far less is left out, or the prior alone would ask for it.
    asked_min = math.exp(found.quantile(credibility, least=float(tried.ln_dose.min())))
    return ("at most", asked_min, None) if asked_min <= MOST_MIN else ("not known", None, None)


def _past(asked_min: float, tried: Tried) -> bool:
    """Whether minutes lie beyond all doses tried."""
    return asked_min > FOOTNOTE_EXTRAPOLATED * math.exp(float(tried.ln_dose.max()))


@dataclass(frozen=True)
class _Held:
    """Least dose that the washes allow [min], and whether they leave an end of the grid open."""

    least_min: float
    open_below: bool
    open_above: bool


def _held_between(share: float, ln_likely: Array) -> _Held:
    grid = whole_grid(share)
    ln_weight = ln_likely + ln_prior(grid)
    of_x = np.exp(ln_weight - ln_weight.max()).sum(axis=1)
    held = np.flatnonzero(of_x >= OPEN_SHARE * of_x.max())
    return _Held(math.exp(float(grid.x[held[0]])), bool(held[0] == 0), bool(held[-1] == len(grid.x) - 1))


def scatter_of(tried: Tried, share: float, curve: Curve | None, whole: Array) -> float:
    """By how much washes scatter more than chance allows [1].

    Pearson's chi-square over its degrees of freedom, about the curve of largest likelihood or, where there is
    none, the likeliest of the grid whose likelihood is ``whole``. Finney's heterogeneity factor (*Probit
    Analysis*, 1971, ch. 4); 1 where chance alone might do as much.
    """
    degrees = len(tried) - 2
    if degrees < 1:
        return 1.0
    if curve is None:
        grid = whole_grid(share)
        at = np.unravel_index(int((whole + ln_prior(grid)).argmax()), whole.shape)
        curve = Curve(share, float(grid.x[at[0]]), math.exp(float(grid.ln_b[at[1]])))
    p = curve.clean_share(tried.ln_dose)
    chance = tried.pieces * p * (1.0 - p)
    of_dose = (chance * curve.b) ** 2 * (tried.common_sd**2 + tried.own_sd**2)
    variance = np.maximum(chance + of_dose, LEAST_VARIANCE)
    chi_square = float(((tried.clean - tried.pieces * p) ** 2 / variance).sum())
    if chi_square <= degrees:
        return 1.0
    # Loaded only where the washes scatter more than on average: it takes a tenth of a second.
    from scipy.special import chdtrc

    return 1.0 if chdtrc(degrees, chi_square) >= SCATTER_CHANCE else chi_square / degrees


def trend_of(tried: Tried) -> float:
    """How surely more dose cleaned more, in standard deviations [1]; nan where there is nothing to tell it
    by.

    The score test of the slope at no slope (Cochran 1954, Armitage 1955).
    """
    pieces = tried.pieces.sum()
    clean = tried.clean.sum()
    if not 0.0 < clean < pieces:
        return math.nan
    p = clean / pieces
    off = tried.ln_dose - (tried.pieces * tried.ln_dose).sum() / pieces
    variance = p * (1.0 - p) * (tried.pieces * off**2).sum()
    if variance <= 1e-12:
        return math.nan
    return float(((tried.clean - tried.pieces * p) * off).sum() / math.sqrt(variance))
