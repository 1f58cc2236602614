"""Temperature of cold mains water through the year."""

from __future__ import annotations

import numpy as np

from optimizer.physics import Real

UK_MAINS_C = (8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5)
"""Cold mains in the United Kingdom, January to December [°C]: SAP 10.2, table J1, water fed from the
mains (read in a secondary source)."""


def mains_temperature_c(day: Real, air_mean_c: Real | float, air_swing_k: Real | float) -> Real:
    """Temperature of mains water on a day of the year, from the climate of the place.

    Parameters
    ----------
    day : float or ndarray
        Day of the year [d], 1 for 1 January; northern hemisphere (add 182 in the southern).
    air_mean_c : float or ndarray
        Mean air temperature over the year [°C].
    air_swing_k : float or ndarray
        Mean air temperature of the warmest month less that of the coldest [K].

    Returns
    -------
    float or ndarray
        Water temperature [°C]. Fitted to places with means of 4–29 °C; the formula does not know of
        freezing or of a tank under the roof.

    Notes
    -----
    Source: J. Burch and C. Christensen, Towards development of an algorithm for mains water
    temperature, American Solar Energy Society 2007 (OSTI 981988). It is stated in °F; so are the steps.

    Examples
    --------
    >>> f"{mains_temperature_c(46.0, 10.0, 40.0 / 1.8):.2f}"
    '8.23'
    """
    mean_f = 1.8 * air_mean_c + 32.0
    half_swing_f = 1.8 * air_swing_k / 2.0
    ratio = 0.4 + 0.01 * (mean_f - 44.0)
    lag_d = 35.0 - (mean_f - 44.0)
    angle = np.deg2rad(0.986 * (day - 15.0 - lag_d) - 90.0)
    water_f = mean_f + 6.0 + ratio * half_swing_f * np.sin(angle)
    water_c: Real = (water_f - 32.0) / 1.8
    return water_c
