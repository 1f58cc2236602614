"""The wash that teaches most: against sums by hand and against fitting every outcome anew."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom
from trial_cases import fitted

from optimizer.errors import InputError
from optimizer.trial.dose_response import Curve, Posterior, Tried, posterior
from optimizer.trial.next_wash import information, outcome_shares, outcomes
from optimizer.trial.propose import chosen_soil
from optimizer.trial.soil_fit import CREDIBILITY, SHARE

DOSES_MIN, CLEAN = np.array([6.0, 12.0, 20.0]), np.array([3, 8, 11])


@pytest.fixture(scope="module")
def found() -> Posterior:
    return posterior(Tried.exact(DOSES_MIN, np.full(3, 12), CLEAN), SHARE)


def by_hand(found: Posterior, dose_min: float, pieces: int) -> float:
    """Mutual information as a plain double sum over counts and the wished dose [nat]."""
    of_x = found.weight.sum(axis=1)
    total = 0.0
    share = np.array(
        [
            Curve(SHARE, x, b).clean_share(np.log([dose_min]))[0]
            for x in found.grid.x
            for b in np.exp(found.grid.ln_b)
        ]
    ).reshape(found.weight.shape)
    given = [(binom.pmf(k, pieces, share) * found.weight).sum(axis=1) for k in range(pieces + 1)]
    for joint in given:
        inside = joint > 0.0
        total += float((joint * np.log(np.where(inside, joint, 1.0) / (joint.sum() * of_x)))[inside].sum())
    return total


@pytest.mark.parametrize("dose_min", [2.0, 12.0, 22.0, 60.0])
def test_information_is_the_mutual_information(found: Posterior, dose_min: float) -> None:
    ours = float(information(found, np.log([dose_min]), 12)[0])
    assert ours == pytest.approx(by_hand(found, dose_min, 12), rel=1e-3)


def test_information_lies_between_nothing_and_all_that_a_count_can_say(found: Posterior) -> None:
    gained = information(found, np.linspace(math.log(0.05), math.log(600.0), 25), 12)
    assert (gained >= -1e-9).all()
    assert (gained <= math.log(13)).all()
    assert gained[0] < 0.1 * gained.max()
    assert gained[-1] < 0.2 * gained.max()


def test_more_pieces_teach_more(found: Posterior) -> None:
    few, many = (information(found, np.log([18.0]), pieces)[0] for pieces in (6, 24))
    assert many > few


def test_an_uncertain_dose_teaches_less(found: Posterior) -> None:
    sure, unsure = (information(found, np.log([18.0]), 12, sd)[0] for sd in (0.0, 0.5))
    assert unsure < 0.9 * sure


def test_shares_of_outcomes_add_up(found: Posterior) -> None:
    shares = outcome_shares(found, math.log(30.0), 7, 0.2)
    assert shares.sum(axis=0) == pytest.approx(np.ones_like(shares[0]))


def test_each_outcome_leaves_what_a_new_fit_finds(found: Posterior) -> None:
    """The count is put into the book and everything is weighed anew."""
    after = outcomes(found, math.log(18.0), 12, CREDIBILITY)
    assert after.probability.sum() == pytest.approx(1.0)
    for clean in np.flatnonzero(after.probability > 0.02):
        again = posterior(
            Tried.exact(np.append(DOSES_MIN, 18.0), np.full(4, 12), np.append(CLEAN, clean)), SHARE
        )
        assert after.asked_ln[clean] == pytest.approx(again.quantile(CREDIBILITY), abs=0.02)


def test_outcomes_come_as_often_as_they_are_said_to(found: Posterior) -> None:
    """Counts drawn from curves of the posterior."""
    random = np.random.default_rng(2)
    after = outcomes(found, math.log(18.0), 12, CREDIBILITY)
    places = random.choice(found.weight.size, 20_000, p=found.weight.ravel())
    x, b = (
        np.broadcast_to(one, found.weight.shape).ravel()[places]
        for one in (found.grid.x[:, None], np.exp(found.grid.ln_b))
    )
    share = 1.0 / (1.0 + np.exp(-(b * (math.log(18.0) - x) + math.log(19.0))))
    seen = np.bincount(random.binomial(12, share), minlength=13) / 20_000
    assert seen == pytest.approx(after.probability, abs=0.015)
    fewest, most = after.clean_between(0.8)
    assert seen[fewest : most + 1].sum() >= 0.79
    assert seen[fewest + 1 : most].sum() < 0.8


def test_washing_brings_down_what_is_asked(found: Posterior) -> None:
    after = outcomes(found, math.log(18.0), 12, CREDIBILITY)
    assert math.exp(found.quantile(0.5)) < after.asked_min < math.exp(found.quantile(CREDIBILITY))


def test_an_impossible_outcome_is_no_trouble() -> None:
    """A curve that is known: at a dose ten times as large nothing comes out dirty."""
    sharp = posterior(Tried.exact(np.array([9.0, 11.0]), np.full(2, 5000), np.array([400, 4600])), SHARE)
    after = outcomes(sharp, math.log(200.0), 12, CREDIBILITY)
    assert np.isfinite(after.asked_min)
    assert after.clean_between(0.8) == (12, 12)
    assert float(information(sharp, np.log([200.0]), 12)[0]) == pytest.approx(0.0, abs=1e-6)


def test_the_soil_known_least_is_chosen() -> None:
    well, little = fitted((6, 3), (12, 9), (20, 11), (24, 12)), fitted((6, 3), (12, 9))
    little = replace(little, dose=little.dose.model_copy(update={"name": "egg"}))
    empty = replace(fitted(), dose=little.dose.model_copy(update={"name": "milk"}))
    assert chosen_soil([well, little, empty], None) is little
    assert chosen_soil([well, little, empty], "grease") is well
    assert chosen_soil([empty], None) is empty
    with pytest.raises(InputError, match="is no dose of the goal"):
        chosen_soil([well, little], "rust")
