"""The frontier of two quantities: plans that cannot be bettered in one without giving up some of the other.

ε-constraint: one quantity is made least under a cap on the other, and the cap is moved from where it does not
bind to the least there is. Every point is a plan of its own, trimmed and proven. Unlike a weighted sum this
finds points where the frontier is not convex as well (Haimes, Lasdon, Wismer 1971).
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from optimizer.batch.in_parallel import side_by_side
from optimizer.errors import CheckFailedError, NoPlanError, SolverError
from optimizer.option_defaults import POINTS
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.objective import Axis, EpsilonConstraint, quantity
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs

LAST_CAP_ABOVE = 0.002
"""Share by which the last cap is above the least there is: whole seconds do not meet it exactly [1]."""

SAME = 0.003
"""Points that differ by less than this in the second quantity count as equal in it [1]."""

ROUNDING = 1e-9
"""A point counts as on the line between the ends where it is below by no more than this share of the distance
from the line to the corner at which both quantities are least [1]."""

ENDS_APART = 0.02
"""Where the ends are closer than this in the second quantity, nothing between them is worth a plan [1]."""


@dataclass(frozen=True)
class Point:
    """A plan on the frontier.

    Attributes
    ----------
    proven : Proven
        The plan and its certificate.
    at : tuple of float
        Its two quantities, in the order of the axes [currency, min, kWh or l].
    """

    proven: Proven
    at: tuple[float, float]


@dataclass(frozen=True)
class Frontier:
    """Plans of which none is better than another in both quantities.

    Attributes
    ----------
    inputs : Inputs
        What they were planned for.
    axes : tuple of str
        The quantity that was made least, and the one that was capped.
    points : tuple of Point
        From the least of the first quantity to the least of the second; at least one.
    knee : int or None
        The point that is furthest from the straight line between the two ends, each quantity counted from
        0 to 1 between them [1]; None where the ends are all there is, or nothing lies below the line.
    missed : int
        Caps under which no plan was found or proven [1].
    interrupted : bool
        Whether Ctrl-C ended the search: the points are then those found by that time, and none is a knee.
    """

    inputs: Inputs
    axes: tuple[Axis, Axis]
    points: tuple[Point, ...]
    knee: int | None
    missed: int
    interrupted: bool = False


@dataclass(frozen=True)
class _Wanted:
    """A plan to look for."""

    inputs: Inputs
    solver: SolverName
    search: Search


def frontier(
    inputs: Inputs,
    axes: tuple[Axis, Axis],
    points: int = POINTS,
    solver: SolverName = "auto",
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
    jobs: int = 0,
) -> Frontier:
    """Find the frontier of two quantities: the first is made least, the second capped.

    At most `points` are looked for, both ends counted, from 2 on; fewer are found where several coincide, and
    the plain plan of least cost is one more where none betters it. Up to `jobs` processes plan side by side.
    Ctrl-C ends the search with the points found by then, if there is one. `NoPlanError` where no programme
    meets the goal at all, `CheckFailedError` where its plan could not be proven.
    """
    least, capped = axes
    plain = plan_and_prove(inputs, solver=solver, report=report, search=search)
    found, missed, interrupted = [plain], 0, False

    def wanted(constraint: EpsilonConstraint) -> _Wanted:
        known = tuple(each.plan.constants for each in found)
        one = replace(search, epsilon_constraint=constraint, known=known, why=False)
        return _Wanted(inputs, solver, one)

    try:
        with side_by_side(_planned, jobs) as workers:

            def solve(constraints: list[EpsilonConstraint]) -> list[Proven]:
                ends = []
                for proven in workers.answers([wanted(constraint) for constraint in constraints]):
                    if proven is not None:
                        found.append(proven)
                        ends.append(proven)
                    report(f"{len(found)} of up to {points + 2} plans")
                return ends

            report("the two ends")
            solve([EpsilonConstraint(least, capped), EpsilonConstraint(capped, least)])
            caps = _caps([quantity(one.plan.costs, capped) for one in found], points)
            missed = len(caps) - len(solve([EpsilonConstraint(least, capped, most) for most in caps]))
    except KeyboardInterrupt:
        interrupted = True
    kept = best_of([Point(one, _at(one, axes)) for one in found])
    bend = None if interrupted else knee([point.at for point in kept])
    return Frontier(inputs, axes, kept, bend, missed, interrupted)


def _caps(reached: list[float], points: int) -> list[float]:
    """Caps between the most and the least of the second quantity, the ends found being the first points."""
    high, low = max(reached), min(reached)
    if high - low <= ENDS_APART * abs(high):
        return []
    step = (high - low) / (points - 1)
    caps = [high - number * step for number in range(1, points)]
    caps[-1] += LAST_CAP_ABOVE * abs(low)
    return caps


def _planned(wanted: _Wanted) -> Proven | None:
    """One plan, proven; None where there is none, or none that could be proven."""
    with suppress(NoPlanError, CheckFailedError, SolverError):
        return plan_and_prove(wanted.inputs, solver=wanted.solver, search=wanted.search)
    return None


def _at(proven: Proven, axes: tuple[Axis, Axis]) -> tuple[float, float]:
    costs = proven.plan.costs
    return quantity(costs, axes[0]), quantity(costs, axes[1])


def best_of(points: list[Point]) -> tuple[Point, ...]:
    """Drop every point that another equals or betters in both; the first rises, the second falls."""
    kept: list[Point] = []
    for point in sorted(points, key=lambda point: point.at):
        if not kept or point.at[1] < kept[-1].at[1] - SAME * abs(kept[-1].at[1]):
            kept.append(point)
    return tuple(kept)


def knee(at: list[tuple[float, float]]) -> int | None:
    """Find the point that is furthest below the straight line between the ends, each axis from 0 to 1 [1].

    Examples
    --------
    >>> knee([(0.0, 10.0), (1.0, 4.0), (5.0, 3.0), (10.0, 0.0)])
    1
    >>> knee([(0.0, 1.0), (1.0, 0.0)]) is None
    True
    """
    if len(at) < 3:
        return None
    (x_low, y_high), (x_high, y_low) = at[0], at[-1]
    below = [1.0 - (x - x_low) / (x_high - x_low) - (y - y_low) / (y_high - y_low) for x, y in at]
    best = max(range(len(at)), key=below.__getitem__)
    # The distance is 1/√2 of this. The ends lie on the line, but for rounding.
    return best if below[best] > ROUNDING else None
