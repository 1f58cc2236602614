"""Drying: what the hot ware can evaporate, and what an element can boil off."""

from __future__ import annotations

from optimizer.physics import Real
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.units import J_PER_KJ


def heat_over_film(ware_c: Real, air_c: float, ware_kj_per_k: float, film_kg: float) -> Real:
    """Heat stored in the ware over the heat that evaporates the film on it.

    Parameters
    ----------
    ware_c : float or ndarray
        Temperature of the ware after the last drain [°C], 0–100.
    air_c : float
        Temperature of the room, which the ware ends at [°C].
    ware_kj_per_k : float
        Heat capacity of the ware [kJ/K].
    film_kg : float
        Water left on it [kg], above 0.

    Returns
    -------
    float or ndarray
        Ratio [1]. At 1 the ware alone could dry itself with nothing lost; what a load needs in practice
        is found by trial (the goal's ``heat_factor``), as plastic stays wet where porcelain dries.

    Notes
    -----
    An energy balance, with the heat of vaporisation at ``ware_c``; no source needed beyond water's.

    Examples
    --------
    >>> f"{heat_over_film(65.0, 20.0, 5.0, 0.2):.2f}"
    '0.48'
    """
    return ware_kj_per_k * (ware_c - air_c) / (film_kg * latent_heat_kj_per_kg(ware_c))


def boil_off_kg_per_s(power_w: Real) -> Real:
    """Most water that an element can boil away.

    Parameters
    ----------
    power_w : float or ndarray
        Power of the element [W], 0 or more.

    Returns
    -------
    float or ndarray
        Mass flow [kg/s]: all its power over the heat of vaporisation at 100 °C. A ceiling, since walls
        and air take their share; a pool that still covers the element at this rate is safe.

    Examples
    --------
    >>> f"{60.0 * boil_off_kg_per_s(1000.0):.4f}"
    '0.0266'
    """
    return power_w / (J_PER_KJ * latent_heat_kj_per_kg(100.0))
