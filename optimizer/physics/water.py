"""Properties of liquid water, and the temperature of the cold mains through the year."""

from __future__ import annotations

import numpy as np

from optimizer.physics import Real
from optimizer.units import J_PER_KJ

BOILING_C = 100.0
"""Boiling point of water at 101.325 kPa, to 0.03 K [°C]: higher up it boils sooner, so no bath is hotter."""


def density_kg_per_l(temperature_c: Real) -> Real:
    """Density of liquid water at 101.325 kPa.

    Parameters
    ----------
    temperature_c : float or ndarray
        Temperature [°C], 0–100.

    Returns
    -------
    float or ndarray
        Density [kg/l]; within 0.005 % of IF97.

    Notes
    -----
    Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, equation 16.

    Examples
    --------
    >>> f"{density_kg_per_l(40.0):.4f}"
    '0.9922'
    """
    t = temperature_c
    upper = 0.99983952 + t * (
        16.945176e-3 + t * (-7.9870401e-6 + t * (-46.170461e-9 + t * (105.56302e-12 - t * 280.54253e-15)))
    )
    return upper / (1.0 + 16.879850e-3 * t)


def specific_heat_kj_per_kg_k(temperature_c: Real) -> Real:
    """Specific heat of liquid water at constant pressure.

    Parameters
    ----------
    temperature_c : float or ndarray
        Temperature [°C], 0–100.

    Returns
    -------
    float or ndarray
        Specific heat [kJ/(kg K)]; within 0.07 % of IF97.

    Notes
    -----
    A polynomial of our own, fitted by least squares to IF97 at 101.325 kPa, 0.5–100 °C.

    Examples
    --------
    >>> f"{specific_heat_kj_per_kg_k(40.0):.2f}"
    '4.18'
    """
    t = temperature_c
    return 4.21653 + t * (-2.53461e-3 + t * (5.74235e-5 + t * (-5.38313e-7 + t * 2.18671e-9)))


def latent_heat_kj_per_kg(temperature_c: Real) -> Real:
    """Heat of vaporisation of water.

    Parameters
    ----------
    temperature_c : float or ndarray
        Temperature [°C], 0–100.

    Returns
    -------
    float or ndarray
        Heat of vaporisation [kJ/kg]; within 0.03 % of IF97.

    Notes
    -----
    A parabola of our own, fitted by least squares to IF97 at saturation, 0.5–100 °C.

    Examples
    --------
    >>> f"{latent_heat_kj_per_kg(100.0):.0f}"
    '2257'
    """
    t = temperature_c
    return 2500.291 - t * (2.30017 + t * 1.31904e-3)


def saturation_pressure_kpa(temperature_c: Real) -> Real:
    """Saturation pressure of water vapour over the liquid.

    Parameters
    ----------
    temperature_c : float or ndarray
        Temperature [°C], 0–100.

    Returns
    -------
    float or ndarray
        Pressure [kPa]; within 0.12 % of IF97.

    Notes
    -----
    Source: A. L. Buck, J. Appl. Meteorol. 20 (1981) 1527, with the constants as revised in appendix 1 of
    a 1996 hygrometer manual of his (read in secondary pages).

    Examples
    --------
    >>> f"{saturation_pressure_kpa(20.0):.3f}"
    '2.338'
    """
    t = temperature_c
    pressure: Real = 0.61121 * np.exp((18.678 - t / 234.5) * (t / (257.14 + t)))
    return pressure


STEAM_J_PER_L: float = J_PER_KJ * latent_heat_kj_per_kg(BOILING_C) * density_kg_per_l(BOILING_C)
"""Heat that boils a litre of water away at its boiling point, counted at its density there [J/l]."""


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
