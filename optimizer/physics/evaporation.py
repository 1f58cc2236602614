"""Evaporation from an open surface of warm water."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.physics import Real
from optimizer.physics.water import latent_heat_kj_per_kg, saturation_pressure_kpa
from optimizer.units import J_PER_KJ


@dataclass(frozen=True)
class Air:
    """Air over the water.

    Attributes
    ----------
    temperature_c : float
        Temperature [°C].
    humidity : float
        Relative humidity [1], 0–1.
    speed_m_per_s : float
        Speed along the surface [m/s]; the formula was measured up to about 0.7.
    """

    temperature_c: float = 20.0
    humidity: float = 0.5
    speed_m_per_s: float = 0.0


def evaporation_heat_w_per_m2(water_c: Real, air: Air) -> Real:
    """Heat that evaporation takes from an open surface.

    Parameters
    ----------
    water_c : float or ndarray
        Temperature of the surface [°C], 0–100.
    air : Air
        The air over it.

    Returns
    -------
    float or ndarray
        Heat flux [W/m2]; negative where the air's moisture condenses on the water. Under a lid it is an
        upper bound.

    Notes
    -----
    Source: ASHRAE Handbook, HVAC Applications, natatoriums: w = A (p_w - p_a)(0.089 + 0.0782 V)/h_fg in
    kg/s, m2, kPa, m/s, kJ/kg (read in a secondary source).

    Examples
    --------
    >>> f"{evaporation_heat_w_per_m2(60.0, Air()):.0f}"
    '1671'
    """
    over_kpa = saturation_pressure_kpa(water_c) - air.humidity * saturation_pressure_kpa(air.temperature_c)
    return over_kpa * ((0.089 + 0.0782 * air.speed_m_per_s) * J_PER_KJ)


def evaporation_kg_per_s_m2(water_c: Real, air: Air) -> Real:
    """Water that evaporates from an open surface.

    Parameters
    ----------
    water_c : float or ndarray
        Temperature of the surface [°C], 0–100.
    air : Air
        The air over it.

    Returns
    -------
    float or ndarray
        Mass flux [kg/(s m2)], of the same sign as the heat.

    Notes
    -----
    The heat of `evaporation_heat_w_per_m2`, and its source, over the heat of vaporisation.

    Examples
    --------
    >>> f"{3600.0 * evaporation_kg_per_s_m2(60.0, Air()):.2f}"
    '2.55'
    """
    return evaporation_heat_w_per_m2(water_c, air) / (J_PER_KJ * latent_heat_kj_per_kg(water_c))
