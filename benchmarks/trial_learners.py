"""Simulated learners, all at once: a second writing of the curve, the posterior and the information.

Nothing of `optimizer.trial` is imported: prior and curve stand here again, on a fixed grid, and
`benchmarks/trials.py --part same` compares what both ask for. Arrays are learners × doses × counts × cells of
the wished dose × steepnesses, as far as they have those axes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.special import gammaln
from scipy.stats import norm

SHARE, CREDIBILITY = 0.95, 0.90
LN_ODDS = math.log(SHARE / (1.0 - SHARE))
ENDS_MIN, STEEPNESS, SPREAD = (0.05, 600.0), 3.0, 0.8
"""The prior of `docs/trial.md`."""
CELL, STEEPNESSES, SIGMAS = 0.05, 25, 3.2
AT_ONCE = 40
"""Learners whose information is worked out at once."""
CANDIDATES = np.log(np.geomspace(0.25, 240.0, 25))
"""Doses among which the wash that teaches most is looked for [ln min]."""


@dataclass(frozen=True)
class World:
    """Where learners come from, and what disturbs their washes.

    ``link`` is the form of the true curve: the others are as steep as the logistic one between 50 and 95 %.
    ``never`` is the share of pieces that no dose cleans, ``alike`` the correlation of the pieces of
    one wash, ``own_sd`` and ``common_sd`` errors of the doses that nobody is told of [1, of the logarithm].
    """

    ed95_min: tuple[float, float] = (2.0, 60.0)
    steepness: tuple[float, float] = (1.5, 12.0)
    pieces: int = 12
    never: float = 0.0
    alike: float = 0.0
    own_sd: float = 0.0
    common_sd: float = 0.0
    link: str = "logit"
    of_prior: bool = False


def _link(name: str, share: float) -> float:
    match name:
        case "probit":
            return float(norm.ppf(share))
        case "cloglog":
            return math.log(-math.log(1.0 - share))
        case "loglog":
            return -math.log(-math.log(share))
        case _:
            return math.log(share / (1.0 - share))


def _unlink(name: str, at: np.ndarray) -> np.ndarray:
    match name:
        case "probit":
            return np.asarray(norm.cdf(at))
        case "cloglog":
            return -np.expm1(-np.exp(np.minimum(at, 30.0)))
        case "loglog":
            return np.exp(-np.exp(np.minimum(-at, 30.0)))
        case _:
            return np.exp(-np.logaddexp(0.0, -at))


@dataclass(frozen=True)
class Truth:
    """True curves of learners: logarithm of ED95 and steepness."""

    world: World
    x: np.ndarray
    b: np.ndarray
    common: np.ndarray

    @classmethod
    def drawn(cls, world: World, number: int, random: np.random.Generator) -> Truth:
        """Draw curves of a world."""
        if world.of_prior:
            x = random.uniform(*np.log(ENDS_MIN), number)
            b = STEEPNESS * np.exp(SPREAD * random.standard_normal(number))
        else:
            x = random.uniform(*np.log(world.ed95_min), number)
            b = np.exp(random.uniform(*np.log(world.steepness), number))
        top, half = _link(world.link, SHARE), _link(world.link, 0.5)
        return cls(world, x, b * (top - half) / LN_ODDS, world.common_sd * random.standard_normal(number))

    @property
    def ed50(self) -> np.ndarray:
        """Logarithm of ED50."""
        return self.x - (_link(self.world.link, SHARE) - _link(self.world.link, 0.5)) / self.b

    def share(self, ln_dose: np.ndarray) -> np.ndarray:
        """Share that comes clean at doses."""
        top = _link(self.world.link, SHARE)
        return (1.0 - self.world.never) * _unlink(self.world.link, top + self.b * (ln_dose - self.x))

    def count(self, ln_dose: np.ndarray, random: np.random.Generator) -> np.ndarray:
        """Count clean pieces at doses that may be off."""
        off = self.common + self.world.own_sd * random.standard_normal(len(self.x))
        share = np.clip(self.share(ln_dose + off), 0.0, 1.0)
        if self.world.alike:
            sum_ab = 1.0 / self.world.alike - 1.0
            share = random.beta(np.maximum(share, 1e-9) * sum_ab, np.maximum(1.0 - share, 1e-9) * sum_ab)
        return random.binomial(self.world.pieces, share)


@dataclass(frozen=True)
class Belief:
    """Cells and steepnesses, and how likely each count is there at each candidate."""

    pieces: int
    edges: np.ndarray = field(init=False)
    ln_b: np.ndarray = field(init=False)
    counts: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        ends = np.log(ENDS_MIN)
        edges = np.linspace(*ends, round(float(ends[1] - ends[0]) / CELL) + 1)
        object.__setattr__(self, "edges", edges)
        object.__setattr__(
            self, "ln_b", math.log(STEEPNESS) + SPREAD * np.linspace(-SIGMAS, SIGMAS, STEEPNESSES)
        )
        every = np.arange(self.pieces + 1)
        ln_ways = gammaln(self.pieces + 1) - gammaln(every + 1) - gammaln(self.pieces - every + 1)
        ln_each = self._ln_likelihood(CANDIDATES[:, None], every[None, :])
        counts = np.exp(ln_ways[None, :, None, None] + ln_each).transpose(2, 0, 1, 3)
        object.__setattr__(self, "counts", np.ascontiguousarray(counts).reshape(len(self.x), -1, STEEPNESSES))

    @property
    def x(self) -> np.ndarray:
        """Middles of the cells."""
        return 0.5 * (self.edges[1:] + self.edges[:-1])

    def prior(self, learners: int) -> np.ndarray:
        """What every learner believes at first."""
        of_b = np.exp(-0.5 * ((self.ln_b - math.log(STEEPNESS)) / SPREAD) ** 2)
        return np.tile(of_b / of_b.sum() / len(self.x), (learners, len(self.x), 1))

    def _ln_likelihood(self, ln_dose: np.ndarray, clean: np.ndarray) -> np.ndarray:
        odds = np.exp(self.ln_b) * (ln_dose[..., None, None] - self.x[:, None]) + LN_ODDS
        ln_clean = -np.logaddexp(0.0, -odds)
        clean = clean[..., None, None]
        return np.asarray(clean * ln_clean + (self.pieces - clean) * (ln_clean - odds))

    def after(self, weight: np.ndarray, ln_dose: np.ndarray, clean: np.ndarray) -> np.ndarray:
        """Believe what a wash showed."""
        found = weight * np.exp(self._ln_likelihood(ln_dose, clean))
        return np.asarray(found / found.sum(axis=(1, 2))[:, None, None])

    def joint(self, weight: np.ndarray) -> np.ndarray:
        """Probability of each count and cell, at each candidate."""
        found = np.matmul(self.counts, np.ascontiguousarray(weight.transpose(1, 2, 0)))
        return found.transpose(2, 1, 0).reshape(len(weight), len(CANDIDATES), self.pieces + 1, -1)

    def quantile(self, of_x: np.ndarray, probability: float) -> np.ndarray:
        """Logarithm of the wished dose at a probability, over the last axis."""
        up_to = np.cumsum(of_x, axis=-1)
        wanted = probability * up_to[..., -1:]
        at = np.minimum((up_to < wanted).sum(axis=-1), of_x.shape[-1] - 1)[..., None]
        inside = np.take_along_axis(of_x, at, -1)
        part = (wanted - np.take_along_axis(up_to, at, -1) + inside) / np.maximum(inside, 1e-300)
        return np.asarray((self.edges[at] + np.clip(part, 0.0, 1.0) * CELL)[..., 0])

    def quantile_of(self, weight: np.ndarray, share: float, probability: float) -> np.ndarray:
        """The same for the dose that cleans another share."""
        shift = (math.log(share / (1.0 - share)) - LN_ODDS) / np.exp(self.ln_b)
        values = (self.x[:, None] + shift).ravel()
        order = np.argsort(values)
        sorted_weight = weight.reshape(len(weight), -1)[:, order]
        up_to = np.cumsum(sorted_weight, axis=1) - 0.5 * sorted_weight
        return np.array([np.interp(probability, one, values[order]) for one in up_to])

    def information(self, joint: np.ndarray) -> np.ndarray:
        """Mutual information of the count and the cell, learners × candidates [nat]."""
        return np.asarray(
            _sum_p_ln_p(joint, (2, 3)) - _sum_p_ln_p(joint.sum(2), 2) - _sum_p_ln_p(joint.sum(3), 2)
        )


def _sum_p_ln_p(p: np.ndarray, axis: int | tuple[int, ...]) -> np.ndarray:
    return np.asarray((p * np.log(np.maximum(p, 1e-300))).sum(axis=axis))


@dataclass(frozen=True)
class Learnt:
    """What learners know after each wash, learners × washes, logarithms.

    ``asked`` and ``over`` are what is asked for over what is needed, and over the middle of what may be;
    ``gain`` is what the next wash is expected to take off it (nan but for the wash that teaches most).
    """

    truth: Truth
    belief: Belief
    weight: np.ndarray
    ln_dose: np.ndarray
    clean: np.ndarray
    asked: np.ndarray
    over: np.ndarray
    gain: np.ndarray


Rule = Callable[[list[np.ndarray], list[np.ndarray], Truth], np.ndarray]
"""Doses of the next wash, from those of all before, their counts, and what no learner knows; None is the wash
that teaches most."""


def learn(world: World, rule: Rule | None, washes: int, learners: int, seed: int) -> Learnt:
    """Let learners wash; the same seed gives the same true curves to every rule."""
    random = np.random.default_rng(seed)
    truth = Truth.drawn(world, learners, random)
    belief = Belief(world.pieces)
    weight = belief.prior(learners)
    doses, counts, asked, over, gains = [], [], [], [], []
    ln_dose, _ = _next(belief, weight, rule, (doses, counts, truth))
    for _ in range(washes):
        counts.append(truth.count(ln_dose, random))
        doses.append(ln_dose)
        weight = belief.after(weight, ln_dose, counts[-1])
        now, middle = (belief.quantile(weight.sum(2), p) for p in (CREDIBILITY, 0.5))
        asked.append(now - truth.x)
        over.append(now - middle)
        ln_dose, after = _next(belief, weight, rule, (doses, counts, truth))
        gains.append(now - after)
    columns = (np.array(one).T for one in (doses, counts, asked, over, gains))
    return Learnt(truth, belief, weight, *columns)


def _next(
    belief: Belief,
    weight: np.ndarray,
    rule: Rule | None,
    before: tuple[list[np.ndarray], list[np.ndarray], Truth],
) -> tuple[np.ndarray, np.ndarray]:
    """Doses of the next wash, and what is expected to be asked for after it."""
    learners = len(weight)
    if rule is not None:
        doses = rule(*before)
        return np.broadcast_to(doses, learners), np.full(learners, math.nan)
    ln_dose, after = np.empty(learners), np.empty(learners)
    for first in range(0, learners, AT_ONCE):
        some = slice(first, first + AT_ONCE)
        joint = belief.joint(weight[some])
        best = belief.information(joint).argmax(axis=1)
        ln_dose[some] = CANDIDATES[best]
        of_best = joint[np.arange(len(best)), best]
        after[some] = (of_best.sum(2) * belief.quantile(of_best, CREDIBILITY)).sum(1)
    return ln_dose, after
