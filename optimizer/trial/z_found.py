"""What washes at different temperatures say of z, beside the published value."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.profile.goal import Dose
from optimizer.trial.dose_of_wash import WashDose
from optimizer.trial.dose_response import Tried, ln_likelihood, ln_prior, whole_grid

LEAST_RANGE_K = 10.0
"""Mean temperatures of the warmest and the coolest wash differ by so much at least before z is looked at
[K]."""

Z_SPREAD = 0.5
"""Standard deviation of the logarithm of z around the published one before the first wash [1]: with 90 % it
is 0.44 to 2.3 times it. *No source*, our choice."""

Z_POINTS, Z_SIGMAS = 31, 2.5
"""Points at which z is looked at, and how far out on each side [1]."""

GRID = (321, 31)
"""Points of the grid of the curve at each z [1]."""

NARROWER = 0.7
"""The interval of z counts as found where it is narrower than the one before the washes by this factor
[1]."""

TAIL_SIGMAS = 1.645


@dataclass(frozen=True)
class ZFound:
    """What the washes say of z.

    Attributes
    ----------
    published_k : float
        The z of the goal [K].
    middle_k, low_k, high_k : float
        Median and 90 % interval [K].
    tells : bool
        Whether that is narrower than what was taken before the washes.
    range_k : float
        How far the temperatures of the washes lie apart [K].
    """

    published_k: float
    middle_k: float
    low_k: float
    high_k: float
    tells: bool
    range_k: float

    @property
    def published_fits(self) -> bool:
        """Whether the published value lies in the interval."""
        return self.low_k <= self.published_k <= self.high_k


def range_k(dose: Dose, given: Sequence[WashDose]) -> float:
    """How far the temperatures lie apart at which washes earned their doses [K]."""
    means_c = [one.heat.mean_c(dose) for one in given]
    return max(means_c) - min(means_c) if means_c else 0.0


def find_z(
    dose: Dose, given: Sequence[WashDose], tried: Tried, share: float, scatter: float
) -> ZFound | None:
    """Weigh every z by the washes, the curve integrated out; None where their temperatures are too close.

    Errors of the doses are left out: they are the same at every z.
    """
    apart_k = range_k(dose, given)
    if len(given) < 2 or not apart_k >= LEAST_RANGE_K:
        return None
    ln_z = math.log(dose.z_k) + Z_SPREAD * np.linspace(-Z_SIGMAS, Z_SIGMAS, Z_POINTS)
    nothing = np.zeros(len(tried))
    grid = whole_grid(share, GRID)
    prior = ln_prior(grid)
    ln_weight = []
    for place, one_z in enumerate(np.exp(ln_z)):
        ln_doses = [
            math.log(one.dose_min * one.heat.dose_min(dose, float(one_z)) / one.heat.dose_min(dose))
            for one in given
        ]
        at_z = replace(tried, ln_dose=np.array(ln_doses), common_sd=nothing, own_sd=nothing)
        ln_curves = ln_likelihood(at_z, grid) / scatter + prior
        most = ln_curves.max()
        off = (ln_z[place] - math.log(dose.z_k)) / Z_SPREAD
        ln_weight.append(most + math.log(np.exp(ln_curves - most).sum()) - 0.5 * off**2)
    weight = np.exp(np.array(ln_weight) - max(ln_weight))
    up_to = np.cumsum(weight) - 0.5 * weight
    low, middle, high = np.interp(np.array([0.05, 0.5, 0.95]) * weight.sum(), up_to, ln_z).tolist()
    tells = high - low < NARROWER * 2.0 * TAIL_SIGMAS * Z_SPREAD
    return ZFound(dose.z_k, math.exp(middle), math.exp(low), math.exp(high), tells, apart_k)
