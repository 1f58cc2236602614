"""Numbers as a person reads them."""

from __future__ import annotations

import math

from optimizer.units import S_PER_MIN, figure


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
