"""What washes say of the minutes: against integrals by other means, and where little is known."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from trial_cases import GREASE, fitted, scatter, wash

from optimizer.report.trial import remarks_of, washes_table
from optimizer.report.trial_data import fit_to_dict
from optimizer.trial.dose_response import (
    LEAST_MIN,
    MOST_MIN,
    STEEPNESS,
    STEEPNESS_SPREAD,
    Curve,
    Tried,
    logit,
    most_likely,
    posterior,
)
from optimizer.trial.soil_fit import CREDIBILITY, SHARE, fit_soil, trend_of
from optimizer.trial.z_found import LEAST_RANGE_K


class TestOracle:
    """The posterior against sums over random curves drawn from the prior: no grid, no zoom, no quadrature."""

    DRAWS = 400_000
    DOSES_MIN, PIECES, CLEAN = np.array([4.0, 9.0, 15.0]), 12, np.array([2, 7, 11])

    @pytest.fixture(scope="class")
    @classmethod
    def curves(cls) -> tuple[np.ndarray, np.ndarray]:
        random = np.random.default_rng(3)
        x = random.uniform(math.log(LEAST_MIN), math.log(MOST_MIN), cls.DRAWS)
        return x, STEEPNESS * np.exp(STEEPNESS_SPREAD * random.standard_normal(cls.DRAWS))

    def quantiles(self, x: np.ndarray, weight: np.ndarray) -> np.ndarray:
        order = np.argsort(x)
        up_to = np.cumsum(weight[order]) / weight.sum()
        return np.interp([0.05, 0.5, 0.9, 0.95], up_to, x[order])

    def likelihood(self, x: np.ndarray, b: np.ndarray, ln_doses: np.ndarray) -> np.ndarray:
        p = 1.0 / (1.0 + np.exp(-(b * (ln_doses - x) + logit(SHARE))))
        return np.prod(
            [q**k * (1 - q) ** (self.PIECES - k) for q, k in zip(p, self.CLEAN, strict=True)], axis=0
        )

    @pytest.mark.parametrize("share", [0.5, 0.95])
    def test_exact_doses(self, curves: tuple[np.ndarray, np.ndarray], share: float) -> None:
        x, b = curves
        weight = self.likelihood(x, b, np.log(self.DOSES_MIN)[:, None])
        expected = self.quantiles(x + (logit(share) - logit(SHARE)) / b, weight)
        found = posterior(Tried.exact(self.DOSES_MIN, np.full(3, self.PIECES), self.CLEAN), SHARE)
        ours = [found.quantile(p, share) for p in (0.05, 0.5, 0.9, 0.95)]
        assert ours == pytest.approx(expected, abs=0.03)

    def test_doses_with_errors_of_both_sorts(self, curves: tuple[np.ndarray, np.ndarray]) -> None:
        """Each random curve has its own error of the machine and its own errors of the washes."""
        x, b = curves
        random = np.random.default_rng(4)
        common, own = 0.3, 0.2
        off = common * random.standard_normal(self.DRAWS) + own * random.standard_normal((3, self.DRAWS))
        weight = self.likelihood(x, b, np.log(self.DOSES_MIN)[:, None] + off)
        exact = Tried.exact(self.DOSES_MIN, np.full(3, self.PIECES), self.CLEAN)
        tried = Tried(
            exact.ln_dose, exact.pieces, exact.clean, np.full(3, common), np.full(3, own), ("one",) * 3
        )
        found = posterior(tried, SHARE)
        ours = [found.quantile(p) for p in (0.05, 0.5, 0.9, 0.95)]
        assert ours == pytest.approx(self.quantiles(x, weight), abs=0.04)
        assert ours[3] - ours[0] > 1.05 * _width(posterior(exact, SHARE))

    def test_errors_of_two_machines_are_not_the_same(self) -> None:
        """Washes of one machine share its error, so that they do not average it out."""
        exact = Tried.exact(np.full(8, 10.0), np.full(8, 60), np.full(8, 50))
        spread = (np.full(8, 0.3), np.zeros(8))
        one = Tried(exact.ln_dose, exact.pieces, exact.clean, *spread, ("a",) * 8)
        eight = Tried(exact.ln_dose, exact.pieces, exact.clean, *spread, tuple("abcdefgh"))
        # ED80 lies near the doses washed, where the steepness hardly matters.
        one_sd, eight_sd = (_width(posterior(tried, SHARE), 0.83) for tried in (one, eight))
        assert one_sd > 0.9 * 2 * 1.645 * 0.3
        assert eight_sd < 0.85 * one_sd


def _width(found: object, share: float | None = None) -> float:
    return found.quantile(0.95, share) - found.quantile(0.05, share)  # type: ignore[attr-defined]


def test_nine_in_ten_asked_minutes_are_enough() -> None:
    """Curves drawn from the prior itself, washed at five doses: what a credibility of 90 % means."""
    random = np.random.default_rng(5)
    doses, number = np.geomspace(1.0, 200.0, 5), 400
    enough = 0
    for _ in range(number):
        x = random.uniform(math.log(LEAST_MIN), math.log(MOST_MIN))
        b = STEEPNESS * math.exp(STEEPNESS_SPREAD * random.standard_normal())
        clean = random.binomial(12, Curve(SHARE, x, b).clean_share(np.log(doses)))
        enough += posterior(Tried.exact(doses, np.full(5, 12), clean), SHARE).quantile(CREDIBILITY) >= x
    spread = math.sqrt(number * 0.9 * 0.1)
    assert abs(enough - 0.9 * number) < 3.0 * spread


@cases(20)
@given(st.floats(0.1, 1.0))
def test_doses_times_a_factor_give_minutes_times_it(factor: float) -> None:
    """Away from the ends of what a goal takes, where the prior is the same for all doses."""
    one = fitted((6.0, 3), (12.0, 9), (20.0, 12)).asked_min
    other = fitted((6.0 * factor, 3), (12.0 * factor, 9), (20.0 * factor, 12)).asked_min
    assert one is not None
    assert other == pytest.approx(factor * one, rel=0.04)


def test_more_pieces_bring_what_is_asked_nearer_to_what_is_needed() -> None:
    few = fit_soil(GREASE, (wash(6, 2), wash(12, 8), wash(24, 11)))
    many = fit_soil(GREASE, (wash(6, 20, 120), wash(12, 80, 120), wash(24, 110, 120)))
    assert few.asked_min is not None
    assert many.asked_min is not None
    needed = math.exp(many.found.quantile(0.5))
    assert needed < many.asked_min < few.asked_min


class TestLittleKnown:
    """What is not known is said, and no minutes are made of it."""

    def test_no_wash(self) -> None:
        found = fitted()
        assert (found.status, found.asked_min, found.over_min, found.curve) == ("not known", None, None, None)

    def test_one_wash(self) -> None:
        found = fitted((12, 9))
        assert found.status == "at most"
        assert found.between(0.5) is None
        assert "one wash" in " ".join(remarks_of(found))

    def test_all_clean(self) -> None:
        """Nothing may be asked under the least dose tried: there the prior alone would speak."""
        found = fitted((12, 12), (20, 12))
        assert found.status == "at most"
        assert found.asked_min is not None
        assert found.asked_min >= 12.0
        assert "less may do" in " ".join(remarks_of(found))

    @pytest.mark.parametrize("pieces", [1, 3, 12, 100])
    def test_the_more_pieces_are_all_clean_the_less_is_asked(self, pieces: int) -> None:
        few, many = (fit_soil(GREASE, (wash(12, n, n),)) for n in (pieces, 2 * pieces))
        assert few.asked_min is not None
        assert many.asked_min is not None
        assert 12.0 <= many.asked_min < few.asked_min

    def test_none_clean(self) -> None:
        found = fitted((12, 0), (20, 0))
        assert (found.status, found.asked_min) == ("not known", None)
        assert found.over_min is not None
        assert found.over_min > 20.0
        assert "nothing came out clean" in " ".join(remarks_of(found))

    def test_contradiction(self) -> None:
        found = fitted((6, 12), (12, 6), (20, 0))
        assert (found.status, found.asked_min) == ("contradictory", None)
        assert "contradict" in " ".join(remarks_of(found))

    def test_a_little_disorder_is_chance(self) -> None:
        found = fitted((6, 3), (12, 9), (13, 8), (20, 12))
        assert found.status == "learnt"
        assert found.scatter == 1.0

    def test_one_dose(self) -> None:
        found = fitted((12, 9), (12, 8), (12.2, 10))
        assert found.status == "at most"
        assert "about the same dose" in " ".join(remarks_of(found))

    def test_no_trend_is_said(self) -> None:
        found = fitted((12, 9), (14, 9), (16, 9))
        assert not found.trend > 1.645
        assert "not shown" in " ".join(remarks_of(found))

    def test_carried_on_past_the_largest_dose_is_said(self) -> None:
        inside, outside = fitted((6, 3), (12, 9), (60, 12)), fitted((6, 3), (12, 9), (14, 11))
        assert not inside.extrapolated
        assert outside.extrapolated
        assert "carried on" in " ".join(remarks_of(outside))

    def test_scatter_is_said_and_widens(self) -> None:
        calm = fitted((6, 4), (6, 4), (12, 8), (12, 8), (24, 11), (24, 11))
        wild = fitted((6, 8), (6, 0), (12, 12), (12, 4), (24, 12), (24, 9))
        assert calm.scatter == 1.0
        assert wild.scatter > 2.0
        assert calm.asked_min is not None
        assert wild.asked_min is None or wild.asked_min > calm.asked_min
        assert "scatter" in " ".join(remarks_of(wild))

    def test_chance_is_seldom_called_scatter(self) -> None:
        """Washes of a logistic curve: one in a hundred is called scattered, at the most a few."""
        random = np.random.default_rng(8)
        doses, curve = np.geomspace(4, 30, 6), Curve(SHARE, math.log(20), 3.0)
        called = 0
        for _ in range(200):
            clean = random.binomial(12, curve.clean_share(np.log(doses)))
            called += scatter(Tried.exact(doses, np.full(6, 12), clean)) > 1.0
        assert called <= 6


def test_a_step_has_no_most_likely_curve() -> None:
    """Nothing clean under 10 min, all above: any steepness does, the steeper the better."""
    step = Tried.exact(np.array([5.0, 9.0, 11.0, 20.0]), np.full(4, 12), np.array([0, 0, 12, 12]))
    assert most_likely(step, SHARE) is None
    mixed = Tried.exact(np.array([5.0, 9.0, 11.0, 20.0]), np.full(4, 12), np.array([0, 1, 11, 12]))
    assert most_likely(mixed, SHARE) is not None


def test_trend_by_hand() -> None:
    """Cochran-Armitage with scores 0 and ln 2: 3 of 12 against 9 of 12, z = 6 / sqrt(24 / 4)."""
    tried = Tried.exact(np.array([10.0, 20.0]), np.full(2, 12), np.array([3, 9]))
    assert trend_of(tried) == pytest.approx(6.0 / math.sqrt(6.0))


counts = st.lists(
    st.tuples(st.floats(0.06, 500.0), st.integers(1, 40), st.floats(0.0, 1.0)), min_size=1, max_size=6
)


@cases(80)
@given(counts)
def test_any_counts_have_an_answer_without_nan(drawn: list[tuple[float, int, float]]) -> None:
    found = fit_soil(GREASE, tuple(wash(m, round(share * n), n) for m, n, share in drawn))
    text = json.dumps(fit_to_dict(found), allow_nan=False)
    assert "nan" not in text.lower()
    assert "nan" not in " ".join([*remarks_of(found), washes_table(found)])
    if found.asked_min is not None:
        assert LEAST_MIN <= found.asked_min <= MOST_MIN * 1.0001
    if found.status == "learnt":
        half, most = found.between(0.5), found.between(0.95)
        assert half is not None
        assert most is not None
        assert half.low_min <= half.middle_min <= half.high_min
        assert half.middle_min <= most.middle_min
        assert found.asked_min is not None
        assert most.middle_min <= found.asked_min <= most.high_min


class TestZ:
    """Washes of a true curve whose z is not, or is, the published 33 K."""

    def washes(self, z_k: float, temperatures_c: tuple[float, ...], pieces: int = 400) -> tuple[object, ...]:
        true = Curve(SHARE, math.log(20.0), 4.0)
        found = []
        for ware_c in temperatures_c:
            for minutes in (5.0, 10.0, 20.0):
                dose = minutes * 10.0 ** ((ware_c - GREASE.reference_c) / z_k)
                share = float(true.clean_share(np.array([math.log(dose)]))[0])
                found.append(wash(minutes, round(share * pieces), pieces, ware_c))
        return tuple(found)

    @pytest.mark.parametrize("z_k", [20.0, 33.0, 55.0])
    def test_it_is_found(self, z_k: float) -> None:
        found = fit_soil(GREASE, self.washes(z_k, (42.0, 50.0, 60.0))).z  # type: ignore[arg-type]
        assert found is not None
        assert found.tells
        assert found.low_k < z_k < found.high_k
        assert found.middle_k == pytest.approx(z_k, rel=0.1)
        assert found.published_fits == (z_k == 33.0)

    def test_the_published_one_is_what_is_counted_with(self) -> None:
        found = fit_soil(GREASE, self.washes(20.0, (42.0, 60.0)))  # type: ignore[arg-type]
        assert found.dose.z_k == 33.0
        assert "does not fit" in " ".join(remarks_of(found))

    @pytest.mark.parametrize("apart_k", [LEAST_RANGE_K - 0.1, LEAST_RANGE_K + 0.1])
    def test_temperatures_too_close_say_nothing(self, apart_k: float) -> None:
        found = fit_soil(GREASE, self.washes(33.0, (45.0, 45.0 + apart_k)))  # type: ignore[arg-type]
        assert (found.z is not None) == (apart_k > LEAST_RANGE_K)

    def test_far_apart_and_yet_it_may_not_be_told(self) -> None:
        """All clean where it was hot, none where it was cold: any z does."""
        found = fit_soil(GREASE, (wash(2, 0, ware_c=40), wash(40, 12, ware_c=60)))
        assert found.z is not None
        assert not found.z.tells
        assert "do not tell z" in " ".join(remarks_of(found))
