"""Properties of liquid water, and the temperature of the cold mains through the year."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from optimizer.physics import Real
from optimizer.units import J_PER_KJ

BOILING_C = 100.0
"""Boiling point of water at sea level, 101.325 kPa, to 0.03 K [°C]; the fits of this module end here."""

WEATHER_K = 1.0
"""By how much the weather moves the boil, either way [K]: 3 % of the pressure of the air are 0.9 K
(IAPWS-IF97); that it varies by so much is common knowledge, no source."""

SEA_LEVEL_KPA, SEA_LEVEL_K, LAPSE_K_PER_M, LAPSE_POWER = 101.325, 288.15, 0.0065, 5.25588
"""Standard atmosphere up to 11 km: pressure and temperature at sea level, fall of temperature, and
``g / (R lapse)`` [kPa, K, K/m, 1] (ISO 2533, ICAO Doc 7488)."""


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


def air_pressure_kpa(height_m: float) -> float:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    height_m : float
        Height above sea level [m], 0–5000.

    Returns
    -------
    float
        Pressure [kPa]. The weather moves it by some 3 %, and the boil by up to 1 K, either way.

    Notes
    -----
    ``p = p_0 (1 - L h / T_0)^5.25588``. Source: ISO 2533, standard atmosphere (the same as ICAO Doc 7488).

    Examples
    --------
    >>> f"{air_pressure_kpa(1000.0):.2f}"
    '89.87'
    """
    return float(SEA_LEVEL_KPA * (1.0 - LAPSE_K_PER_M * height_m / SEA_LEVEL_K) ** LAPSE_POWER)


@lru_cache(maxsize=64)
def boiling_c(height_m: float) -> float:
    """Boiling point of water above sea level.

    Parameters
    ----------
    height_m : float
        Height above sea level [m], 0–5000.

    Returns
    -------
    float
        Temperature [°C]: `BOILING_C` at sea level; within 0.05 K of IF97 in the standard atmosphere.

    Notes
    -----
    Where `saturation_pressure_kpa` has fallen by as much as the pressure of the air. By halves: 40 of them
    leave less than a nanokelvin.

    Examples
    --------
    >>> f"{boiling_c(1000.0):.1f}"
    '96.7'
    """
    share = air_pressure_kpa(height_m) / SEA_LEVEL_KPA
    wanted_kpa = share * float(saturation_pressure_kpa(BOILING_C))
    low_c, high_c = 70.0, BOILING_C
    if wanted_kpa >= saturation_pressure_kpa(high_c):
        return high_c
    for _ in range(40):
        middle_c = 0.5 * (low_c + high_c)
        below = saturation_pressure_kpa(middle_c) < wanted_kpa
        low_c, high_c = (middle_c, high_c) if below else (low_c, middle_c)
    return low_c


def steam_j_per_l(boils_c: float) -> float:
    """Heat that boils a litre of water away, counted at its density at the boil.

    Parameters
    ----------
    boils_c : float
        Boiling point [°C], 70–100.

    Returns
    -------
    float
        Heat [J/l].

    Notes
    -----
    ``h_fg rho``, both at the boiling point: `latent_heat_kj_per_kg` and `density_kg_per_l`.

    Examples
    --------
    >>> f"{steam_j_per_l(100.0) / 1e6:.3f}"
    '2.163'
    """
    return float(J_PER_KJ * latent_heat_kj_per_kg(boils_c) * density_kg_per_l(boils_c))


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
