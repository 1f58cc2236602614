"""Steps by straight lines: from whole seconds that hold to cheaper ones, any number of them moved at once.

Lines about where it stands give a small integer program within a reach. Its answer is simulated; where it
does not hold, what the lines missed is kept back once, and then the reach is cut.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from optimizer.physics import Array
from optimizer.planner.solver_output import stdout_closed
from optimizer.planner.structure import Programme, Settings
from optimizer.planner.trim_space import FEASIBLE, Space

LOOKS = 10
"""Most answers that are simulated [1]."""
REACH, REACH_CUT = 64.0, 4.0
"""How far a number may be moved at first, in its units, and what that is divided by [1]."""
SHARES = np.array([1.0, 0.75, 0.5, 0.25])
"""Shares of an answer that are tried [1]: lines hold the better, the nearer they are."""
NODES = 200
"""Nodes of each search among whole numbers [1]."""
GAIN = 1e-7
"""Least saving that is gone for, a share of the cost [1]."""

WORTH_A_CHECK = 0.001
"""Least saving for which a proven programme is given up for one to be proven, a share of the cost [1]."""

Run = Callable[[Array], tuple[Array, Array]]
"""Margins of candidates in steps of their units, candidates × n, and what is made least."""


def cheaper_seconds(space: Space, settings: Settings) -> Programme | None:
    """The same rounds with cheaper whole seconds; None where the numbers do not hold, or save too little."""
    unit = space.unit
    values = space.pack(settings)
    if not space.holds(values):
        return None
    space.look_at_binding_corners(values)
    low, high = space.whole_ends
    cost = float(space.run(values[None])[1][0])

    def run(steps: Array) -> tuple[Array, Array]:
        return space.run(steps * unit)

    found = stepped_by_lines(run, np.clip(np.rint(values / unit), low, high), low, high) * unit
    least = float(space.run(found[None])[1][0])
    saves = least < cost - WORTH_A_CHECK * abs(cost)
    return space.programme(found[None]) if saves and space.holds(found) else None


def stepped_by_lines(run: Run, start: Array, low: Array, high: Array) -> Array:
    """Go from whole numbers that hold to cheaper ones that hold, between two ends."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    now, reach, size = start, REACH, len(start)
    lines = _Lines(run, now)
    for _ in range(LOOKS):
        least, most = np.maximum(low - now, -reach), np.minimum(high - now, reach)
        held = lines.margins - lines.missed
        near = held + np.minimum(lines.slopes * least, lines.slopes * most).sum(axis=1) < 0.0
        with stdout_closed():
            solved = milp(
                lines.prices,
                integrality=np.ones(size, dtype=int),
                bounds=Bounds(least, most),
                constraints=LinearConstraint(lines.slopes[near], lb=-held[near]),
                options={"node_limit": NODES},
            )
        missed = None
        if solved.x is not None and solved.fun < -GAIN * abs(lines.cost):
            move = np.rint(solved.x)
            tries = np.clip(now + np.rint(np.outer(SHARES, move)), low, high)
            margins, made = run(tries)
            prices = np.where(margins.min(axis=1) >= FEASIBLE, made, np.inf)
            pick = int(prices.argmin())
            if prices[pick] < lines.cost * (1.0 - np.sign(lines.cost) * GAIN):
                now = tries[pick]
                lines = _Lines(run, now)
                reach = reach if pick == 0 else max(reach / 2.0, 1.0)
                continue
            missed = np.maximum(lines.margins + lines.slopes @ move - margins[0], 0.0)
        if reach <= 1.0:
            break
        if missed is not None and not lines.missed.any():
            lines.missed = missed
        else:
            lines.missed, reach = np.zeros_like(lines.missed), max(reach / REACH_CUT, 1.0)
    return now


class _Lines:
    """Margins and cost about a point, as straight lines; ``missed`` is what an answer was short by [1]."""

    def __init__(self, run: Run, now: Array) -> None:
        margins, made = run(np.vstack([now[None], now + np.eye(len(now))]))
        self.margins, self.cost = margins[0], float(made[0])
        self.slopes, self.prices = (margins[1:] - margins[0]).T, made[1:] - made[0]
        self.missed = np.zeros(len(self.margins))
