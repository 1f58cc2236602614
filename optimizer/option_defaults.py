"""Values that are taken where none is asked for; library, command line and the parts below share them."""

from __future__ import annotations

DRAWS, SEED = 64, 1
"""Random draws of a check, and their seed [1]."""

RUNS_PER_YEAR = 200
"""Runs that a year's money is for [1]."""

POINTS, LEAST_POINTS = 8, 2
"""Points that are looked for on a frontier, and the fewest that may be [1]."""

EVERY_MIN = 15
"""From one possible start to the next [min]."""
