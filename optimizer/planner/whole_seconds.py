"""Whole seconds near numbers that hold: round up, mend what that broke, then step down.

Every move is checked in the simulation. Where no single or paired move mends what rounding broke, straight
lines about the point give a small integer program, whose answer is simulated and gives the next lines.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from optimizer.physics import Array
from optimizer.planner.solver_output import stdout_closed
from optimizer.planner.trim_space import FEASIBLE, Space

REPAIRS, PAIR_REPAIRS = 40, 6
"""Most moves that mend what rounding up broke, and how many of these may move two numbers [1]."""
AIM_WEIGHT = 0.1
"""Shortfall that counts as much as all of what is aimed at [1]."""
PAIRS_TRIED = 250
"""Pairs of moves that are simulated, the most promising by what each move does alone [1]."""
PAIRS_AT_ONCE = (0, 6, 30, PAIRS_TRIED)
"""Where the batches begin in which pairs are simulated, and where the last one ends [1]."""
BATCH = 250
"""Candidates that are simulated at once [1]."""
TRADED = (1.0, 10.0, 1.0)
"""How far one number may go up for another to go down by one, one look after the other [1]."""
TOGETHER = 0.25
"""Part of what two moves do alone by which both together may do more or less, as trades are picked [1]."""
FURTHER = (2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 64.0, 128.0, 256.0)
"""Multiples of a move that helped that are tried as well [1]."""
FAR_SHORT = 0.5
"""Sum of shortfalls, each a share of its limit, that rounding alone never causes [1]."""
HOPED_PACE = 8.0
"""From far short, repairs go on if they get there at so many times the pace of the last one [1]."""
REACH, LINES, NODES = 0.4, 4, 2000
"""How far a number may be moved by straight lines, a share of its scale, how often lines are laid, and nodes
of each search among whole numbers [1]."""


def whole_seconds(space: Space, values: Array) -> Array | None:
    """Round up, repair what rounding broke, then step every number down as far as it goes.

    Trims from several starts often come to the same numbers: what was asked before is remembered.
    """
    unit = space.unit
    low, high = space.whole_ends
    now = np.clip(np.ceil(values / unit - 1e-6), low, high)
    ends = (one.tobytes() for one in (now, low, high))
    asked = (space.structure, space.aim, space.drop, space.corner_numbers, *ends)
    known = space.assessor.whole
    if asked not in known:
        known[asked] = _repaired(space, now, low, high)
    return known[asked]


def _repaired(space: Space, now: Array, low: Array, high: Array) -> Array | None:
    """Whole seconds that hold, from a start rounded up; None where repairs find none."""
    unit = space.unit
    singles = np.vstack([step * np.eye(len(now)) for step in (1, -1, 4, -4, 16, -16, 64, -64)])
    short = float(_shortfalls(_run(space, now[None] * unit)[0])[0])
    paired = 0
    for look in range(REPAIRS):
        if short >= FEASIBLE:
            # An aim is as far as the continuous step brought it; a second less does not matter.
            return now * unit if space.aim else _descend(space, now, low, high)
        tries = np.clip(now + singles, low, high)
        margins, objective = _run(space, np.vstack([now[None], tries]) * unit)
        moved, left = _least_short(space, tries, margins[1:], objective[1:])
        if left < -FAR_SHORT and left + (REPAIRS - look) * HOPED_PACE * max(left - short, 0.0) < 0.0:
            return None
        # Where one number can't mend it, two may: a litre more for the cover, and the heat that it needs. At
        # first both are tried, as the best single move may lead away from the pair that repairs everything.
        stuck = left <= short or (look == 0 and left < FEASIBLE)
        if stuck and not space.aim and paired < PAIR_REPAIRS:
            paired += 1
            both, left_by_both = _best_pair(space, now, tries, margins, (low, high))
            if left_by_both >= FEASIBLE or left <= short:
                moved, left = both, left_by_both
        if left <= short:
            return None
        now, short = moved, left
    return None


def by_straight_lines(space: Space, values: Array) -> Array | None:
    """Whole seconds near numbers that hold, where repairs found none: the cheapest that straight lines allow.

    The answer is simulated; where it does not hold, lines through it give the next one.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    unit = space.unit
    low, high = space.whole_ends
    now = np.clip(np.rint(values / unit), low, high)
    middle, reach = now, REACH * space.scale / unit
    for _ in range(LINES):
        margins, objective = _run(space, np.vstack([now[None], now + np.eye(len(now))]) * unit)
        if margins[0].min() >= FEASIBLE:
            return _descend(space, now, low, high)
        slopes = (margins[1:] - margins[0]).T
        least, most = np.maximum(low, middle - reach) - now, np.minimum(high, middle + reach) - now
        worst = np.minimum(slopes * least, slopes * most).sum(axis=1)
        near = margins[0] + worst < 0.0
        with stdout_closed():
            solved = milp(
                objective[1:] - objective[0],
                integrality=np.ones(len(now), dtype=int),
                bounds=Bounds(least, most),
                constraints=LinearConstraint(slopes[near], lb=-margins[0][near]),
                options={"node_limit": NODES},
            )
        if solved.x is None:
            return None
        moved = np.clip(now + np.rint(solved.x), low, high)
        if np.array_equal(moved, now):
            return None
        now = moved
    return None


def _least_short(space: Space, tries: Array, margins: Array, objective: Array) -> tuple[Array, float]:
    """The candidate that is least short, and its shortfall; one that gives up much of an aim comes last."""
    found = _shortfalls(margins)
    pick = int((found - AIM_WEIGHT * objective).argmax() if space.aim else found.argmax())
    return tries[pick], float(found[pick])


def _best_pair(
    space: Space, now: Array, tries: Array, margins: Array, ends: tuple[Array, Array]
) -> tuple[Array, float]:
    """Two of the moves at once: the pair that is least short, and its shortfall.

    Those are simulated that would be least short if each move did what it does alone; ``margins`` are those
    of where it stands now, then of each move. The first pair that holds ends the look.
    """
    gains = margins[1:] - margins[0]
    near = margins[0] + 2.0 * gains.min(axis=0) < 0.0
    held, alone = margins[0, near], gains[:, near]
    first, second = np.triu_indices(len(tries), k=1)
    hoped = _shortfalls(held + alone[first] + alone[second])
    tried = np.argsort(-hoped, kind="stable")[:PAIRS_TRIED]
    pairs = np.clip(tries[first[tried]] + tries[second[tried]] - now, *ends)
    best, left = now, -np.inf
    for begin, end in pairwise(PAIRS_AT_ONCE):
        batch = pairs[begin:end]
        if left >= 0.0 or not len(batch):
            break
        # Where it stands comes first: what all begin with is simulated once.
        found = _shortfalls(_run(space, np.vstack([now[None], batch]) * space.unit)[0][1:])
        pick = int(found.argmax())
        if found[pick] > left:
            best, left = batch[pick], float(found[pick])
    return best, left


def _shortfalls(margins: Array) -> Array:
    """Sum of all shortfalls of each candidate, 0 or less."""
    return np.asarray(np.minimum(margins, 0.0).sum(axis=1))


def _run(space: Space, values: Array) -> tuple[Array, Array]:
    """Margins of candidates, and what is made least; in batches, for the memory."""
    runs = [space.run(batch) for batch in np.array_split(values, math.ceil(len(values) / BATCH))]
    return np.concatenate([margins for margins, _ in runs]), np.concatenate([made for _, made in runs])


def _descend(space: Space, start: Array, low: Array, high: Array) -> Array:
    """Step single numbers down, and pairs one up and one down (where the terms have it), while the cost falls
    and all margins hold.
    """
    unit, one = space.unit, np.eye(len(start))
    now = start
    cost = float(space.run((now * unit)[None])[1][0])
    # Late heat buys little spray: many seconds of the one may stand for a second of the other.
    trades = TRADED if space.assessor.terms.traded else ()
    for step in (16.0, 4.0, 1.0):
        stuck: dict[float, Array] = {}
        for up in (0.0, *(trades if step == 1.0 else ())):
            # Where the same look found nothing, it finds nothing again.
            while not np.array_equal(stuck.get(up, ()), now):
                fewer = np.clip(now - step * one, low, high)
                tries = _trades(space, now, up, low, high) if up else fewer
                # Where it stands comes first: what all begin with is simulated once.
                tries = np.vstack([now[None], tries])
                margins, objective = space.run(tries * unit)
                prices = np.where(margins.min(axis=1) >= FEASIBLE, objective, np.inf)
                prices[0] = cost
                pick = int(prices.argmin())
                if not prices[pick] < cost - 1e-12:
                    stuck[up] = now
                    break
                move = tries[pick] - now
                # What helps once may help many times.
                further = np.clip(now + np.outer(FURTHER, move), low, high)
                margins, objective = space.run(further * unit)
                more = np.where(margins.min(axis=1) >= FEASIBLE, objective, np.inf)
                best = int(more.argmin())
                if more[best] < prices[pick]:
                    now, cost = further[best], float(more[best])
                else:
                    now, cost = tries[pick], float(prices[pick])
    return np.asarray(now * unit)


def _trades(space: Space, now: Array, up: float, low: Array, high: Array) -> Array:
    """One number up by so many and another one down by one: those that may hold and cost less.

    Each of both moves is simulated alone. What they do together is about the sum, so that a trade is left out
    only where the sum is off by more than a part of what both do.
    """
    size = len(now)
    one = np.eye(size)
    singles = np.clip(np.vstack([now + up * one, now - one]), low, high)
    margins, made = space.run(np.vstack([now[None], singles]) * space.unit)
    gains, prices = margins[1:] - margins[0], made[1:] - made[0]
    raised, lowered = np.nonzero(~np.eye(size, dtype=bool))
    lowered = lowered + size
    dearer = prices[raised] + prices[lowered]
    may = dearer < TOGETHER * (np.abs(prices[raised]) + np.abs(prices[lowered]))
    raised, lowered = raised[may], lowered[may]
    near = margins[0] + 2.0 * gains.min(axis=0) < 0.0
    held, gains = margins[0, near], gains[:, near]
    hoped = (
        held + gains[raised] + gains[lowered] + TOGETHER * (np.abs(gains[raised]) + np.abs(gains[lowered]))
    )
    may = (hoped >= FEASIBLE).all(axis=1)
    raised, lowered = raised[may], lowered[may]
    return np.asarray(singles[raised] + singles[lowered] - now)
