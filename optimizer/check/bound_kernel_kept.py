"""What is left of D, bath less ware, at the times that `bound_kernel_swing` looks at; kept from call to call.

All groups of a part, and its means from later times on, ask for the same times as a rule: exponentials are
most of the work of a mean. What is kept counts only for the very numbers that it was worked out from, so that
no bound hangs on what was asked before.
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

PIECES = 32
"""Pieces of a last fall, or rise, at which it may be cut short [1]."""

CELLS = 24
"""Cells of a fall, or a rise, in which a mean may begin [1]."""

NUMBERS = 9
"""The most numbers that anything kept is worked out from [1]."""

TIME, LEAST, MOST = range(3)
"""Rows of a fall and of a rise: times [s], and what is left of D by then if it dies out at the rate k that is
least, or most [1]."""

IN_FALL, IN_RISE = range(2)
"""Rows of the beginnings: most D in a fall and in a rise, by itself [K]."""

FALL, RISE, BEGUN = range(3)
"""What is kept, by the row of what it was worked out from."""

Kept = tuple[Array, Array, Array, Array]
"""Of a last fall, a last rise and the beginnings: rows × pieces or cells; and a row for each of them with
what it was worked out from."""


@compiled
def nothing_kept() -> Kept:
    """Room for what is kept, with nothing in it yet."""
    of_what = np.empty((3, NUMBERS))
    for row in range(3):
        for number in range(NUMBERS):
            of_what[row, number] = math.nan
    return np.empty((3, PIECES + 1)), np.empty((3, PIECES + 1)), np.empty((2, CELLS)), of_what


@compiled
def _died_out(found: Array, longest_s: float, over: float, k_least: float, k_most: float) -> None:
    for piece in range(PIECES + 1):
        # The first pieces are the shortest: there D changes most.
        time_s = (piece / PIECES) ** 2 * longest_s / over
        found[TIME, piece] = time_s
        found[LEAST, piece], found[MOST, piece] = math.exp(-k_least * time_s), math.exp(-k_most * time_s)


@compiled
def last_fall(kept: Kept, longest_s: float, k_least: float, k_most: float) -> Array:
    """What is left of D at the times between the pieces of a last fall: `TIME` and so on."""
    found, known = kept[0], kept[3][FALL]
    if known[0] != longest_s or known[1] != k_least or known[2] != k_most:
        known[0], known[1], known[2] = longest_s, k_least, k_most
        _died_out(found, longest_s, 1.0, k_least, k_most)
    return found


@compiled
def last_rise(kept: Kept, swing_k: float, rises_least: float, k_least: float, k_most: float) -> Array:
    """The same of a last rise by the hysteresis, at the least speed [K/s]."""
    found, known = kept[1], kept[3][RISE]
    if known[0] != swing_k or known[1] != rises_least or known[2] != k_least or known[3] != k_most:
        known[0], known[1], known[2], known[3] = swing_k, rises_least, k_least, k_most
        _died_out(found, swing_k, rises_least, k_least, k_most)
    return found
