"""Dose: equivalent time at a reference temperature, the integral of 10^((T - T_ref)/z) over time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array, Number, Real
from optimizer.physics.thermal import heating_time_s, temperature_after_c
from optimizer.units import celsius_from_fahrenheit

_LN10 = math.log(10.0)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)


@dataclass(frozen=True)
class DoseSpec:
    """How fast a dose grows with temperature.

    Attributes
    ----------
    reference_c : float
        Temperature at which a second counts as a second [°C].
    z_k : float
        Temperature step for ten times the rate [K], above 0.
    floor_c : float
        No effect below [°C]; the floor itself counts.
    ceiling_c : float
        No further gain above [°C], at least ``floor_c``.
    """

    reference_c: float
    z_k: float
    floor_c: float = -math.inf
    ceiling_c: float = math.inf


A0 = DoseSpec(reference_c=80.0, z_k=10.0, floor_c=65.0)
"""Thermal disinfection, A0 in seconds at 80 °C (ISO 15883-1, annex B; the floor from a secondary source)."""

HUE_SCALE_PER_S, HUE_SLOPE_PER_F = 3.03438e-17, 0.265972
"""Heat-unit equivalents a second are scale·exp(slope·T), T in °F (NSF/ANSI 3 and 184, in slides on the
history of dish-washing machine sanitation, 2009) [1/s, 1/°F]."""

HEAT_UNITS = DoseSpec(
    reference_c=celsius_from_fahrenheit(-math.log(HUE_SCALE_PER_S) / HUE_SLOPE_PER_F),
    z_k=_LN10 / (1.8 * HUE_SLOPE_PER_F),
    floor_c=celsius_from_fahrenheit(143.0),
    ceiling_c=celsius_from_fahrenheit(165.0),
)
"""Heat-unit equivalents as a dose: the same exponential; cap at 165 °F (secondary source), floor at 143 °F
(from memory). z is 4.8 K, not 10 K: there is no one factor between this and A0."""


def rate(temperature_c: Real, spec: DoseSpec) -> Real:
    """Dose rate at a temperature.

    Parameters
    ----------
    temperature_c : float or ndarray
        Temperature of the ware [°C].
    spec : DoseSpec
        The dose.

    Returns
    -------
    float or ndarray
        Equivalent seconds a second [1]; 0 below the floor, constant above the ceiling.

    Notes
    -----
    ``10^((T - T_ref)/z)``, the lethal rate of thermal disinfection (ISO 15883-1, annex B, for A0). That
    cleaning follows it too is an assumption of this tool: z is learnt from trials.

    Examples
    --------
    >>> f"{rate(90.0, A0):.1f} {rate(64.9, A0):.1f} {rate(77.0, HEAT_UNITS):.1f}"
    '10.0 0.0 347.7'
    """
    power = 10.0 ** ((np.minimum(temperature_c, spec.ceiling_c) - spec.reference_c) / spec.z_k)
    per_s: Real = power * (temperature_c >= spec.floor_c)
    return per_s


@dataclass(frozen=True)
class Ramp:
    """Water, tank and ware as one body under constant heat: C dT/dt = P - UA (T - T_room).

    Attributes
    ----------
    capacity_j_per_k : float or ndarray
        Heat capacity [J/K], above 0.
    power_w : float or ndarray
        Heat put in [W].
    loss_w_per_k : float or ndarray
        Heat loss to the room [W/K], above 0.
    room_c : float or ndarray
        Room temperature [°C].
    """

    capacity_j_per_k: Number
    power_w: Number
    loss_w_per_k: Number
    room_c: Number


def ramp_dose_s(start_c: Number, end_c: Number, ramp: Ramp, spec: DoseSpec) -> Array:
    """Dose gathered while a body is heated from one temperature to another, losses included.

    Parameters
    ----------
    start_c, end_c : float or ndarray
        Temperatures at the start and the end [°C].
    ramp : Ramp
        The body and its heat.
    spec : DoseSpec
        The dose.

    Returns
    -------
    ndarray, broadcast
        Equivalent seconds at the reference temperature [s]; 0 where the end is not above the start, inf
        where the heat does not suffice to reach it (as for `thermal.heating_time_s`).

    Notes
    -----
    The integral of `rate` over `thermal.temperature_after_c`. It depends on the two temperatures alone,
    ``F(end) - F(start)``, so that ramps add up. By Gauss-Legendre quadrature with 32 nodes over the time
    between floor and ceiling, where the integrand is smooth.

    Examples
    --------
    >>> ramp = Ramp(capacity_j_per_k=50e3, power_w=1000.0, loss_w_per_k=8.0, room_c=20.0)
    >>> f"{ramp_dose_s(15.0, 80.0, ramp, A0):.1f}"
    '382.6'
    """
    body = (ramp.capacity_j_per_k, ramp.power_w, ramp.loss_w_per_k, ramp.room_c)
    start, end = np.asarray(start_c, dtype=float), np.maximum(start_c, end_c)
    total_s = heating_time_s(start, end, *body)
    reached = np.isfinite(total_s)
    end = np.where(reached, end, start)
    at_floor_s = heating_time_s(start, np.clip(spec.floor_c, start, end), *body)
    at_ceiling_s = heating_time_s(start, np.clip(spec.ceiling_c, start, end), *body)
    half_s = 0.5 * (at_ceiling_s - at_floor_s)
    dose_s = np.zeros_like(half_s)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        temperature_c = temperature_after_c(start, at_floor_s + half_s * (1.0 + node), *body)
        dose_s += half_s * weight * rate(temperature_c, spec)
    capped_s = np.where(reached, total_s, 0.0) - at_ceiling_s
    return np.where(reached, dose_s + capped_s * rate(end, spec), np.inf)
