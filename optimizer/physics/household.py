"""What household machines and people at the sink take, as published: figures to compare a plan with."""

from __future__ import annotations

from dataclasses import dataclass

CLASS_LIMITS = (("A", 32.0), ("B", 38.0), ("C", 44.0), ("D", 50.0), ("E", 56.0), ("F", 62.0))
"""Energy class and the energy efficiency index [1] that it stays below; class G has no limit
(Regulation (EU) 2019/2017, annex II)."""


@dataclass(frozen=True)
class Usage:
    """What one load takes.

    Attributes
    ----------
    settings : int
        Place settings [1].
    energy_kwh : float
        Energy [kWh].
    water_l : float
        Water [l].
    duration_min : float or None
        Duration [min]; None where the source gives none.
    source : str
        Where it was published.
    """

    settings: int
    energy_kwh: float
    water_l: float
    duration_min: float | None
    source: str


_ANNEX_V = "Regulation (EU) 2019/2022, annex V: best available on the market"

BENCHMARKS = (
    Usage(6, 0.62, 8.0, 225.0, _ANNEX_V),
    Usage(10, 0.66, 9.5, 195.0, _ANNEX_V),
    Usage(14, 0.67, 9.9, 222.0, _ANNEX_V),
)
"""Benchmarks of the European ecodesign rules for one run of the eco programme."""

BY_HAND = (
    Usage(12, 2.4, 88.0, None, "Stamminger, mean of a European study (read in a secondary source)"),
    Usage(12, 1.7, 49.0, 60.0, "Berkholz et al., Int. J. Consumer Studies 34 (2010) 235, United Kingdom"),
)
"""Washing up by hand, observed."""


def standard_energy_kwh(settings: int, width_cm: float) -> float:
    """Standard programme energy consumption, which the energy efficiency index refers to.

    Parameters
    ----------
    settings : int
        Place settings [1], 1 or more.
    width_cm : float
        Width of the machine [cm].

    Returns
    -------
    float
        SPEC of Regulation (EU) 2019/2017, annex IV [kWh].

    Examples
    --------
    >>> f"{standard_energy_kwh(14, 60.0):.3f}"
    '1.700'
    """
    if settings >= 10 and width_cm > 50.0:
        return 0.025 * settings + 1.350
    return 0.090 * settings + 0.450


def energy_efficiency_index(energy_kwh: float, settings: int, width_cm: float) -> float:
    """Energy efficiency index of a programme.

    Parameters
    ----------
    energy_kwh : float
        Energy of one run of the eco programme [kWh].
    settings : int
        Place settings [1], 1 or more.
    width_cm : float
        Width of the machine [cm].

    Returns
    -------
    float
        100·E/SPEC [1] (Regulation (EU) 2019/2017, annex IV).

    Examples
    --------
    >>> f"{energy_efficiency_index(0.67, 14, 60.0):.1f}"
    '39.4'
    """
    return 100.0 * energy_kwh / standard_energy_kwh(settings, width_cm)


def energy_class(index: float) -> str:
    """Energy class of an energy efficiency index.

    Parameters
    ----------
    index : float
        Energy efficiency index [1], 0 or more.

    Returns
    -------
    str
        Letter from A to G.

    Examples
    --------
    >>> energy_class(31.9), energy_class(32.0), energy_class(62.0)
    ('A', 'B', 'G')
    """
    return next((letter for letter, below in CLASS_LIMITS if index < below), "G")
