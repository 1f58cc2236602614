"""What household machines and people at the sink take, as published: figures to compare plans with."""

from __future__ import annotations

from typing import NamedTuple


class Usage(NamedTuple):
    """What one load takes: place settings, energy [kWh], water [l], duration [min] where one is given."""

    settings: int
    energy_kwh: float
    water_l: float
    duration_min: float


# Regulation (EU) 2019/2022, annex V: best available on the market, one run of the eco programme.
BENCHMARKS = (Usage(6, 0.62, 8.0, 225.0), Usage(10, 0.66, 9.5, 195.0), Usage(14, 0.67, 9.9, 222.0))

# Washing up by hand, observed: Stamminger, mean of a European study (read in a secondary source; it gives no
# duration); Berkholz et al., Int. J. Consumer Studies 34 (2010) 235, United Kingdom.
BY_HAND = (Usage(12, 2.4, 88.0, float("nan")), Usage(12, 1.7, 49.0, 60.0))
