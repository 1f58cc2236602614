"""The root of a function between two places, as scipy's `brentq` finds it, to the last bit.

Brent 1973, *Algorithms for Minimization without Derivatives*, ch. 4. It stands here because to load scipy
takes longer than to run a plan (`tests/test_check_steps.py` compares).
"""

from __future__ import annotations

import math
from collections.abc import Callable

TOLERANCE = 4.0 * 2.0**-52
"""How near the root is found, a share of its place and of 1 [1]."""

MOST = 100
"""Steps after which the last one is the answer [1]."""


def root_between(function: Callable[[float], float], low: float, high: float) -> float:
    """Find where a function is 0 between two places at which its signs differ, or where it is 0 there.

    Secants and inverse parabolas where they come nearer fast enough, else halves.
    """
    before, here, across = low, high, 0.0
    value_before, value, value_across = function(low), function(high), 0.0
    if value_before == 0.0:
        return low
    last_move = move = 0.0
    for _ in range(MOST):
        if value_before != 0.0 and value != 0.0 and (value_before < 0.0) != (value < 0.0):
            across, value_across = before, value_before
            last_move = move = here - before
        if abs(value_across) < abs(value):
            before, here, across = here, across, here
            value_before, value, value_across = value, value_across, value
        near = (TOLERANCE + TOLERANCE * abs(here)) / 2.0
        half = (across - here) / 2.0
        if value == 0.0 or abs(half) < near:
            return here
        tried = math.inf
        if abs(last_move) > near and abs(value) < abs(value_before):
            tried = _towards((before, here, across), (value_before, value, value_across))
        if 2.0 * abs(tried) < min(abs(last_move), 3.0 * abs(half) - near):
            last_move, move = move, tried
        else:
            last_move = move = half
        before, value_before = here, value
        here += move if abs(move) > near else math.copysign(near, half)
        value = function(here)
    return here


def _towards(places: tuple[float, float, float], values: tuple[float, float, float]) -> float:
    """How far from the middle place a secant, or an inverse parabola through three places, is 0."""
    (before, here, across), (value_before, value, value_across) = places, values
    if before == across:
        return -value * (here - before) / (value - value_before)
    to_before = (value_before - value) / (before - here)
    to_across = (value_across - value) / (across - here)
    above = value_across * to_across - value_before * to_before
    return -value * above / (to_across * to_before * (value_across - value_before))
