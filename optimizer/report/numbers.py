"""Numbers as a person reads them."""

from __future__ import annotations

import math

from optimizer.units import S_PER_MIN


def mmss(seconds: float) -> str:
    """Write a duration in minutes and seconds.

    Parameters
    ----------
    seconds : float
        Duration, rounded to whole seconds [s].

    Returns
    -------
    str
        ``m:ss``.

    Examples
    --------
    >>> mmss(62.4), mmss(3600)
    ('1:02', '60:00')
    """
    minutes, rest = divmod(round(seconds), int(S_PER_MIN))
    return f"{minutes}:{rest:02d}"


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


def count(number: int, noun: str) -> str:
    """Write a count with its noun.

    Parameters
    ----------
    number : int
        How many [1].
    noun : str
        The noun in the singular; its plural must be made with an s.

    Returns
    -------
    str
        Count and noun.

    Examples
    --------
    >>> count(1, "round"), count(5, "round")
    ('1 round', '5 rounds')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def money(value: float, currency: str) -> str:
    """Write an amount of money: two decimals, or two digits where that would leave nothing.

    Parameters
    ----------
    value : float
        Amount [currency].
    currency : str
        Its label.

    Returns
    -------
    str
        Amount and label.

    Examples
    --------
    >>> money(0.5825, "EUR"), money(0.00412, "EUR")
    ('0.58 EUR', '0.0041 EUR')
    """
    return f"{value:.2f} {currency}" if abs(value) >= 0.1 or value == 0 else f"{figure(value, 2)} {currency}"


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


def plain(value: float) -> float | None:
    """Make a number fit for JSON.

    Parameters
    ----------
    value : float
        The number, in any unit [1].

    Returns
    -------
    float or None
        The same as a Python float, in its unit [1]; None where it is nan or infinite.
    """
    return float(value) if math.isfinite(value) else None
