"""The curve of the trials against published counts and statsmodels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm
from trial_cases import scatter
from trial_published import BY_CHANCE, PUBLISHED, profile_interval, reference, statsmodels, wald_interval

from optimizer.trial.dose_response import logit, most_likely, posterior
from optimizer.trial.soil_fit import SHARE

every = pytest.mark.parametrize("name", PUBLISHED)
shares = pytest.mark.parametrize("share", [0.5, 0.95])
LN_10 = math.log(10.0)


def test_beetles_of_1935() -> None:
    """Bliss 1935 with a logit over log10: -60.717 + 34.270 x, ED50 1.7717 (as statsmodels gives them)."""
    found = most_likely(PUBLISHED["Bliss"].tried, SHARE)
    assert found is not None
    assert found.b * LN_10 == pytest.approx(34.270, abs=5e-4)
    assert logit(SHARE) - found.b * found.x == pytest.approx(-60.717, abs=5e-4)
    assert math.log10(found.dose_min(0.5)) == pytest.approx(1.7717, abs=5e-5)


@every
def test_most_likely_point_is_that_of_statsmodels(name: str) -> None:
    counts = PUBLISHED[name]
    a, b = reference(counts).params
    found = most_likely(counts.tried, SHARE)
    assert found is not None
    assert found.b == pytest.approx(b, rel=1e-5)
    for share in (0.5, 0.9, 0.95):
        assert found.dose_min(share) == pytest.approx(math.exp((logit(share) - a) / b), rel=1e-5)


@pytest.mark.parametrize("share", [0.5, 0.8, 0.99])
def test_the_wished_share_does_not_move_the_most_likely_curve(share: float) -> None:
    one, other = (most_likely(PUBLISHED["Finney"].tried, at) for at in (SHARE, share))
    assert one is not None
    assert other is not None
    assert other.dose_min(0.5) == pytest.approx(one.dose_min(0.5), rel=1e-6)


@shares
@every
def test_intervals_beside_the_profile_likelihood(name: str, share: float) -> None:
    """Two constructions, and a prior in one of them: each end within a fifth of the half width.

    The delta method itself is off by up to 0.29 of it (H.virescens F, ED95).
    """
    counts = PUBLISHED[name]
    found = posterior(counts.tried, SHARE)
    ours = np.array([found.quantile(0.05, share), found.quantile(0.95, share)])
    low, high = profile_interval(counts, share, 0.90)
    assert ours == pytest.approx([low, high], abs=0.2 * 0.5 * (high - low))


@shares
@every
def test_intervals_beside_the_delta_method(name: str, share: float) -> None:
    counts = PUBLISHED[name]
    found = posterior(counts.tried, SHARE)
    low, high = wald_interval(counts, share, 0.90)
    ours = np.array([found.quantile(0.05, share), found.quantile(0.95, share)])
    assert ours == pytest.approx([low, high], abs=0.35 * 0.5 * (high - low))


@shares
@every
def test_a_probit_gives_the_same_within_the_noise(name: str, share: float) -> None:
    """Within the 90 % interval, half width; that of codling is widened, as its groups scatter far more."""
    counts = PUBLISHED[name]
    a, b = reference(counts, statsmodels().families.links.Probit()).params
    found = posterior(counts.tried, SHARE, scatter(counts.tried))
    low, high = found.quantile(0.05, share), found.quantile(0.95, share)
    assert low < (norm.ppf(share) - a) / b < high


def test_without_the_scatter_many_insects_tell_a_probit_from_a_logit() -> None:
    """The check above can fail: 60 000 eggs, as if each were by itself."""
    counts = PUBLISHED["codling, all"]
    a, b = reference(counts, statsmodels().families.links.Probit()).params
    found = posterior(counts.tried, SHARE)
    assert (norm.ppf(0.95) - a) / b < found.quantile(0.05, 0.95)


@every
def test_scatter_is_pearsons_over_its_degrees_of_freedom(name: str) -> None:
    """By statsmodels; where chance alone might do as much it counts as none."""
    counts = PUBLISHED[name]
    fitted = reference(counts)
    expected = 1.0 if name in BY_CHANCE else fitted.pearson_chi2 / fitted.df_resid
    assert scatter(counts.tried) == pytest.approx(expected, rel=1e-3)


def test_scatter_widens_as_quasi_likelihood_does() -> None:
    """Finney's heterogeneity factor: variances times chi-square over its degrees of freedom."""
    counts = PUBLISHED["codling, all"]
    factor = scatter(counts.tried)
    found = posterior(counts.tried, SHARE, factor)
    low, high = wald_interval(counts, 0.5, 0.90, factor)
    ours = [found.quantile(0.05, 0.5), found.quantile(0.95, 0.5)]
    assert ours == pytest.approx([low, high], abs=0.1 * (high - low))
