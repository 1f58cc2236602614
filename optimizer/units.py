"""Unit conversions, and numbers written with their unit.

Inside: SI seconds, litres, °C, W and J; kWh and minutes only where people read.
"""

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
    # In binary 64.3 * 10 is a little less than 643: what is that close to a whole number counts as it.
    return math.floor(round(value * 10.0, 6))


def figure(value: float, digits: int = 4) -> str:
    """Write a number to so many significant digits, never with an exponent.

    Parameters
    ----------
    value : float
        The number, in any unit [1].
    digits : int
        Significant digits; digits before the point are always written in full [1].

    Returns
    -------
    str
        The number; ``no value`` where there is none (nan, infinite).

    Examples
    --------
    >>> figure(12.0371), figure(0.00087), figure(35400.0), figure(float("nan"))
    ('12.04', '0.0008700', '35400', 'no value')
    """
    if not math.isfinite(value):
        return "no value"
    magnitude = math.floor(math.log10(abs(value))) if value else 0
    return f"{value or 0.0:.{max(digits - 1 - magnitude, 0)}f}"


def short(value: float, digits: int = 4) -> str:
    """Write a number like `figure`, without zeros at the end.

    Parameters
    ----------
    value : float
        The number, in any unit [1].
    digits : int
        Significant digits [1].

    Returns
    -------
    str
        The number.

    Examples
    --------
    >>> short(12.0), short(0.001), short(5.5)
    ('12', '0.001', '5.5')
    """
    text = figure(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number; a pure number has none.

    Parameters
    ----------
    text : str
        The number as written.
    unit : str
        Its unit, ``1`` for a pure number.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> with_unit("12", "min"), with_unit("0.001", "1")
    ('12 min', '0.001')
    """
    return text if unit in ("", "1") else f"{text} {unit}"
