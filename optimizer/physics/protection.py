"""Currents at which the device that protects a circuit holds, and at which it opens."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Characteristic:
    """The standardised points of a protective device, as multiples of its rating.

    Attributes
    ----------
    hold : float
        Carried for ``conventional_s`` without opening [1].
    open : float
        Opens within ``conventional_s`` [1].
    conventional_s : float
        The time these two refer to [s].
    instant_low, instant_high : float or None
        Band in which a breaker begins to trip at once [1]; None for a fuse, which has no such step.
    """

    hold: float
    open: float
    conventional_s: float
    instant_low: float | None = None
    instant_high: float | None = None


OVERLOAD_MULTIPLE = 2.55
"""A breaker trips at this multiple of its rating in ``overload_window_s`` [1] (IEC 60898-1)."""

_HOUR_S = 3600.0
_CHARACTERISTICS = {
    "breaker_b": Characteristic(1.13, 1.45, _HOUR_S, 3.0, 5.0),
    "breaker_c": Characteristic(1.13, 1.45, _HOUR_S, 5.0, 10.0),
    "breaker_d": Characteristic(1.13, 1.45, _HOUR_S, 10.0, 20.0),
    "fuse_plug": Characteristic(1.6, 1.9, 1800.0),
}


def characteristic(device: str, rating_a: float) -> Characteristic:
    """Look up the points of a device.

    Parameters
    ----------
    device : str
        ``breaker_b``, ``breaker_c``, ``breaker_d``, ``fuse_gg`` or ``fuse_plug``.
    rating_a : float
        Rated current [A], up to 63 for breakers and gG fuses, up to 13 for a plug-top fuse.

    Returns
    -------
    Characteristic
        Its points. They hold at 30 °C (breakers) or 20 °C (fuses) around the device; a hot or crowded
        board opens sooner.

    Raises
    ------
    KeyError
        Where the device is not one of these.

    Notes
    -----
    Sources: breakers IEC 60898-1, plug-top fuse BS 1362 (both read in secondary sources); gG fuse IEC
    60269-1: the fusing multiples 1.6–1.9 in a secondary source, what they hold from memory.

    Examples
    --------
    >>> characteristic("breaker_b", 16.0).hold
    1.13
    """
    if device == "fuse_gg":
        return _gg_fuse(rating_a)
    return _CHARACTERISTICS[device]


def _gg_fuse(rating_a: float) -> Characteristic:
    if rating_a >= 16.0:
        return Characteristic(1.25, 1.6, _HOUR_S)
    return Characteristic(1.5, 1.9 if rating_a > 4.0 else 2.1, _HOUR_S)


def overload_window_s(rating_a: float) -> tuple[float, float]:
    """Time in which a breaker trips at 2.55 times its rating.

    Parameters
    ----------
    rating_a : float
        Rated current [A], up to 63.

    Returns
    -------
    tuple of float
        Shortest and longest time from cold [s] (IEC 60898-1, read in a secondary source).

    Examples
    --------
    >>> overload_window_s(16.0)
    (1.0, 60.0)
    """
    return (1.0, 60.0 if rating_a <= 32.0 else 120.0)
