"""Cases drawn from the whole box of tolerances, the same at every run: what the few corners may miss."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from optimizer.check.worst_cases import QUANTITIES, Cases, fault_cases, tolerances
from optimizer.profile.machine import Machine

DRAWN = 32
"""So many points are drawn [1]: they cost a run of all faults about 0.4 s; *no source*, our choice."""
SEED = 5
Points = Mapping[str, Mapping[str, float]]


def with_drawn(machine: Machine, worst_points: Points | None = None, drawn: int = DRAWN) -> Cases:
    """Lay out the cases of `fault_cases`, worst points of a check with them, and points that are drawn.

    Each drawn point has every quantity at one of its ends, by a coin: hottest drains are met at such ends,
    in mixtures that no corner has. One quantity in eight is taken between them.
    """
    ends = tolerances(machine)
    coins = np.random.default_rng(SEED)
    points: dict[str, Mapping[str, float]] = dict(worst_points or {})
    for number in range(drawn):
        share = np.where(
            coins.random(len(QUANTITIES)) < 1.0 / 8.0,
            coins.random(len(QUANTITIES)),
            coins.integers(0, 2, len(QUANTITIES)),
        )
        spans = [(getattr(ends, name).low, getattr(ends, name).high) for name in QUANTITIES]
        values = [low + float(at) * (high - low) for (low, high), at in zip(spans, share, strict=True)]
        points[f"drawn {number + 1}"] = dict(zip(QUANTITIES, values, strict=True))
    return fault_cases(machine, points)
