"""Pieces of one wash that come out alike: what a posterior that reckons with it holds, and what it costs.

python benchmarks/trial_alike.py [--learners 400] [--seed 55]

The counts are beta-binomial: the share that comes clean differs from wash to wash, with a correlation of the
pieces that is integrated out over four values. Everything else is that of `trial_learners.py`; the command
does not do this (`docs/trial.md` says why).
"""

from __future__ import annotations

import argparse
import math

import numpy as np
import trial_learners
from scipy.special import betaln, gammaln
from trial_learners import (
    CANDIDATES,
    CELL,
    ENDS_MIN,
    LN_ODDS,
    SIGMAS,
    SPREAD,
    STEEPNESS,
    Belief,
    World,
    learn,
)
from trials import WASHES, needed

CORRELATIONS = (0.0, 0.05, 0.15, 0.3)
PRIORS = {
    "pieces by themselves, as the command": (1.0, 1e-12, 1e-12, 1e-12),
    "0 with 80 %": (0.8, 0.1, 0.07, 0.03),
    "0 with 50 %": (0.5, 0.2, 0.2, 0.1),
    "0 with 25 %": (0.25, 0.25, 0.3, 0.2),
}
WORLDS = {"by themselves": World(), "correlation 0.1": World(alike=0.1), "correlation 0.2": World(alike=0.2)}
STEEPNESSES = 13
"""Points of the steepness at each correlation [1]."""


class AlikeBelief(Belief):
    """The belief with the correlation beside the steepness, on the same axis."""

    prior_of: tuple[float, ...] = PRIORS["0 with 50 %"]

    def __post_init__(self) -> None:
        ends = np.log(ENDS_MIN)
        edges = np.linspace(*ends, round(float(ends[1] - ends[0]) / CELL) + 1)
        ln_b = math.log(STEEPNESS) + SPREAD * np.linspace(-SIGMAS, SIGMAS, STEEPNESSES)
        object.__setattr__(self, "edges", edges)
        object.__setattr__(self, "ln_b", np.tile(ln_b, len(CORRELATIONS)))
        every = np.arange(self.pieces + 1)
        ln_ways = gammaln(self.pieces + 1) - gammaln(every + 1) - gammaln(self.pieces - every + 1)
        ln_each = self._ln_likelihood(CANDIDATES[:, None], every[None, :])
        counts = np.exp(ln_ways[None, :, None, None] + ln_each).transpose(2, 0, 1, 3)
        flat = np.ascontiguousarray(counts).reshape(len(self.x), -1, len(self.ln_b))
        object.__setattr__(self, "counts", flat)

    def prior(self, learners: int) -> np.ndarray:
        """What every learner believes at first."""
        of_b = np.exp(-0.5 * ((self.ln_b - math.log(STEEPNESS)) / SPREAD) ** 2)
        both = of_b * np.repeat(self.prior_of, STEEPNESSES)
        return np.tile(both / both.sum() / len(self.x), (learners, len(self.x), 1))

    def _ln_likelihood(self, ln_dose: np.ndarray, clean: np.ndarray) -> np.ndarray:
        odds = np.exp(self.ln_b) * (ln_dose[..., None, None] - self.x[:, None]) + LN_ODDS
        clean = np.broadcast_to(clean, np.broadcast_shapes(ln_dose.shape, clean.shape))[..., None, None]
        odds = np.broadcast_to(odds, (*clean.shape[:-2], *odds.shape[-2:]))
        ln_clean, dirty = -np.logaddexp(0.0, -odds), self.pieces - clean
        found = np.empty(odds.shape)
        for at, correlation in enumerate(CORRELATIONS):
            mine = ..., slice(STEEPNESSES * at, STEEPNESSES * (at + 1))
            if correlation == 0.0:
                found[mine] = clean * ln_clean[mine] + dirty * (ln_clean - odds)[mine]
                continue
            share, sum_ab = np.exp(ln_clean[mine]), 1.0 / correlation - 1.0
            a, b = (np.maximum(one * sum_ab, 1e-12) for one in (share, 1.0 - share))
            found[mine] = betaln(clean + a, dirty + b) - betaln(a, b)
        return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--learners", type=int, default=400)
    parser.add_argument("--seed", type=int, default=55)
    asked = parser.parse_args()
    trial_learners.Belief = AlikeBelief  # type: ignore[misc]
    print("| world | prior of the correlation | ED95 in 90 % | enough | median excess | washes needed |")
    print("| --- | --- | ---: | ---: | ---: | ---: |")
    for world_name, world in WORLDS.items():
        for name, prior in PRIORS.items():
            AlikeBelief.prior_of = prior
            found = learn(world, None, WASHES, asked.learners, asked.seed)
            low, high = (found.belief.quantile(found.weight.sum(2), p) for p in (0.05, 0.95))
            holds = ((low <= found.truth.x) & (found.truth.x <= high)).mean()
            excess, washes = found.asked[:, -1], needed(found.asked)
            cells = [f"{100 * one:.0f} %" for one in (holds, (excess >= 0.0).mean())]
            cells += [f"{100 * math.expm1(float(np.median(excess))):.0f} %"]
            cells += [f"{washes:.1f}" if math.isfinite(washes) else f"more than {WASHES}"]
            print("|", " | ".join([world_name, name, *cells]), "|", flush=True)


if __name__ == "__main__":
    main()
