"""Unit conversions. Inside: SI seconds, litres, °C, W and J; kWh and minutes only where people read."""

from __future__ import annotations

import math

S_PER_MIN = 60.0
"""Seconds in a minute [s/min]."""

J_PER_KWH = 3.6e6
"""Joules in a kilowatt-hour [J/kWh]."""

J_PER_KJ = 1000.0
"""Joules in a kilojoule [J/kJ]."""

L_PER_M3 = 1000.0
"""Litres in a cubic metre [l/m3]."""

G_PER_KG = 1000.0
"""Grams in a kilogram [g/kg]."""


def fahrenheit_from_celsius(temperature_c: float) -> float:
    """Convert a temperature.

    Parameters
    ----------
    temperature_c : float
        Temperature [°C].

    Returns
    -------
    float
        Temperature [°F].

    Examples
    --------
    >>> fahrenheit_from_celsius(100.0)
    212.0
    """
    return temperature_c * 9.0 / 5.0 + 32.0


def celsius_from_fahrenheit(temperature_f: float) -> float:
    """Convert a temperature.

    Parameters
    ----------
    temperature_f : float
        Temperature [°F].

    Returns
    -------
    float
        Temperature [°C].

    Examples
    --------
    >>> celsius_from_fahrenheit(212.0)
    100.0
    """
    return (temperature_f - 32.0) * 5.0 / 9.0


def whole_tenths(value: float) -> int:
    """Count the whole tenths in a limit, so that none is exceeded.

    Parameters
    ----------
    value : float
        The limit, at least 0 [any].

    Returns
    -------
    int
        Tenths of its unit, rounded down [1].

    Examples
    --------
    >>> whole_tenths(75.0), whole_tenths(64.3), whole_tenths(64.39)
    (750, 643, 643)
    """
    # 64.3 * 10 is a hair under 643: what lies closer than that to a whole number is one.
    return math.floor(round(value * 10.0, 6))
