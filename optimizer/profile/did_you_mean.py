"""What a value that is out of range was probably meant to be: the same quantity in another unit."""

from __future__ import annotations

from optimizer.units import celsius_from_fahrenheit

UNIT_FACTORS = {
    "W": (1000.0,),
    "l": (0.001, 1000.0),
    "kg": (0.001,),
    "A": (0.001,),
    "kJ/K": (0.001,),
    "m2": (1e-4,),
    "l/min": (60.0, 1.0 / 60.0),
    "s": (60.0,),
    "min": (1.0 / 60.0,),
    "kg/kWh": (0.001,),
}
"""By unit, the factors from other usual units, in which a value may have been written [1]: kW; ml and m3; g;
mA; J/K; cm2; l/s and l/h; min; s; g/kWh. For any other unit no mix-up is guessed at."""

PERCENT = 0.01
"""Factor from per cent to a share [1]."""

NO_WATER_C = 100.0
"""A temperature of water at or above this must have been read in °F [°C]."""


def in_another_unit(wrong: float, unit: str, least: float, most: float) -> str:
    """Ask whether a value was given in another unit, where it is believable as read in that.

    Parameters
    ----------
    wrong : float
        The value, outside of the range [in `unit`].
    unit : str
        Unit of the key; ``1`` for a pure number.
    least, most : float
        Ends of the believable range [in `unit`].

    Returns
    -------
    str
        ``did you mean …?``; empty where no other unit makes it believable.

    Examples
    --------
    >>> in_another_unit(28000.0, "l", 2.0, 200.0), in_another_unit(66.0, "°C", 1.0, 65.0)
    ('did you mean 28 l?', '')
    """
    space_unit = "" if unit == "1" else f" {unit}"
    factors = (PERCENT,) if unit == "1" and most <= 1.0 else UNIT_FACTORS.get(unit, ())
    for factor in factors:
        if least <= wrong * factor <= most and wrong != 0.0:
            return f"did you mean {wrong * factor:g}{space_unit}?"
    if unit == "°C" and wrong >= NO_WATER_C:
        celsius = celsius_from_fahrenheit(wrong)
        if least <= celsius <= most:
            return f"did you mean {celsius:.3g} °C, which is {wrong:g} °F?"
    return ""
