"""Rinsing by drain and refill: what is left of the liquor after each exchange of water.

Perfect mixing is assumed, as in repeated batch extraction with a distribution ratio of 1 (IUPAC Gold
Book, term F02503; Pure Appl. Chem. 65 (1993) 2373; the mapping onto rinsing is ours).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from optimizer.physics import Real


def exchange_share(level_l: Real, left_l: Real | float) -> Real:
    """Share of the dissolved soil that stays when a level is drained to what the drain leaves.

    Parameters
    ----------
    level_l : float or ndarray
        Litres in the machine while it sprays [l], above 0.
    left_l : float or ndarray
        Carry-over: litres left by the drain before, diluted by the fill [l], at most ``level_l``.

    Returns
    -------
    float or ndarray
        Concentration after the fill over that before it [1].

    Examples
    --------
    >>> exchange_share(10.0, 1.0)
    0.1
    """
    share: Real = left_l / level_l
    return share


def residue_after(ratio: Real, exchanges: int) -> Real:
    """Residue after equal exchanges of water.

    Parameters
    ----------
    ratio : float or ndarray
        Litres filled over litres left behind [1], 0 or more.
    exchanges : int
        Number of exchanges [1], 0 or more.

    Returns
    -------
    float or ndarray
        Share of the first liquor's concentration that is left [1]: (1 + ratio)^-exchanges.

    Examples
    --------
    >>> f"{residue_after(9.0, 3):.4f}"
    '0.0010'
    """
    residue: Real = (1.0 + ratio) ** -float(exchanges)
    return residue


def residue_of(levels_l: ArrayLike, left_l: ArrayLike) -> float:
    """Residue after exchanges that differ from one another.

    Parameters
    ----------
    levels_l : array_like
        Level of each exchange in order [l], above 0.
    left_l : array_like
        Litres left by the drain before each of them [l]; one number where all are the same.

    Returns
    -------
    float
        Product of the shares that stay [1]; 1 where there is no exchange.

    Examples
    --------
    >>> f"{residue_of([10.0, 8.0], 1.0):.4f}"
    '0.0125'
    """
    return float(np.prod(np.asarray(left_l, dtype=float) / np.asarray(levels_l, dtype=float)))


def best_split_residue(total_l: Real, left_l: Real | float, exchanges: int) -> Real:
    """Least residue that a fixed total of water can reach in so many exchanges.

    Equal parts are the best split: the product of the terms (1 + fill/left) with a fixed sum of the fills
    is greatest where they are equal (inequality of the arithmetic and the geometric mean).

    Parameters
    ----------
    total_l : float or ndarray
        Fresh water for all exchanges together [l], 0 or more.
    left_l : float or ndarray
        Litres left behind by each drain [l], above 0.
    exchanges : int
        Number of exchanges [1], 1 or more.

    Returns
    -------
    float or ndarray
        Residue [1].

    Examples
    --------
    >>> f"{best_split_residue(20.0, 1.0, 2):.5f}"
    '0.00826'
    """
    return residue_after(total_l / (exchanges * left_l), exchanges)
