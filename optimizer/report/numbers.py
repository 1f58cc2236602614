"""Numbers as a person reads them."""

from __future__ import annotations

import math
from collections.abc import Iterable

from optimizer.units import S_PER_MIN, figure, short


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


MOST_DECIMALS = 6
"""Decimals of an ampere beyond which two currents count as equal [1]."""


def drawn_of_left(drawn_a: float, left_a: float) -> str:
    """Write a current beside what is left for it, rounded so that no margin is shown that is not there.

    Parameters
    ----------
    drawn_a : float
        What is drawn at the most, rounded up [A]; 0 or more.
    left_a : float
        What is left for it, rounded down [A]; above 0.

    Returns
    -------
    str
        Both with four figures, or with more where they are closer than that.

    Examples
    --------
    >>> drawn_of_left(11.6712, 11.7), drawn_of_left(4.7301, 5.5), drawn_of_left(11.6999, 11.7)
    ('11.68 A of the 11.70 A', '4.731 A of the 5.500 A', '11.6999 A of the 11.7000 A')
    """
    first = max(3 - math.floor(math.log10(left_a)), 0)
    for decimals in range(first, max(first, MOST_DECIMALS) + 1):
        scale = 10.0**decimals
        up, down = math.ceil(drawn_a * scale - 1e-6) / scale, math.floor(left_a * scale + 1e-6) / scale
        if up < down:
            break
    return f"{up:.{decimals}f} A of the {down:.{decimals}f} A"


LONGER_MIN = 1.0
"""Minutes by which the longest run has to differ to be told beside the nominal one [min]."""


def nominal_and_longest(nominal_min: float, longest_min: float | None) -> str:
    """Write the length of a run, and how long it may get where that is longer by more than a minute.

    Parameters
    ----------
    nominal_min : float
        Length of the nominal run [min].
    longest_min : float or None
        Longest run that the tolerances allow, written rounded up [min]; None where it is not known.

    Returns
    -------
    str
        One length or two.

    Examples
    --------
    >>> nominal_and_longest(130.73, 179.2), nominal_and_longest(85.62, 85.62)
    ('131 min, up to 180 min', '86 min')
    """
    nominal = f"{nominal_min:.0f} min"
    if longest_min is None or not is_longer(nominal_min, longest_min):
        return nominal
    return f"{nominal}, up to {whole(longest_min)} min"


def is_longer(nominal_min: float | None, longest_min: float | None) -> bool:
    """Whether a longest run is to be told beside the nominal one."""
    if nominal_min is None or longest_min is None:
        return False
    return longest_min - nominal_min > LONGER_MIN


def whole(longest_min: float) -> str:
    """Write a longest time in whole minutes; more than a tenth of one is rounded up.

    Examples
    --------
    >>> whole(179.2), whole(180.04)
    ('180', '180')
    """
    return f"{math.ceil(longest_min - 0.1)}"


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
    """Write an amount of money with its label.

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
    >>> money(0.5825, "EUR"), money(0.00412, "EUR"), money(2950.4, "JPY")
    ('0.58 EUR', '0.0041 EUR', '2950 JPY')
    """
    return f"{amount(value, money_decimals([value]))} {currency}"


def money_decimals(amounts: Iterable[float], *, fine: bool = False) -> int:
    """Choose decimals for amounts in one column, for any currency.

    Parameters
    ----------
    amounts : iterable of float
        The amounts, at least one [currency].
    fine : bool
        Whether small differences between runs are to be seen.

    Returns
    -------
    int
        None from 100 up, two below (three below 10 where `fine`), more where the largest would have less than
        two digits that tell (three) [1].

    Examples
    --------
    >>> money_decimals([116.2]), money_decimals([0.58, 0.6]), money_decimals([0.58, 0.6], fine=True)
    (0, 2, 3)
    """
    most = max(map(abs, amounts))
    if most >= 100.0 or not most:
        return 0 if most else 2
    digits = 2 + fine
    usual = digits if most < 10.0 else 2
    return max(usual, digits - 1 - math.floor(math.log10(most)))


def amount(value: float, decimals: int) -> str:
    """Write an amount with so many decimals [1], a zero without a sign."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


DIGITS_MOST = 9
"""Significant digits after which two numbers are equal for a reader [1]."""


def apart(value: float, limit: float, digits: int = 2) -> str:
    """Write a number with so many digits that it reads as it stands to a limit.

    Parameters
    ----------
    value, limit : float
        The number and its limit, in the same unit [1].
    digits : int
        Significant digits where they are enough [1].

    Returns
    -------
    str
        The number; more digits only where fewer would read as the limit, or as past it.

    Examples
    --------
    >>> apart(0.00102, 0.001), apart(0.0041, 0.001), apart(0.0009996, 0.001)
    ('0.00102', '0.0041', '0.0009996')
    """
    for more in range(digits, DIGITS_MOST):
        text = figure(value, more)
        if (float(text) > limit, float(text) < limit) == (value > limit, value < limit):
            return text
    return figure(value, DIGITS_MOST)


MILLION = 1e6


def in_a_million(value: float, limit: float | None = None) -> str:
    """Write a small share as so many in a million.

    Parameters
    ----------
    value : float
        The share [1].
    limit : float, optional
        Its limit, from which it is to be told apart [1].

    Returns
    -------
    str
        How many in a million.

    Examples
    --------
    >>> in_a_million(9.1e-6), in_a_million(0.001), in_a_million(0.00100004, 0.001)
    ('9.1', '1000', '1000.04')
    """
    return short(MILLION * value, 2) if limit is None else apart(MILLION * value, MILLION * limit)


def plain(value: float) -> float | None:
    """Make a number fit for JSON."""
    return float(value) if math.isfinite(value) else None
